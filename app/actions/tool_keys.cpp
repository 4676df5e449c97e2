#include "app/actions/tool_keys.h"

#include "app/tools/lay_tool.h"
#include "app/workbench.h"

namespace setwright::app {

namespace {

struct ToolKey {
    const char* text;
    QKeyCombination keys;
    bool line_before = false;
};

const std::vector<ToolKey>& block_keys() {
    static const std::vector<ToolKey> keys{
        {"key.turn_left", Qt::Key_R},
        {"key.turn_right", Qt::SHIFT | Qt::Key_R},
        {"key.hand", Qt::Key_H},
        {"key.mark_up", Qt::Key_Plus, true},
        {"key.mark_down", Qt::Key_Minus},
        {"key.plate_up", Qt::Key_PageUp},
        {"key.plate_down", Qt::Key_PageDown},
        {"key.packer_under_more", Qt::Key_P, true},
        {"key.packer_under_less", Qt::SHIFT | Qt::Key_P},
        {"key.packer_face_more", Qt::Key_F},
        {"key.packer_face_less", Qt::SHIFT | Qt::Key_F},
        {"key.east", Qt::Key_Right, true},
        {"key.west", Qt::Key_Left},
        {"key.north", Qt::Key_Up},
        {"key.south", Qt::Key_Down},
    };
    return keys;
}

const std::vector<ToolKey>& lay_keys() {
    static const std::vector<ToolKey> keys{
        {"key.lay_left", Qt::Key_R},         {"key.lay_right", Qt::SHIFT | Qt::Key_R},
        {"key.raise", Qt::Key_PageUp, true}, {"key.lower", Qt::Key_PageDown},
        {"key.east", Qt::Key_Right, true},   {"key.west", Qt::Key_Left},
        {"key.north", Qt::Key_Up},           {"key.south", Qt::Key_Down},
    };
    return keys;
}

QString shown(QKeyCombination keys) {
    return QKeySequence(keys).toString(QKeySequence::NativeText);
}

void fill(QMenu& menu, Desk& desk, const std::vector<ToolKey>& keys, const std::function<void()>& take) {
    for (const ToolKey& entry : keys) {
        if (entry.line_before) menu.addSeparator();
        QAction* action = menu.addAction(desk.words(entry.text) + '\t' + shown(entry.keys));
        QObject::connect(action, &QAction::triggered, action, [&desk, take, keys = entry.keys] {
            take();
            desk.bench->tool().key(QKeyEvent(QEvent::KeyPress, keys.key(), keys.keyboardModifiers()));
        });
    }
    QObject::connect(&menu, &QMenu::aboutToShow, &menu, [&menu, &desk] {
        for (QAction* action : menu.actions()) action->setEnabled(desk.session.has_job());
    });
}

}  // namespace

QMenu* block_menu(Desk& desk, QWidget* parent) {
    auto* menu = new QMenu(desk.words("menu.block"), parent);
    // In hand, dragged or selected: whichever tool holds a block takes the key.
    fill(*menu, desk, block_keys(), [&desk] {
        if (desk.bench->tool().name() == "lay") desk.bench->take(nullptr);
    });
    return menu;
}

QMenu* lay_menu(Desk& desk, QWidget* parent) {
    auto* menu = new QMenu(desk.words("menu.lay"), parent);
    QAction* face = menu->addAction(desk.icons("lay"), desk.words("action.lay_face"));
    const auto take = [&desk] {
        if (desk.bench->tool().name() != "lay") desk.bench->take(std::make_unique<LayTool>(desk));
    };
    QObject::connect(face, &QAction::triggered, face, take);
    menu->addSeparator();
    fill(*menu, desk, lay_keys(), take);
    return menu;
}

QString key_list(Desk& desk) {
    QString rows;
    const auto row = [&rows](const QString& keys, const QString& what) {
        rows += "<tr><td><b>" + keys.toHtmlEscaped() + "</b>&nbsp;&nbsp;&nbsp;</td><td>" + what.toHtmlEscaped() +
                "</td></tr>";
    };
    const auto title = [&](const char* id) {
        rows += "<tr><td colspan=2><br><i>" + desk.words(id).toHtmlEscaped() + "</i></td></tr>";
    };
    title("menu.block");
    for (const ToolKey& entry : block_keys()) row(shown(entry.keys), desk.words(entry.text));
    row(shown(Qt::Key_Delete), desk.words("action.remove"));
    title("menu.lay");
    for (const ToolKey& entry : lay_keys()) row(shown(entry.keys), desk.words(entry.text));
    title("menu.view");
    row("Alt+1 … Alt+5", desk.words("key.stations"));
    row(shown(Qt::CTRL | Qt::Key_0), desk.words("view_bar.fit_tip"));
    row(desk.words("key.wheel"), desk.words("key.wheel_does"));
    row(desk.words("key.middle"), desk.words("key.middle_does"));
    row(desk.words("key.right"), desk.words("key.right_does"));
    row(shown(Qt::Key_Escape), desk.words("key.escape_does"));
    return "<table>" + rows + "</table>";
}

}  // namespace setwright::app
