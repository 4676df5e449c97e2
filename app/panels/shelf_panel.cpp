#include "app/panels/shelf_panel.h"

#include <QApplication>
#include <QCheckBox>
#include <QDrag>
#include <QEvent>
#include <QHBoxLayout>
#include <QLabel>
#include <QLineEdit>
#include <QListWidget>
#include <QMimeData>
#include <QPainter>
#include <QPushButton>
#include <QStyledItemDelegate>
#include <QTimer>
#include <QTreeWidget>
#include <QVBoxLayout>
#include <algorithm>
#include <cmath>

#include "app/tools/place_tool.h"
#include "app/workbench.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

using ComponentPtr = std::shared_ptr<const shop::Component>;

constexpr int id_role = Qt::UserRole;
constexpr int count_role = Qt::UserRole + 1;
constexpr int left_role = Qt::UserRole + 2;
constexpr int picture_pixels = 40;

struct Group {
    const char* title;
    std::vector<shop::Family> families;
};
/// As a shop sorts them.
const std::vector<Group>& groups() {
    using shop::Family;
    static const std::vector<Group> all{
        {"panel.group_stops",
         {Family::index_stop, Family::stop, Family::slotted_stop, Family::round_stop, Family::pull_back_stop}},
        {"panel.group_rests", {Family::rest, Family::v_block, Family::packer}},
        {"panel.group_plates", {Family::angle_plate, Family::long_bar}},
        {"panel.group_clamps",
         {Family::down_clamp, Family::side_clamp, Family::swing_clamp, Family::bar_clamp, Family::c_clamp,
          Family::pusher, Family::magnet}},
        {"panel.group_others", {Family::wedge, Family::pin_carrier, Family::pin, Family::comb, Family::spacer}}};
    return all;
}

/// The number that a size begins with, so that 75 comes before 100.
double leading_number(const std::string& size) {
    return std::strtod(size.c_str(), nullptr);
}

int have_of(const setup::Setup& setup, const shop::Component& component) {
    if (!component.handed) return setup.shelf.have(component.id);
    return setup.shelf.have(component.id + ":left") + setup.shelf.have(component.id + ":right");
}

/// Those that fit the job's table. Loose ones fit every table: what the shop has none of is only in the way then.
std::vector<ComponentPtr> fitting(const setup::Setup& setup, const shop::Catalogue& catalogue) {
    const shop::Table& table = setup.table;
    std::vector<ComponentPtr> out;
    const auto take = [&](const ComponentPtr& component) {
        if (!shop::fits(*component, table.hole_mm, table.pitch_x_mm, table.pitch_y_mm)) return;
        const bool used = setup.components.contains(component->id);
        if (!used && have_of(setup, *component) == 0 &&
            (component->nominal != table.nominal || component->family == shop::Family::packer))
            return;
        out.push_back(component);
    };
    for (const ComponentPtr& component : catalogue.components) {
        const auto known = setup.components.find(component->id);
        take(known != setup.components.end() ? known->second : component);
    }
    // What only the job knows.
    for (const auto& [id, component] : setup.components)
        if (!catalogue.find(id)) take(component);
    return out;
}

/// A row: picture, name and size, under it how many are left.
class ShelfRow : public QStyledItemDelegate {
  public:
    using QStyledItemDelegate::QStyledItemDelegate;

    QSize sizeHint(const QStyleOptionViewItem& option, const QModelIndex& index) const override {
        if (!index.parent().isValid()) return {0, option.fontMetrics.height() + 8};
        return {0, std::max(picture_pixels, 2 * option.fontMetrics.height()) + 6};
    }

    void paint(QPainter* painter, const QStyleOptionViewItem& given, const QModelIndex& index) const override {
        if (!index.parent().isValid()) return QStyledItemDelegate::paint(painter, given, index);
        QStyleOptionViewItem option = given;
        initStyleOption(&option, index);
        const QString name = option.text;
        option.text.clear();
        option.icon = {};
        const QStyle* style = option.widget->style();
        style->drawControl(QStyle::CE_ItemViewItem, &option, painter, option.widget);

        const bool none_left = index.data(left_role).toInt() <= 0;
        const bool selected = option.state & QStyle::State_Selected;
        const QPalette& colours = option.palette;
        const QColor ink = colours.color(selected ? QPalette::HighlightedText : QPalette::Text);
        const QColor grey = selected ? ink : colours.color(QPalette::PlaceholderText);
        const QRect box = option.rect.adjusted(2, 3, -4, -3);
        const QPixmap picture = index.data(Qt::DecorationRole).value<QPixmap>();
        painter->save();
        painter->setOpacity(none_left ? 0.45 : 1);
        painter->drawPixmap(QPoint(box.left(), box.top() + (box.height() - picture_pixels) / 2), picture);
        painter->setOpacity(1);
        const int line = option.fontMetrics.height();
        QRect text(box.left() + picture_pixels + 8, box.top() + (box.height() - 2 * line) / 2,
                   box.width() - picture_pixels - 8, line);
        painter->setFont(option.font);
        painter->setPen(none_left ? grey : ink);
        painter->drawText(text, Qt::AlignLeft | Qt::AlignVCenter,
                          option.fontMetrics.elidedText(name, Qt::ElideRight, text.width()));
        text.translate(0, line);
        painter->setPen(grey);
        painter->drawText(
            text, Qt::AlignLeft | Qt::AlignVCenter,
            option.fontMetrics.elidedText(index.data(count_role).toString(), Qt::ElideRight, text.width()));
        painter->restore();
    }
};

class ShelfList : public QTreeWidget {
  public:
    using QTreeWidget::QTreeWidget;

  protected:
    void startDrag(Qt::DropActions) override {
        const QTreeWidgetItem* row = currentItem();
        if (!row || !row->parent()) return;
        auto* mime = new QMimeData;
        mime->setData(component_mime, row->data(0, id_role).toString().toUtf8());
        const QPixmap picture = row->data(0, Qt::DecorationRole).value<QPixmap>();
        auto* drag = new QDrag(this);
        drag->setMimeData(mime);
        drag->setPixmap(picture);
        // Beside the pointer, so that the hole under it stays in sight.
        drag->setHotSpot(QPoint(-12, -12));
        drag->exec(Qt::CopyAction);
    }
};

}  // namespace

ShelfPanel::ShelfPanel(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("shelf");
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(8, 8, 8, 8);
    column->setSpacing(6);

    search_ = new QLineEdit(this);
    search_->setObjectName("shelf.search");
    search_->setPlaceholderText(desk.words("panel.search"));
    search_->setAccessibleName(desk.words("panel.search"));
    search_->setToolTip(desk.words("panel.search_tip"));
    search_->setClearButtonEnabled(true);
    search_->addAction(desk.icons("search"), QLineEdit::LeadingPosition);
    only_left_ = new QCheckBox(desk.words("panel.only_left"), this);
    only_left_->setObjectName("shelf.only_left");
    only_left_->setToolTip(desk.words("panel.only_left_tip"));
    column->addWidget(search_);
    column->addWidget(only_left_);

    list_ = new ShelfList(this);
    list_->setObjectName("shelf.list");
    list_->setAccessibleName(desk.words("panel.shelf"));
    list_->setToolTip(desk.words("panel.shelf_tip"));
    list_->setHeaderHidden(true);
    list_->setColumnCount(1);
    list_->setIndentation(12);
    list_->setDragEnabled(true);
    list_->setDragDropMode(QAbstractItemView::DragOnly);
    list_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    list_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
    list_->setItemDelegate(new ShelfRow(list_));
    list_->setExpandsOnDoubleClick(true);
    list_->setMinimumHeight(120);
    column->addWidget(list_, 1);
    none_ = new QLabel(desk.words("panel.shelf_none"), this);
    none_->setWordWrap(true);
    none_->setForegroundRole(QPalette::PlaceholderText);
    none_->hide();
    column->addWidget(none_);
    column->addWidget(make_callout());
    column->addWidget(make_offers());

    connect(search_, &QLineEdit::textChanged, this, &ShelfPanel::filter);
    connect(only_left_, &QCheckBox::toggled, this, &ShelfPanel::filter);
    connect(list_, &QTreeWidget::currentItemChanged, this, &ShelfPanel::follow_choice);
    connect(list_, &QTreeWidget::itemClicked, this, [this](QTreeWidgetItem* row) {
        if (row->parent())
            take_in_hand();
        else
            row->setExpanded(!row->isExpanded());
    });
    // Enter, as itemClicked has already dealt with the mouse.
    list_->installEventFilter(this);
    connect(&desk.session, &Session::opened, this, &ShelfPanel::fill);
    connect(&desk.session, &Session::changed, this, [this](const setup::Changes& changes) {
        if (changes.rest) filter();
        pull_counts();
    });
    if (desk.bench) connect(desk.bench, &Workbench::tool_changed, this, &ShelfPanel::follow_tool);
    fill();
}

QWidget* ShelfPanel::make_callout() {
    auto* box = new QWidget(this);
    auto* column = new QVBoxLayout(box);
    column->setContentsMargins(0, 4, 0, 0);
    column->setSpacing(4);
    for_ = new QLabel(box);
    for_->setObjectName("shelf.for");
    for_->setWordWrap(true);
    for_->setTextFormat(Qt::PlainText);
    column->addWidget(for_);
    auto* row = new QHBoxLayout;
    callout_ = new QLineEdit(box);
    callout_->setObjectName("shelf.callout");
    callout_->setPlaceholderText(desk_.words("panel.callout_example"));
    callout_->setAccessibleName(desk_.words("panel.callout"));
    callout_->setToolTip(desk_.words("panel.callout_tip"));
    set_ = new QPushButton(desk_.words("panel.set"), box);
    set_->setObjectName("shelf.set");
    set_->setToolTip(desk_.words("panel.set_tip"));
    row->addWidget(callout_, 1);
    row->addWidget(set_);
    column->addLayout(row);

    wrong_ = new QWidget(box);
    auto* wrong_row = new QHBoxLayout(wrong_);
    wrong_row->setContentsMargins(0, 0, 0, 0);
    auto* sign = new QLabel(wrong_);
    sign->setPixmap(desk_.icons("fail").pixmap(16, 16));
    sign->setAlignment(Qt::AlignTop);
    wrong_words_ = new QLabel(wrong_);
    wrong_words_->setObjectName("shelf.wrong");
    wrong_words_->setWordWrap(true);
    wrong_words_->setTextFormat(Qt::PlainText);
    wrong_words_->setTextInteractionFlags(Qt::TextSelectableByMouse);
    wrong_row->addWidget(sign);
    wrong_row->addWidget(wrong_words_, 1);
    wrong_->hide();
    column->addWidget(wrong_);

    connect(callout_, &QLineEdit::returnPressed, this, &ShelfPanel::set_by_callout);
    connect(callout_, &QLineEdit::textEdited, this, [this] {
        say_wrong({});
        // Who writes does not point: a click on the table would set one more.
        if (desk_.bench && desk_.bench->tool().name() == "place") desk_.bench->take(nullptr);
    });
    connect(set_, &QPushButton::clicked, this, &ShelfPanel::set_by_callout);
    return box;
}

QWidget* ShelfPanel::make_offers() {
    auto* box = new QWidget(this);
    auto* column = new QVBoxLayout(box);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(4);
    touch_ = new QPushButton(desk_.icons("touch"), desk_.words("panel.touch"), box);
    touch_->setObjectName("shelf.touch");
    touch_->setToolTip(desk_.words("panel.touch_tip"));
    touch_->setCheckable(true);
    column->addWidget(touch_);
    touch_help_ = new QLabel(box);
    touch_help_->setWordWrap(true);
    touch_help_->setForegroundRole(QPalette::PlaceholderText);
    touch_help_->hide();
    column->addWidget(touch_help_);
    offers_ = new QListWidget(box);
    offers_->setObjectName("shelf.offers");
    offers_->setAccessibleName(desk_.words("panel.offers"));
    offers_->setToolTip(desk_.words("panel.offers_tip"));
    offers_->setWordWrap(true);
    offers_->setMouseTracking(true);
    offers_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    offers_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
    offers_->viewport()->installEventFilter(this);
    offers_->hide();
    column->addWidget(offers_);

    connect(touch_, &QPushButton::clicked, this, &ShelfPanel::touch_a_face);
    const auto preview = [this](QListWidgetItem* row) {
        if (tool_ && row) tool_->preview(offers_->row(row));
    };
    connect(offers_, &QListWidget::itemEntered, this, preview);
    connect(offers_, &QListWidget::currentItemChanged, this, preview);
    // Choosing empties this list: not while it still speaks.
    const auto choose = [this](QListWidgetItem* row) {
        if (tool_)
            QMetaObject::invokeMethod(
                tool_,
                [tool = tool_, n = offers_->row(row)] {
                    if (tool) tool->choose(n);
                },
                Qt::QueuedConnection);
    };
    connect(offers_, &QListWidget::itemClicked, this, choose);
    connect(offers_, &QListWidget::itemActivated, this, [this, choose](QListWidgetItem* row) {
        if (QGuiApplication::mouseButtons() == Qt::NoButton && offers_->hasFocus()) choose(row);
    });
    return box;
}

bool ShelfPanel::eventFilter(QObject* watched, QEvent* event) {
    if (watched == offers_->viewport() && event->type() == QEvent::Leave && tool_)
        tool_->preview(offers_->currentRow());
    if (watched == list_ && event->type() == QEvent::KeyPress) {
        const int key = static_cast<QKeyEvent*>(event)->key();
        if ((key == Qt::Key_Return || key == Qt::Key_Enter) && chosen()) {
            take_in_hand();
            return true;
        }
    }
    return QWidget::eventFilter(watched, event);
}

void ShelfPanel::changeEvent(QEvent* event) {
    QWidget::changeEvent(event);
    // The ink is set after the palette.
    if (event->type() == QEvent::PaletteChange) QTimer::singleShot(0, this, &ShelfPanel::pull_pictures);
}

ComponentPtr ShelfPanel::chosen() const {
    const QTreeWidgetItem* row = list_->currentItem();
    if (!row || !row->parent() || row->isHidden() || !desk_.session.has_job()) return nullptr;
    const std::string id = row->data(0, id_role).toString().toStdString();
    const auto& known = desk_.session.now().components;
    if (const auto found = known.find(id); found != known.end()) return found->second;
    return desk_.session.catalogue().share(id);
}

void ShelfPanel::fill() {
    list_->clear();
    say_wrong({});
    const bool job = desk_.session.has_job();
    for (QWidget* widget : std::initializer_list<QWidget*>{search_, only_left_, list_}) widget->setEnabled(job);
    if (job) {
        const std::vector<ComponentPtr> all = fitting(desk_.session.now(), desk_.session.catalogue());
        for (const Group& group : groups()) {
            std::vector<ComponentPtr> in;
            for (const ComponentPtr& component : all)
                if (std::find(group.families.begin(), group.families.end(), component->family) != group.families.end())
                    in.push_back(component);
            const auto place = [&](const ComponentPtr& c) {
                return std::find(group.families.begin(), group.families.end(), c->family) - group.families.begin();
            };
            std::stable_sort(in.begin(), in.end(), [&](const ComponentPtr& a, const ComponentPtr& b) {
                if (place(a) != place(b)) return place(a) < place(b);
                return leading_number(a->size) < leading_number(b->size);
            });
            if (!in.empty()) add_group(group.title, in);
        }
        pull_counts();
        pull_pictures();
    }
    filter();
    follow_choice();
}

void ShelfPanel::add_group(const char* title, const std::vector<ComponentPtr>& components) {
    auto* head = new QTreeWidgetItem(list_);
    head->setText(0, desk_.words(title));
    head->setFlags(Qt::ItemIsEnabled);
    QFont bold = list_->font();
    bold.setBold(true);
    head->setFont(0, bold);
    for (const ComponentPtr& component : components) {
        auto* row = new QTreeWidgetItem(head);
        row->setData(0, id_role, QString::fromStdString(component->id));
        row->setText(0, desk_.words(check::component_name(*component)));
        row->setFlags(Qt::ItemIsEnabled | Qt::ItemIsSelectable | Qt::ItemIsDragEnabled);
    }
    head->setExpanded(true);
}

void ShelfPanel::pull_counts() {
    if (!desk_.session.has_job()) return;
    const setup::Setup& now = desk_.session.now();
    std::map<std::string, int> used;
    for (const check::PickLine& line : check::pick_list(now)) used[line.stock_id] = line.need;
    for (int g = 0; g < list_->topLevelItemCount(); ++g) {
        for (int i = 0; i < list_->topLevelItem(g)->childCount(); ++i) {
            QTreeWidgetItem* row = list_->topLevelItem(g)->child(i);
            const std::string id = row->data(0, id_role).toString().toStdString();
            const shop::Component* component = now.find_component(id);
            if (!component) component = desk_.session.catalogue().find(id);
            if (!component) continue;
            const auto left = [&](const std::string& stock) { return now.shelf.have(stock) - used[stock]; };
            int all_left = left(id);
            QString words;
            if (component->to_cut) {
                all_left = 1;
                words = desk_.words("panel.to_cut");
            } else if (component->handed) {
                const std::string l = id + ":left", r = id + ":right";
                all_left = std::max(left(l), 0) + std::max(left(r), 0);
                words = desk_.words("panel.left_of_hands", {{"left", std::int64_t{left(l)}},
                                                            {"left_have", std::int64_t{now.shelf.have(l)}},
                                                            {"right", std::int64_t{left(r)}},
                                                            {"right_have", std::int64_t{now.shelf.have(r)}}});
            } else if (now.shelf.have(id) == 0 && all_left == 0) {
                words = desk_.words("panel.none_owned");
            } else if (all_left < 0) {
                words = desk_.words("panel.short_of",
                                    {{"short", std::int64_t{-all_left}}, {"have", std::int64_t{now.shelf.have(id)}}});
            } else {
                words = desk_.words("panel.left_of",
                                    {{"left", std::int64_t{all_left}}, {"have", std::int64_t{now.shelf.have(id)}}});
            }
            row->setData(0, count_role, words);
            row->setData(0, left_role, all_left);
            row->setToolTip(0, row->text(0) + "\n" + words);
            row->setData(0, Qt::AccessibleTextRole, row->text(0) + ", " + words);
        }
    }
    if (only_left_->isChecked()) filter();
}

void ShelfPanel::pull_pictures() {
    if (!desk_.session.has_job()) return;
    for (int g = 0; g < list_->topLevelItemCount(); ++g) {
        for (int i = 0; i < list_->topLevelItem(g)->childCount(); ++i) {
            QTreeWidgetItem* row = list_->topLevelItem(g)->child(i);
            const std::string id = row->data(0, id_role).toString().toStdString();
            const shop::Component* component = desk_.session.now().find_component(id);
            if (!component) component = desk_.session.catalogue().find(id);
            if (component)
                row->setData(0, Qt::DecorationRole,
                             desk_.icons.picture(*component, picture_pixels, devicePixelRatioF()));
        }
    }
}

void ShelfPanel::filter() {
    const QStringList wanted = search_->text().split(' ', Qt::SkipEmptyParts);
    bool any = false;
    for (int g = 0; g < list_->topLevelItemCount(); ++g) {
        QTreeWidgetItem* head = list_->topLevelItem(g);
        bool any_here = false;
        for (int i = 0; i < head->childCount(); ++i) {
            QTreeWidgetItem* row = head->child(i);
            const bool named = std::all_of(wanted.begin(), wanted.end(), [&](const QString& word) {
                return row->text(0).contains(word, Qt::CaseInsensitive);
            });
            const bool shown = named && (!only_left_->isChecked() || row->data(0, left_role).toInt() > 0);
            row->setHidden(!shown);
            any_here |= shown;
        }
        head->setHidden(!any_here);
        any |= any_here;
    }
    none_->setVisible(desk_.session.has_job() && !any);
    follow_choice();
}

void ShelfPanel::follow_choice() {
    const ComponentPtr component = chosen();
    const bool job = desk_.session.has_job();
    for_->setText(!job ? desk_.words("panel.shelf_no_job")
                  : component
                      ? desk_.words("panel.callout_for", {{"what", std::vector{check::component_name(*component)}}})
                      : desk_.words("panel.callout_choose"));
    for (QWidget* widget : std::initializer_list<QWidget*>{callout_, set_, touch_})
        widget->setEnabled(component != nullptr);
    say_wrong({});
}

void ShelfPanel::take_in_hand() {
    const ComponentPtr component = chosen();
    if (component && desk_.bench) desk_.bench->take(std::make_unique<PlaceTool>(desk_, component));
}

void ShelfPanel::keyPressEvent(QKeyEvent* event) {
    if (event->key() == Qt::Key_Escape && desk_.bench && desk_.bench->tool().name() != "select")
        desk_.bench->take(nullptr);
    else
        QWidget::keyPressEvent(event);
}

void ShelfPanel::set_by_callout() {
    const ComponentPtr component = chosen();
    if (!component) return;
    Session& session = desk_.session;
    const std::shared_ptr<const setup::Setup> knowing = session.knowing();
    const setup::Stage& stage = *knowing->find_stage(session.stage());
    const base::Result<setup::Seat> seat =
        setup::parse_callout(*knowing, stage, *component, callout_->text().toStdString());
    if (!seat) return say_wrong(desk_.words(seat.error().text));
    base::Result<setup::Placed> placed = setup::place(*knowing, stage.id, component, *seat);
    if (!placed) return say_wrong(desk_.words(placed.error().text));
    const PlacementId id = placed->id;
    const setup::Stage& after = *placed->setup.find_stage(stage.id);
    const std::map<std::string, base::TextArgument> arguments{
        {"what", std::vector{check::component_name(*component)}},
        {"callout", setup::callout(placed->setup, after, *after.find(id))}};
    if (!session.apply(std::move(placed->setup), {"panel.did_set", arguments})) return;
    say_wrong({});
    // The next one is often nearly the same.
    callout_->selectAll();
    Selection selection;
    selection.placements.insert(id);
    session.select(selection);
    session.say({"panel.is_set", arguments});
}

void ShelfPanel::touch_a_face() {
    const ComponentPtr component = chosen();
    if (!component || !desk_.bench) {
        touch_->setChecked(false);
        return;
    }
    if (touch_->isChecked())
        desk_.bench->take(std::make_unique<TouchTool>(desk_, component));
    else
        desk_.bench->take(nullptr);
}

void ShelfPanel::follow_tool() {
    auto* tool = qobject_cast<TouchTool*>(&desk_.bench->tool());
    touch_->setChecked(tool != nullptr);
    if (tool == tool_) return;
    tool_ = tool;
    show_offers({});
    if (tool) connect(tool, &TouchTool::offered, this, &ShelfPanel::show_offers);
}

void ShelfPanel::show_offers(const std::vector<Offer>& offers) {
    offers_->clear();
    for (std::size_t i = 0; i < offers.size(); ++i) {
        const Offer& offer = offers[i];
        const QString how = offer.exact ? desk_.words("panel.offer_exact")
                                        : desk_.words(offer.gap_mm > 0 ? "panel.offer_short" : "panel.offer_into",
                                                      {{"gap", base::LengthArg{std::abs(offer.gap_mm)}}});
        QString words = desk_.words(
            "panel.offer",
            {{"n", static_cast<std::int64_t>(i + 1)}, {"callout", offer.callout}, {"how", how.toStdString()}});
        if (offer.probed.blocked) words += '\n' + desk_.words(offer.probed.why);
        auto* row = new QListWidgetItem(desk_.icons(offer.probed.blocked ? "fail"
                                                    : offer.exact        ? "pass"
                                                                         : "warn"),
                                        words, offers_);
        row->setToolTip(words);
    }
    offers_->setVisible(!offers.empty());
    // Up to four at once; the shelf keeps the rest of the height.
    const int line = offers_->fontMetrics().height();
    offers_->setFixedHeight(std::min(static_cast<int>(offers.size()), 4) * (2 * line + 6) + 2 * offers_->frameWidth());
    touch_help_->setVisible(tool_ != nullptr && offers.empty());
    touch_help_->setText(desk_.words("panel.touch_help"));
}

void ShelfPanel::say_wrong(const QString& sentence) {
    wrong_words_->setText(sentence);
    wrong_->setVisible(!sentence.isEmpty());
}

}  // namespace setwright::app
