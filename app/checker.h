#pragma once

#include <QObject>
#include <memory>

#include "app/session.h"
#include "core/check/report.h"

namespace setwright::app {

/// Runs every check of what the session shows, off the GUI thread, on a frozen copy; the newest question wins, answers
/// to older ones are dropped.
class Checker : public QObject {
    Q_OBJECT
  public:
    explicit Checker(Session& session, QObject* parent = nullptr);
    ~Checker() override;

    /// Null before the first answer. May be older than what is shown: see is_current().
    std::shared_ptr<const check::Report> report() const { return report_; }
    /// The job that report() is about.
    std::shared_ptr<const setup::Setup> checked() const { return checked_; }
    bool is_current() const;
    const check::StageReport* of_stage(StageId stage) const;

  Q_SIGNALS:
    /// A new report is there.
    void reported();
    /// The report is out of date; a new one is on its way.
    void started();

  private:
    struct Worker;
    void ask();

    Session& session_;
    std::unique_ptr<Worker> worker_;
    std::shared_ptr<const check::Report> report_;
    std::shared_ptr<const setup::Setup> checked_;
    /// Of the report; of the newest question.
    std::uint64_t revision_ = 0, asked_ = 0;
};

}  // namespace setwright::app
