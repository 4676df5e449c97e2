#include "core/base/child.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

extern char** environ;

namespace setwright::base {

namespace {

constexpr std::size_t message_limit = 8192;
constexpr int poll_ms = 20;

struct Pipe {
    int read_end = -1;
    int write_end = -1;

    bool open() {
        std::array<int, 2> ends{};
        if (::pipe2(ends.data(), O_CLOEXEC) != 0) return false;
        read_end = ends[0];
        write_end = ends[1];
        return true;
    }
    void close_write() {
        if (write_end >= 0) ::close(std::exchange(write_end, -1));
    }
    void close_read() {
        if (read_end >= 0) ::close(std::exchange(read_end, -1));
    }
    ~Pipe() {
        close_read();
        close_write();
    }
};

/// Reads what is there; false at the end of the stream.
bool drain(int fd, std::string& into) {
    std::array<char, 1 << 16> buffer;
    const ssize_t got = ::read(fd, buffer.data(), buffer.size());
    if (got < 0) return errno == EINTR || errno == EAGAIN;
    into.append(buffer.data(), static_cast<std::size_t>(got));
    return got > 0;
}

}  // namespace

Result<ChildRun> run_child(const std::string& program, const std::vector<std::string>& arguments,
                           std::chrono::milliseconds wall, const Progress& job, std::size_t output_limit) {
    const auto failed = [&](int error) {
        return bad_input({"child.cannot_start", {{"program", program}, {"reason", std::string(std::strerror(error))}}});
    };
    Pipe output, messages;
    if (!output.open() || !messages.open()) return failed(errno);

    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_adddup2(&actions, output.write_end, STDOUT_FILENO);
    posix_spawn_file_actions_adddup2(&actions, messages.write_end, STDERR_FILENO);
    posix_spawnattr_t attributes;
    posix_spawnattr_init(&attributes);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);
    posix_spawnattr_setpgroup(&attributes, 0);

    std::vector<char*> argv{const_cast<char*>(program.c_str())};
    for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
    argv.push_back(nullptr);
    pid_t pid = -1;
    const int error = ::posix_spawnp(&pid, program.c_str(), &actions, &attributes, argv.data(), environ);
    posix_spawn_file_actions_destroy(&actions);
    posix_spawnattr_destroy(&attributes);
    if (error != 0) return failed(error);
    output.close_write();
    messages.close_write();

    ChildRun run;
    const auto deadline = std::chrono::steady_clock::now() + wall;
    std::array<pollfd, 2> streams{pollfd{output.read_end, POLLIN, 0}, pollfd{messages.read_end, POLLIN, 0}};
    bool killed = false;
    int status = 0;
    bool reaped = false;
    // A child may close its streams and live on: the limits hold until it has ended.
    while (streams[0].fd >= 0 || streams[1].fd >= 0 || !reaped) {
        if (!killed) {
            run.cancelled = job.cancelled();
            run.timed_out = !run.cancelled && std::chrono::steady_clock::now() >= deadline;
            if (run.cancelled || run.timed_out || run.output.size() > output_limit) {
                ::kill(-pid, SIGKILL);
                killed = true;
            }
        }
        const bool quiet = streams[0].fd < 0 && streams[1].fd < 0;
        if (::poll(streams.data(), streams.size(), quiet ? 1 : poll_ms) < 0)
            streams[0].revents = streams[1].revents = 0;
        if (streams[0].revents && !drain(output.read_end, run.output)) streams[0].fd = -1;
        if (streams[1].revents && !drain(messages.read_end, run.messages)) streams[1].fd = -1;
        if (run.messages.size() > 2 * message_limit) run.messages.erase(0, run.messages.size() - message_limit);
        // A grandchild may hold the pipe open after the child is gone: the child's end is what counts.
        if (!reaped) {
            const pid_t ended = ::waitpid(pid, &status, WNOHANG);
            // Where the program was started with SIGCHLD ignored, the child is gone without a word: no answer to trust.
            const bool lost = ended < 0 && errno != EINTR;
            reaped = ended == pid || lost;
            if (lost) status = SIGKILL;
            if (reaped) ::kill(-pid, SIGKILL);
        }
    }
    if (WIFEXITED(status)) run.exit_code = WEXITSTATUS(status);
    if (WIFSIGNALED(status)) run.signal = WTERMSIG(status);
    if (run.messages.size() > message_limit) run.messages.erase(0, run.messages.size() - message_limit);
    return run;
}

}  // namespace setwright::base
