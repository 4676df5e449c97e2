#include "core/base/file.h"

#include <fcntl.h>
#include <openssl/evp.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <vector>

namespace setwright::base {

namespace fs = std::filesystem;

namespace {

Error file_error(const char* id, const std::string& path) {
    return bad_input({id, {{"path", path}, {"reason", std::string(std::strerror(errno))}}});
}

/// Closes the descriptor on every way out.
class Descriptor {
  public:
    explicit Descriptor(int fd) : fd_(fd) {}
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    ~Descriptor() {
        if (fd_ >= 0) ::close(fd_);
    }
    int get() const { return fd_; }
    bool close() { return ::close(std::exchange(fd_, -1)) == 0; }

  private:
    int fd_;
};

bool write_all(int fd, std::string_view content) {
    while (!content.empty()) {
        const ssize_t written = ::write(fd, content.data(), content.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return false;
        content.remove_prefix(static_cast<std::size_t>(written));
    }
    return true;
}

Result<void> write_stream(const std::string& path, std::string_view content) {
    Descriptor stream(::open(path.c_str(), O_WRONLY | O_CLOEXEC));
    if (stream.get() >= 0 && write_all(stream.get(), content) && stream.close()) return {};
    return file_error(errno == ENOSPC ? "file.disk_full" : "file.cannot_write", path);
}

fs::path program_folder() {
    std::error_code error;
    const fs::path program = fs::read_symlink("/proc/self/exe", error);
    return error ? fs::path{} : program.parent_path();
}

}  // namespace

Result<std::string> read_file(const std::string& path, std::size_t limit_bytes) {
    if (path.empty()) return file_error("file.no_name", path);
    struct stat status {};
    if (::stat(path.c_str(), &status) != 0)
        return file_error(errno == ENOENT ? "file.not_there" : "file.cannot_read", path);
    if (S_ISDIR(status.st_mode)) return file_error("file.is_directory", path);
    if (S_ISREG(status.st_mode) && static_cast<std::size_t>(status.st_size) > limit_bytes)
        return file_error("file.too_large", path);
    Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
    if (file.get() < 0) return file_error(errno == EACCES ? "file.no_permission" : "file.cannot_read", path);
    std::string content;
    content.reserve(static_cast<std::size_t>(std::max<off_t>(status.st_size, 0)));
    std::vector<char> buffer(1 << 16);
    for (;;) {
        const ssize_t got = ::read(file.get(), buffer.data(), buffer.size());
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return file_error("file.cannot_read", path);
        if (got == 0) return content;
        content.append(buffer.data(), static_cast<std::size_t>(got));
        if (content.size() > limit_bytes) return file_error("file.too_large", path);
    }
}

Result<void> write_file(const std::string& path, std::string_view content) {
    std::error_code ignored;
    if (path.empty()) return file_error("file.no_name", path);
    if (fs::is_directory(path, ignored)) return file_error("file.is_directory_save", path);
    // A device or pipe is written to, never replaced; behind a link its target is replaced, not the link.
    if (fs::exists(path, ignored) && !fs::is_regular_file(path, ignored)) return write_stream(path, content);
    const fs::path real = fs::is_symlink(path, ignored) ? fs::canonical(path, ignored) : fs::path{};
    const std::string target = real.empty() ? path : real.string();
    std::string scratch = target + ".XXXXXX";
    Descriptor file(::mkostemp(scratch.data(), O_CLOEXEC));
    if (file.get() < 0) return file_error(errno == ENOENT ? "file.no_folder" : "file.cannot_write", path);
    // mkostemp gives 0600; a replaced file keeps its own mode, a new one gets the usual one.
    struct stat old {};
    const mode_t mask = ::umask(0);
    ::umask(mask);
    const mode_t mode = ::stat(target.c_str(), &old) == 0 ? (old.st_mode & 07777u) : (0666u & ~mask);
    const bool written = ::fchmod(file.get(), mode) == 0 && write_all(file.get(), content) &&
                         ::fsync(file.get()) == 0 && file.close() && ::rename(scratch.c_str(), target.c_str()) == 0;
    if (!written) {
        const Error error = file_error(errno == ENOSPC ? "file.disk_full" : "file.cannot_write", path);
        ::unlink(scratch.c_str());
        return error;
    }
    return {};
}

FolderLock::FolderLock(const std::string& path)
    : folder_(::open(fs::absolute(path).parent_path().c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
    while (folder_ >= 0 && ::flock(folder_, LOCK_EX) != 0 && errno == EINTR) {
    }
}

FolderLock::~FolderLock() {
    if (folder_ >= 0) ::close(folder_);
}

std::string resource_dir() {
    if (const char* set = std::getenv("SETWRIGHT_RESOURCES")) return set;
    std::error_code ignored;
    const fs::path installed = program_folder() / "../share/setwright";
    if (fs::is_directory(installed, ignored)) return installed.lexically_normal().string();
    return SETWRIGHT_SOURCE_RESOURCES;
}

std::string worker_path() {
    if (const char* set = std::getenv("SETWRIGHT_WORKER")) return set;
    std::error_code ignored;
    for (const char* place : {".", "../core", "../lib/setwright", "../../core"}) {
        const fs::path worker = (program_folder() / place / "setwright-worker").lexically_normal();
        if (fs::is_regular_file(worker, ignored)) return worker.string();
    }
    return "setwright-worker";
}

std::string sha256(std::string_view data) {
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned int length = 0;
    const int good = EVP_Digest(data.data(), data.size(), digest, &length, EVP_sha256(), nullptr);
    SETWRIGHT_ASSERT(good == 1 && length == 32, "SHA-256 is always at hand");
    static constexpr char hex[] = "0123456789abcdef";
    std::string text;
    for (unsigned int i = 0; i < length; ++i) {
        text += hex[digest[i] >> 4];
        text += hex[digest[i] & 15];
    }
    return text;
}

std::string pack(std::string_view data) {
    uLongf size = compressBound(data.size());
    std::vector<unsigned char> compressed(size);
    const int good = compress2(compressed.data(), &size, reinterpret_cast<const Bytef*>(data.data()), data.size(),
                               Z_BEST_COMPRESSION);
    SETWRIGHT_ASSERT(good == Z_OK, "a buffer of compressBound() holds the result");
    std::string text(4 * ((size + 2) / 3) + 1, '\0');
    SETWRIGHT_ASSERT(size < (1u << 30), "packed data of over 1 GiB does not go into a job file");
    const int length =
        EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()), compressed.data(), static_cast<int>(size));
    text.resize(static_cast<std::size_t>(length));
    return text;
}

Result<std::string> unpack(std::string_view text, std::size_t size_bytes) {
    const Error damaged = bad_input({"file.packed_damaged", {}});
    if (text.size() % 4 != 0 || text.size() > (1u << 30)) return damaged;
    std::vector<unsigned char> compressed(text.size() / 4 * 3 + 1);
    const int length = EVP_DecodeBlock(compressed.data(), reinterpret_cast<const unsigned char*>(text.data()),
                                       static_cast<int>(text.size()));
    if (length < 0) return damaged;
    // zlib expands at most about 1032:1; a larger claim is no honest size.
    if (size_bytes > (compressed.size() + 64) * 1100) return damaged;
    // One byte more than claimed: zlib calls a stream of one byte whole when it is given room for none.
    std::string data(size_bytes + 1, '\0');
    uLongf size = data.size();
    auto* const target = reinterpret_cast<unsigned char*>(data.data());
    if (uncompress(target, &size, compressed.data(), static_cast<uLong>(length)) != Z_OK || size != size_bytes)
        return damaged;
    data.pop_back();
    return data;
}

}  // namespace setwright::base
