#include "app/panels/selected_panel.h"

#include <QCheckBox>
#include <QComboBox>
#include <QEvent>
#include <QHBoxLayout>
#include <QLabel>
#include <QLineEdit>
#include <QScrollArea>
#include <QTimer>
#include <QToolButton>
#include <QVBoxLayout>
#include <algorithm>
#include <cmath>

#include "app/tools/place_tool.h"
#include "app/workbench.h"
#include "core/check/locating.h"
#include "core/setup/edit.h"
#include "core/setup/neighbour.h"
#include "core/weldment/inspect.h"

namespace setwright::app {

namespace {

constexpr int picture_pixels = 56;
/// A face that looks up more than to the side carries what lies on it.
constexpr double carries_from = 0.7;
/// Used or blocked holes that an arrow goes over.
constexpr int holes_stepped_over = 40;

std::vector<base::Text> block_name(const setup::Stage& stage, PlacementId id) {
    const setup::Placement* placement = stage.find(id);
    if (!placement) return {{"panel.new_block", {}}};
    return {{"panel.block", {{"no", std::int64_t{placement->no}}}}};
}

base::Text piece_text(const setup::Setup& setup, PieceId id) {
    return {"panel.named", {{"name", setup.piece_name(id)}}};
}

base::Text other_text(const setup::Setup& setup, const setup::Stage& stage, const check::Subject& other) {
    if (const auto* piece = std::get_if<PieceId>(&other)) return piece_text(setup, *piece);
    if (const auto* placement = std::get_if<PlacementId>(&other)) return block_name(stage, *placement).front();
    return {"panel.the_table", {}};
}

/// "3", as the drawing numbers it.
base::Text number_text(const setup::Stage& stage, PlacementId id) {
    const setup::Placement* placement = stage.find(id);
    return {"panel.named", {{"name", placement ? std::to_string(placement->no) : std::string("?")}}};
}

const setup::DrawnPiece* drawn_piece(const setup::Setup& setup, PieceId id) {
    for (const setup::WeldmentUse& use : setup.weldments)
        for (const setup::DrawnPiece& drawn : use.drawn)
            if (drawn.id == id) return &drawn;
    return nullptr;
}

/// Sizes of the packers of a seat at one place, thickest first as the callout has them: "10+5".
QString packers_text(const setup::Setup& setup, const setup::Seat& seat, setup::Packer::Where where) {
    QStringList sizes;
    for (const setup::Packer& packer : seat.packers) {
        if (packer.where != where) continue;
        const shop::Component* component = setup.find_component(packer.component);
        sizes << QString::fromStdString(component ? component->size : packer.component);
    }
    return sizes.join('+');
}

struct Way {
    setup::HeldBy held_by;
    const char* words;
};
constexpr std::array<Way, 3> ways{{{setup::HeldBy::set_up, "panel.held_set_up"},
                                   {setup::HeldBy::nested, "panel.held_nested"},
                                   {setup::HeldBy::by_hand, "panel.held_by_hand"}}};

/// The nearest thing that it does not touch on purpose.
const check::Clearance* nearest(const check::StageReport& report, PlacementId id) {
    const check::Clearance* best = nullptr;
    for (const check::Clearance& clearance : report.clearance.nearest) {
        const auto* other = std::get_if<PlacementId>(&clearance.other);
        if (clearance.by_design || (clearance.placement != id && !(other && *other == id))) continue;
        if (!best || clearance.distance_mm < best->distance_mm) best = &clearance;
    }
    return best;
}

/// How far it has to stay away from a piece: what a finding about the two says, else the job's limit.
double wanted_mm(const setup::Setup& setup, const check::Report& report, const check::Clearance& clearance) {
    for (const check::Finding& finding : report.findings) {
        if (!finding.limit || !finding.rule.starts_with("clearance.")) continue;
        const auto about = [&](const check::Subject& subject) {
            return std::find(finding.subjects.begin(), finding.subjects.end(), subject) != finding.subjects.end();
        };
        if (about(clearance.placement) && about(clearance.other)) return *finding.limit;
    }
    return setup.limits.clearance_piece_mm;
}

template <class Id>
void add_once(std::vector<Id>& list, Id id) {
    if (std::find(list.begin(), list.end(), id) == list.end()) list.push_back(id);
}

}  // namespace

SelectedPanel::SelectedPanel(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("selected");
    auto* outer = new QVBoxLayout(this);
    outer->setContentsMargins(0, 0, 0, 0);
    scroll_ = new QScrollArea(this);
    scroll_->setFrameShape(QFrame::NoFrame);
    scroll_->setWidgetResizable(true);
    scroll_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    outer->addWidget(scroll_);
    auto* inside = new QWidget(scroll_);
    auto* column = new QVBoxLayout(inside);
    column->setContentsMargins(8, 8, 8, 8);
    for (QWidget* page : {nothing_ = make_nothing(), block_ = make_block(), piece_ = make_piece(), seam_ = make_seam(),
                         several_ = make_several()}) {
        column->addWidget(page);
        page->hide();
    }
    column->addStretch(1);
    scroll_->setWidget(inside);

    for (const auto signal : {&Session::opened, &Session::stage_changed, &Session::tried, &Session::selection_changed})
        connect(&desk.session, signal, this, &SelectedPanel::pull);
    connect(&desk.session, &Session::selection_changed, this, [this] { say_wrong({}); });
    connect(&desk.session, &Session::changed, this, &SelectedPanel::pull);
    connect(&desk.checker, &Checker::reported, this, &SelectedPanel::pull);
    pull();
}

void SelectedPanel::changeEvent(QEvent* event) {
    QWidget::changeEvent(event);
    // The ink is set after the palette.
    if (event->type() == QEvent::PaletteChange) QTimer::singleShot(0, this, &SelectedPanel::pull);
}

QToolButton* SelectedPanel::make_button(const char* icon, const char* tip, const char* name, QWidget* parent) {
    auto* button = new QToolButton(parent);
    button->setObjectName(name);
    button->setIcon(desk_.icons(icon));
    button->setToolTip(desk_.words(tip));
    button->setAccessibleName(desk_.words(tip));
    button->setFocusPolicy(Qt::StrongFocus);
    button->setAutoRaise(true);
    return button;
}

QLabel* SelectedPanel::make_words(const char* name, QWidget* parent) {
    auto* label = new QLabel(parent);
    label->setObjectName(name);
    label->setWordWrap(true);
    label->setTextFormat(Qt::PlainText);
    label->setTextInteractionFlags(Qt::TextSelectableByMouse);
    return label;
}

QWidget* SelectedPanel::make_nothing() {
    auto* page = new QWidget(this);
    auto* column = new QVBoxLayout(page);
    column->setContentsMargins(0, 0, 0, 0);
    help_ = make_words("selected.help", page);
    help_->setForegroundRole(QPalette::PlaceholderText);
    column->addWidget(help_);
    return page;
}

SelectedPanel::Row SelectedPanel::make_row(const char* title, const char* name, QVBoxLayout* column) {
    Row row;
    row.line = new QWidget(this);
    auto* line = new QHBoxLayout(row.line);
    line->setContentsMargins(0, 0, 0, 0);
    line->setSpacing(2);
    auto* label = new QLabel(desk_.words(title), row.line);
    label->setForegroundRole(QPalette::PlaceholderText);
    label->setFixedWidth(fontMetrics().horizontalAdvance(desk_.words("panel.row_widest")) + 8);
    row.value = new QLabel(row.line);
    row.value->setObjectName(name);
    row.value->setTextFormat(Qt::PlainText);
    line->addWidget(label);
    line->addWidget(row.value, 1);
    column->addWidget(row.line);
    return row;
}

QWidget* SelectedPanel::make_block() {
    auto* page = new QWidget(this);
    auto* column = new QVBoxLayout(page);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(3);

    auto* head = new QHBoxLayout;
    head->setSpacing(8);
    picture_ = new QLabel(page);
    picture_->setFixedSize(picture_pixels, picture_pixels);
    auto* names = new QVBoxLayout;
    names->setSpacing(0);
    block_name_ = make_words("selected.block", page);
    QFont bold = font();
    bold.setBold(true);
    block_name_->setFont(bold);
    block_kind_ = make_words("selected.kind", page);
    names->addStretch(1);
    names->addWidget(block_name_);
    names->addWidget(block_kind_);
    names->addStretch(1);
    head->addWidget(picture_);
    head->addLayout(names, 1);
    QToolButton* duplicate = make_button("duplicate", "panel.duplicate_tip", "selected.duplicate", page);
    QToolButton* remove = make_button("remove", "panel.remove_tip", "selected.remove", page);
    head->addWidget(duplicate, 0, Qt::AlignTop);
    head->addWidget(remove, 0, Qt::AlignTop);
    column->addLayout(head);

    callout_ = new QLineEdit(page);
    callout_->setObjectName("selected.callout");
    callout_->setAccessibleName(desk_.words("panel.callout"));
    callout_->setToolTip(desk_.words("panel.move_tip"));
    column->addWidget(callout_);
    wrong_.line = new QWidget(page);
    auto* wrong = new QHBoxLayout(wrong_.line);
    wrong->setContentsMargins(0, 0, 0, 0);
    auto* sign = new QLabel(wrong_.line);
    sign->setPixmap(desk_.icons("fail").pixmap(16, 16));
    sign->setAlignment(Qt::AlignTop);
    wrong_.words = make_words("selected.wrong", wrong_.line);
    wrong->addWidget(sign);
    wrong->addWidget(wrong_.words, 1);
    wrong_.line->hide();
    column->addWidget(wrong_.line);

    using Change = std::function<void()>;
    const auto add_step = [this](Row& row, const char* icon, const char* tip, const char* name, const Change& change) {
        QToolButton* button = make_button(icon, tip, name, row.line);
        row.line->layout()->addWidget(button);
        row.steps.push_back(button);
        connect(button, &QToolButton::clicked, this, change);
    };
    using Next = std::optional<setup::Seat> (*)(const setup::Setup&, const setup::Stage&, const shop::Component&,
                                                const setup::Seat&, PlacementId, int);
    const auto change = [this](Next next, int by, const char* label, const char* none) -> Change {
        return [this, next, by, label, none] {
            const setup::Placement* block = only_block();
            if (!block) return;
            const auto knowing = desk_.session.knowing();
            const setup::Stage& stage = *knowing->find_stage(desk_.session.stage());
            set_seat(next(*knowing, stage, *knowing->find_component(block->component), block->seat, block->id, by),
                     label, none);
        };
    };
    const auto packers = [this](setup::Packer::Where where, int by, const char* label, const char* none) -> Change {
        return [this, where, by, label, none] {
            const setup::Placement* block = only_block();
            if (!block) return;
            const auto knowing = desk_.session.knowing();
            const setup::Stage& stage = *knowing->find_stage(desk_.session.stage());
            set_seat(setup::next_packers(*knowing, stage, *knowing->find_component(block->component), block->seat,
                                         block->id, where, by),
                     label, none);
        };
    };

    hole_ = make_row("panel.row_hole", "selected.hole", column);
    add_step(hole_, "left", "panel.hole_left", "selected.hole_left", [this] { step_hole(-1, 0); });
    add_step(hole_, "down", "panel.hole_down", "selected.hole_down", [this] { step_hole(0, -1); });
    add_step(hole_, "up", "panel.hole_up", "selected.hole_up", [this] { step_hole(0, 1); });
    add_step(hole_, "right", "panel.hole_right", "selected.hole_right", [this] { step_hole(1, 0); });
    turn_ = make_row("panel.row_turn", "selected.turn", column);
    add_step(turn_, "turn-left", "panel.turn_left", "selected.turn_left",
             change(&setup::next_turn, 1, "panel.did_turn", "panel.no_turn"));
    add_step(turn_, "turn-right", "panel.turn_right", "selected.turn_right",
             change(&setup::next_turn, -1, "panel.did_turn", "panel.no_turn"));
    hand_ = make_row("panel.row_hand", "selected.hand", column);
    add_step(hand_, "hand", "panel.other_hand", "selected.other_hand", [this] {
        const setup::Placement* block = only_block();
        if (!block) return;
        const auto knowing = desk_.session.knowing();
        const setup::Stage& stage = *knowing->find_stage(desk_.session.stage());
        set_seat(setup::other_hand(*knowing, stage, *knowing->find_component(block->component), block->seat, block->id),
                 "panel.did_hand", "panel.no_hand");
    });
    mark_ = make_row("panel.row_mark", "selected.mark", column);
    add_step(mark_, "minus", "panel.mark_less", "selected.mark_less",
             change(&setup::next_setting, -1, "panel.did_mark", "panel.no_mark"));
    add_step(mark_, "plus", "panel.mark_more", "selected.mark_more",
             change(&setup::next_setting, 1, "panel.did_mark", "panel.no_mark"));
    plate_ = make_row("panel.row_plate", "selected.plate", column);
    add_step(plate_, "minus", "panel.plate_less", "selected.plate_less",
             change(&setup::next_plate, -1, "panel.did_plate", "panel.no_plate"));
    add_step(plate_, "plus", "panel.plate_more", "selected.plate_more",
             change(&setup::next_plate, 1, "panel.did_plate", "panel.no_plate"));
    using Where = setup::Packer::Where;
    under_ = make_row("panel.row_under", "selected.under", column);
    add_step(under_, "minus", "panel.under_less", "selected.under_less",
             packers(Where::under, -1, "panel.did_under", "panel.no_packers"));
    add_step(under_, "plus", "panel.under_more", "selected.under_more",
             packers(Where::under, 1, "panel.did_under", "panel.no_packers"));
    face_ = make_row("panel.row_face", "selected.face", column);
    add_step(face_, "minus", "panel.face_less", "selected.face_less",
             packers(Where::face, -1, "panel.did_face", "panel.no_packers"));
    add_step(face_, "plus", "panel.face_more", "selected.face_more",
             packers(Where::face, 1, "panel.did_face", "panel.no_packers"));

    facts_ = make_words("selected.facts", page);
    column->addSpacing(3);
    column->addWidget(facts_);
    column->addSpacing(3);
    locked_ = new QCheckBox(desk_.words("panel.locked"), page);
    locked_->setObjectName("selected.locked");
    locked_->setToolTip(desk_.words("panel.locked_tip"));
    column->addWidget(locked_);
    note_ = new QLineEdit(page);
    note_->setObjectName("selected.note");
    note_->setPlaceholderText(desk_.words("panel.note"));
    note_->setAccessibleName(desk_.words("panel.note"));
    note_->setToolTip(desk_.words("panel.note_tip"));
    column->addWidget(note_);

    connect(callout_, &QLineEdit::returnPressed, this, &SelectedPanel::move_to_callout);
    connect(callout_, &QLineEdit::textEdited, this, [this] { say_wrong({}); });
    connect(locked_, &QCheckBox::clicked, this, [this](bool locked) {
        const setup::Placement* block = only_block();
        if (!block) return;
        const setup::Setup& now = desk_.session.now();
        desk_.session.apply(setup::lock(now, desk_.session.stage(), block->id, locked),
                            {locked ? "panel.did_lock" : "panel.did_unlock",
                             {{"what", block_name(desk_.session.in_stage(), block->id)}}});
    });
    connect(note_, &QLineEdit::editingFinished, this, &SelectedPanel::write_note);
    connect(duplicate, &QToolButton::clicked, this, &SelectedPanel::duplicate);
    connect(remove, &QToolButton::clicked, this, &SelectedPanel::remove);
    return page;
}

QWidget* SelectedPanel::make_piece() {
    auto* page = new QWidget(this);
    auto* column = new QVBoxLayout(page);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(4);
    piece_name_ = make_words("selected.piece", page);
    QFont bold = font();
    bold.setBold(true);
    piece_name_->setFont(bold);
    piece_kind_ = make_words("selected.piece_kind", page);
    column->addWidget(piece_name_);
    column->addWidget(piece_kind_);
    column->addSpacing(4);
    auto* row = new QHBoxLayout;
    auto* label = new QLabel(desk_.words("panel.held"), page);
    held_ = new QComboBox(page);
    held_->setObjectName("selected.held");
    held_->setToolTip(desk_.words("panel.held_tip"));
    for (const Way& way : ways) held_->addItem(desk_.words(way.words));
    label->setBuddy(held_);
    row->addWidget(label);
    row->addWidget(held_, 1);
    column->addLayout(row);
    held_words_ = make_words("selected.held_words", page);
    column->addWidget(held_words_);
    auto* moves = new QHBoxLayout;
    moves_sign_ = new QLabel(page);
    moves_sign_->setAlignment(Qt::AlignTop);
    moves_ = make_words("selected.moves", page);
    moves->addWidget(moves_sign_);
    moves->addWidget(moves_, 1);
    column->addLayout(moves);
    connect(held_, &QComboBox::activated, this, &SelectedPanel::hold);
    return page;
}

QWidget* SelectedPanel::make_seam() {
    auto* page = new QWidget(this);
    auto* column = new QVBoxLayout(page);
    column->setContentsMargins(0, 0, 0, 0);
    seam_name_ = make_words("selected.seam", page);
    QFont bold = font();
    bold.setBold(true);
    seam_name_->setFont(bold);
    seam_kind_ = make_words("selected.seam_kind", page);
    column->addWidget(seam_name_);
    column->addWidget(seam_kind_);
    return page;
}

QWidget* SelectedPanel::make_several() {
    auto* page = new QWidget(this);
    auto* row = new QHBoxLayout(page);
    row->setContentsMargins(0, 0, 0, 0);
    several_words_ = make_words("selected.several", page);
    several_remove_ = make_button("remove", "panel.remove_all_tip", "selected.remove_all", page);
    row->addWidget(several_words_, 1);
    row->addWidget(several_remove_, 0, Qt::AlignTop);
    connect(several_remove_, &QToolButton::clicked, this, &SelectedPanel::remove);
    return page;
}

void SelectedPanel::show_page(QWidget* page) {
    for (QWidget* other : {nothing_, block_, piece_, seam_, several_})
        if (other != page) other->hide();
    page->show();
}

void SelectedPanel::pull() {
    Session& session = desk_.session;
    if (!session.has_job()) {
        help_->setText(desk_.words("panel.help_no_job"));
        return show_page(nothing_);
    }
    const std::shared_ptr<const setup::Setup> shown = session.shown();
    const setup::Stage* stage = shown->find_stage(session.stage());
    const Selection& selection = session.selection();
    const std::size_t things =
        selection.placements.size() + selection.pieces.size() + (selection.seam ? std::size_t{1} : 0);
    if (!stage || things == 0) return pull_nothing();
    if (things > 1) return pull_several(*shown);
    if (selection.seam) return pull_seam(*shown, *selection.seam);
    if (!selection.pieces.empty()) return pull_piece(*shown, *stage, *selection.pieces.begin());
    const setup::Placement* placement = stage->find(*selection.placements.begin());
    if (!placement) return pull_nothing();
    pull_block(*shown, *stage, *placement);
}

void SelectedPanel::pull_nothing() {
    const bool any = !desk_.session.in_stage().placements.empty();
    help_->setText(desk_.words(any ? "panel.help_select" : "panel.help_place"));
    show_page(nothing_);
}

void SelectedPanel::pull_block(const setup::Setup& setup, const setup::Stage& stage,
                               const setup::Placement& placement) {
    const shop::Component* component = setup.find_component(placement.component);
    block_name_->setText(desk_.words("panel.block_title", {{"no", std::int64_t{placement.no}}}));
    block_kind_->setText(component ? desk_.words(check::component_name(*component))
                                   : QString::fromStdString(placement.component));
    if (component) picture_->setPixmap(desk_.icons.picture(*component, picture_pixels, devicePixelRatioF()));
    // What is being typed stays.
    if (!(callout_->hasFocus() && callout_->isModified()))
        callout_->setText(QString::fromStdString(setup::callout(setup, stage, placement)));
    if (component) pull_rows(setup, placement, *component);
    turn_.value->setText(QString::fromStdString(setup::facing(setup, stage, placement)));
    turn_.line->setVisible(!turn_.value->text().isEmpty());
    pull_facts(setup, stage, placement);
    locked_->setChecked(placement.locked);
    if (!(note_->hasFocus() && note_->isModified())) note_->setText(QString::fromStdString(placement.note));
    show_page(block_);
}

void SelectedPanel::pull_rows(const setup::Setup& setup, const setup::Placement& placement,
                              const shop::Component& component) {
    const setup::Seat& seat = placement.seat;
    const setup::Stage& stage = *setup.find_stage(desk_.session.stage());
    const base::Result<setup::HostGrid> grid = setup::host_grid(setup, stage, seat.host);
    const bool holes = grid && grid->has_holes;
    hole_.value->setText(holes ? QString::fromStdString(shop::hole_label(seat.hole)) : desk_.words("panel.no_holes"));
    hand_.line->setVisible(component.handed);
    hand_.value->setText(desk_.words(seat.hand == shop::Hand::left ? "panel.left_hand" : "panel.right_hand"));
    mark_.line->setVisible(component.setting && component.setting->first != component.setting->last);
    mark_.value->setText(QString::number(seat.setting));
    if (component.setting) {
        mark_.steps[0]->setEnabled(seat.setting > component.setting->first);
        mark_.steps[1]->setEnabled(seat.setting < component.setting->last);
    }
    plate_.line->setVisible(!component.plates.empty());
    plate_.value->setText(QString::fromStdString(seat.plate));
    if (!component.plates.empty()) {
        plate_.steps[0]->setEnabled(component.plates.size() > 1);
        plate_.steps[1]->setEnabled(component.plates.size() > 1);
    }
    using Where = setup::Packer::Where;
    for (const auto& [row, where, may] : {std::tuple{&under_, Where::under, component.packers_under},
                                          std::tuple{&face_, Where::face, component.packers_at_face}}) {
        const QString sizes = packers_text(setup, seat, where);
        row->line->setVisible(may || !sizes.isEmpty());
        row->value->setText(sizes.isEmpty() ? desk_.words("panel.none") : sizes);
        row->steps[0]->setEnabled(!sizes.isEmpty());
    }
}

void SelectedPanel::pull_facts(const setup::Setup& setup, const setup::Stage& stage,
                               const setup::Placement& placement) {
    QStringList facts;
    const base::Result<setup::Posed> posed = setup::pose(setup, stage, placement);
    if (posed)
        facts << desk_.words("panel.height", {{"height", base::LengthArg{posed->height_mm}}});
    else
        facts << desk_.words(posed.error().text);
    std::vector<base::Text> guests;
    for (const setup::Placement& other : stage.placements)
        if (other.seat.host.kind == setup::Host::Kind::placement && other.seat.host.placement == placement.id)
            guests.push_back(number_text(stage, other.id));
    if (placement.seat.host.kind == setup::Host::Kind::placement)
        facts << desk_.words("panel.stands_on", {{"host", block_name(stage, placement.seat.host.placement)}});
    if (!guests.empty())
        facts << desk_.words("panel.carries", {{"blocks", guests}, {"n", std::int64_t(guests.size())}});

    const check::StageReport* report = desk_.checker.of_stage(stage.id);
    if (!report) {
        facts_->setText((facts << desk_.words("panel.checking")).join('\n'));
        return;
    }
    std::vector<PieceId> located, pressed;
    for (const check::Contact& contact : report->contacts)
        if (contact.placement == placement.id) add_once(contact.locates ? located : pressed, contact.piece);
    const auto names = [&](const std::vector<PieceId>& pieces) {
        std::vector<base::Text> out;
        for (const PieceId piece : pieces) out.push_back(piece_text(setup, piece));
        return out;
    };
    if (!located.empty()) facts << desk_.words("panel.touches", {{"pieces", names(located)}});
    if (!pressed.empty()) facts << desk_.words("panel.presses", {{"pieces", names(pressed)}});
    if (located.empty() && pressed.empty() && guests.empty()) facts << desk_.words("panel.touches_nothing");
    if (const check::Clearance* closest = nearest(*report, placement.id)) {
        const check::Subject other =
            closest->placement == placement.id ? closest->other : check::Subject(closest->placement);
        const std::vector<base::Text> name{other_text(setup, stage, other)};
        if (closest->overlap)
            facts << desk_.words("panel.runs_into", {{"other", name}});
        else if (std::holds_alternative<PieceId>(other))
            facts << desk_.words("panel.nearest_wanted",
                                 {{"distance", base::LengthArg{closest->distance_mm}},
                                  {"other", name},
                                  {"limit", base::LengthArg{wanted_mm(setup, *desk_.checker.report(), *closest)}}});
        else
            facts << desk_.words("panel.nearest",
                                 {{"distance", base::LengthArg{closest->distance_mm}}, {"other", name}});
    }
    facts_->setText(facts.join('\n'));
}

void SelectedPanel::pull_piece(const setup::Setup& setup, const setup::Stage& stage, PieceId id) {
    piece_name_->setText(QString::fromStdString(setup.piece_name(id)));
    QStringList lines;
    const auto add = [&](const weldment::Section& section, double length_mm,
                         const std::array<weldment::EndCut, 2>& ends) {
        lines << desk_.words("panel.section_length", {{"section", std::vector{weldment::section_text(section)}},
                                                      {"length", base::LengthArg{length_mm}}});
        const QString first = desk_.words(weldment::end_text(ends[0])), last = desk_.words(weldment::end_text(ends[1]));
        lines << (first == last
                      ? desk_.words("panel.both_ends", {{"end", first.toStdString()}})
                      : desk_.words("panel.ends", {{"first", first.toStdString()}, {"last", last.toStdString()}}));
    };
    if (const weldment::Piece* piece = setup.find_piece(id)) {
        add(piece->section, piece->length_mm, piece->ends);
        lines << desk_.words("panel.mass", {{"mass", base::decimal_text(piece->mass_kg, 2)}});
        for (const base::Text& doubt : piece->doubts) lines << desk_.words(doubt);
    } else if (const setup::DrawnPiece* drawn = drawn_piece(setup, id)) {
        add(drawn->section, drawn->length_mm, drawn->ends);
    }
    piece_kind_->setText(lines.join('\n'));
    pull_held(setup, stage, id);
    show_page(piece_);
}

void SelectedPanel::pull_held(const setup::Setup& setup, const setup::Stage& stage, PieceId id) {
    const bool here = std::find(stage.pieces.begin(), stage.pieces.end(), id) != stage.pieces.end();
    held_->setEnabled(here);
    for (std::size_t i = 0; i < ways.size(); ++i)
        if (ways[i].held_by == stage.held(id)) held_->setCurrentIndex(static_cast<int>(i));
    moves_sign_->clear();
    if (!here) {
        held_words_->setText(desk_.words("panel.not_in_stage"));
        moves_->clear();
        return;
    }
    const check::StageReport* report = desk_.checker.of_stage(stage.id);
    const std::shared_ptr<const setup::Setup> checked = desk_.checker.checked();
    const setup::Stage* checked_stage = checked ? checked->find_stage(stage.id) : nullptr;
    if (!report || !checked_stage) {
        held_words_->setText(desk_.words("panel.checking"));
        moves_->clear();
        return;
    }
    std::vector<PlacementId> on, against, pressed;
    std::vector<PieceId> pieces;
    for (const check::Contact& contact : report->contacts) {
        if (contact.piece != id) continue;
        if (contact.placement)
            add_once(!contact.locates                      ? pressed
                     : contact.normal_T.z() > carries_from ? on
                                                           : against,
                     *contact.placement);
        else if (contact.other)
            add_once(pieces, *contact.other);
    }
    QStringList lines;
    const auto say = [&](const char* words, const std::vector<PlacementId>& ids) {
        std::vector<base::Text> numbers;
        std::vector<PlacementId> sorted = ids;
        std::sort(sorted.begin(), sorted.end(), [&](PlacementId a, PlacementId b) {
            const setup::Placement *pa = checked_stage->find(a), *pb = checked_stage->find(b);
            return (pa ? pa->no : 0) < (pb ? pb->no : 0);
        });
        for (const PlacementId placement : sorted) numbers.push_back(number_text(*checked_stage, placement));
        if (!numbers.empty()) lines << desk_.words(words, {{"blocks", numbers}});
    };
    say("panel.lies_on", on);
    say("panel.pushes_against", against);
    say("panel.pressed_by", pressed);
    if (!pieces.empty()) {
        std::vector<base::Text> names;
        for (const PieceId piece : pieces) names.push_back(piece_text(setup, piece));
        lines << desk_.words("panel.sits_against", {{"pieces", names}});
    }
    if (lines.empty()) lines << desk_.words("panel.touched_by_nothing");
    held_words_->setText(lines.join('\n'));

    const int line = fontMetrics().height();
    if (stage.held(id) == setup::HeldBy::by_hand) {
        moves_sign_->setPixmap(desk_.icons("hand").pixmap(line, line));
        moves_->setText(desk_.words("panel.by_hand_to_marks"));
        return;
    }
    const std::vector<check::FreeMotion> free =
        check::still_moves(*checked, *checked_stage, report->posed, report->contacts, id);
    moves_sign_->setPixmap(desk_.icons(free.empty() ? "pass" : "slide").pixmap(line, line));
    QStringList motions;
    for (const check::FreeMotion& motion : free)
        motions << desk_.words("panel.can_still", {{"motion", std::vector{motion.text}}});
    moves_->setText(free.empty() ? desk_.words("panel.cannot_move") : motions.join('\n'));
}

void SelectedPanel::pull_seam(const setup::Setup& setup, SeamId id) {
    const weldment::Seam* seam = setup.find_seam(id);
    if (!seam) return pull_nothing();
    seam_name_->setText(desk_.words("panel.seam_title", {{"no", std::int64_t{id.value}}}));
    std::optional<double> size_mm = seam->size_mm;
    for (const setup::WeldmentUse& use : setup.weldments)
        if (const auto edit = use.seam_edits.find(id); edit != use.seam_edits.end() && edit->second.size_mm)
            size_mm = edit->second.size_mm;
    QStringList lines;
    lines << desk_.words("panel.seam_between",
                         {{"kind", std::vector<base::Text>{{std::string("seam.") + weldment::key(seam->kind), {}}}},
                          {"a", setup.piece_name(seam->pieces[0])},
                          {"b", setup.piece_name(seam->pieces[1])}});
    lines << desk_.words("panel.seam_length", {{"length", base::LengthArg{seam->length_mm}}});
    lines << (size_mm ? desk_.words("panel.seam_size", {{"size", base::LengthArg{*size_mm}}})
                      : desk_.words("panel.seam_size_drawing"));
    if (seam->gap_mm > 0) lines << desk_.words("panel.seam_gap", {{"gap", base::LengthArg{seam->gap_mm}}});
    for (const base::Text& doubt : seam->doubts) lines << desk_.words(doubt);
    seam_kind_->setText(lines.join('\n'));
    show_page(seam_);
}

void SelectedPanel::pull_several(const setup::Setup&) {
    const Selection& selection = desk_.session.selection();
    std::vector<base::Text> what;
    const auto add = [&](const char* words, std::size_t n) {
        if (n > 0) what.push_back({words, {{"n", static_cast<std::int64_t>(n)}}});
    };
    add("panel.blocks", selection.placements.size());
    add("panel.pieces", selection.pieces.size());
    add("panel.seams", selection.seam ? 1 : 0);
    several_words_->setText(desk_.words("panel.several", {{"what", what}}));
    several_remove_->setVisible(!selection.placements.empty());
    show_page(several_);
}

const setup::Placement* SelectedPanel::only_block() const {
    const Selection& selection = desk_.session.selection();
    if (!desk_.session.has_job() || selection.placements.size() != 1) return nullptr;
    return desk_.session.in_stage().find(*selection.placements.begin());
}

void SelectedPanel::set_seat(const std::optional<setup::Seat>& seat, const char* label, const char* none) {
    const setup::Placement* block = only_block();
    if (!block) return;
    Session& session = desk_.session;
    const std::vector<base::Text> what = block_name(session.in_stage(), block->id);
    if (!seat) return say_wrong(desk_.words(none, {{"what", what}}));
    base::Result<setup::Setup> next = setup::move(*session.knowing(), session.stage(), block->id, *seat);
    if (!next) return say_wrong(desk_.words(next.error().text));
    callout_->setModified(false);
    say_wrong({});
    session.apply(std::move(next), {label, {{"what", what}}});
}

void SelectedPanel::step_hole(int columns, int rows) {
    const setup::Placement* block = only_block();
    if (!block) return;
    const auto knowing = desk_.session.knowing();
    const setup::Stage& stage = *knowing->find_stage(desk_.session.stage());
    const shop::Component& component = *knowing->find_component(block->component);
    std::optional<setup::Seat> seat = block->seat;
    // Over seats in which it or what stands on it has no place, to the next that is one.
    for (int over = 0; over < holes_stepped_over; ++over) {
        seat = setup::next_hole(*knowing, stage, component, *seat, block->id, columns, rows);
        if (!seat || setup::move(*knowing, stage.id, block->id, *seat)) break;
    }
    set_seat(seat, "panel.did_move", "panel.no_hole");
}

void SelectedPanel::move_to_callout() {
    const setup::Placement* block = only_block();
    if (!block) return;
    const auto knowing = desk_.session.knowing();
    const setup::Stage& stage = *knowing->find_stage(desk_.session.stage());
    const base::Result<setup::Seat> seat = setup::parse_callout(
        *knowing, stage, *knowing->find_component(block->component), callout_->text().toStdString());
    if (!seat) return say_wrong(desk_.words(seat.error().text));
    set_seat(*seat, "panel.did_move", "panel.no_hole");
}

void SelectedPanel::write_note() {
    const setup::Placement* block = only_block();
    if (!block || !note_->isModified()) return;
    note_->setModified(false);
    desk_.session.apply(
        setup::note(desk_.session.now(), desk_.session.stage(), block->id, note_->text().trimmed().toStdString()),
        {"panel.did_note", {{"what", block_name(desk_.session.in_stage(), block->id)}}});
}

void SelectedPanel::duplicate() {
    const setup::Placement* block = only_block();
    if (!block || !desk_.bench) return;
    desk_.bench->take(
        std::make_unique<PlaceTool>(desk_, desk_.session.now().components.at(block->component), block->seat));
}

void SelectedPanel::remove() {
    Session& session = desk_.session;
    const std::vector<PlacementId> selected(session.selection().placements.begin(),
                                            session.selection().placements.end());
    if (selected.empty()) return;
    std::vector<PlacementId> left = selected;
    setup::Setup next = session.now();
    // Those that stand on others go first; one that carries a block which stays is not taken away from under it.
    while (!left.empty()) {
        std::optional<base::Error> refused;
        const std::size_t before = left.size();
        std::erase_if(left, [&](PlacementId id) {
            base::Result<setup::Setup> without = setup::remove(next, session.stage(), id);
            if (!without) {
                refused = without.error();
                return false;
            }
            next = std::move(*without);
            return true;
        });
        if (left.size() == before) {
            say_wrong(desk_.words(refused->text));
            session.refuse(refused->text);
            return;
        }
    }
    const std::int64_t n = static_cast<std::int64_t>(selected.size());
    session.apply(std::move(next),
                  {"panel.did_remove", {{"n", n}, {"what", block_name(session.in_stage(), selected.front())}}});
}

void SelectedPanel::hold(int index) {
    Session& session = desk_.session;
    if (!session.has_job() || session.selection().pieces.size() != 1) return;
    const PieceId piece = *session.selection().pieces.begin();
    const Way& way = ways[static_cast<std::size_t>(index)];
    session.apply(setup::hold(session.now(), session.stage(), piece, way.held_by),
                  {"panel.did_hold",
                   {{"piece", session.now().piece_name(piece)}, {"way", std::vector<base::Text>{{way.words, {}}}}}});
    // Refused: what holds it is as before.
    pull();
}

void SelectedPanel::say_wrong(const QString& sentence) {
    wrong_.words->setText(sentence);
    wrong_.line->setVisible(!sentence.isEmpty());
}

}  // namespace setwright::app
