#include "app/actions/new_job_dialog.h"

#include <QComboBox>
#include <QDialogButtonBox>
#include <QFileDialog>
#include <QFormLayout>
#include <QLabel>
#include <QPushButton>
#include <QSettings>
#include <QVBoxLayout>
#include <cmath>

#include "app/recent.h"
#include "core/base/file.h"
#include "core/base/limits.h"

namespace setwright::app {

namespace {

const QString table_key = QStringLiteral("table");

bool same_holes(const shop::Table& a, const shop::Table& b) {
    return a.pitch_x_mm == b.pitch_x_mm && a.pitch_y_mm == b.pitch_y_mm &&
           std::abs(a.hole_mm - b.hole_mm) < base::limits::hole_size_mm;
}

}  // namespace

NewJobDialog::NewJobDialog(Desk& desk, const QString& model, QWidget* parent) : QDialog(parent), desk_(desk) {
    setObjectName("new_job");
    setWindowTitle(desk.words("file.new_title"));
    auto* column = new QVBoxLayout(this);
    auto* title = new QLabel(desk.words("file.new_question", {{"file", model.toStdString()}}), this);
    title->setTextFormat(Qt::PlainText);
    title->setWordWrap(true);
    column->addWidget(title);
    auto* form = new QFormLayout;
    table_ = new QComboBox(this);
    table_->setObjectName("new_job.table");
    shelf_ = new QComboBox(this);
    shelf_->setObjectName("new_job.shelf");
    unit_ = new QComboBox(this);
    unit_->setObjectName("new_job.unit");
    unit_->addItems({desk.words("file.unit_mm"), desk.words("file.unit_in")});
    form->addRow(desk.words("file.table"), table_);
    form->addRow(desk.words("file.shelf"), shelf_);
    form->addRow(desk.words("file.unit"), unit_);
    column->addLayout(form);
    fault_ = new QLabel(this);
    fault_->setObjectName("new_job.fault");
    fault_->setTextFormat(Qt::PlainText);
    fault_->setWordWrap(true);
    fault_->hide();
    column->addWidget(fault_);
    auto* buttons = new QDialogButtonBox(this);
    start_ = buttons->addButton(desk.words("file.start"), QDialogButtonBox::AcceptRole);
    start_->setObjectName("new_job.start");
    start_->setDefault(true);
    buttons->addButton(desk.words("file.cancel"), QDialogButtonBox::RejectRole)->setObjectName("new_job.cancel");
    connect(buttons, &QDialogButtonBox::accepted, this, [this] {
        QSettings().setValue(table_key, QString::fromStdString(tables_[table_at_].id));
        accept();
    });
    connect(buttons, &QDialogButtonBox::rejected, this, &QDialog::reject);
    column->addWidget(buttons);

    if (auto tables = shop::load_tables(base::resource_dir() + "/tables"))
        tables_ = std::move(tables).value();
    else
        show_fault(desk.words(tables.error().text));
    const std::string wanted = QSettings().value(table_key, "grid50").toString().toStdString();
    std::size_t chosen = 0;
    for (std::size_t i = 0; i < tables_.size(); ++i) {
        if (tables_[i].id == wanted) chosen = i;
        auto shelf = shop::load_shelf(base::resource_dir() + "/shelves/" + tables_[i].id + "-starter.json");
        if (shelf) shelves_.push_back({std::move(shelf).value(), tables_[i]});
    }
    fill_tables(chosen);
    connect(table_, &QComboBox::activated, this, &NewJobDialog::choose_table);
    connect(shelf_, &QComboBox::activated, this, &NewJobDialog::choose_shelf);
}

NewJobChoice NewJobDialog::choice() const {
    return {tables_[table_at_], shelves_[*shelf_at_].shelf,
            unit_->currentIndex() == 0 ? base::LengthUnit::mm : base::LengthUnit::inch};
}

void NewJobDialog::fill_tables(std::size_t chosen) {
    table_->clear();
    for (const shop::Table& table : tables_) table_->addItem(QString::fromStdString(table.name));
    table_->addItem(desk_.words("file.table_from_file"));
    table_->setCurrentIndex(static_cast<int>(chosen));
    const bool other = chosen != std::exchange(table_at_, chosen);
    if (other && chosen < tables_.size())
        unit_->setCurrentIndex(tables_[chosen].nominal == base::LengthUnit::mm ? 0 : 1);
    if (other) shelf_at_.reset();
    fill_shelves();
}

void NewJobDialog::fill_shelves() {
    shelf_->clear();
    offered_.clear();
    for (std::size_t i = 0; i < shelves_.size() && table_at_ < tables_.size(); ++i)
        if (!shelves_[i].table || same_holes(*shelves_[i].table, tables_[table_at_])) offered_.push_back(i);
    for (const std::size_t i : offered_) shelf_->addItem(QString::fromStdString(shelves_[i].shelf.name));
    shelf_->addItem(desk_.words("file.shelf_from_file"));
    if (!shelf_at_ && !offered_.empty()) shelf_at_ = offered_.front();
    int row = -1;
    for (std::size_t i = 0; i < offered_.size(); ++i)
        if (offered_[i] == shelf_at_) row = static_cast<int>(i);
    shelf_->setCurrentIndex(row);
    start_->setEnabled(shelf_at_.has_value() && table_at_ < tables_.size());
}

void NewJobDialog::choose_table(int row) {
    fault_->hide();
    if (row < static_cast<int>(tables_.size())) {
        fill_tables(static_cast<std::size_t>(row));
        return;
    }
    const QString path = ask_file("new_job.table_file", desk_.words("file.table_from_file"));
    std::size_t chosen = table_at_;
    if (!path.isEmpty()) {
        const auto text = base::read_file(path.toStdString());
        auto table = text ? shop::parse_table(*text, path.toStdString()) : base::Result<shop::Table>(text.error());
        if (table) {
            tables_.push_back(std::move(table).value());
            chosen = tables_.size() - 1;
        } else {
            show_fault(desk_.words(table.error().text));
        }
    }
    fill_tables(chosen);
}

void NewJobDialog::choose_shelf(int row) {
    fault_->hide();
    if (row < static_cast<int>(offered_.size())) {
        shelf_at_ = offered_[static_cast<std::size_t>(row)];
    } else if (const QString path = ask_file("new_job.shelf_file", desk_.words("file.shelf_from_file"));
               !path.isEmpty()) {
        auto shelf = shop::load_shelf(path.toStdString());
        if (shelf) {
            shelves_.push_back({std::move(shelf).value(), std::nullopt});
            shelf_at_ = shelves_.size() - 1;
        } else {
            show_fault(desk_.words(shelf.error().text));
        }
    }
    fill_shelves();
}

void NewJobDialog::show_fault(const QString& sentence) {
    fault_->setText(sentence);
    fault_->show();
}

QString NewJobDialog::ask_file(const char* name, const QString& title) {
    QFileDialog dialog(this, title, last_folder());
    dialog.setObjectName(name);
    dialog.setOption(QFileDialog::DontUseNativeDialog);
    dialog.setFileMode(QFileDialog::ExistingFile);
    dialog.setNameFilters({desk_.words("file.shop_files"), desk_.words("file.all_files")});
    if (dialog.exec() != QDialog::Accepted || dialog.selectedFiles().isEmpty()) return {};
    return dialog.selectedFiles().front();
}

}  // namespace setwright::app
