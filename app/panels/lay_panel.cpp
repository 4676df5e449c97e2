#include "app/panels/lay_panel.h"

#include <QComboBox>
#include <QDoubleSpinBox>
#include <QFormLayout>
#include <QGridLayout>
#include <QGroupBox>
#include <QLabel>
#include <QPushButton>
#include <QScrollArea>
#include <QTimer>
#include <QToolButton>
#include <QVBoxLayout>

#include "app/panels/length_edit.h"
#include "app/tools/lay_tool.h"
#include "app/workbench.h"
#include "core/base/limits.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

/// As setup::Lay::side_down names them, and by which words.
struct Side {
    const char* side;
    const char* words;
};
constexpr std::array<Side, 6> all_sides{{{"-Z", "lay.side_bottom"},
                                         {"+Z", "lay.side_top"},
                                         {"-Y", "lay.side_front"},
                                         {"+Y", "lay.side_back"},
                                         {"-X", "lay.side_left"},
                                         {"+X", "lay.side_right"}}};

enum NudgeStep { by_hole, by_mark, by_millimetre };

/// How many bodies have a point at the level of the lowest one.
std::int64_t lowest_bodies(const setup::Setup& setup, const setup::Stage& stage, double lowest_mm) {
    std::int64_t count = 0;
    setup::Stage alone = stage;
    const auto counts = [&] {
        const space::Aabb box = setup::laid_box(setup, alone);
        if (!box.empty() && box.min.z() < lowest_mm + base::limits::contact_mm) ++count;
    };
    alone.earlier.clear();
    for (const setup::PieceId piece : stage.pieces) {
        alone.pieces = {piece};
        counts();
    }
    alone.pieces.clear();
    for (const setup::StageId earlier : stage.earlier) {
        alone.earlier = {earlier};
        counts();
    }
    return count;
}

/// "west side 12 mm", each side over which the box reaches beyond the plate.
std::vector<base::Text> overhangs(const shop::Table& table, const space::Aabb& box) {
    const double west = -table.margin_west_mm, south = -table.margin_south_mm;
    const std::array<std::pair<const char*, double>, 4> sides{
        {{"lay.over_west", west - box.min.x()},
         {"lay.over_east", box.max.x() - (west + table.length_mm)},
         {"lay.over_south", south - box.min.y()},
         {"lay.over_north", box.max.y() - (south + table.width_mm)}}};
    std::vector<base::Text> out;
    for (const auto& [words, by_mm] : sides)
        if (by_mm > base::limits::contact_mm) out.push_back({words, {{"by", base::LengthArg{by_mm}}}});
    return out;
}

}  // namespace

LayPanel::LayPanel(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("lay");
    auto* outer = new QVBoxLayout(this);
    outer->setContentsMargins(0, 0, 0, 0);
    auto* scroll = new QScrollArea(this);
    scroll->setFrameShape(QFrame::NoFrame);
    scroll->setWidgetResizable(true);
    scroll->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    outer->addWidget(scroll);
    auto* inside = new QWidget(scroll);
    auto* column = new QVBoxLayout(inside);
    column->setContentsMargins(8, 8, 8, 8);
    face_down_ = new QPushButton(desk.icons("lay"), desk.words("lay.face_down"), inside);
    face_down_->setObjectName("lay.face_down");
    face_down_->setToolTip(desk.words("lay.face_down_tip"));
    face_down_->setCheckable(true);
    column->addWidget(face_down_);
    column->addWidget(make_sides());
    column->addWidget(make_turn());
    column->addWidget(make_place());
    lies_ = new QLabel(inside);
    lies_->setObjectName("lay.lies");
    over_ = new QLabel(inside);
    over_->setObjectName("lay.over");
    for (QLabel* label : {lies_, over_}) {
        label->setWordWrap(true);
        label->setTextFormat(Qt::PlainText);
    }
    over_sign_ = new QLabel(inside);
    over_sign_->setAlignment(Qt::AlignTop);
    auto* over = new QHBoxLayout;
    over->addWidget(over_sign_);
    over->addWidget(over_, 1);
    column->addWidget(lies_);
    column->addLayout(over);
    column->addStretch(1);
    scroll->setWidget(inside);

    connect(face_down_, &QPushButton::clicked, this, [this](bool down) {
        if (desk_.bench == nullptr) return;
        desk_.bench->take(down ? std::make_unique<LayTool>(desk_) : nullptr);
    });
    if (desk.bench != nullptr)
        connect(desk.bench, &Workbench::tool_changed, this,
                [this] { face_down_->setChecked(desk_.bench->tool().name() == "lay"); });
    for (const auto signal : {&Session::opened, &Session::stage_changed, &Session::tried})
        connect(&desk.session, signal, this, &LayPanel::pull);
    connect(&desk.session, &Session::changed, this, [this](const setup::Changes& changes) {
        if (changes.rest) pull();
    });
    pull();
}

QWidget* LayPanel::make_sides() {
    auto* box = new QGroupBox(desk_.words("lay.sides"), this);
    auto* grid = new QGridLayout(box);
    grid->setSpacing(4);
    for (std::size_t i = 0; i < all_sides.size(); ++i) {
        auto* button = new QPushButton(desk_.words(all_sides[i].words), box);
        button->setObjectName(QString("lay.side") + all_sides[i].side);
        button->setToolTip(desk_.words("lay.side_tip"));
        button->setCheckable(true);
        const std::string side = all_sides[i].side;
        connect(button, &QPushButton::clicked, this, [this, side] {
            const double yaw_deg = desk_.session.in_stage().lay.yaw_deg;
            lay_side(side, yaw_deg, {"lay.did_side", {{"side", side}}});
        });
        grid->addWidget(button, static_cast<int>(i) / 2, static_cast<int>(i) % 2);
        sides_[i] = button;
    }
    return box;
}

QWidget* LayPanel::make_turn() {
    auto* box = new QGroupBox(desk_.words("lay.turn"), this);
    auto* row = new QGridLayout(box);
    row->setSpacing(4);
    struct Turn {
        const char* words;
        const char* tip;
        const char* icon;
        double deg;
        int column;
    };
    for (const Turn& turn : {Turn{"lay.left_90", "lay.left_90_tip", "turn-left", 90, 0},
                             Turn{"lay.left_15", "lay.left_15_tip", "turn-left", 15, 1},
                             Turn{"lay.right_15", "lay.right_15_tip", "turn-right", -15, 2},
                             Turn{"lay.right_90", "lay.right_90_tip", "turn-right", -90, 3}}) {
        auto* button = new QToolButton(box);
        button->setObjectName(turn.words);
        button->setIcon(desk_.icons(turn.icon));
        button->setText(desk_.words(turn.words));
        button->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
        button->setToolTip(desk_.words(turn.tip));
        button->setFocusPolicy(Qt::StrongFocus);
        button->setSizePolicy(QSizePolicy::Expanding, QSizePolicy::Fixed);
        connect(button, &QToolButton::clicked, this, [this, deg = turn.deg] { this->turn(deg); });
        row->addWidget(button, 0, turn.column);
    }
    yaw_ = new QDoubleSpinBox(box);
    yaw_->setObjectName("lay.yaw");
    yaw_->setRange(-360, 360);
    yaw_->setDecimals(2);
    yaw_->setSingleStep(15);
    yaw_->setSuffix("°");
    yaw_->setKeyboardTracking(false);
    auto* label = new QLabel(desk_.words("lay.yaw"), box);
    label->setBuddy(yaw_);
    row->addWidget(label, 1, 0, 1, 2);
    row->addWidget(yaw_, 1, 2, 1, 2);
    connect(yaw_, &QDoubleSpinBox::valueChanged, this, [this](double deg) {
        const setup::Lay& lay = desk_.session.in_stage().lay;
        lay_side(lay.side_down, deg, {"lay.did_turn_to", {{"deg", base::decimal_text(deg, 2)}}});
    });
    return box;
}

QWidget* LayPanel::make_place() {
    auto* box = new QGroupBox(desk_.words("lay.place"), this);
    auto* column = new QVBoxLayout(box);
    auto* form = new QFormLayout;
    form->setVerticalSpacing(4);
    static constexpr std::array<const char*, 3> names{"lay.x", "lay.y", "lay.z"};
    for (int axis = 0; axis < 3; ++axis) {
        const auto i = static_cast<std::size_t>(axis);
        auto* field = new LengthEdit(desk_, box);
        field->setObjectName(names[i]);
        field->setToolTip(desk_.words(std::string(names[i]) + "_tip"));
        form->addRow(desk_.words(names[i]), field);
        connect(field, &LengthEdit::length_edited, this, [this, axis](double mm) { put(axis, mm); });
        place_[i] = field;
    }
    column->addLayout(form);
    column->addWidget(make_nudges());
    return box;
}

QWidget* LayPanel::make_nudges() {
    auto* box = new QWidget(this);
    auto* grid = new QGridLayout(box);
    grid->setContentsMargins(0, 0, 0, 0);
    grid->setSpacing(4);
    step_ = new QComboBox(box);
    step_->setObjectName("lay.step");
    step_->setToolTip(desk_.words("lay.step_tip"));
    step_->setAccessibleName(desk_.words("lay.step"));
    for (int i = 0; i < 3; ++i) step_->addItem(QString());
    step_->setSizePolicy(QSizePolicy::Ignored, QSizePolicy::Fixed);
    grid->addWidget(step_, 0, 4);
    add_nudge(*grid, 0, 1, "up", "north", {0, 1, 0});
    add_nudge(*grid, 1, 0, "left", "west", {-1, 0, 0});
    add_nudge(*grid, 1, 1, "down", "south", {0, -1, 0});
    add_nudge(*grid, 1, 2, "right", "east", {1, 0, 0});
    auto* heights = new QGridLayout;
    heights->setSpacing(4);
    for (const bool up : {true, false}) {
        auto* button =
            add_nudge(*heights, 0, up ? 0 : 1, up ? "up" : "down", up ? "higher" : "lower", {0, 0, up ? 1.0 : -1.0});
        static_cast<QToolButton*>(button)->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
        button->setSizePolicy(QSizePolicy::Expanding, QSizePolicy::Fixed);
    }
    grid->addLayout(heights, 1, 4);
    grid->setColumnMinimumWidth(3, 8);
    grid->setColumnStretch(4, 1);
    return box;
}

QAbstractButton* LayPanel::add_nudge(QGridLayout& grid, int row, int column, const QString& icon,
                                     const std::string& name, const space::Vec3& way) {
    auto* button = new QToolButton(this);
    button->setObjectName("lay." + QString::fromStdString(name));
    button->setIcon(desk_.icons(icon));
    button->setText(desk_.words("lay." + name));
    button->setToolTip(desk_.words("lay." + name + "_tip"));
    button->setFocusPolicy(Qt::StrongFocus);
    button->setAutoRepeat(true);
    connect(button, &QToolButton::clicked, this, [this, way, name] {
        if (!desk_.session.has_job()) return;
        const space::Vec3 by_T = way.cwiseProduct(nudge_mm());
        desk_.session.apply(setup::shift_laid(desk_.session.now(), desk_.session.stage(), by_T),
                            {"lay.did_" + name, {{"by", base::LengthArg{by_T.norm()}}}});
    });
    grid.addWidget(button, row, column);
    return button;
}

space::Vec3 LayPanel::nudge_mm() const {
    const shop::Table& table = desk_.session.now().table;
    switch (step_->currentIndex()) {
        case by_hole:
            // There are no holes upwards: the same step as along the table.
            return {table.pitch_x_mm, table.pitch_y_mm, table.pitch_x_mm};
        case by_mark:
            return space::Vec3::Constant(LayTool::step_mm(desk_.session));
        default:
            return space::Vec3::Constant(1);
    }
}

void LayPanel::lay_side(const std::string& side, double yaw_deg, const base::Text& label) {
    if (!desk_.session.has_job()) return;
    const setup::Setup& now = desk_.session.now();
    const space::Aabb box = setup::laid_box(now, desk_.session.in_stage());
    const space::Vec3 corner_T = box.empty() ? space::Vec3(0, 0, 0) : box.min;
    desk_.session.apply(setup::lay(now, desk_.session.stage(), side, yaw_deg, corner_T), label);
    pull();
}

void LayPanel::turn(double deg) {
    if (!desk_.session.has_job()) return;
    const char* words = deg > 0 ? "lay.did_turn_left" : "lay.did_turn_right";
    desk_.session.apply(setup::turn_laid(desk_.session.now(), desk_.session.stage(), deg),
                        {words, {{"deg", base::decimal_text(std::abs(deg), 2)}}});
}

void LayPanel::put(int axis, double mm) {
    if (!desk_.session.has_job()) return;
    const setup::Setup& now = desk_.session.now();
    const space::Aabb box = setup::laid_box(now, desk_.session.in_stage());
    if (box.empty()) return;
    space::Vec3 by_T = space::Vec3::Zero();
    by_T[axis] = mm - box.min[axis];
    static constexpr std::array<const char*, 3> labels{"lay.did_put_x", "lay.did_put_y", "lay.did_put_z"};
    desk_.session.apply(setup::shift_laid(now, desk_.session.stage(), by_T),
                        {labels[static_cast<std::size_t>(axis)], {{"at", base::LengthArg{mm}}}});
    pull();
}

void LayPanel::changeEvent(QEvent* event) {
    QWidget::changeEvent(event);
    // The sign takes the new ink, which is mixed after this.
    if (event->type() == QEvent::PaletteChange) QTimer::singleShot(0, this, &LayPanel::pull);
}

void LayPanel::pull() {
    const bool job = desk_.session.has_job();
    setEnabled(job);
    if (!job) {
        lies_->setText(desk_.words("lay.no_job"));
        over_->clear();
        over_sign_->hide();
        return;
    }
    const auto shown = desk_.session.shown();
    const setup::Stage& stage = *shown->find_stage(desk_.session.stage());
    face_down_->setChecked(desk_.bench != nullptr && desk_.bench->tool().name() == "lay");
    for (std::size_t i = 0; i < sides_.size(); ++i) sides_[i]->setChecked(stage.lay.side_down == all_sides[i].side);

    const QSignalBlocker quiet(yaw_);
    const bool square = !stage.lay.side_down.empty();
    yaw_->setEnabled(square);
    yaw_->setValue(stage.lay.yaw_deg);
    yaw_->setToolTip(desk_.words(square ? "lay.yaw_tip" : "lay.yaw_free"));

    const shop::Table& table = shown->table;
    step_->setItemText(by_hole, desk_.words("lay.by_hole", {{"by", base::LengthArg{table.pitch_x_mm}}}));
    step_->setItemText(by_mark, desk_.words("lay.by_mark", {{"by", base::LengthArg{LayTool::step_mm(desk_.session)}}}));
    step_->setItemText(by_millimetre, desk_.words("lay.by_little", {{"by", base::LengthArg{1}}}));
    pull_place(*shown, stage);
}

void LayPanel::pull_place(const setup::Setup& shown, const setup::Stage& stage) {
    const space::Aabb box = setup::laid_box(shown, stage);
    for (std::size_t i = 0; i < place_.size(); ++i) {
        place_[i]->setEnabled(!box.empty());
        if (!box.empty()) place_[i]->set_length(box.min[static_cast<Eigen::Index>(i)]);
    }
    over_->clear();
    over_sign_->hide();
    if (box.empty()) {
        lies_->setText(desk_.words("lay.nothing"));
        return;
    }
    const space::Vec3 size = box.size();
    const double lowest_mm = box.min.z();
    const std::int64_t count = lowest_bodies(shown, stage, lowest_mm);
    const char* words = lowest_mm < -base::limits::contact_mm  ? "lay.lowest_below"
                        : lowest_mm < base::limits::contact_mm ? "lay.lowest_on"
                                                               : "lay.lowest_above";
    lies_->setText(desk_.words("lay.size", {{"x", base::LengthArg{size.x()}},
                                            {"y", base::LengthArg{size.y()}},
                                            {"z", base::LengthArg{size.z()}}}) +
                   '\n' + desk_.words(words, {{"n", count}, {"height", base::LengthArg{std::abs(lowest_mm)}}}));
    const std::vector<base::Text> over = overhangs(shown.table, box);
    if (over.empty()) {
        over_->setText(desk_.words("lay.inside"));
        return;
    }
    const int line = fontMetrics().height();
    over_sign_->show();
    over_sign_->setPixmap(desk_.icons("warn").pixmap(line, line));
    over_->setText(desk_.words("lay.overhangs", {{"sides", over}}));
}

}  // namespace setwright::app
