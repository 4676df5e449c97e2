#include "app/panels/steps_panel.h"

#include <QAction>
#include <QHBoxLayout>
#include <QLabel>
#include <QLineEdit>
#include <QListWidget>
#include <QMenu>
#include <QShortcut>
#include <QTimer>
#include <QToolButton>
#include <QVBoxLayout>
#include <tuple>

#include "core/check/report.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

using setup::Step;
using setup::StepKind;

/// Kinds that can be added; blocks and pieces have their steps already.
constexpr std::array added_kinds{StepKind::clamp_hard, StepKind::clamp_snug, StepKind::tack,      StepKind::check,
                                 StepKind::slacken,    StepKind::pull,       StepKind::turn_over, StepKind::weld,
                                 StepKind::cool,       StepKind::lift_out,   StepKind::written};

bool is_own(const Step& step) {
    return step.kind != StepKind::set && step.kind != StepKind::load;
}

base::Text kind_text(StepKind kind) {
    return {std::string("steps.kind.") + setup::key(kind), {}};
}

/// How many hosts stand under it, after those which need a piece to be there.
std::pair<bool, int> level(const setup::Setup& setup, const setup::Stage& stage, const setup::Placement& placement) {
    const setup::Placement* at = &placement;
    int hosts = 0;
    for (const std::size_t most = stage.placements.size();
         at->seat.host.kind == setup::Host::Kind::placement && static_cast<std::size_t>(hosts) < most; ++hosts) {
        const setup::Placement* host = stage.find(at->seat.host.placement);
        if (host == nullptr) break;
        at = host;
    }
    const shop::Component* component = setup.find_component(placement.component);
    const bool presses = component != nullptr && (component->clamp || component->family == shop::Family::pusher);
    const bool on_pieces =
        at->seat.host.kind == setup::Host::Kind::piece || at->seat.host.kind == setup::Host::Kind::pieces;
    return {presses || on_pieces, hosts};
}

/// The placement that a step sets; none for others.
std::optional<PlacementId> set_by(const Step& step) {
    if (step.kind != StepKind::set || step.placements.empty()) return std::nullopt;
    return step.placements.front();
}

/// The first block in the order that is set before the one it stands on: the block, its host.
std::optional<std::pair<PlacementId, PlacementId>> in_the_air(const setup::Stage& stage,
                                                              const std::vector<Step>& steps) {
    std::set<PlacementId> there;
    for (const Step& step : steps) {
        if (step.kind != StepKind::set) continue;
        for (const PlacementId id : step.placements) {
            const setup::Placement* placement = stage.find(id);
            if (placement != nullptr && placement->seat.host.kind == setup::Host::Kind::placement &&
                !there.contains(placement->seat.host.placement))
                return std::pair(id, placement->seat.host.placement);
            there.insert(id);
        }
    }
    return std::nullopt;
}

}  // namespace

std::vector<Step> all_steps(const setup::Setup& setup, const setup::Stage& stage) {
    std::set<PlacementId> set;
    std::set<PieceId> loaded;
    for (const Step& step : stage.order) {
        if (step.kind == StepKind::set) set.insert(step.placements.begin(), step.placements.end());
        if (step.kind == StepKind::load) loaded.insert(step.pieces.begin(), step.pieces.end());
    }

    std::vector<const setup::Placement*> unset;
    for (const setup::Placement& placement : stage.placements)
        if (!set.contains(placement.id)) unset.push_back(&placement);
    const auto order = [&](const setup::Placement* p) { return std::tuple(level(setup, stage, *p), p->no, p->id); };
    std::sort(unset.begin(), unset.end(), [&](const auto* a, const auto* b) { return order(a) < order(b); });

    std::vector<Step> out, last;
    for (const setup::Placement* placement : unset) {
        Step step;
        step.kind = StepKind::set;
        step.placements = {placement->id};
        (level(setup, stage, *placement).first ? last : out).push_back(std::move(step));
    }
    out.insert(out.end(), stage.order.begin(), stage.order.end());
    for (const check::LaidBody& body : check::laid_bodies(setup, stage)) {
        Step step;
        step.kind = StepKind::load;
        for (const PieceId piece : body.pieces)
            if (!loaded.contains(piece)) step.pieces.push_back(piece);
        if (!step.pieces.empty()) out.push_back(std::move(step));
    }
    out.insert(out.end(), last.begin(), last.end());
    return out;
}

StepsPanel::StepsPanel(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("steps");
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(8, 8, 8, 8);
    head_ = new QLabel(this);
    head_->setObjectName("steps.head");
    head_->setWordWrap(true);
    column->addWidget(head_);
    list_ = new QListWidget(this);
    list_->setObjectName("steps.list");
    list_->setAccessibleName(desk.words("steps.list"));
    list_->setToolTip(desk.words("steps.list_tip"));
    list_->setDragDropMode(QAbstractItemView::InternalMove);
    list_->setDefaultDropAction(Qt::MoveAction);
    list_->setWordWrap(true);
    list_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    list_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
    column->addWidget(list_, 1);
    column->addWidget(make_buttons());
    auto* note_row = new QHBoxLayout;
    note_ = new QLineEdit(this);
    note_->setObjectName("steps.note");
    note_->setToolTip(desk.words("steps.note_tip"));
    auto* note_label = new QLabel(desk.words("steps.note"), this);
    note_label->setBuddy(note_);
    note_row->addWidget(note_label);
    note_row->addWidget(note_, 1);
    column->addLayout(note_row);

    connect(note_, &QLineEdit::editingFinished, this, &StepsPanel::write_note);
    connect(list_, &QListWidget::currentRowChanged, this, &StepsPanel::take_selection);
    // The list is made anew by the edit: not while it still moves its rows.
    connect(list_->model(), &QAbstractItemModel::rowsMoved, this,
            [this](const QModelIndex&, int from, int, const QModelIndex&, int before) {
                QTimer::singleShot(0, this, [this, from, before] { move(from, before > from ? before - 1 : before); });
            });
    for (const bool up : {true, false}) {
        auto* keys = new QShortcut(QKeySequence(Qt::ALT | (up ? Qt::Key_Up : Qt::Key_Down)), list_);
        keys->setContext(Qt::WidgetWithChildrenShortcut);
        connect(keys, &QShortcut::activated, this, [this, up] { move(row(), row() + (up ? -1 : 1)); });
    }
    for (const auto signal : {&Session::opened, &Session::stage_changed})
        connect(&desk.session, signal, this, &StepsPanel::pull);
    connect(&desk.session, &Session::changed, this, &StepsPanel::pull);
    connect(&desk.session, &Session::selection_changed, this, &StepsPanel::show_selection);
    pull();
}

QToolButton* StepsPanel::add_button(const std::string& name, const QString& icon) {
    auto* button = new QToolButton(this);
    button->setObjectName(QString::fromStdString(name));
    button->setIcon(desk_.icons(icon));
    button->setText(desk_.words(name));
    button->setToolTip(desk_.words(name + "_tip"));
    button->setFocusPolicy(Qt::StrongFocus);
    return button;
}

QWidget* StepsPanel::make_buttons() {
    auto* box = new QWidget(this);
    auto* row_of = new QHBoxLayout(box);
    row_of->setContentsMargins(0, 0, 0, 0);
    row_of->setSpacing(4);
    up_ = add_button("steps.up", "up");
    down_ = add_button("steps.down", "down");
    add_ = add_button("steps.add", "plus");
    add_->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
    add_->setPopupMode(QToolButton::InstantPopup);
    remove_ = add_button("steps.remove", "remove");
    as_set_ = add_button("steps.as_set", "undo");
    as_set_->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
    auto* kinds = new QMenu(add_);
    for (const StepKind kind : added_kinds) {
        QAction* action = kinds->addAction(desk_.words(kind_text(kind)));
        action->setObjectName(QString("steps.add.") + setup::key(kind));
        connect(action, &QAction::triggered, this, [this, kind] { add(kind); });
    }
    add_->setMenu(kinds);
    for (QToolButton* button : {up_, down_, add_, remove_}) row_of->addWidget(button);
    row_of->addStretch(1);
    row_of->addWidget(as_set_);

    connect(up_, &QToolButton::clicked, this, [this] { move(row(), row() - 1); });
    connect(down_, &QToolButton::clicked, this, [this] { move(row(), row() + 1); });
    connect(remove_, &QToolButton::clicked, this, &StepsPanel::remove);
    connect(as_set_, &QToolButton::clicked, this, [this] {
        if (desk_.session.has_job()) commit({}, {"steps.did_as_set", {}}, 0);
    });
    return box;
}

int StepsPanel::row() const {
    return list_->currentRow();
}

QString StepsPanel::words_for(const Step& step) const {
    const setup::Setup& now = desk_.session.now();
    const setup::Stage& stage = desk_.session.in_stage();
    std::vector<base::Text> subjects;
    for (const PlacementId id : step.placements)
        if (const setup::Placement* placement = stage.find(id))
            subjects.push_back({"steps.block", {{"no", std::int64_t{placement->no}}}});
    for (const PieceId id : step.pieces) subjects.push_back({"steps.piece", {{"name", now.piece_name(id)}}});
    for (const SeamId id : step.seams)
        subjects.push_back({"steps.seam", {{"id", static_cast<std::int64_t>(id.value)}}});
    QString words =
        subjects.empty()
            ? desk_.words(kind_text(step.kind))
            : desk_.words("steps.row", {{"kind", std::vector{kind_text(step.kind)}}, {"subjects", subjects}});
    if (const std::optional<PlacementId> id = set_by(step); id && stage.find(*id) != nullptr)
        words = desk_.words("steps.row_at",
                            {{"row", words.toStdString()}, {"callout", setup::callout(now, stage, *stage.find(*id))}});
    if (!step.note.empty()) words = desk_.words("steps.row_note", {{"row", words.toStdString()}, {"note", step.note}});
    return words;
}

QString StepsPanel::icon_for(const Step& step) const {
    if (step.kind == StepKind::load) return "piece";
    return step.kind == StepKind::set ? "place" : "step";
}

void StepsPanel::pull() {
    const int was = row();
    const QSignalBlocker quiet(list_);
    list_->clear();
    steps_.clear();
    setEnabled(desk_.session.has_job());
    if (!desk_.session.has_job()) {
        head_->setText(desk_.words("steps.no_job"));
        note_->clear();
        return;
    }
    const setup::Setup& now = desk_.session.now();
    const setup::Stage& stage = desk_.session.in_stage();
    steps_ = all_steps(now, stage);
    head_->setText(desk_.words(stage.order.empty() ? "steps.head_as_set" : "steps.head_own"));
    as_set_->setEnabled(!stage.order.empty());
    int number = 0;
    for (const Step& step : steps_) {
        auto* item = new QListWidgetItem(
            desk_.icons(icon_for(step)),
            desk_.words("steps.numbered", {{"n", std::int64_t{++number}}, {"row", words_for(step).toStdString()}}),
            list_);
        QString tip;
        if (const std::optional<PlacementId> id = set_by(step))
            if (const setup::Placement* placement = stage.find(*id))
                if (const shop::Component* component = now.find_component(placement->component))
                    tip = desk_.words(check::component_name(*component));
        item->setToolTip(tip.isEmpty() ? item->text() : tip);
    }
    if (was >= 0 && was < list_->count()) list_->setCurrentRow(was);
    show_row();
}

void StepsPanel::show_selection() {
    const Selection& selection = desk_.session.selection();
    const auto about = [&](const Step& step) {
        const auto in = [](const auto& ids, const auto& chosen) {
            return std::any_of(ids.begin(), ids.end(), [&](const auto& id) { return chosen.contains(id); });
        };
        return in(step.placements, selection.placements) || in(step.pieces, selection.pieces) ||
               (selection.seam && std::find(step.seams.begin(), step.seams.end(), *selection.seam) != step.seams.end());
    };
    const auto at = static_cast<std::size_t>(row());
    if (selection.empty() || (row() >= 0 && at < steps_.size() && about(steps_[at]))) return;
    const auto first = std::find_if(steps_.begin(), steps_.end(), about);
    const QSignalBlocker quiet(list_);
    list_->setCurrentRow(first == steps_.end() ? -1 : static_cast<int>(first - steps_.begin()));
    show_row();
}

void StepsPanel::show_row() {
    const int at = row();
    const bool any = at >= 0 && at < static_cast<int>(steps_.size());
    up_->setEnabled(at > 0);
    down_->setEnabled(any && at + 1 < list_->count());
    remove_->setEnabled(any && is_own(steps_[static_cast<std::size_t>(at)]));
    note_->setEnabled(any);
    note_->setText(any ? QString::fromStdString(steps_[static_cast<std::size_t>(at)].note) : QString());
}

void StepsPanel::take_selection() {
    show_row();
    const auto at = static_cast<std::size_t>(row());
    if (row() < 0 || at >= steps_.size()) return;
    const Step& step = steps_[at];
    Selection selection;
    selection.placements.insert(step.placements.begin(), step.placements.end());
    selection.pieces.insert(step.pieces.begin(), step.pieces.end());
    if (!step.seams.empty()) selection.seam = step.seams.front();
    if (!selection.empty()) desk_.session.select(std::move(selection));
}

bool StepsPanel::commit(std::vector<Step> order, const base::Text& label, int row_after) {
    const bool done =
        desk_.session.apply(setup::set_order(desk_.session.now(), desk_.session.stage(), std::move(order)), label);
    pull();
    if (done) list_->setCurrentRow(row_after);
    return done;
}

void StepsPanel::move(int from, int to) {
    const int count = static_cast<int>(steps_.size());
    if (from < 0 || from >= count || to < 0 || to >= count || from == to) return;
    std::vector<Step> order = steps_;
    const Step moved = order[static_cast<std::size_t>(from)];
    order.erase(order.begin() + from);
    order.insert(order.begin() + to, moved);
    const setup::Stage& stage = desk_.session.in_stage();
    if (const auto wrong = in_the_air(stage, order)) {
        const auto no = [&](PlacementId id) { return std::int64_t{stage.find(id)->no}; };
        desk_.session.refuse({"steps.host_first", {{"guest", no(wrong->first)}, {"host", no(wrong->second)}}});
        pull();
        list_->setCurrentRow(from);
        return;
    }
    commit(std::move(order), {"steps.did_move", {{"n", std::int64_t{from + 1}}, {"to", std::int64_t{to + 1}}}}, to);
}

void StepsPanel::add(StepKind kind) {
    if (!desk_.session.has_job()) return;
    Step step;
    step.kind = kind;
    const Selection& selection = desk_.session.selection();
    step.placements.assign(selection.placements.begin(), selection.placements.end());
    step.pieces.assign(selection.pieces.begin(), selection.pieces.end());
    if (selection.seam) step.seams = {*selection.seam};
    // Of the whole weldment; what happens to be selected has no part in it.
    if (kind == StepKind::turn_over || kind == StepKind::cool || kind == StepKind::lift_out) {
        step.placements.clear();
        step.pieces.clear();
        step.seams.clear();
    }
    std::vector<Step> order = steps_;
    const int at = row() < 0 ? static_cast<int>(order.size()) : row() + 1;
    order.insert(order.begin() + at, std::move(step));
    if (commit(std::move(order), {"steps.did_add", {{"kind", std::vector{kind_text(kind)}}}}, at)) note_->setFocus();
}

void StepsPanel::remove() {
    const int at = row();
    if (at < 0 || at >= static_cast<int>(steps_.size()) || !is_own(steps_[static_cast<std::size_t>(at)])) return;
    std::vector<Step> order = steps_;
    const StepKind kind = order[static_cast<std::size_t>(at)].kind;
    order.erase(order.begin() + at);
    commit(std::move(order), {"steps.did_remove", {{"kind", std::vector{kind_text(kind)}}}},
           std::min(at, static_cast<int>(steps_.size()) - 2));
}

void StepsPanel::write_note() {
    const int at = row();
    if (at < 0 || at >= static_cast<int>(steps_.size())) return;
    std::vector<Step> order = steps_;
    std::string note = note_->text().trimmed().toStdString();
    if (order[static_cast<std::size_t>(at)].note == note) return;
    order[static_cast<std::size_t>(at)].note = std::move(note);
    commit(std::move(order), {"steps.did_note", {{"n", std::int64_t{at + 1}}}}, at);
}

}  // namespace setwright::app
