#include "app/panels/findings_panel.h"

#include <QEvent>
#include <QHBoxLayout>
#include <QLabel>
#include <QLineEdit>
#include <QListView>
#include <QPainter>
#include <QPushButton>
#include <QStyledItemDelegate>
#include <QVBoxLayout>
#include <algorithm>

#include "app/workbench.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

using Group = FindingLines::Group;

constexpr int slow_milliseconds = 250;
constexpr int sign_pixels = 16;

Group group_of(const check::Finding& finding) {
    if (finding.accepted) return Group::accepted;
    switch (finding.verdict) {
        case check::Verdict::fail:
            return Group::fix;
        case check::Verdict::warn:
            return Group::look;
        case check::Verdict::not_run:
        case check::Verdict::cancelled:
            return Group::not_run;
        case check::Verdict::pass:
            return Group::good;
    }
    return Group::not_run;
}

const char* title(Group group) {
    switch (group) {
        case Group::fix:
            return "panel.group_fix";
        case Group::look:
            return "panel.group_look";
        case Group::accepted:
            return "panel.group_accepted";
        case Group::not_run:
            return "panel.group_not_run";
        case Group::good:
            return "panel.group_good";
    }
    return "";
}

const char* sign(Group group) {
    switch (group) {
        case Group::fix:
            return "fail";
        case Group::look:
            return "warn";
        case Group::accepted:
            return "accept";
        case Group::not_run:
            return "not-run";
        case Group::good:
            return "pass";
    }
    return "";
}

/// As the job names an accepted finding.
setup::Accepted named(const check::Finding& finding) {
    setup::Accepted accepted;
    accepted.rule = finding.rule;
    if (finding.stage.valid()) accepted.subjects.push_back("stage " + std::to_string(finding.stage.value));
    for (const check::Subject& subject : finding.subjects) accepted.subjects.push_back(check::subject_key(subject));
    accepted.measured = finding.measured.value_or(0);
    return accepted;
}

std::string key_of(const check::Finding& finding) {
    const setup::Accepted name = named(finding);
    std::string key = name.rule;
    for (const std::string& subject : name.subjects) key += '\n' + subject;
    return key;
}

/// Sign, sentence, and under it smaller what would cure it; headings with a fold mark.
class FindingRow : public QStyledItemDelegate {
  public:
    FindingRow(Desk& desk, QListView* list) : QStyledItemDelegate(list), desk_(desk), list_(list) {}

    QSize sizeHint(const QStyleOptionViewItem& option, const QModelIndex& index) const override {
        const int width = list_->viewport()->width();
        if (index.data(FindingLines::heading_role).toBool()) return {width, option.fontMetrics.height() + 10};
        const int text = text_width(width);
        int height =
            QFontMetrics(list_->font())
                .boundingRect(QRect(0, 0, text, 10000), Qt::TextWordWrap, index.data(Qt::DisplayRole).toString())
                .height();
        const QString cure = index.data(FindingLines::cure_role).toString();
        if (!cure.isEmpty())
            height += QFontMetrics(small()).boundingRect(QRect(0, 0, text, 10000), Qt::TextWordWrap, cure).height() + 2;
        return {width, std::max(height, sign_pixels) + 8};
    }

    void paint(QPainter* painter, const QStyleOptionViewItem& given, const QModelIndex& index) const override {
        QStyleOptionViewItem option = given;
        initStyleOption(&option, index);
        option.text.clear();
        option.icon = {};
        option.widget->style()->drawControl(QStyle::CE_ItemViewItem, &option, painter, option.widget);
        const bool selected = option.state & QStyle::State_Selected;
        const QPalette& colours = option.palette;
        const QColor ink = colours.color(selected ? QPalette::HighlightedText : QPalette::Text);
        const QColor grey = selected ? ink : colours.color(QPalette::PlaceholderText);
        painter->save();
        if (index.data(FindingLines::heading_role).toBool())
            paint_heading(*painter, option, index, ink);
        else
            paint_finding(*painter, option, index, ink, grey);
        painter->restore();
    }

  private:
    static constexpr int margin = 6;
    int text_width(int width) const { return width - 3 * margin - sign_pixels; }
    QFont small() const {
        QFont font = list_->font();
        if (font.pointSizeF() > 0)
            font.setPointSizeF(font.pointSizeF() * 0.9);
        else
            font.setPixelSize(font.pixelSize() * 9 / 10);
        return font;
    }

    void paint_heading(QPainter& painter, const QStyleOptionViewItem& option, const QModelIndex& index,
                       const QColor& ink) const {
        QStyleOption arrow;
        arrow.palette = option.palette;
        arrow.state = QStyle::State_Enabled;
        const int side = 10;
        arrow.rect = QRect(option.rect.left() + margin + (sign_pixels - side) / 2, option.rect.center().y() - side / 2,
                           side, side);
        const bool folded = index.data(FindingLines::folded_role).toBool();
        list_->style()->drawPrimitive(folded ? QStyle::PE_IndicatorArrowRight : QStyle::PE_IndicatorArrowDown, &arrow,
                                      &painter, list_);
        QFont bold = list_->font();
        bold.setBold(true);
        painter.setFont(bold);
        painter.setPen(ink);
        painter.drawText(option.rect.adjusted(2 * margin + sign_pixels, 0, -margin, 0),
                         Qt::AlignLeft | Qt::AlignVCenter, index.data(Qt::DisplayRole).toString());
    }

    void paint_finding(QPainter& painter, const QStyleOptionViewItem& option, const QModelIndex& index,
                       const QColor& ink, const QColor& grey) const {
        const QRect box = option.rect.adjusted(margin, 4, -margin, -4);
        const QString sign = index.data(FindingLines::sign_role).toString();
        desk_.icons(sign).paint(&painter, QRect(box.left(), box.top(), sign_pixels, sign_pixels), Qt::AlignCenter,
                                option.state & QStyle::State_Selected ? QIcon::Selected : QIcon::Normal);
        QRect text(box.left() + sign_pixels + margin, box.top(), text_width(option.rect.width()), box.height());
        painter.setFont(list_->font());
        painter.setPen(sign == "not-run" || sign == "cancelled" ? grey : ink);
        QRect used;
        painter.drawText(text, Qt::TextWordWrap, index.data(Qt::DisplayRole).toString(), &used);
        const QString cure = index.data(FindingLines::cure_role).toString();
        if (cure.isEmpty()) return;
        text.setTop(used.bottom() + 3);
        painter.setFont(small());
        painter.setPen(grey);
        painter.drawText(text, Qt::TextWordWrap, cure);
    }

    Desk& desk_;
    QListView* list_;
};

}  // namespace

int FindingLines::rowCount(const QModelIndex& parent) const {
    return parent.isValid() ? 0 : static_cast<int>(lines_.size());
}

QVariant FindingLines::data(const QModelIndex& index, int role) const {
    if (!index.isValid() || index.row() >= static_cast<int>(lines_.size())) return {};
    const Line& line = lines_[static_cast<std::size_t>(index.row())];
    switch (role) {
        case Qt::DisplayRole:
            return line.words;
        case Qt::ToolTipRole:
            return line.is_heading ? QVariant() : line.words;
        case Qt::AccessibleTextRole:
            return line.is_heading ? line.words : QString(desk_.words(title(line.group)) + ": " + line.words);
        case sign_role:
            return line.sign;
        case cure_role:
            return line.cure;
        case heading_role:
            return line.is_heading;
        case folded_role:
            return is_folded(line.group);
        default:
            return {};
    }
}

const check::Finding* FindingLines::finding(const QModelIndex& index) const {
    if (!index.isValid() || index.row() >= static_cast<int>(lines_.size())) return nullptr;
    const Line& line = lines_[static_cast<std::size_t>(index.row())];
    return line.is_heading ? nullptr : &line.finding;
}

std::optional<Group> FindingLines::heading(const QModelIndex& index) const {
    if (!index.isValid() || index.row() >= static_cast<int>(lines_.size())) return {};
    const Line& line = lines_[static_cast<std::size_t>(index.row())];
    return line.is_heading ? std::optional(line.group) : std::nullopt;
}

int FindingLines::count(Group group) const {
    return static_cast<int>(std::count_if(findings_.begin(), findings_.end(),
                                          [&](const check::Finding& f) { return group_of(f) == group; }));
}

void FindingLines::show(const check::Report* report) {
    findings_ = report ? report->findings : std::vector<check::Finding>{};
    change_to(lines_of(findings_));
}

void FindingLines::fold(Group group, bool folded) {
    if (folded)
        folded_.insert(group);
    else
        folded_.erase(group);
    change_to(lines_of(findings_));
    for (int i = 0; i < rowCount(); ++i)
        if (lines_[static_cast<std::size_t>(i)].is_heading) Q_EMIT dataChanged(index(i), index(i));
}

std::vector<FindingLines::Line> FindingLines::lines_of(const std::vector<check::Finding>& findings) const {
    std::vector<Line> lines;
    for (const Group group : all_groups) {
        const int n = count(group);
        if (n == 0) continue;
        Line head;
        head.is_heading = true;
        head.group = group;
        head.key = title(group);
        head.words = desk_.words("panel.group_of", {{"group", std::vector<base::Text>{{title(group), {}}}},
                                                    {"n", static_cast<std::int64_t>(n)}});
        lines.push_back(std::move(head));
        if (is_folded(group)) continue;
        for (const check::Finding& finding : findings) {
            if (group_of(finding) != group) continue;
            Line line;
            line.group = group;
            line.key = key_of(finding);
            line.words = desk_.words(finding.text);
            if (!finding.cure.empty()) line.cure = desk_.words(finding.cure);
            line.sign = finding.accepted ? QString("accept") : icon_of(finding.verdict);
            line.finding = finding;
            lines.push_back(std::move(line));
        }
    }
    return lines;
}

void FindingLines::change_to(std::vector<Line> lines) {
    // What is the same at both ends stays; in most steps of a drag that is nearly all of it.
    const auto same = [](const Line& a, const Line& b) { return a.key == b.key && a.group == b.group; };
    std::size_t first = 0;
    while (first < lines.size() && first < lines_.size() && same(lines[first], lines_[first])) ++first;
    std::size_t last = 0;
    while (last + first < lines.size() && last + first < lines_.size() &&
           same(lines[lines.size() - 1 - last], lines_[lines_.size() - 1 - last]))
        ++last;
    const std::size_t old_middle = lines_.size() - first - last, new_middle = lines.size() - first - last;
    const int at = static_cast<int>(first);
    const auto from = [](std::vector<Line>& list, std::size_t n) {
        return list.begin() + static_cast<std::ptrdiff_t>(n);
    };
    if (old_middle > 0) {
        beginRemoveRows({}, at, at + static_cast<int>(old_middle) - 1);
        lines_.erase(from(lines_, first), from(lines_, first + old_middle));
        endRemoveRows();
    }
    if (new_middle > 0) {
        beginInsertRows({}, at, at + static_cast<int>(new_middle) - 1);
        lines_.insert(from(lines_, first), std::make_move_iterator(from(lines, first)),
                      std::make_move_iterator(from(lines, first + new_middle)));
        endInsertRows();
    }
    for (std::size_t i = 0; i < lines_.size(); ++i) {
        if (i >= first && i < first + new_middle) continue;
        const bool shows_the_same =
            lines_[i].words == lines[i].words && lines_[i].cure == lines[i].cure && lines_[i].sign == lines[i].sign;
        lines_[i] = std::move(lines[i]);
        if (!shows_the_same) Q_EMIT dataChanged(index(static_cast<int>(i)), index(static_cast<int>(i)));
    }
}

FindingsPanel::FindingsPanel(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("findings");
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(8, 8, 8, 8);
    column->setSpacing(6);
    column->addWidget(make_head());
    lines_ = new FindingLines(desk, this);
    list_ = new QListView(this);
    list_->setObjectName("findings.list");
    list_->setAccessibleName(desk.words("panel.findings"));
    list_->setModel(lines_);
    list_->setItemDelegate(new FindingRow(desk, list_));
    list_->setWordWrap(true);
    list_->setResizeMode(QListView::Adjust);
    list_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    // Always there: its coming and going would break the lines anew.
    list_->setVerticalScrollBarPolicy(Qt::ScrollBarAlwaysOn);
    list_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
    list_->setMinimumHeight(80);
    column->addWidget(list_, 1);
    column->addWidget(make_accept());

    connect(list_, &QListView::clicked, this, &FindingsPanel::look_at);
    connect(list_, &QListView::activated, this, [this](const QModelIndex& index) {
        // Enter; clicked() has dealt with the mouse.
        if (QGuiApplication::mouseButtons() == Qt::NoButton && !lines_->heading(index)) look_at(index);
    });
    connect(list_->selectionModel(), &QItemSelectionModel::currentChanged, this, &FindingsPanel::pull_accept);
    slow_.setSingleShot(true);
    slow_.setInterval(slow_milliseconds);
    connect(&slow_, &QTimer::timeout, this, &FindingsPanel::pull_state);
    connect(&desk.checker, &Checker::started, this, [this] {
        if (!slow_.isActive()) slow_.start();
    });
    connect(&desk.checker, &Checker::reported, this, &FindingsPanel::pull);
    connect(&desk.session, &Session::opened, this, &FindingsPanel::pull);
    // A change of unit changes every sentence.
    connect(&desk.session, &Session::changed, this, [this](const setup::Changes& changes) {
        if (changes.rest) pull();
    });
    pull();
}

void FindingsPanel::changeEvent(QEvent* event) {
    QWidget::changeEvent(event);
    if (event->type() == QEvent::PaletteChange) QTimer::singleShot(0, this, &FindingsPanel::pull);
}

QWidget* FindingsPanel::make_head() {
    auto* head = new QWidget(this);
    auto* column = new QVBoxLayout(head);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(2);
    auto* title = new QHBoxLayout;
    auto* name = new QLabel(desk_.words("panel.findings"), head);
    QFont bold = font();
    bold.setBold(true);
    name->setFont(bold);
    state_ = new QLabel(head);
    state_->setObjectName("findings.state");
    state_->setForegroundRole(QPalette::PlaceholderText);
    title->addWidget(name);
    title->addStretch(1);
    title->addWidget(state_);
    column->addLayout(title);
    auto* row = new QHBoxLayout;
    row->setSpacing(3);
    const char* const names[] = {"findings.fix", "findings.look", "findings.good", "findings.not_run"};
    for (std::size_t i = 0; i < counts_.size(); ++i) {
        counts_[i] = {new QLabel(head), new QLabel(head)};
        counts_[i].second->setObjectName(names[i]);
        if (i > 0) row->addStretch(1);
        row->addWidget(counts_[i].first);
        row->addWidget(counts_[i].second);
    }
    column->addLayout(row);
    return head;
}

QWidget* FindingsPanel::make_accept() {
    accept_line_ = new QWidget(this);
    auto* column = new QVBoxLayout(accept_line_);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(4);
    accepted_for_ = new QLabel(accept_line_);
    accepted_for_->setObjectName("findings.accepted_for");
    accepted_for_->setWordWrap(true);
    accepted_for_->setTextFormat(Qt::PlainText);
    column->addWidget(accepted_for_);
    auto* row = new QHBoxLayout;
    reason_ = new QLineEdit(accept_line_);
    reason_->setObjectName("findings.reason");
    reason_->setPlaceholderText(desk_.words("panel.reason"));
    reason_->setAccessibleName(desk_.words("panel.reason"));
    reason_->setToolTip(desk_.words("panel.reason_tip"));
    accept_ = new QPushButton(desk_.words("panel.accept"), accept_line_);
    accept_->setObjectName("findings.accept");
    accept_->setToolTip(desk_.words("panel.accept_tip"));
    take_back_ = new QPushButton(desk_.words("panel.take_back"), accept_line_);
    take_back_->setObjectName("findings.take_back");
    take_back_->setToolTip(desk_.words("panel.take_back_tip"));
    row->addWidget(reason_, 1);
    row->addWidget(accept_);
    row->addWidget(take_back_);
    column->addLayout(row);
    const auto may_accept = [this] { accept_->setEnabled(!reason_->text().trimmed().isEmpty()); };
    connect(reason_, &QLineEdit::textChanged, this, may_accept);
    connect(reason_, &QLineEdit::returnPressed, this, &FindingsPanel::accept);
    connect(accept_, &QPushButton::clicked, this, &FindingsPanel::accept);
    connect(take_back_, &QPushButton::clicked, this, &FindingsPanel::take_back);
    may_accept();
    return accept_line_;
}

void FindingsPanel::pull() {
    const std::shared_ptr<const check::Report> report = desk_.checker.report();
    lines_->show(desk_.session.has_job() ? report.get() : nullptr);
    struct Count {
        Group group;
        const char* words;
    };
    const std::array<Count, 4> counts{{{Group::fix, "panel.count_fix"},
                                       {Group::look, "panel.count_look"},
                                       {Group::good, "panel.count_good"},
                                       {Group::not_run, "panel.count_not_run"}}};
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const auto& [icon, words] = counts_[i];
        icon->setVisible(report != nullptr);
        words->setVisible(report != nullptr);
        icon->setPixmap(desk_.icons(sign(counts[i].group)).pixmap(sign_pixels, sign_pixels));
        words->setText(
            desk_.words(counts[i].words, {{"n", static_cast<std::int64_t>(lines_->count(counts[i].group))}}));
    }
    pull_state();
    pull_accept();
}

void FindingsPanel::pull_state() {
    const bool job = desk_.session.has_job();
    if (job && !desk_.checker.is_current())
        // Right after a change the report of the moment before still stands there.
        state_->setText(slow_.isActive() && desk_.checker.report() ? state_->text() : desk_.words("panel.checking"));
    else
        state_->setText(job ? QString() : desk_.words("panel.findings_no_job"));
    if (desk_.checker.is_current()) slow_.stop();
}

const check::Finding* FindingsPanel::current() const {
    return lines_->finding(list_->currentIndex());
}

void FindingsPanel::pull_accept() {
    const check::Finding* finding = current();
    const bool can_accept = finding && !finding->accepted &&
                            (finding->verdict == check::Verdict::fail || finding->verdict == check::Verdict::warn);
    const bool is_accepted = finding && finding->accepted;
    accept_line_->setVisible(can_accept || is_accepted);
    reason_->setVisible(can_accept);
    accept_->setVisible(can_accept);
    take_back_->setVisible(is_accepted);
    accepted_for_->setVisible(is_accepted);
    if (!is_accepted) return;
    const setup::Accepted name = named(*finding);
    std::string reason;
    for (const setup::Accepted& accepted : desk_.session.now().accepted)
        if (accepted.rule == name.rule && accepted.subjects == name.subjects) reason = accepted.reason;
    accepted_for_->setText(desk_.words("panel.accepted_for", {{"reason", reason}}));
}

void FindingsPanel::look_at(const QModelIndex& index) {
    if (const std::optional<Group> group = lines_->heading(index)) {
        lines_->fold(*group, !lines_->is_folded(*group));
        return;
    }
    const check::Finding* finding = lines_->finding(index);
    if (!finding) return;
    // Selecting may bring a new report, and with it other lines.
    const check::Finding about = *finding;
    if (about.stage.valid()) desk_.session.go_to_stage(about.stage);
    Selection selection;
    for (const check::Subject& subject : about.subjects) {
        if (const auto* piece = std::get_if<PieceId>(&subject)) selection.pieces.insert(*piece);
        if (const auto* placement = std::get_if<PlacementId>(&subject)) selection.placements.insert(*placement);
        if (const auto* seam = std::get_if<SeamId>(&subject)) selection.seam = *seam;
    }
    if (!selection.empty()) desk_.session.select(selection);
    if (about.at_T && desk_.bench) desk_.bench->point_out(*about.at_T, desk_.words(about.text));
}

void FindingsPanel::accept() {
    const check::Finding* finding = current();
    if (!finding || finding->accepted || reason_->text().trimmed().isEmpty()) return;
    setup::Accepted accepted = named(*finding);
    accepted.reason = reason_->text().trimmed().toStdString();
    reason_->clear();
    desk_.session.apply(setup::accept(desk_.session.now(), accepted), {"panel.did_accept", {}});
}

void FindingsPanel::take_back() {
    const check::Finding* finding = current();
    if (!finding || !finding->accepted) return;
    desk_.session.apply(setup::unaccept(desk_.session.now(), named(*finding)), {"panel.did_take_back", {}});
}

}  // namespace setwright::app
