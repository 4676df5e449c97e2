#include "app/autosave.h"

#include <signal.h>
#include <unistd.h>

#include <QDateTime>
#include <QJsonDocument>
#include <QJsonObject>
#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>

#include "app/background.h"
#include "core/base/bug.h"
#include "core/base/file.h"
#include "core/setup/job_file.h"

namespace setwright::app {

namespace {

constexpr int after_last_change_milliseconds = 1000;
constexpr int after_first_change_milliseconds = 5000;

/// What is lost if the program ends now; null where nothing is. Read by whichever thread finds our mistake.
struct AtStake {
    std::shared_ptr<const setup::Setup> setup;
    std::string file, path;
};
std::atomic<std::shared_ptr<const AtStake>> at_stake;

/// When the process began, in ticks since the computer started (field 22 of /proc/PID/stat, proc(5)); "" where there is
/// no such process.
std::string start_of(long pid) {
    std::ifstream in("/proc/" + std::to_string(pid) + "/stat");
    std::string line;
    if (!std::getline(in, line)) return "";
    // The name in field 2 may hold blanks and brackets.
    std::istringstream fields(line.substr(line.rfind(')') + 1));
    std::string field;
    for (int number = 3; number <= 22; ++number) fields >> field;
    return field;
}

bool is_running(long pid, const std::string& start) {
    const std::string found = start_of(pid);
    if (!found.empty()) return found == start;
    return ::kill(static_cast<pid_t>(pid), 0) == 0 || errno == EPERM;
}

std::string note_of(const std::string& file) {
    return file + ".json";
}

/// The note goes first: a job is never there without it.
base::Result<void> write_both(const setup::Setup& setup, const std::string& file, const std::string& path) {
    QJsonObject note;
    note["path"] = QString::fromStdString(path);
    note["when"] = QDateTime::currentDateTime().toString("yyyy-MM-dd HH:mm");
    if (auto written = base::write_file(note_of(file), QJsonDocument(note).toJson().toStdString()); !written)
        return written;
    return base::write_file(file, setup::job_json(setup));
}

void save_at_once(const char*) noexcept try {
    if (const auto stake = at_stake.load()) static_cast<void>(write_both(*stake->setup, stake->file, stake->path));
} catch (...) {
    // The program ends anyway, and what was written before is still there.
}

void remove_both(const std::string& file) {
    std::error_code ignored;
    std::filesystem::remove(file, ignored);
    std::filesystem::remove(note_of(file), ignored);
}

}  // namespace

std::string Autosave::default_folder() {
    const char* state = std::getenv("XDG_STATE_HOME");
    const char* home = std::getenv("HOME");
    // Relative paths do not count (XDG Base Directory Specification 0.8).
    if (state && state[0] == '/') return std::string(state) + "/setwright/autosave";
    return std::string(home ? home : "/tmp") + "/.local/state/setwright/autosave";
}

Autosave::Autosave(Session& session, std::string folder, QObject* parent)
    : QObject(parent), session_(session), folder_(std::move(folder)) {
    std::error_code ignored;  // writing will say it
    std::filesystem::create_directories(folder_, ignored);
    std::filesystem::permissions(folder_, std::filesystem::perms::owner_all, ignored);
    const long pid = ::getpid();
    own_ = folder_ + "/job-" + std::to_string(pid) + "-" + start_of(pid) + ".setwright";
    due_.setSingleShot(true);
    connect(&due_, &QTimer::timeout, this, &Autosave::write);
    connect(&session, &Session::opened, this, &Autosave::look);
    connect(&session, &Session::changed, this, &Autosave::look);
    connect(&session, &Session::file_changed, this, &Autosave::look);
    base::on_bug(save_at_once);
    look();
}

Autosave::~Autosave() {
    at_stake.store(nullptr);
}

void Autosave::look() {
    if (closed_) return;
    if (!session_.unsaved()) {
        at_stake.store(nullptr);
        due_.stop();
        unwritten_.invalidate();
        again_ = false;
        remove_own();
        return;
    }
    const auto known = at_stake.load();
    if (known && known->setup == session_.share() && known->path == session_.path()) return;
    at_stake.store(std::make_shared<const AtStake>(AtStake{session_.share(), own_, session_.path()}));
    schedule();
}

void Autosave::schedule() {
    if (!unwritten_.isValid()) unwritten_.start();
    const qint64 left = after_first_change_milliseconds - unwritten_.elapsed();
    due_.start(static_cast<int>(std::clamp<qint64>(left, 0, after_last_change_milliseconds)));
}

void Autosave::write() {
    due_.stop();
    if (writing_) {
        again_ = true;
        return;
    }
    const auto stake = at_stake.load();
    if (!stake) return;
    unwritten_.invalidate();
    writing_ = std::make_unique<Background>([this, stake](const base::Progress&) -> Background::Done {
        const base::Result<void> result = write_both(*stake->setup, stake->file, stake->path);
        return [this, result] {
            writing_.reset();
            // Saved or closed in the meantime.
            if (!at_stake.load()) remove_own();
            if (!result && !failed_)
                session_.refuse({"file.autosave_failed", {{"why", std::vector<base::Text>{result.error().text}}}});
            failed_ = !result;
            if (result) Q_EMIT written();
            if (std::exchange(again_, false)) write();
        };
    });
}

void Autosave::remove_own() {
    if (!writing_) remove_both(own_);
}

void Autosave::close() {
    closed_ = true;
    at_stake.store(nullptr);
    due_.stop();
    writing_.reset();
    remove_own();
}

void Autosave::keep() {
    closed_ = true;
    due_.stop();
    writing_.reset();
    if (const auto stake = at_stake.load()) static_cast<void>(write_both(*stake->setup, stake->file, stake->path));
}

std::vector<LeftBehind> Autosave::left_behind() const {
    static const std::regex ours("job-([0-9]{1,9})-([0-9]*)\\.setwright");
    std::vector<LeftBehind> found;
    std::error_code ignored;
    for (const auto& entry : std::filesystem::directory_iterator(folder_, ignored)) {
        std::smatch parts;
        const std::string name = entry.path().filename().string();
        if (!std::regex_match(name, parts, ours) || is_running(std::stol(parts[1]), parts[2])) continue;
        LeftBehind job;
        job.file = entry.path().string();
        // Without its note the job is as good.
        const auto text = base::read_file(note_of(job.file));
        const QJsonObject note =
            text ? QJsonDocument::fromJson(QByteArray::fromStdString(*text)).object() : QJsonObject();
        job.path = note["path"].toString().toStdString();
        job.when = note["when"].toString().toStdString();
        found.push_back(std::move(job));
    }
    std::sort(found.begin(), found.end(), [](const LeftBehind& a, const LeftBehind& b) {
        return std::tie(b.when, a.file) < std::tie(a.when, b.file);
    });
    return found;
}

void Autosave::forget(const LeftBehind& job) {
    remove_both(job.file);
}

void Autosave::adopt(const LeftBehind& job) {
    std::error_code ignored;  // nothing is lost: what is open will be written
    std::filesystem::rename(note_of(job.file), note_of(own_), ignored);
    std::filesystem::rename(job.file, own_, ignored);
}

}  // namespace setwright::app
