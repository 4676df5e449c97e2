#pragma once

#include <array>
#include <string>
#include <vector>

#include "core/base/file.h"
#include "core/base/json_reader.h"

/// What the writing and the reading of a job file must agree on. Includes the JSON library: for .cpp files only.
namespace setwright::setup::job_format {

inline constexpr const char* name = "setwright-job";
inline constexpr int version = 1;

// Words by the number of their enum value.
inline constexpr std::array host_kinds{"table", "placement", "piece", "pieces", "floor"};
inline constexpr std::array sides{"south", "east", "north", "west"};
inline constexpr std::array hands{"none", "right", "left"};
inline constexpr std::array packer_places{"under", "face"};
inline constexpr std::array surface_kinds{"plane", "cylinder", "cone", "sphere", "torus", "spline", "other"};
inline constexpr std::array length_units{"mm", "in"};

// Words that are kept as text.
inline constexpr std::array sides_of_M{"", "-X", "+X", "-Y", "+Y", "-Z", "+Z"};
inline constexpr std::array papers{"A4", "A3", "letter", "tabloid"};
inline constexpr std::array processes{"mag", "tig", "stick"};
inline constexpr std::array part_hands{"", "as drawn", "left", "right"};

template <class Words, class Enum>
const char* word(const Words& words, Enum value) {
    return words[static_cast<std::size_t>(value)];
}

/// Words of an enum that has a key() of its own.
template <class Enum>
std::vector<std::string> words_of(Enum last) {
    std::vector<std::string> words;
    for (int i = 0; i <= static_cast<int>(last); ++i) words.emplace_back(key(static_cast<Enum>(i)));
    return words;
}

inline std::string definition_sha256(const base::Json& definition) {
    return base::sha256(definition.dump());
}

}  // namespace setwright::setup::job_format
