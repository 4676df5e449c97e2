#pragma once

#include <QAbstractListModel>
#include <QTimer>
#include <QWidget>
#include <set>
#include <vector>

#include "app/desk.h"

class QLabel;
class QLineEdit;
class QListView;
class QPushButton;

namespace setwright::app {

/// The findings as lines of a list: headings, and under those that are unfolded what they hold. A new report changes
/// only the lines that differ, so that what is selected and in sight stays.
class FindingLines : public QAbstractListModel {
    Q_OBJECT
  public:
    enum class Group { fix, look, accepted, not_run, good };
    static constexpr std::array all_groups{Group::fix, Group::look, Group::accepted, Group::not_run, Group::good};
    enum Role { sign_role = Qt::UserRole, cure_role, heading_role, folded_role };

    FindingLines(Desk& desk, QObject* parent) : QAbstractListModel(parent), desk_(desk) {}

    void show(const check::Report* report);
    void fold(Group group, bool folded);
    bool is_folded(Group group) const { return folded_.contains(group); }
    int count(Group group) const;
    /// Null for a heading.
    const check::Finding* finding(const QModelIndex& index) const;
    /// None for a finding.
    std::optional<Group> heading(const QModelIndex& index) const;

    int rowCount(const QModelIndex& parent = {}) const override;
    QVariant data(const QModelIndex& index, int role) const override;

  private:
    struct Line {
        /// What stays the same about it from report to report.
        std::string key;
        QString words, cure, sign;
        Group group = Group::fix;
        bool is_heading = false;
        check::Finding finding;
    };
    std::vector<Line> lines_of(const std::vector<check::Finding>& findings) const;
    void change_to(std::vector<Line> lines);

    Desk& desk_;
    std::vector<check::Finding> findings_;
    std::vector<Line> lines_;
    std::set<Group> folded_{Group::accepted, Group::not_run, Group::good};
};

/// What the checks say, worst first; a click shows what a finding is about, and a finding can be accepted for a
/// reason.
class FindingsPanel : public QWidget {
    Q_OBJECT
  public:
    explicit FindingsPanel(Desk& desk, QWidget* parent = nullptr);

  protected:
    void changeEvent(QEvent* event) override;

  private:
    QWidget* make_head();
    QWidget* make_accept();
    void pull();
    void pull_state();
    void pull_accept();
    void look_at(const QModelIndex& index);
    void accept();
    void take_back();
    const check::Finding* current() const;

    Desk& desk_;
    FindingLines* lines_ = nullptr;
    QListView* list_ = nullptr;
    std::array<std::pair<QLabel*, QLabel*>, 4> counts_{};
    QLabel* state_ = nullptr;
    /// A check that is done at once is not worth a word.
    QTimer slow_;
    QWidget* accept_line_ = nullptr;
    QLineEdit* reason_ = nullptr;
    QPushButton* accept_ = nullptr;
    QPushButton* take_back_ = nullptr;
    QLabel* accepted_for_ = nullptr;
};

}  // namespace setwright::app
