#include "app/actions/view_actions.h"

#include <QActionGroup>
#include <QSettings>

#include "core/setup/edit.h"

namespace setwright::app {

std::vector<QAction*> theme_actions(Desk& desk, QWidget* parent, const std::function<void(Theme)>& use) {
    auto* group = new QActionGroup(parent);
    std::vector<QAction*> actions;
    for (const Theme theme : {Theme::light, Theme::dark}) {
        const bool dark = theme == Theme::dark;
        QAction* action = group->addAction(desk.words(dark ? "action.dark" : "action.light"));
        action->setObjectName(dark ? "action.dark" : "action.light");
        action->setCheckable(true);
        action->setChecked(desk.theme == theme);
        QObject::connect(action, &QAction::triggered, action, [use, theme, dark] {
            use(theme);
            QSettings().setValue("theme", dark ? "dark" : "light");
        });
        actions.push_back(action);
    }
    return actions;
}

std::vector<QAction*> unit_actions(Desk& desk, QWidget* parent) {
    struct Choice {
        const char* text;
        base::LengthUnit unit;
        int denominator;
    };
    static constexpr std::array<Choice, 4> choices{{{"action.unit_mm", base::LengthUnit::mm, 0},
                                                    {"action.unit_in16", base::LengthUnit::inch, 16},
                                                    {"action.unit_in32", base::LengthUnit::inch, 32},
                                                    {"action.unit_in64", base::LengthUnit::inch, 64}}};
    auto* group = new QActionGroup(parent);
    std::vector<QAction*> actions;
    for (const Choice& choice : choices) {
        QAction* action = group->addAction(desk.words(choice.text));
        action->setObjectName(choice.text);
        action->setCheckable(true);
        QObject::connect(action, &QAction::triggered, action, [&desk, choice] {
            setup::Display display = desk.session.now().display;
            display.unit.unit = choice.unit;
            if (choice.denominator > 0) display.unit.denominator = choice.denominator;
            desk.session.apply(setup::set_display(desk.session.now(), display), {"action.unit_changed", {}});
        });
        actions.push_back(action);
    }
    const auto pull = [actions, &desk] {
        for (std::size_t i = 0; i < actions.size(); ++i) {
            actions[i]->setEnabled(desk.session.has_job());
            if (!desk.session.has_job()) continue;
            const base::DisplayUnit unit = desk.session.now().display.unit;
            const bool metric = unit.unit == base::LengthUnit::mm;
            actions[i]->setChecked(choices[i].unit == unit.unit &&
                                   (metric || choices[i].denominator == unit.denominator));
        }
    };
    QObject::connect(&desk.session, &Session::opened, group, pull);
    QObject::connect(&desk.session, &Session::changed, group, pull);
    pull();
    return actions;
}

}  // namespace setwright::app
