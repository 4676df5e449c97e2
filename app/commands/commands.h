#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/base/result.h"
#include "core/base/text.h"

/// One function per command of the command line; each gives the exit code.
namespace setwright::app {

inline constexpr int exit_good = 0;
inline constexpr int exit_failed = 1;
inline constexpr int exit_bad_input = 2;
inline constexpr int exit_bug = 3;

/// Where a command speaks: answers on standard output, remarks and errors on standard error.
class Console {
  public:
    explicit Console(base::TextCatalogue texts) : texts_(std::move(texts)) {}

    const base::TextCatalogue& texts() const { return texts_; }
    void say(const base::Text& text, base::DisplayUnit unit = {}) const;
    void remark(const base::Text& text) const;
    /// One clear sentence, and the exit code that goes with it.
    int fail(const base::Error& error) const;
    /// Raw output: JSON.
    void print(const std::string& text) const;

  private:
    base::TextCatalogue texts_;
};

struct InspectOptions {
    std::string file;
    bool json = false;
};
int inspect(const Console& console, const InspectOptions& options);

struct NewOptions {
    std::string file;
    std::string job;
    std::string table = "grid50";
    /// Empty: the starter shelf of the table.
    std::string shelf;
    /// Write over a file that is there.
    bool force = false;
};
int create(const Console& console, const NewOptions& options);

/// Commands on a job name the stage by its number on the drawing, from 1.
struct LayOptions {
    std::string job;
    int stage = 1;
    std::string down = "-Z";
    double turn_deg = 0;
    /// "X,Y,Z": where the corner of the weldment's box comes (west, south, lowest), as lengths.
    std::string at;
};
int lay(const Console& console, const LayOptions& options);

struct PlaceOptions {
    std::string job;
    std::string callout;
    std::string component;
    int stage = 1;
};
int place(const Console& console, const PlaceOptions& options);

struct RemoveOptions {
    std::string job;
    int number = 0;
    bool with_guests = false;
    int stage = 1;
};
int remove(const Console& console, const RemoveOptions& options);

struct SetOptions {
    std::string job;
    std::string what;
    std::string value;
    int stage = 1;
};
int set(const Console& console, const SetOptions& options);

struct CheckOptions {
    std::string job;
    bool json = false;
    bool timing = false;
};
int check(const Console& console, const CheckOptions& options);

struct SheetsOptions {
    std::string job;
    std::string out;
    std::string paper;
    std::string units;
};
int sheets(const Console& console, const SheetsOptions& options);

/// Lists what can be placed: component ids of the catalogue with name and what the shelf has.
struct ShelfOptions {
    std::string job;
};
int shelf(const Console& console, const ShelfOptions& options);

}  // namespace setwright::app
