#include <dlfcn.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <QAction>
#include <QApplication>
#include <QElapsedTimer>
#include <QEventLoop>
#include <QListWidget>
#include <QTemporaryDir>
#include <QTimer>
#include <atomic>
#include <cstring>
#include <fstream>
#include <set>

#include "app/main_window.h"
#include "app/panels/findings_panel.h"
#include "app/workbench.h"
#include "core/base/file.h"
#include "core/setup/edit.h"
#include "core/setup/place.h"
#include "tests/bench/figure.h"
// X11 last: its macros take Qt's names away.
#include <X11/Xlib.h>
#include <X11/Xutil.h>
#include <X11/extensions/XTest.h>

/// The whole window: how long until it is there, how long its thread is ever away from the user, what it holds.

namespace {

std::atomic<pthread_t> watched{};

/// Of the watched thread, since the last rest(): its longest stretch of work between two waits for events.
struct Stretch {
    double since = 0, processor_since = 0;
    double worst_ms = 0, worst_processor_ms = 0;
    /// The longest single event of the stretch at hand, and that of the worst one.
    double event_ms = 0;
    std::string event, worst_event;

    static double seconds(clockid_t clock) {
        timespec now{};
        clock_gettime(clock, &now);
        return static_cast<double>(now.tv_sec) + static_cast<double>(now.tv_nsec) * 1e-9;
    }
    void begin() {
        since = seconds(CLOCK_MONOTONIC);
        processor_since = seconds(CLOCK_THREAD_CPUTIME_ID);
        event_ms = 0;
        event.clear();
    }
    void end() {
        const double ms = (seconds(CLOCK_MONOTONIC) - since) * 1e3;
        if (since == 0 || ms <= worst_ms) return;
        worst_ms = ms;
        worst_processor_ms = (seconds(CLOCK_THREAD_CPUTIME_ID) - processor_since) * 1e3;
        worst_event = event;
    }
    void forget() {
        worst_ms = worst_processor_ms = 0;
        worst_event.clear();
    }
} stretch;

}  // namespace

/// Qt's loop waits in here (its own dispatcher, QT_NO_GLIB): what lies between two waits is one turn of the loop.
extern "C" int ppoll(pollfd* fds, nfds_t count, const timespec* patience, const sigset_t* mask) {
    using Wait = int (*)(pollfd*, nfds_t, const timespec*, const sigset_t*);
    static const auto wait = reinterpret_cast<Wait>(dlsym(RTLD_NEXT, "ppoll"));
    if (watched.load() != pthread_self()) return wait(fds, count, patience, mask);
    stretch.end();
    const int ready = wait(fds, count, patience, mask);
    stretch.begin();
    return ready;
}

namespace setwright::bench {
namespace {

/// Knows which event of a turn takes longest.
class Application : public QApplication {
  public:
    using QApplication::QApplication;
    bool notify(QObject* receiver, QEvent* event) override {
        // Events inside others are part of them; a dialog's loop makes turns of its own.
        const std::string name = std::string(receiver->metaObject()->className()) + " " +
                                 receiver->objectName().toStdString() + " event " + std::to_string(event->type());
        const double start = Stretch::seconds(CLOCK_MONOTONIC);
        const bool done = QApplication::notify(receiver, event);
        const double ms = (Stretch::seconds(CLOCK_MONOTONIC) - start) * 1e3;
        if (ms > stretch.event_ms && start >= stretch.since) {
            stretch.event_ms = ms;
            stretch.event = name;
        }
        return done;
    }
};

bool run_until(const std::function<bool()>& done, int milliseconds) {
    QElapsedTimer waited;
    waited.start();
    QEventLoop loop;
    QTimer look;
    bool good = false;
    QObject::connect(&look, &QTimer::timeout, &loop, [&] {
        good = done();
        if (good || waited.elapsed() > milliseconds) loop.quit();
    });
    look.start(4);
    loop.exec();
    return good;
}
void rest(int milliseconds) {
    run_until([] { return false; }, milliseconds);
}
/// From inside the loop, as what a user does comes.
void act(const std::function<void()>& acts, int milliseconds = 30) {
    bool acted = false;
    QTimer::singleShot(0, [&] {
        acts();
        acted = true;
    });
    run_until([&] { return acted; }, 60000);
    rest(milliseconds);
}

std::string sample(const std::string& name) {
    return std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name;
}

// --- first window: another process, seen from the server -------------------------------------------------------------

/// A mapped top window of the process, painted in more than one colour, whose title has `word`.
bool is_painted(Display* display, Window window, pid_t pid, const std::string& word) {
    XWindowAttributes is{};
    // A dialog is smaller.
    if (!XGetWindowAttributes(display, window, &is) || is.map_state != IsViewable || is.width < 1000) return false;
    const auto property = [&](const char* name) {
        Atom type = 0;
        int format = 0;
        unsigned long count = 0, more = 0;
        unsigned char* data = nullptr;
        XGetWindowProperty(display, window, XInternAtom(display, name, False), 0, 256, False, AnyPropertyType, &type,
                           &format, &count, &more, &data);
        std::string bytes;
        // Xlib keeps 32 bits in a long.
        if (data) bytes.assign(reinterpret_cast<char*>(data), count * (format == 32 ? sizeof(long) : 1));
        if (data) XFree(data);
        return bytes;
    };
    const std::string owner = property("_NET_WM_PID");
    long owner_pid = 0;
    if (owner.size() != sizeof owner_pid) return false;
    std::memcpy(&owner_pid, owner.data(), sizeof owner_pid);
    if (owner_pid != pid || property("_NET_WM_NAME").find(word) == std::string::npos) return false;
    // Without what lies under it: the whole window as it is on the screen.
    XImage* image = XGetImage(display, window, 0, 0, static_cast<unsigned>(is.width), static_cast<unsigned>(is.height),
                              AllPlanes, ZPixmap);
    if (!image) return false;
    std::set<unsigned long> colours;
    for (int y = 0; y < image->height; y += 5)
        for (int x = 0; x < image->width; x += 5) colours.insert(XGetPixel(image, x, y));
    XDestroyImage(image);
    return colours.size() > 8;
}

double start_ms(Display* display, const std::string& file) {
    std::string program = SETWRIGHT_PROGRAM, to_open = sample(file);
    char* arguments[] = {program.data(), file.empty() ? nullptr : to_open.data(), nullptr};
    QElapsedTimer since;
    since.start();
    pid_t pid = 0;
    if (posix_spawn(&pid, program.c_str(), nullptr, nullptr, arguments, environ) != 0) return -1;
    bool there = false;
    while (!there && since.elapsed() < 30000) {
        Window root = 0, parent = 0, *windows = nullptr;
        unsigned count = 0;
        XQueryTree(display, DefaultRootWindow(display), &root, &parent, &windows, &count);
        for (unsigned i = 0; i < count && !there; ++i)
            there = is_painted(display, windows[i], pid, file.empty() ? "Setwright" : file);
        if (windows) XFree(windows);
        usleep(2000);
    }
    const double ms = static_cast<double>(since.nsecsElapsed()) * 1e-6;
    ::kill(pid, SIGTERM);
    ::waitpid(pid, nullptr, 0);
    return there ? ms : 1e6;
}

void measure_start(Display* display, int rounds) {
    for (const std::string file : {"", "D1.setwright"}) {
        double worst = 0;
        std::string all;
        for (int i = 0; i < rounds; ++i) {
            const double ms = start_ms(display, file);
            worst = std::max(worst, ms);
            all += (i ? ", " : "") + std::to_string(std::lround(ms));
        }
        say_at_most(file.empty() ? "window.first" : "window.first_with_job", worst, "ms", 1500,
                    "from exec to painted on the server, the slowest of " + all + " ms");
    }
}

// --- the window in this process --------------------------------------------------------------------------------------

struct Opened {
    explicit Opened(const std::string& autosave_folder)
        : session(*shop::load_catalogue(base::resource_dir() + "/catalogue")),
          checker(session),
          words(base::TextCatalogue::load(base::resource_dir() + "/translations/en")),
          icons(Qt::black),
          autosave(session, autosave_folder),
          window(desk, autosave, false) {
        const auto follow_unit = [this] { words.set_unit(session.now().display.unit); };
        QObject::connect(&session, &app::Session::opened, &session, follow_unit);
        QObject::connect(&session, &app::Session::changed, &session, follow_unit);
        app::use(*qApp, app::Theme::light);
        window.show();
        rest(300);
    }
    app::Workbench& bench() { return *desk.bench; }
    bool checked() {
        return run_until([&] { return checker.report() && checker.is_current(); }, 60000);
    }
    void open(const std::string& file) {
        act([&] { window.open(QString::fromStdString(sample(file))); });
        checked();
        rest(300);
    }
    void trigger(const char* action) {
        auto* found = window.findChild<QAction*>(action);
        SETWRIGHT_ASSERT(found, "the action is in a menu");
        act([found] { found->trigger(); });
    }

    app::Session session;
    app::Checker checker;
    app::Words words;
    app::Icons icons;
    viewer::ShapeBook shapes;
    app::Desk desk{session, checker, words, icons, shapes};
    app::Autosave autosave;
    app::MainWindow window;
};

/// Through the server, as from a real mouse, at 60 positions a second.
class Mouse {
  public:
    explicit Mouse(Display* display) : display_(display) {}
    void move(const QWidget& over, const QPointF& at) {
        const QPointF global = over.mapToGlobal(at);
        XTestFakeMotionEvent(display_, -1, qRound(global.x()), qRound(global.y()), CurrentTime);
        XFlush(display_);
        rest(16);
    }
    void button(bool down) {
        XTestFakeButtonEvent(display_, 1, down ? True : False, CurrentTime);
        XFlush(display_);
        rest(16);
    }

  private:
    Display* display_;
};

/// A stop that can be taken hold of in this view, and where.
std::optional<std::pair<setup::PlacementId, QPointF>> stop_in_sight(Opened& app) {
    const viewer::View& view = app.bench().view();
    const viewer::Scene scene = viewer::make_scene(app.session.now(), app.session.stage(), app.shapes);
    for (const setup::Placement& placement : app.session.in_stage().placements) {
        const auto item = scene.items.find(placement.id);
        if (placement.component != "m50-index-stop" || item == scene.items.end()) continue;
        const space::Vec3 at_T = item->second.shape->box.moved(item->second.X_TS).centre();
        const QPointF at = view.to_widget(at_T);
        const viewer::Picked picked = viewer::pick(scene, view.ray(at));
        if (picked.placement() && *picked.placement() == placement.id) return std::pair{placement.id, at};
    }
    return {};
}

/// There and back over the table; the block ends where it was.
void drag(Opened& app, Mouse& mouse, int steps) {
    const auto stop = stop_in_sight(app);
    SETWRIGHT_ASSERT(stop, "a stop is in sight");
    viewer::View& view = app.bench().view();
    mouse.move(view, stop->second);
    mouse.button(true);
    int dragged = 0;
    for (int i = 1; i <= steps; ++i) {
        const double turn = 2 * std::numbers::pi * i / std::min(steps, 100);
        mouse.move(view, stop->second + QPointF(150 * std::sin(turn), 60 * (1 - std::cos(turn))));
        dragged += app.session.shown() != app.session.share();
    }
    SETWRIGHT_ASSERT(dragged > steps / 4, "the block hangs on the pointer");
    mouse.button(false);
    rest(50);
}

/// Two hundred findings into the list, most of them there before.
void measure_findings(Opened& app) {
    app::FindingLines lines(app.desk, nullptr);
    check::Report many;
    for (int i = 0; i < 200; ++i) {
        check::Finding& finding = check::add_finding(many.findings, app.session.stage(), "clearance.piece",
                                                     check::Verdict::fail, {"name.block", {{"no", std::int64_t{i}}}});
        finding.subjects = {setup::PlacementId{static_cast<std::uint32_t>(i + 1)}};
    }
    lines.show(&many);
    many.findings.erase(many.findings.begin() + 40);
    const double start = thread_seconds();
    lines.show(&many);
    say_at_most("window.findings", (thread_seconds() - start) * 1e3, "ms", 100, "a new report of 199 findings listed");
}

void measure_stalls(Display* display, const std::string& folder, int steps) {
    Mouse mouse(display);
    stretch.forget();
    Opened app(folder);
    const auto phase = [&](const std::string& name, const std::function<void()>& acts) {
        stretch.forget();
        acts();
        char against[200];
        std::snprintf(against, sizeof against, "longest turn of the event loop, %.0f ms of it processor; most in %s",
                      stretch.worst_processor_ms, stretch.worst_event.c_str());
        say_at_most("window.stall." + name, stretch.worst_ms, "ms", 100, against);
    };
    phase("open", [&] { app.open("D1.setwright"); });
    constexpr const char* stations[] = {"weldment", "lay", "place", "order", "drawing"};
    for (int station = 0; station < 5; ++station)
        phase(std::string("go_to_") + stations[station],
              [&] { act([&] { app.window.go_to(static_cast<app::MainWindow::Station>(station)); }, 600); });
    auto* pages = app.window.findChild<QListWidget*>("drawing.list");
    SETWRIGHT_ASSERT(pages, "the drawing station lists its pages");
    act([&] { app.window.go_to(app::MainWindow::drawing); });
    run_until([&] { return pages->count() >= 4; }, 60000);
    phase("turn_pages", [&] {
        for (int page = 0; page < pages->count(); ++page) act([&] { pages->setCurrentRow(page); }, 100);
    });
    measure_findings(app);
    phase("back_to_place", [&] { act([&] { app.window.go_to(app::MainWindow::place); }, 300); });
    if (app.bench().can_show_solid()) phase("drag_solid", [&] { drag(app, mouse, steps); });
    phase("show_plan", [&] {
        act(
            [&] {
                app.bench().show_plan(true);
                app.bench().view().look(viewer::Direction::above);
            },
            300);
    });
    phase("drag_plan", [&] { drag(app, mouse, steps); });
    phase("show_solid", [&] { act([&] { app.bench().show_plan(false); }, 300); });
    app.checked();
    for (int i = 0; i < 20; ++i) {
        const setup::Setup& now = app.session.now();
        setup::Placement moved = app.session.in_stage().placements[static_cast<std::size_t>(i) % 5];
        act([&] {
            app.session.apply(setup::note(now, app.session.stage(), moved.id, std::to_string(i)), {"undo.note", {}});
        });
    }
    phase("undo_redo", [&] {
        for (int i = 0; i < 20; ++i) app.trigger("action.undo");
        for (int i = 0; i < 20; ++i) app.trigger("action.redo");
        app.checked();
        rest(200);
    });
    phase("theme", [&] {
        app.trigger("action.dark");
        rest(300);
        app.trigger("action.light");
        rest(300);
    });
    phase("unit", [&] {
        app.trigger("action.unit_in16");
        app.trigger("action.undo");
        app.checked();
    });
    while (app.session.can_undo()) app.session.undo();
    phase("open_another", [&] { app.open("D2.setwright"); });
    app.autosave.close();
}

// --- what it holds ---------------------------------------------------------------------------------------------------

double resident_mb() {
    std::ifstream file("/proc/self/statm");
    double whole = 0, resident = 0;
    file >> whole >> resident;
    return resident * static_cast<double>(sysconf(_SC_PAGESIZE)) / 1e6;
}

void measure_memory(Display* display, const std::string& folder, bool quick) {
    Mouse mouse(display);
    Opened app(folder);
    app.open("D1.setwright");
    const double opened = resident_mb();
    say_at_most("window.memory", opened, "MB", 500, "resident, D1 open and checked, solid view");

    const int edits = quick ? 10 : 500;
    const auto stop = stop_in_sight(app);
    SETWRIGHT_ASSERT(stop, "a stop is in sight");
    for (int i = 0; i < edits; ++i) {
        setup::Seat seat = app.session.in_stage().find(stop->first)->seat;
        seat.hole.col += i % 2 ? -1 : 1;
        act(
            [&] {
                const bool done = app.session.apply(
                    setup::move(app.session.now(), app.session.stage(), stop->first, seat), {"undo.move", {}});
                SETWRIGHT_ASSERT(done, "the block can stand there");
            },
            4);
    }
    app.checked();
    rest(200);
    const double edited = resident_mb();
    say_at_most("window.memory_edits", edited - opened, "MB", 100,
                "more than that after " + std::to_string(edits) + " undoable edits, every state kept");

    const int steps = quick ? 30 : 2000;
    drag(app, mouse, steps);
    app.checked();
    rest(200);
    say_at_most("window.memory_drag", resident_mb() - edited, "MB", 50,
                "more than that after a drag of " + std::to_string(steps) + " pointer steps");
    while (app.session.can_undo()) app.session.undo();
    app.autosave.close();
}

}  // namespace
}  // namespace setwright::bench

int main(int argc, char** argv) {
    using namespace setwright::bench;
    qputenv("LIBGL_ALWAYS_SOFTWARE", "1");
    qputenv("QT_NO_GLIB", "1");
    // Nothing of the user's: settings, autosaves, recent files.
    const QTemporaryDir folder;
    for (const char* name : {"XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME", "XDG_RUNTIME_DIR"})
        qputenv(name, folder.path().toUtf8());
    const bool quick = is_quick(argc, argv);
    Display* display = XOpenDisplay(nullptr);
    if (!display) {
        std::cerr << "bench_x_window: there is no X server\n";
        return 1;
    }
    // A window may go while it is looked at.
    XSetErrorHandler([](Display*, XErrorEvent*) { return 0; });
    measure_start(display, quick ? 1 : 5);
    int none = 1;
    Application application(none, argv);
    watched = pthread_self();
    measure_stalls(display, folder.filePath("stalls").toStdString(), 30);
    measure_memory(display, folder.filePath("memory").toStdString(), quick);
    XCloseDisplay(display);
    return 0;
}
