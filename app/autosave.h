#pragma once

#include <QElapsedTimer>
#include <QObject>
#include <QTimer>
#include <memory>
#include <string>
#include <vector>

#include "app/session.h"

namespace setwright::app {

class Background;

/// A job that a crash left behind.
struct LeftBehind {
    /// The autosave's own file.
    std::string file;
    /// Where the user had saved it, "" nowhere yet.
    std::string path;
    /// Day and time of the last change in it, as "2026-11-25 14:05".
    std::string when;
    friend bool operator==(const LeftBehind&, const LeftBehind&) = default;
};

/// Writes the open job beside nobody's files, a second after it changed (five at the latest, however long the edits go
/// on) and at once when the program ends by our mistake (base::on_bug), and takes it away when the job is saved or
/// closed. One file per running program; files whose program is gone are left behind by a crash.
///
/// The file is a plain job, job-PID-START.setwright; START is when the process began, so that another program that got
/// the same number is not taken for ours. A second file, its name with ".json" behind, says where the job is kept.
class Autosave : public QObject {
    Q_OBJECT
  public:
    /// `folder` is made; default: $XDG_STATE_HOME/setwright/autosave.
    explicit Autosave(Session& session, std::string folder = default_folder(), QObject* parent = nullptr);
    ~Autosave() override;
    static std::string default_folder();

    /// The newest first.
    std::vector<LeftBehind> left_behind() const;
    /// Takes the file away.
    void forget(const LeftBehind& job);
    /// The open job is this one, recovered: its file is ours from now on. At no moment is there none.
    void adopt(const LeftBehind& job);
    /// Writes now, waits for it, and leaves the file behind: the program is told to end.
    void keep();
    /// Nothing is written from now on and the own file goes: the user closed the window on purpose.
    void close();

  Q_SIGNALS:
    void written();

  private:
    void look();
    void schedule();
    void write();
    void remove_own();

    Session& session_;
    std::string folder_, own_;
    QTimer due_;
    /// Since the first change that is not in the file.
    QElapsedTimer unwritten_;
    std::unique_ptr<Background> writing_;
    bool again_ = false;
    bool closed_ = false;
    bool failed_ = false;
};

}  // namespace setwright::app
