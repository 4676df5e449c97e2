#pragma once

#include <string>
#include <string_view>

#include "core/base/result.h"

namespace setwright::base {

/// The whole file. Errors say: not there, a directory, no permission, larger than `limit_bytes`.
Result<std::string> read_file(const std::string& path, std::size_t limit_bytes = std::size_t{4} << 30);

/// Writes a new file beside `path`, flushes it to the disk and renames it over `path`: the old file stays whole
/// whenever this fails (disk full, no permission, a directory in the way). A device or pipe is written to as it is.
Result<void> write_file(const std::string& path, std::string_view content);

/// While it lives, nobody else holds the lock of the folder that `path` lies in: for reading a file, changing it and
/// writing it back. Waits for its turn; where a folder cannot be locked it does nothing.
class FolderLock {
  public:
    explicit FolderLock(const std::string& path);
    FolderLock(const FolderLock&) = delete;
    FolderLock& operator=(const FolderLock&) = delete;
    ~FolderLock();

  private:
    int folder_;
};

/// Where tables, catalogue, translations, schema and font live: $SETWRIGHT_RESOURCES, else beside the installed
/// program (../share/setwright), else the source tree it was built from.
std::string resource_dir();
/// The helper program: $SETWRIGHT_WORKER, else beside the program, in ../core or ../lib/setwright.
std::string worker_path();

/// Lower-case hex SHA-256.
std::string sha256(std::string_view data);

/// zlib and base64, for data kept inside JSON. `unpack` checks the size it was given.
std::string pack(std::string_view data);
Result<std::string> unpack(std::string_view text, std::size_t size_bytes);

}  // namespace setwright::base
