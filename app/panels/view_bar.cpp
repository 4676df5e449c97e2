#include "app/panels/view_bar.h"

#include <QHBoxLayout>
#include <QToolButton>

#include "app/workbench.h"

namespace setwright::app {

using viewer::Direction;

ViewBar::ViewBar(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("view_bar");
    auto* row = new QHBoxLayout(this);
    row->setContentsMargins(6, 2, 6, 2);
    row->setSpacing(2);

    plan_ = add("plan", "view_bar.plan", "view_bar.plan");
    solid_ = add("solid", "view_bar.solid", "view_bar.solid");
    for (QToolButton* button : {plan_, solid_}) {
        button->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
        button->setCheckable(true);
    }
    connect(plan_, &QToolButton::clicked, this, [this] { desk_.bench->show_plan(true); });
    connect(solid_, &QToolButton::clicked, this, [this] { desk_.bench->show_plan(false); });
    row->addSpacing(14);

    const std::array<std::tuple<const char*, const char*, Direction>, 6> sides{
        {{"look-above", "view_bar.above", Direction::above},
         {"look-south", "view_bar.south", Direction::south},
         {"look-east", "view_bar.east", Direction::east},
         {"look-north", "view_bar.north", Direction::north},
         {"look-west", "view_bar.west", Direction::west},
         {"look-corner", "view_bar.corner", Direction::corner}}};
    for (const auto& [icon, text, direction] : sides) {
        QToolButton* button = add(icon, text, text);
        button->setCheckable(true);
        connect(button, &QToolButton::clicked, this, [this, to = direction] {
            desk_.bench->view().look(to);
            pull();
        });
        directions_.emplace_back(button, direction);
    }
    row->addSpacing(14);
    QToolButton* fit = add("fit", "view_bar.fit", "view_bar.fit");
    fit->setShortcut(Qt::CTRL | Qt::Key_0);
    connect(fit, &QToolButton::clicked, this, [this] { desk_.bench->view().fit(); });
    const auto zoom_middle = [this](double by) {
        viewer::View& view = desk_.bench->view();
        view.zoom(by, QPointF(view.rect().center()));
    };
    QToolButton* nearer = add("zoom-in", "view_bar.nearer", "view_bar.nearer");
    nearer->setShortcut(QKeySequence::ZoomIn);
    connect(nearer, &QToolButton::clicked, this, [zoom_middle] { zoom_middle(1.25); });
    QToolButton* farther = add("zoom-out", "view_bar.farther", "view_bar.farther");
    farther->setShortcut(QKeySequence::ZoomOut);
    connect(farther, &QToolButton::clicked, this, [zoom_middle] { zoom_middle(0.8); });
    row->addStretch(1);

    connect(desk.bench, &Workbench::view_changed, this, &ViewBar::pull);
    pull();
}

QToolButton* ViewBar::add(const QString& icon, const std::string& text, const QString& name) {
    auto* button = new QToolButton(this);
    button->setObjectName(name);
    button->setIcon(desk_.icons(icon));
    button->setProperty("icon_name", icon);
    button->setText(desk_.words(text));
    button->setToolTip(desk_.words(text + "_tip"));
    button->setAutoRaise(true);
    layout()->addWidget(button);
    return button;
}

void ViewBar::pull() {
    const bool plan = desk_.bench->shows_plan();
    plan_->setChecked(plan);
    solid_->setChecked(!plan);
    solid_->setEnabled(desk_.bench->can_show_solid());
    if (!desk_.bench->can_show_solid()) solid_->setToolTip(desk_.words("view_bar.solid_not_here"));
    for (const auto& [button, direction] : directions_) {
        button->setChecked(desk_.bench->view().looking() == direction);
        if (direction == Direction::corner) button->setVisible(!plan);
    }
}

}  // namespace setwright::app
