#pragma once

#include <QDialog>
#include <vector>

#include "app/desk.h"

class QComboBox;
class QLabel;
class QPushButton;

namespace setwright::app {

/// On what a job is set up, and with what.
struct NewJobChoice {
    shop::Table table;
    shop::Shelf shelf;
    base::LengthUnit unit = base::LengthUnit::mm;
};

/// Table, shelf and unit of a new job. Offers the tables and starter shelves that come with the program and files of
/// the shop's own.
class NewJobDialog : public QDialog {
    Q_OBJECT
  public:
    NewJobDialog(Desk& desk, const QString& model, QWidget* parent);
    /// Once accepted.
    NewJobChoice choice() const;

  private:
    void fill_tables(std::size_t chosen);
    /// Those for the holes of the chosen table, and the shop's own.
    void fill_shelves();
    void choose_table(int row);
    void choose_shelf(int row);
    void show_fault(const QString& sentence);
    QString ask_file(const char* name, const QString& title);

    struct Starter {
        shop::Shelf shelf;
        /// Whose holes it fits; nothing for the shop's own, which is offered always.
        std::optional<shop::Table> table;
    };

    Desk& desk_;
    std::vector<shop::Table> tables_;
    std::vector<Starter> shelves_;
    /// Indices into shelves_, as they are listed.
    std::vector<std::size_t> offered_;
    /// Into tables_; none chosen yet.
    std::size_t table_at_ = SIZE_MAX;
    std::optional<std::size_t> shelf_at_;
    QComboBox* table_ = nullptr;
    QComboBox* shelf_ = nullptr;
    QComboBox* unit_ = nullptr;
    QLabel* fault_ = nullptr;
    QPushButton* start_ = nullptr;
};

}  // namespace setwright::app
