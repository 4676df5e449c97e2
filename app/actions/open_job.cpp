#include "app/actions/open_job.h"

#include <QApplication>
#include <QFile>
#include <QFileDialog>
#include <QFileInfo>
#include <QPointer>

#include "app/actions/close_job.h"
#include "app/actions/new_job.h"
#include "app/actions/sentence.h"
#include "app/actions/waiting_dialog.h"
#include "app/recent.h"
#include "core/setup/job_file.h"

namespace setwright::app {

namespace {

/// By its first word (ISO 10303-21), else by the name.
bool is_step(const QString& path) {
    QFile file(path);
    QByteArray begin;
    if (file.open(QIODevice::ReadOnly)) begin = file.read(256).trimmed();
    if (begin.startsWith("\xEF\xBB\xBF")) begin.remove(0, 3);
    if (begin.startsWith("ISO-10303-21")) return true;
    if (begin.startsWith("{")) return false;
    const QString suffix = QFileInfo(path).suffix().toLower();
    return suffix == "step" || suffix == "stp" || suffix == "p21";
}

/// None where it cannot be had; the user knows why then.
std::optional<setup::OpenedJob> read_job(Desk& desk, QWidget* parent, const std::string& file, const QString& name) {
    auto opened = in_background<base::Result<setup::OpenedJob>>(
        desk, parent, desk.words("file.opening", {{"file", name.toStdString()}}), true,
        [file](const base::Progress& job) -> base::Result<setup::OpenedJob> {
            auto read = setup::open_job(file, job);
            if (read && read->setup.stages.empty()) return base::bad_input({"file.no_stage", {{"file", file}}});
            return read;
        });
    if (!opened) return {};
    if (!*opened) {
        tell(desk, parent, opened->error().text);
        return {};
    }
    return std::move(*opened).value();
}

void open_job_file(Desk& desk, QWidget* parent, const QString& path) {
    if (!may_close_job(desk, parent)) return;
    const QString name = QFileInfo(path).fileName();
    auto opened = read_job(desk, parent, path.toStdString(), name);
    if (!opened) return;
    desk.session.open(std::move(opened->setup), path.toStdString(), false);
    remember_recent(path);
    show_remarks(desk, parent, name, opened->remarks);
}

}  // namespace

void open_path(Desk& desk, QWidget* parent, const QString& path) {
    // A file can be dropped on a window that waits for an answer.
    if (QApplication::activeModalWidget()) return;
    const QString whole = QFileInfo(path).absoluteFilePath();
    if (is_step(whole))
        begin_job(desk, parent, whole);
    else
        open_job_file(desk, parent, whole);
}

bool recover_job(Desk& desk, QWidget* parent, Autosave& autosave, const LeftBehind& left) {
    if (!may_close_job(desk, parent)) return false;
    const QString name =
        left.path.empty() ? desk.words("file.without_name") : QFileInfo(QString::fromStdString(left.path)).fileName();
    auto opened = read_job(desk, parent, left.file, name);
    if (!opened) return false;
    desk.session.open(std::move(opened->setup), left.path, true);
    autosave.adopt(left);
    show_remarks(desk, parent, name, opened->remarks);
    return true;
}

QAction* open_job_action(Desk& desk, QWidget* parent) {
    auto* action = new QAction(desk.icons("open"), desk.words("file.open"), parent);
    action->setObjectName("file.open");
    action->setShortcut(QKeySequence::Open);
    QObject::connect(action, &QAction::triggered, action, [&desk, parent] {
        QString path;
        {
            QFileDialog dialog(parent, desk.words("file.open_title"), last_folder());
            dialog.setObjectName("file.open_dialog");
            dialog.setOption(QFileDialog::DontUseNativeDialog);
            dialog.setFileMode(QFileDialog::ExistingFile);
            dialog.setNameFilters({desk.words("file.jobs_and_models"), desk.words("file.all_files")});
            if (dialog.exec() != QDialog::Accepted || dialog.selectedFiles().isEmpty()) return;
            path = dialog.selectedFiles().front();
        }
        remember_folder(path);
        open_path(desk, parent, path);
    });
    return action;
}

QMenu* recent_menu(Desk& desk, QWidget* parent) {
    auto* menu = new QMenu(desk.words("file.recent"), parent);
    menu->setObjectName("file.recent");
    menu->setToolTipsVisible(true);
    const auto fill = [menu, &desk, parent] {
        menu->clear();
        int number = 0;
        for (const QString& file : recent_files()) {
            QString name = QFileInfo(file).fileName();
            name.replace('&', "&&");
            QAction* open = menu->addAction(QStringLiteral("&%1  %2").arg(++number % 10).arg(name));
            open->setToolTip(file);
            QObject::connect(open, &QAction::triggered, menu, [&desk, parent, file] { open_path(desk, parent, file); });
        }
        if (number == 0) menu->addAction(desk.words("file.none_recent"))->setEnabled(false);
    };
    QObject::connect(menu, &QMenu::aboutToShow, menu, fill);
    fill();
    return menu;
}

}  // namespace setwright::app
