#include "app/actions/edit_actions.h"

#include "app/tools/place_tool.h"
#include "app/workbench.h"

namespace setwright::app {

namespace {

/// An undo entry says what it takes back.
QAction* travel_action(Desk& desk, QWidget* parent, bool back) {
    auto* action = new QAction(desk.icons(back ? "undo" : "redo"), QString(), parent);
    action->setObjectName(back ? "action.undo" : "action.redo");
    if (back)
        action->setShortcut(Qt::CTRL | Qt::Key_Z);
    else
        action->setShortcuts({Qt::CTRL | Qt::SHIFT | Qt::Key_Z, Qt::CTRL | Qt::Key_Y});
    const auto pull = [action, &desk, back] {
        const Session& session = desk.session;
        const bool can = back ? session.can_undo() : session.can_redo();
        action->setEnabled(can);
        const base::Text label = can ? (back ? session.undo_label() : session.redo_label()) : base::Text{};
        action->setText(desk.words(back ? "action.undo" : "action.redo",
                                   {{"what", can ? std::string(desk.words(label).toStdString()) : std::string()}})
                            .trimmed());
    };
    QObject::connect(&desk.session, &Session::changed, action, pull);
    QObject::connect(&desk.session, &Session::opened, action, pull);
    QObject::connect(action, &QAction::triggered, action, [&desk, back] {
        if (back)
            desk.session.undo();
        else
            desk.session.redo();
    });
    pull();
    return action;
}

QAction* action_of(Desk& desk, QWidget* parent, const char* icon, const std::string& text) {
    auto* action = new QAction(desk.icons(icon), desk.words(text), parent);
    action->setObjectName(QString::fromStdString(text));
    return action;
}

}  // namespace

QAction* undo_action(Desk& desk, QWidget* parent) {
    return travel_action(desk, parent, true);
}

QAction* redo_action(Desk& desk, QWidget* parent) {
    return travel_action(desk, parent, false);
}

QAction* remove_action(Desk& desk, QWidget* parent) {
    QAction* action = action_of(desk, parent, "remove", "action.remove");
    const auto pull = [action, &desk] {
        action->setEnabled(desk.session.has_job() && !desk.session.selection().placements.empty());
    };
    QObject::connect(&desk.session, &Session::selection_changed, action, pull);
    QObject::connect(&desk.session, &Session::opened, action, pull);
    // The select tool knows what to do about blocks that stand on others.
    QObject::connect(action, &QAction::triggered, action, [&desk] {
        desk.bench->take(nullptr);
        desk.bench->tool().key(QKeyEvent(QEvent::KeyPress, Qt::Key_Delete, Qt::NoModifier));
    });
    pull();
    return action;
}

QAction* duplicate_action(Desk& desk, QWidget* parent) {
    QAction* action = action_of(desk, parent, "duplicate", "action.duplicate");
    action->setShortcut(Qt::CTRL | Qt::Key_D);
    const auto pull = [action, &desk] {
        action->setEnabled(desk.session.has_job() && desk.session.selection().placements.size() == 1);
    };
    QObject::connect(&desk.session, &Session::selection_changed, action, pull);
    QObject::connect(&desk.session, &Session::opened, action, pull);
    QObject::connect(action, &QAction::triggered, action, [&desk] {
        const setup::Placement* placement = desk.session.in_stage().find(*desk.session.selection().placements.begin());
        if (!placement) return;
        const auto component = desk.session.now().components.at(placement->component);
        desk.bench->take(std::make_unique<PlaceTool>(desk, component, placement->seat));
    });
    pull();
    return action;
}

QAction* select_all_action(Desk& desk, QWidget* parent) {
    QAction* action = action_of(desk, parent, "select", "action.select_all");
    action->setShortcut(QKeySequence::SelectAll);
    const auto pull = [action, &desk] { action->setEnabled(desk.session.has_job()); };
    QObject::connect(&desk.session, &Session::opened, action, pull);
    QObject::connect(action, &QAction::triggered, action, [&desk] {
        Selection all;
        for (const setup::Placement& placement : desk.session.in_stage().placements)
            all.placements.insert(placement.id);
        desk.session.select(all);
    });
    pull();
    return action;
}

}  // namespace setwright::app
