#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <OSD.hxx>
#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <new>
#include <string>
#include <string_view>

#include "core/space/wire.h"
#include "core/worker/read.h"

namespace {

using namespace setwright;

#if defined(__SANITIZE_ADDRESS__)
constexpr bool sanitized = true;
#else
constexpr bool sanitized = false;
#endif

enum ExitCode { answered = 0, bad_input = 2, out_of_memory = 3, cannot_answer = 4 };

void limit(__rlimit_resource resource, rlim_t value, rlim_t grace = 0) {
    rlimit now{};
    if (::getrlimit(resource, &now) != 0) return;
    const rlimit wanted{std::min(value, now.rlim_max), std::min(value + grace, now.rlim_max)};
    ::setrlimit(resource, &wanted);
}

/// A damaged file may make the kernel loop, fill the memory or crash: none of it may touch anything else.
void limit_self(const char* path, unsigned long seconds) {
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    ::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    struct stat file {};
    const rlim_t size = ::stat(path, &file) == 0 && file.st_size > 0 ? static_cast<rlim_t>(file.st_size) : 0;
    // The sanitizer reserves terabytes of address space for itself.
    if (!sanitized) limit(RLIMIT_AS, (rlim_t{2} << 30) + 20 * size);
    // The soft limit's SIGXCPU says what ended the work; the hard one would only kill.
    limit(RLIMIT_CPU, std::max(1ul, seconds), 1);
    limit(RLIMIT_CORE, 0);
    limit(RLIMIT_FSIZE, 0);
    // A message to a log file then fails instead of ending the work.
    std::signal(SIGXFSZ, SIG_IGN);
}

bool write_all(int fd, std::string_view bytes) {
    while (!bytes.empty()) {
        const ssize_t written = ::write(fd, bytes.data(), bytes.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return false;
        bytes.remove_prefix(static_cast<std::size_t>(written));
    }
    return true;
}

int answer(int fd, const std::string& path) {
    try {
        const base::Result<space::Bodies> bodies = worker::read(path);
        if (!write_all(fd, bodies ? space::encode(*bodies) : space::encode_error(bodies.error()))) return cannot_answer;
        return bodies ? answered : bad_input;
    } catch (const std::bad_alloc&) {
        return write_all(fd, space::encode_error(base::bad_input({"import.too_big", {{"path", path}}})))
                   ? out_of_memory
                   : cannot_answer;
    }
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 3 || std::string_view(argv[1]) != "read") {
        std::fputs(
            "usage: setwright-worker read FILE [SECONDS]\nIt is started by Setwright and answers it in binary "
            "records.\n",
            stderr);
        return bad_input;
    }
    limit_self(argv[2], argc > 3 ? std::strtoul(argv[3], nullptr, 10) : 300);
    // Whatever the kernel prints must not get into the answer.
    const int out = ::fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 3);
    if (out < 0 || ::dup2(STDERR_FILENO, STDOUT_FILENO) < 0) return cannot_answer;
    if (!sanitized) OSD::SetSignal(OSD_SignalMode_Set, false);
    const int code = answer(out, argv[2]);
    // The kernel's own clean-up after a damaged file may crash; the answer is out.
    std::fflush(nullptr);
    ::_exit(code);
}
