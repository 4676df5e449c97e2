#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "core/base/units.h"

namespace setwright::base {

struct Text;

/// A length that the reader sees in the job's display unit.
struct LengthArg {
    double mm = 0;
    friend bool operator==(const LengthArg&, const LengthArg&) = default;
};

/// One value named in a sentence. Nested texts (a direction word, a list of names) are rendered first.
using TextArgument = std::variant<std::string, std::int64_t, double, LengthArg, std::vector<Text>>;

/// What core says: a sentence's key and its values, never the sentence itself.
struct Text {
    std::string id;
    std::map<std::string, TextArgument> arguments;

    bool empty() const { return id.empty(); }
    friend bool operator==(const Text&, const Text&) = default;
};

/// Sentences of one language, read from the files resources/translations/<language>/*.json: {"key": "sentence with
/// {name}"}.
///
/// `{name}` puts a value in; `{n, plural, one {# hole} other {# holes}}` picks by count, `#` is the count. A nested
/// list is joined with the language's "list.comma" and "list.and". `{{` and `}}` are literal braces.
class TextCatalogue {
  public:
    /// A faulty file is left out: its texts then show their keys and values.
    static TextCatalogue load(const std::string& folder);
    static TextCatalogue parse(std::string_view json);

    bool has(std::string_view id) const { return sentences_.find(std::string(id)) != sentences_.end(); }
    const std::map<std::string, std::string>& sentences() const { return sentences_; }

    /// Keys of missing sentences are shown as they are, with the values behind, so that nothing is lost.
    std::string render(const Text& text, DisplayUnit unit = {}) const;

  private:
    std::map<std::string, std::string> sentences_;
};

}  // namespace setwright::base
