#pragma once

#include <QDialog>
#include <QTimer>
#include <functional>
#include <memory>
#include <optional>

#include "app/desk.h"
#include "core/base/progress.h"

class QLabel;
class QProgressBar;

namespace setwright::app {

/// What is being done, how far it is where that is known, and Cancel.
class WaitingDialog : public QDialog {
    Q_OBJECT
  public:
    WaitingDialog(Desk& desk, base::Progress job, const QString& what, bool can_cancel, QWidget* parent);
    void reject() override;

  private:
    void pull();

    Desk& desk_;
    base::Progress job_;
    bool can_cancel_;
    QLabel* stage_ = nullptr;
    QProgressBar* bar_ = nullptr;
    QTimer timer_;
};

/// Runs `work` on a thread of its own while the window goes on being drawn; what takes a while shows a WaitingDialog.
/// False where the user cancelled: the thread is then on its own, and its answer is nobody's.
bool wait_behind_dialog(Desk& desk, QWidget* parent, const QString& what, bool can_cancel,
                        std::function<void(const base::Progress& job)> work);

/// The same with an answer; none where the user cancelled.
template <class Answer>
std::optional<Answer> in_background(Desk& desk, QWidget* parent, const QString& what, bool can_cancel,
                                    std::function<Answer(const base::Progress& job)> work) {
    auto answer = std::make_shared<std::optional<Answer>>();
    if (!wait_behind_dialog(desk, parent, what, can_cancel,
                            [answer, work = std::move(work)](const auto& job) { answer->emplace(work(job)); }))
        return {};
    return std::move(*answer);
}

}  // namespace setwright::app
