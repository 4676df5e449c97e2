#include "app/actions/help_actions.h"

#include <QDialog>
#include <QDialogButtonBox>
#include <QTextBrowser>
#include <QVBoxLayout>

#include "app/actions/tool_keys.h"

namespace setwright::app {

namespace {

void show_page(QWidget* parent, const QString& name, const QString& title, const QString& html) {
    QDialog dialog(parent);
    dialog.setObjectName(name);
    dialog.setWindowTitle(title);
    auto* column = new QVBoxLayout(&dialog);
    auto* page = new QTextBrowser(&dialog);
    page->setHtml(html);
    column->addWidget(page);
    auto* buttons = new QDialogButtonBox(QDialogButtonBox::Close, &dialog);
    QObject::connect(buttons, &QDialogButtonBox::rejected, &dialog, &QDialog::reject);
    column->addWidget(buttons);
    dialog.resize(520, 560);
    dialog.exec();
}

}  // namespace

QAction* keys_action(Desk& desk, QWidget* parent) {
    auto* action = new QAction(desk.words("action.keys"), parent);
    action->setObjectName("action.keys");
    action->setShortcut(QKeySequence::HelpContents);
    QObject::connect(action, &QAction::triggered, parent,
                     [&desk, parent] { show_page(parent, "keys", desk.words("action.keys"), key_list(desk)); });
    return action;
}

QAction* about_action(Desk& desk, QWidget* parent) {
    auto* action = new QAction(desk.words("action.about"), parent);
    action->setObjectName("action.about");
    QObject::connect(action, &QAction::triggered, parent, [&desk, parent] {
        QString html = "<p><b>" + desk.words("about.name", {{"version", std::string(SETWRIGHT_VERSION)}}) + "</b></p>";
        for (const char* id : {"about.what", "about.licence", "about.libraries"})
            html += "<p>" + desk.words(id).toHtmlEscaped() + "</p>";
        html += "<p><b>" + desk.words("about.cautions").toHtmlEscaped() + "</b></p><ul>";
        for (const char* id : {"about.caution_rating", "about.caution_heavy", "about.caution_hot",
                               "about.caution_return", "about.caution_tacked", "about.caution_estimates"})
            html += "<li>" + desk.words(id).toHtmlEscaped() + "</li>";
        show_page(parent, "about", desk.words("action.about"), html + "</ul>");
    });
    return action;
}

}  // namespace setwright::app
