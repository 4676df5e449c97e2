#include "app/window.h"

#include <sys/socket.h>
#include <unistd.h>

#include <QApplication>
#include <QLocale>
#include <QSettings>
#include <QSocketNotifier>
#include <QTimer>
#include <clocale>
#include <csignal>
#include <exception>

#include "app/autosave.h"
#include "app/commands/commands.h"
#include "app/main_window.h"
#include "core/base/bug.h"
#include "core/base/file.h"
#include "viewer/scene.h"

namespace setwright::app {

namespace {

/// Brings SIGTERM and SIGINT into the event loop: a signal handler itself may do next to nothing.
class EndSignals {
  public:
    explicit EndSignals(std::function<void()> told) {
        if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0, ends_) != 0) return;
        notifier_ = std::make_unique<QSocketNotifier>(ends_[1], QSocketNotifier::Read);
        QObject::connect(notifier_.get(), &QSocketNotifier::activated, [this, told = std::move(told)] {
            notifier_->setEnabled(false);
            told();
        });
        struct sigaction action {};
        action.sa_handler = [](int) {
            const char byte = 1;
            // A full socket has told it already.
            if (::write(ends_[0], &byte, 1) < 0) return;
        };
        action.sa_flags = SA_RESTART;
        for (const int signal : {SIGTERM, SIGINT}) ::sigaction(signal, &action, nullptr);
    }
    EndSignals(const EndSignals&) = delete;
    EndSignals& operator=(const EndSignals&) = delete;
    ~EndSignals() {
        for (const int signal : {SIGTERM, SIGINT}) std::signal(signal, SIG_DFL);
    }

  private:
    static inline int ends_[2] = {-1, -1};
    std::unique_ptr<QSocketNotifier> notifier_;
};

/// What leaves a slot or a thread as an exception is our mistake: the job is saved before the program ends.
void end_on_exception() {
    std::set_terminate([] {
        const char* said = "no exception";
        if (const std::exception_ptr thrown = std::current_exception()) {
            try {
                std::rethrow_exception(thrown);
            } catch (const std::exception& error) {
                said = error.what();
            } catch (...) {
                said = "an exception of the kernel";
            }
        }
        base::bug("std::terminate", said, __FILE__, __LINE__);
    });
}

}  // namespace

int run_window(int argc, char** argv, const std::string& to_open, bool plan_only) {
    // Qt would take words of the command line for its own.
    argc = std::min(argc, 1);
    QApplication application(argc, argv);
    // Qt takes the user's locale; with it C functions would write 0,5 into files.
    std::setlocale(LC_NUMERIC, "C");
    // Numbers are read and written one way in the whole window; base::parse_length takes a comma as well.
    QLocale::setDefault(QLocale::c());
    QApplication::setOrganizationName("setwright");
    QApplication::setApplicationName("setwright");
    QApplication::setApplicationVersion(SETWRIGHT_VERSION);
    QApplication::setDesktopFileName("org.setwright.Setwright");
    end_on_exception();

    Words words(base::TextCatalogue::load(base::resource_dir() + "/translations/en"));
    base::Result<shop::Catalogue> catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    if (!catalogue) return Console(words.texts()).fail(catalogue.error());

    const QString chosen = QSettings().value("theme").toString();
    const Theme theme = chosen == "dark" ? Theme::dark : chosen == "light" ? Theme::light : system_theme();
    use(application, theme);
    Icons icons(QApplication::palette().color(QPalette::WindowText));
    viewer::ShapeBook shapes;
    Session session(std::move(catalogue).value());
    // Before anybody else listens: all that follows is written in the job's unit.
    const auto follow_unit = [&] { words.set_unit(session.now().display.unit); };
    QObject::connect(&session, &Session::opened, &session, follow_unit);
    QObject::connect(&session, &Session::changed, &session, follow_unit);
    Checker checker(session);
    Desk desk{session, checker, words, icons, shapes, theme, nullptr};
    Autosave autosave(session);
    MainWindow window(desk, autosave, plan_only);
    const EndSignals ending([&] {
        autosave.keep();
        QCoreApplication::exit(exit_good);
    });
    window.show();
    for (const LeftBehind& left : autosave.left_behind()) window.offer(left);
    if (!to_open.empty()) QTimer::singleShot(0, &window, [&] { window.open(QString::fromStdString(to_open)); });
    return QApplication::exec();
}

}  // namespace setwright::app
