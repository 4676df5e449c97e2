#include "app/actions/new_job.h"

#include <QFileDialog>
#include <QFileInfo>

#include "app/actions/close_job.h"
#include "app/actions/new_job_dialog.h"
#include "app/actions/sentence.h"
#include "app/actions/waiting_dialog.h"
#include "app/recent.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"

namespace setwright::app {

namespace {

struct Begun {
    setup::Setup setup;
    std::vector<base::Text> remarks;
};

base::Result<Begun> import(const std::string& file, const NewJobChoice& choice, const base::Progress& job) {
    auto weldment = setup::import_step(file, job);
    if (!weldment) return weldment.error();
    std::vector<base::Text> remarks = setup::import_remarks(*weldment);
    setup::Setup setup = setup::new_job(std::move(weldment).value(), choice.table, choice.shelf);
    setup::Display display = setup.display;
    display.unit.unit = choice.unit;
    return Begun{setup::set_display(setup, display), std::move(remarks)};
}

}  // namespace

void begin_job(Desk& desk, QWidget* parent, const QString& step_file) {
    const QString name = QFileInfo(step_file).fileName();
    NewJobChoice choice;
    {
        NewJobDialog dialog(desk, name, parent);
        if (dialog.exec() != QDialog::Accepted) return;
        choice = dialog.choice();
    }
    if (!may_close_job(desk, parent)) return;
    auto begun = in_background<base::Result<Begun>>(
        desk, parent, desk.words("file.importing", {{"file", name.toStdString()}}), true,
        [file = step_file.toStdString(), choice](const base::Progress& job) { return import(file, choice, job); });
    if (!begun) return;
    if (!*begun) {
        tell(desk, parent, begun->error().text);
        return;
    }
    Begun job = std::move(*begun).value();
    desk.session.open(std::move(job.setup), "", true);
    desk.session.say(
        {"file.begun",
         {{"file", name.toStdString()}, {"pieces", static_cast<std::int64_t>(desk.session.in_stage().pieces.size())}}});
    show_remarks(desk, parent, name, job.remarks);
}

QAction* new_job_action(Desk& desk, QWidget* parent) {
    auto* action = new QAction(desk.icons("new"), desk.words("file.new"), parent);
    action->setObjectName("file.new");
    action->setShortcut(QKeySequence::New);
    QObject::connect(action, &QAction::triggered, action, [&desk, parent] {
        QString path;
        {
            QFileDialog dialog(parent, desk.words("file.new_title"), last_folder());
            dialog.setObjectName("file.new_dialog");
            dialog.setOption(QFileDialog::DontUseNativeDialog);
            dialog.setFileMode(QFileDialog::ExistingFile);
            dialog.setNameFilters({desk.words("file.models"), desk.words("file.all_files")});
            if (dialog.exec() != QDialog::Accepted || dialog.selectedFiles().isEmpty()) return;
            path = dialog.selectedFiles().front();
        }
        remember_folder(path);
        begin_job(desk, parent, path);
    });
    return action;
}

}  // namespace setwright::app
