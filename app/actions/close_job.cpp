#include "app/actions/close_job.h"

#include <QFileInfo>
#include <QMessageBox>
#include <QPushButton>

#include "app/actions/save_job.h"

namespace setwright::app {

bool may_close_job(Desk& desk, QWidget* parent) {
    finish_typing();
    if (!desk.session.unsaved()) return true;
    const std::string& path = desk.session.path();
    const QString question =
        path.empty()
            ? desk.words("file.unsaved_new")
            : desk.words("file.unsaved", {{"file", QFileInfo(QString::fromStdString(path)).fileName().toStdString()}});
    QMessageBox box(QMessageBox::NoIcon, desk.words("file.unsaved_title"), question, QMessageBox::NoButton, parent);
    box.setObjectName("file.unsaved");
    box.setTextFormat(Qt::PlainText);
    box.setIconPixmap(desk.icons("save").pixmap(2 * box.fontMetrics().height()));
    QPushButton* save = box.addButton(desk.words("file.unsaved_save"), QMessageBox::AcceptRole);
    save->setObjectName("file.unsaved.save");
    QPushButton* drop = box.addButton(desk.words("file.unsaved_drop"), QMessageBox::DestructiveRole);
    drop->setObjectName("file.unsaved.drop");
    QPushButton* cancel = box.addButton(desk.words("file.cancel"), QMessageBox::RejectRole);
    cancel->setObjectName("file.unsaved.cancel");
    box.setDefaultButton(save);
    box.setEscapeButton(cancel);
    box.exec();
    if (box.clickedButton() == save) return save_job(desk, parent);
    return box.clickedButton() == drop;
}

}  // namespace setwright::app
