#pragma once

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
    std::string when;
    friend bool operator==(const LeftBehind&, const LeftBehind&) = default;
};

/// Writes the open job beside nobody's files, a second after it changed and at once when the program ends by our
/// mistake (base::on_bug), and takes it away when the job is saved or closed. One file per running program; files whose
/// program is gone are left behind by a crash.
class Autosave : public QObject {
    Q_OBJECT
  public:
    /// `folder` is made; default: $XDG_STATE_HOME/setwright/autosave.
    explicit Autosave(Session& session, std::string folder = default_folder(), QObject* parent = nullptr);
    ~Autosave() override;
    static std::string default_folder();

    std::vector<LeftBehind> left_behind() const;
    /// Takes the file away.
    void forget(const LeftBehind& job);
    /// Nothing is written from now on and the own file goes: the user closed the window on purpose.
    void close();

  Q_SIGNALS:
    void written();

  private:
    void write();
    void remove_own();

    Session& session_;
    std::string folder_, own_;
    QTimer due_;
    std::unique_ptr<Background> writing_;
    bool again_ = false;
};

}  // namespace setwright::app
