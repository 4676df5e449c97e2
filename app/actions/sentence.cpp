#include "app/actions/sentence.h"

#include <QDialog>
#include <QDialogButtonBox>
#include <QLabel>
#include <QListWidget>
#include <QMessageBox>
#include <QPushButton>
#include <QVBoxLayout>

namespace setwright::app {

void tell(Desk& desk, QWidget* parent, const base::Text& sentence) {
    QMessageBox box(QMessageBox::NoIcon, desk.words("file.not_done"), desk.words(sentence), QMessageBox::NoButton,
                    parent);
    box.setObjectName("file.sentence");
    box.setTextFormat(Qt::PlainText);
    box.setIconPixmap(desk.icons("warn").pixmap(2 * box.fontMetrics().height()));
    box.addButton(desk.words("file.understood"), QMessageBox::AcceptRole)->setObjectName("file.sentence.understood");
    box.exec();
}

void show_remarks(Desk& desk, QWidget* parent, const QString& file, const std::vector<base::Text>& remarks) {
    if (remarks.empty()) return;
    auto* dialog = new QDialog(parent);
    dialog->setObjectName("file.remarks");
    dialog->setAttribute(Qt::WA_DeleteOnClose);
    dialog->setWindowTitle(file);
    auto* column = new QVBoxLayout(dialog);
    auto* title = new QLabel(desk.words("file.remarks_title", {{"file", file.toStdString()}}), dialog);
    title->setTextFormat(Qt::PlainText);
    column->addWidget(title);
    auto* list = new QListWidget(dialog);
    list->setObjectName("file.remarks.list");
    list->setWordWrap(true);
    list->setAlternatingRowColors(true);
    list->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    for (const base::Text& remark : remarks) list->addItem(desk.words(remark));
    column->addWidget(list);
    auto* buttons = new QDialogButtonBox(dialog);
    QPushButton* understood = buttons->addButton(desk.words("file.understood"), QDialogButtonBox::AcceptRole);
    understood->setObjectName("file.remarks.understood");
    understood->setDefault(true);
    QObject::connect(buttons, &QDialogButtonBox::accepted, dialog, &QDialog::accept);
    column->addWidget(buttons);
    const QFontMetrics letters = dialog->fontMetrics();
    dialog->resize(letters.averageCharWidth() * 90, letters.height() * 16);
    dialog->open();
    understood->setFocus();
}

}  // namespace setwright::app
