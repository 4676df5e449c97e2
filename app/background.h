#pragma once

#include <QObject>
#include <functional>
#include <memory>
#include <thread>

#include "core/base/progress.h"

namespace setwright::app {

/// One long job (import, open, save, pages) on its own thread: progress by stage, cancel at once, answer on the GUI
/// thread. Destroying it cancels and waits.
class Background : public QObject {
    Q_OBJECT
  public:
    /// `work` runs on the thread and returns what is to be done with its answer on the GUI thread; it polls `job`.
    using Done = std::function<void()>;
    explicit Background(std::function<Done(const base::Progress& job)> work, QObject* parent = nullptr);
    ~Background() override;

    const base::Progress& progress() const { return progress_; }
    void cancel() { progress_.cancel(); }
    bool running() const { return running_; }

  Q_SIGNALS:
    /// After its Done has run.
    void finished();

  private:
    base::Progress progress_;
    bool running_ = true;
    std::jthread thread_;
};

}  // namespace setwright::app
