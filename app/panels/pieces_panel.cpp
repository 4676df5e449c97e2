#include "app/panels/pieces_panel.h"

#include <QLabel>
#include <QTreeWidget>
#include <QVBoxLayout>

#include "core/base/limits.h"
#include "core/weldment/inspect.h"

namespace setwright::app {

namespace {

/// What a row selects: a piece's or a seam's id; rows without are headings.
constexpr int piece_role = Qt::UserRole;
constexpr int seam_role = Qt::UserRole + 1;

/// Sizes of stock without the unit's sign: they are names.
base::Text section_text(const weldment::Section& section, base::DisplayUnit unit) {
    const auto size = [&](double mm) { return base::format_length(mm, unit); };
    return {std::string("section.") + weldment::key(section.kind),
            {{"width", size(section.width_mm)},
             {"depth", size(section.depth_mm)},
             {"wall", size(section.wall_mm)},
             {"diameter", size(section.diameter_mm)}}};
}

base::Text seam_kind(const weldment::Seam& seam) {
    return {std::string("seam.") + weldment::key(seam.kind), {}};
}

/// Stage in which a piece is loaded; null where it is in none.
const setup::Stage* stage_of(const setup::Setup& setup, setup::PieceId piece) {
    for (const setup::Stage& stage : setup.stages)
        if (std::find(stage.pieces.begin(), stage.pieces.end(), piece) != stage.pieces.end()) return &stage;
    return nullptr;
}

bool left_out(const setup::WeldmentUse& use, setup::PieceId piece) {
    const auto edit = use.piece_edits.find(piece);
    return edit != use.piece_edits.end() && edit->second.left_out;
}

}  // namespace

PiecesPanel::PiecesPanel(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("pieces");
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(8, 8, 8, 8);
    head_ = new QLabel(this);
    head_->setObjectName("pieces.head");
    head_->setWordWrap(true);
    head_->setTextFormat(Qt::PlainText);
    head_->setTextInteractionFlags(Qt::TextSelectableByMouse);
    column->addWidget(head_);
    list_ = new QTreeWidget(this);
    list_->setObjectName("pieces.list");
    list_->setAccessibleName(desk.words("pieces.list"));
    list_->setToolTip(desk.words("pieces.list_tip"));
    list_->setHeaderHidden(true);
    list_->setColumnCount(1);
    list_->setSelectionMode(QAbstractItemView::ExtendedSelection);
    list_->setIndentation(8);
    list_->setWordWrap(true);
    list_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    list_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
    column->addWidget(list_, 1);

    connect(list_, &QTreeWidget::itemSelectionChanged, this, &PiecesPanel::take_selection);
    connect(&desk.session, &Session::opened, this, &PiecesPanel::pull);
    connect(&desk.session, &Session::changed, this, [this](const setup::Changes& changes) {
        if (changes.rest) pull();
    });
    connect(&desk.session, &Session::selection_changed, this, &PiecesPanel::show_selection);
    pull();
}

void PiecesPanel::pull() {
    pull_head();
    pull_list();
    show_selection();
}

void PiecesPanel::pull_head() {
    if (!desk_.session.has_job()) {
        head_->setText(desk_.words("pieces.no_job"));
        return;
    }
    QStringList lines;
    for (const setup::WeldmentUse& use : desk_.session.now().weldments) {
        lines << QString::fromStdString(use.file_name);
        if (!use.model) {
            lines << desk_.words("pieces.no_model");
            continue;
        }
        const weldment::Weldment& model = *use.model;
        double mass_kg = 0;
        for (const weldment::Piece& piece : model.pieces) mass_kg += piece.mass_kg;
        const space::Vec3 size = model.box_M.empty() ? space::Vec3(0, 0, 0) : model.box_M.size();
        lines << desk_.words(
            "pieces.overall",
            {{"x", base::LengthArg{size.x()}}, {"y", base::LengthArg{size.y()}}, {"z", base::LengthArg{size.z()}}});
        lines << desk_.words("pieces.counts", {{"pieces", static_cast<std::int64_t>(model.pieces.size())},
                                               {"seams", static_cast<std::int64_t>(model.seams.size())},
                                               {"mass", base::decimal_text(mass_kg, 1)}});
        lines << (model.file_unit.empty() ? desk_.words("pieces.no_unit")
                                          : desk_.words("pieces.unit", {{"unit", model.file_unit}}));
    }
    head_->setText(lines.join('\n'));
}

QTreeWidgetItem* PiecesPanel::add_row(QTreeWidgetItem* above, const QString& words, const QString& icon) {
    auto* row = above != nullptr ? new QTreeWidgetItem(above) : new QTreeWidgetItem(list_);
    row->setText(0, words);
    row->setToolTip(0, words);
    if (!icon.isEmpty()) row->setIcon(0, desk_.icons(icon));
    if (above == nullptr) {
        QFont bold = list_->font();
        bold.setBold(true);
        row->setFont(0, bold);
        row->setFlags(Qt::ItemIsEnabled);
        row->setExpanded(true);
    }
    return row;
}

void PiecesPanel::add_doubts(const setup::WeldmentUse& use) {
    const weldment::Weldment& model = *use.model;
    struct Doubt {
        QString words;
        int role = -1;
        std::uint32_t id = 0;
    };
    std::vector<Doubt> doubts;
    for (const base::Text& text : model.doubts) doubts.push_back({desk_.words(text), -1, 0});
    for (const weldment::Piece& piece : model.pieces)
        for (const base::Text& text : piece.doubts)
            doubts.push_back({desk_.words("pieces.doubt", {{"who", desk_.session.now().piece_name(piece.id)},
                                                           {"doubt", std::vector{text}}}),
                              piece_role, piece.id.value});
    for (const weldment::Seam& seam : model.seams)
        for (const base::Text& text : seam.doubts)
            doubts.push_back(
                {desk_.words(
                     "pieces.doubt",
                     {{"who", desk_.words("pieces.seam_name", {{"id", static_cast<std::int64_t>(seam.id.value)}})
                                  .toStdString()},
                      {"doubt", std::vector{text}}}),
                 seam_role, seam.id.value});
    if (doubts.empty()) return;
    auto* top =
        add_row(nullptr, desk_.words("pieces.doubts", {{"n", static_cast<std::int64_t>(doubts.size())}}), "doubt");
    for (const Doubt& doubt : doubts) {
        auto* row = add_row(top, doubt.words, "doubt");
        if (doubt.role >= 0)
            row->setData(0, doubt.role, doubt.id);
        else
            row->setFlags(Qt::ItemIsEnabled);
    }
}

void PiecesPanel::add_pieces(const setup::WeldmentUse& use) {
    const setup::Setup& now = desk_.session.now();
    std::map<int, std::vector<const weldment::Piece*>> groups;
    for (const weldment::Piece& piece : use.model->pieces) groups[piece.group].push_back(&piece);
    for (const auto& [group, pieces] : groups) {
        const auto count = static_cast<std::int64_t>(pieces.size());
        // Pieces of a kind share section and length: said once.
        const QString length = desk_.words.length(pieces.front()->length_mm);
        auto* top =
            add_row(nullptr,
                    desk_.words(count == 1 ? "pieces.group_one" : "pieces.group",
                                {{"n", count},
                                 {"section", std::vector{section_text(pieces.front()->section, desk_.words.unit())}},
                                 {"length", length.toStdString()}}),
                    "");
        for (const weldment::Piece* piece : pieces) {
            const setup::Stage* stage = stage_of(now, piece->id);
            const std::string held = left_out(use, piece->id) ? "pieces.left_out"
                                     : stage == nullptr       ? "pieces.in_no_stage"
                                                        : std::string("pieces.held.") + key(stage->held(piece->id));
            const QString words = desk_.words(weldment::end_text(piece->ends[0]) == weldment::end_text(piece->ends[1])
                                                  ? "pieces.same_ends"
                                                  : "pieces.piece",
                                              {{"name", now.piece_name(piece->id)},
                                               {"first", std::vector{weldment::end_text(piece->ends[0])}},
                                               {"last", std::vector{weldment::end_text(piece->ends[1])}}}) +
                                  '\n' + desk_.words(held);
            add_row(top, words, piece->doubts.empty() ? "piece" : "doubt")->setData(0, piece_role, piece->id.value);
        }
    }
}

void PiecesPanel::add_seams(const setup::WeldmentUse& use) {
    const setup::Setup& now = desk_.session.now();
    if (use.model->seams.empty()) return;
    auto* top =
        add_row(nullptr, desk_.words("pieces.seams", {{"n", static_cast<std::int64_t>(use.model->seams.size())}}), "");
    for (const weldment::Seam& seam : use.model->seams) {
        std::optional<double> size = seam.size_mm;
        if (const auto edit = use.seam_edits.find(seam.id); edit != use.seam_edits.end() && edit->second.size_mm)
            size = edit->second.size_mm;
        const QString words =
            desk_.words("pieces.seam", {{"id", static_cast<std::int64_t>(seam.id.value)},
                                        {"kind", std::vector{seam_kind(seam)}},
                                        {"a", now.piece_name(seam.pieces[0])},
                                        {"b", now.piece_name(seam.pieces[1])}}) +
            '\n' +
            desk_.words(seam.gap_mm < base::limits::coincident_mm ? "pieces.seam_closed" : "pieces.seam_sizes",
                        {{"length", base::LengthArg{seam.length_mm}},
                         {"gap", base::LengthArg{seam.gap_mm}},
                         {"size", std::vector{size ? base::Text{"pieces.size", {{"size", base::LengthArg{*size}}}}
                                                   : base::Text{"pieces.as_drawing", {}}}}});
        add_row(top, words, seam.doubts.empty() ? "seam" : "doubt")->setData(0, seam_role, seam.id.value);
    }
}

void PiecesPanel::pull_list() {
    const QSignalBlocker quiet(list_);
    list_->clear();
    if (!desk_.session.has_job()) return;
    for (const setup::WeldmentUse& use : desk_.session.now().weldments)
        if (use.model) add_doubts(use);
    for (const setup::WeldmentUse& use : desk_.session.now().weldments) {
        if (!use.model) continue;
        add_pieces(use);
        add_seams(use);
    }
}

void PiecesPanel::show_selection() {
    const QSignalBlocker quiet(list_);
    const Selection& selection = desk_.session.selection();
    QTreeWidgetItem* first = nullptr;
    for (QTreeWidgetItemIterator at(list_); *at; ++at) {
        const QVariant piece = (*at)->data(0, piece_role), seam = (*at)->data(0, seam_role);
        const bool chosen = (piece.isValid() && selection.pieces.contains(setup::PieceId{piece.toUInt()})) ||
                            (seam.isValid() && selection.seam == setup::SeamId{seam.toUInt()});
        (*at)->setSelected(chosen);
        if (chosen && first == nullptr) first = *at;
    }
    if (first != nullptr && !list_->hasFocus()) list_->scrollToItem(first);
}

void PiecesPanel::take_selection() {
    Selection selection;
    for (const QTreeWidgetItem* row : list_->selectedItems()) {
        const QVariant piece = row->data(0, piece_role), seam = row->data(0, seam_role);
        if (piece.isValid()) selection.pieces.insert(setup::PieceId{piece.toUInt()});
        if (seam.isValid()) selection.seam = setup::SeamId{seam.toUInt()};
    }
    desk_.session.select(std::move(selection));
}

}  // namespace setwright::app
