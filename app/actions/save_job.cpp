#include "app/actions/save_job.h"

#include <QApplication>
#include <QDir>
#include <QFileDialog>
#include <QFileInfo>
#include <QMessageBox>
#include <QPushButton>

#include "app/actions/sentence.h"
#include "app/actions/waiting_dialog.h"
#include "app/recent.h"
#include "core/setup/job_file.h"

namespace setwright::app {

namespace {

const QString ending = QStringLiteral(".setwright");

bool save_to(Desk& desk, QWidget* parent, const QString& path) {
    const auto frozen = desk.session.share();
    const std::string file = path.toStdString();
    const std::string name = QFileInfo(path).fileName().toStdString();
    const auto saved = in_background<base::Result<void>>(
        desk, parent, desk.words("file.saving", {{"file", name}}), false,
        [frozen, file](const base::Progress&) { return setup::save_job(*frozen, file); });
    if (!saved) return false;
    if (!*saved) {
        tell(desk, parent, saved->error().text);
        return false;
    }
    desk.session.saved_as(file, frozen);
    remember_recent(path);
    desk.session.say({"file.saved", {{"file", name}}});
    return true;
}

/// What the job would be called: as before, else after its model.
QString first_name(const Session& session) {
    if (!session.path().empty()) return QString::fromStdString(session.path());
    const auto& weldments = session.now().weldments;
    const QString model = weldments.empty() ? QString() : QString::fromStdString(weldments.front().file_name);
    const QString stem = QFileInfo(model).completeBaseName();
    return QDir(last_folder()).filePath((stem.isEmpty() ? QStringLiteral("job") : stem) + ending);
}

bool may_write_over(Desk& desk, QWidget* parent, const QString& path) {
    const QFileInfo there(path);
    if (!there.exists() || there == QFileInfo(QString::fromStdString(desk.session.path()))) return true;
    QMessageBox box(QMessageBox::NoIcon, desk.words("file.save_as_title"),
                    desk.words("file.there_already", {{"file", there.fileName().toStdString()}}), QMessageBox::NoButton,
                    parent);
    box.setObjectName("file.overwrite");
    box.setTextFormat(Qt::PlainText);
    box.setIconPixmap(desk.icons("warn").pixmap(2 * box.fontMetrics().height()));
    QPushButton* over = box.addButton(desk.words("file.write_over"), QMessageBox::DestructiveRole);
    over->setObjectName("file.overwrite.yes");
    QPushButton* other = box.addButton(desk.words("file.other_name"), QMessageBox::RejectRole);
    other->setObjectName("file.overwrite.no");
    box.setDefaultButton(other);
    box.setEscapeButton(other);
    box.exec();
    return box.clickedButton() == over;
}

QAction* save_action(Desk& desk, QWidget* parent, const char* name, const QIcon& icon, QKeySequence::StandardKey key,
                     bool (*save)(Desk&, QWidget*)) {
    auto* action = new QAction(icon, desk.words(name), parent);
    action->setObjectName(name);
    action->setShortcut(key);
    action->setEnabled(desk.session.has_job());
    QObject::connect(&desk.session, &Session::opened, action, [action] { action->setEnabled(true); });
    QObject::connect(action, &QAction::triggered, action, [&desk, parent, save] {
        if (desk.session.has_job()) save(desk, parent);
    });
    return action;
}

}  // namespace

void finish_typing() {
    QWidget* field = QApplication::focusWidget();
    if (!field) return;
    field->clearFocus();
    field->setFocus();
}

bool save_job(Desk& desk, QWidget* parent) {
    finish_typing();
    const std::string& path = desk.session.path();
    return path.empty() ? save_job_as(desk, parent) : save_to(desk, parent, QString::fromStdString(path));
}

bool save_job_as(Desk& desk, QWidget* parent) {
    finish_typing();
    QString path = first_name(desk.session);
    for (;;) {
        QFileDialog dialog(parent, desk.words("file.save_as_title"));
        dialog.setObjectName("file.save_dialog");
        dialog.setOptions(QFileDialog::DontUseNativeDialog | QFileDialog::DontConfirmOverwrite);
        dialog.setAcceptMode(QFileDialog::AcceptSave);
        dialog.setFileMode(QFileDialog::AnyFile);
        dialog.setNameFilter(desk.words("file.jobs"));
        dialog.setDirectory(QFileInfo(path).absolutePath());
        dialog.selectFile(QFileInfo(path).fileName());
        if (dialog.exec() != QDialog::Accepted || dialog.selectedFiles().isEmpty()) return false;
        path = dialog.selectedFiles().front();
        // Never over a model or anything else that only looks like a name for a job.
        if (!path.endsWith(ending, Qt::CaseInsensitive)) path += ending;
        if (may_write_over(desk, parent, path)) break;
    }
    remember_folder(path);
    return save_to(desk, parent, path);
}

QAction* save_job_action(Desk& desk, QWidget* parent) {
    return save_action(desk, parent, "file.save", desk.icons("save"), QKeySequence::Save, &save_job);
}

QAction* save_job_as_action(Desk& desk, QWidget* parent) {
    return save_action(desk, parent, "file.save_as", {}, QKeySequence::SaveAs, &save_job_as);
}

}  // namespace setwright::app
