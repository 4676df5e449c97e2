#include "app/panels/welcome.h"

#include <QAction>
#include <QLabel>
#include <QToolButton>
#include <QVBoxLayout>

namespace setwright::app {

Welcome::Welcome(Desk& desk, const std::vector<QAction*>& ways, QWidget* parent) : QWidget(parent) {
    setObjectName("welcome");
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(48, 24, 48, 24);
    column->setSpacing(12);
    column->addStretch(2);
    auto* title = new QLabel(desk.words("welcome.title"), this);
    QFont large = title->font();
    large.setPointSizeF(large.pointSizeF() * 1.6);
    title->setFont(large);
    title->setWordWrap(true);
    column->addWidget(title);
    auto* what = new QLabel(desk.words("welcome.what"), this);
    what->setWordWrap(true);
    column->addWidget(what);
    column->addSpacing(12);
    for (QAction* way : ways) {
        auto* button = new QToolButton(this);
        button->setDefaultAction(way);
        button->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
        button->setMinimumSize(320, 40);
        column->addWidget(button, 0, Qt::AlignLeft);
    }
    auto* drop = new QLabel(desk.words("welcome.drop"), this);
    drop->setForegroundRole(QPalette::PlaceholderText);
    drop->setWordWrap(true);
    column->addWidget(drop);
    column->addStretch(3);
}

}  // namespace setwright::app
