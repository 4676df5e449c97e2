#include "app/actions/stage_actions.h"

#include <QActionGroup>
#include <QInputDialog>

#include "core/setup/edit.h"

namespace setwright::app {

namespace {

/// Asks for a name; none where the user gave up.
std::optional<std::string> ask_name(Desk& desk, QWidget* parent, const std::string& question, const std::string& now) {
    QInputDialog dialog(parent);
    dialog.setObjectName("stage_name");
    dialog.setWindowTitle(desk.words("menu.stage").remove('&'));
    dialog.setLabelText(desk.words(question));
    dialog.setTextValue(QString::fromStdString(now));
    if (dialog.exec() != QDialog::Accepted) return {};
    return dialog.textValue().trimmed().toStdString();
}

void fill(QMenu& menu, Desk& desk, QWidget* parent) {
    menu.clear();
    if (!desk.session.has_job()) return;
    auto* stages = new QActionGroup(&menu);
    int number = 0;
    for (const setup::Stage& stage : desk.session.now().stages) {
        QAction* go =
            menu.addAction(desk.words("action.stage", {{"no", std::int64_t{++number}}, {"name", stage.name}}));
        stages->addAction(go);
        go->setCheckable(true);
        go->setChecked(stage.id == desk.session.stage());
        QObject::connect(go, &QAction::triggered, go, [&desk, id = stage.id] { desk.session.go_to_stage(id); });
    }
    menu.addSeparator();
    QAction* name = menu.addAction(desk.words("action.name_stage"));
    name->setObjectName("action.name_stage");
    QObject::connect(name, &QAction::triggered, name, [&desk, parent] {
        const auto said = ask_name(desk, parent, "action.stage_is_called", desk.session.in_stage().name);
        if (!said) return;
        desk.session.apply(setup::name_stage(desk.session.now(), desk.session.stage(), *said),
                           {"action.stage_named", {}});
    });
    QAction* add = menu.addAction(desk.words("action.add_stage"));
    add->setObjectName("action.add_stage");
    QObject::connect(add, &QAction::triggered, add, [&desk, parent] {
        const auto said = ask_name(desk, parent, "action.next_stage_is_called",
                                   desk.words("action.stage_default_name",
                                              {{"no", static_cast<std::int64_t>(desk.session.now().stages.size() + 1)}})
                                       .toStdString());
        if (!said) return;
        if (desk.session.apply(setup::add_stage(desk.session.now(), *said), {"action.stage_added", {}}))
            desk.session.go_to_stage(desk.session.now().stages.back().id);
    });
}

}  // namespace

QMenu* stage_menu(Desk& desk, QWidget* parent) {
    auto* menu = new QMenu(desk.words("menu.stage"), parent);
    menu->setObjectName("menu.stage");
    QObject::connect(menu, &QMenu::aboutToShow, menu, [menu, &desk, parent] { fill(*menu, desk, parent); });
    const auto pull = [menu, &desk] { menu->menuAction()->setEnabled(desk.session.has_job()); };
    QObject::connect(&desk.session, &Session::opened, menu, pull);
    pull();
    return menu;
}

}  // namespace setwright::app
