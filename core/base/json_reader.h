#pragma once

#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/base/id.h"
#include "core/base/result.h"

/// Reading JSON that came from outside. Includes the JSON library: for .cpp files only.
namespace setwright::base {

/// Keeps the order of the file, which check sums depend on.
using Json = nlohmann::ordered_json;

/// What one sort of file says about its faults: keys of the translations. All are given {file}; most {key}, the path.
struct JsonSentences {
    /// {line}.
    const char* damaged;
    const char* too_deep;
    const char* key_twice;
    const char* missing_key;
    const char* unknown_key;
    /// {wanted}: the kind of value.
    const char* wrong_type;
    /// {value}, {low}, {high}.
    const char* out_of_range;
    /// {value}, {allowed}.
    const char* word_unknown;
    /// {count}.
    const char* list_length;
};

/// The tree, or what is wrong with the text: no JSON (with the line), nested so deep that walking it would exhaust the
/// stack, a number that no double holds, a key given twice (one of the two would be lost).
Result<Json> parse_json(std::string_view text, const std::string& where, const JsonSentences& sentences);

/// Keeps the first fault; what is read after it does not matter.
struct JsonFaults {
    std::string where;
    const JsonSentences& sentences;
    std::optional<Error> first;

    void say(const char* id, const std::string& path, std::map<std::string, TextArgument> arguments = {});
};

class JsonFields;

/// One value of the file and the path to it. Reading the wrong type, or what is not there, notes a fault and gives a
/// blank. The tree and the faults must outlive it.
class JsonValue {
  public:
    /// `value` is null where there is none.
    JsonValue(const Json* value, std::string path, JsonFaults& faults)
        : value_(value), path_(std::move(path)), faults_(&faults) {}

    /// Null where there is none.
    const Json* raw() const { return value_; }
    bool is_there() const { return value_ != nullptr; }
    /// False for null; a fault where there is nothing at all.
    bool is_given() const;
    bool is_text() const { return value_ && value_->is_string(); }
    bool is_object() const { return value_ && value_->is_object(); }

    std::string text() const;
    bool truth() const;
    /// Finite.
    double number() const;
    double number_in(double low, double high) const;
    /// A length, tolerance or the like: not negative, and no larger than a hall.
    double size_mm() const { return number_in(0, 1e6); }
    int integer(int low, int high) const;
    int any_integer() const;
    std::uint64_t count() const;
    std::uint32_t id_number(bool may_be_none) const;

    template <class Id>
    Id id() const {
        return Id{id_number(false)};
    }
    template <class Id>
    std::vector<Id> id_list() const {
        std::vector<Id> list;
        for (const JsonValue& item : items()) list.push_back(item.id<Id>());
        return list;
    }

    /// Index of the text in `words`, 0 where it is none of them.
    template <class Words>
    std::size_t one_of(const Words& words) const {
        const std::string said = text();
        for (std::size_t i = 0; i < words.size(); ++i)
            if (said == words[i]) return i;
        std::string allowed;
        for (const auto& w : words) allowed += (allowed.empty() ? "\"" : ", \"") + std::string(w) + "\"";
        say(faults_->sentences.word_unknown, {{"value", said}, {"allowed", allowed}});
        return 0;
    }
    template <class Enum, class Words>
    Enum word(const Words& words) const {
        return static_cast<Enum>(one_of(words));
    }

    std::vector<JsonValue> items() const;
    /// Exactly `count` of them, blanks where they are missing.
    std::vector<JsonValue> items(std::size_t count) const;
    std::vector<std::string> texts() const;
    template <std::size_t N>
    std::array<double, N> numbers() const {
        std::array<double, N> out{};
        const auto list = items(N);
        for (std::size_t i = 0; i < N; ++i) out[i] = list[i].number();
        return out;
    }
    /// The same without a fault: none where it is anything else.
    template <std::size_t N>
    std::optional<std::array<double, N>> numbers_if() const {
        std::array<double, N> out{};
        if (!value_ || !value_->is_array() || value_->size() != N) return {};
        for (std::size_t i = 0; i < N; ++i) {
            if (!(*value_)[i].is_number()) return {};
            out[i] = (*value_)[i].template get<double>();
        }
        return out;
    }

    /// An object whose keys are all known.
    JsonFields fields() const;
    /// Every member of an object whose keys are free.
    std::vector<std::pair<std::string, JsonValue>> members() const;

    void say(const char* id, std::map<std::string, TextArgument> arguments = {}) const {
        faults_->say(id, path_, std::move(arguments));
    }
    /// Another kind of value is wanted; `wanted` is a key of the translations.
    void wrong(const char* wanted) const;
    /// Notes what another reader found under this value.
    void adopt(const Error& error) const {
        if (!faults_->first) faults_->first = error;
    }
    std::string where() const { return faults_->where + ": " + path_; }

  private:
    bool is(bool (Json::*test)() const noexcept, const char* wanted) const;
    void out_of_range(const std::string& low, const std::string& high) const;

    const Json* value_;
    std::string path_;
    JsonFaults* faults_;
};

/// An object whose keys are all known: what nobody has asked for by the end is a fault, so that a misspelt key is never
/// passed over in silence.
class JsonFields {
  public:
    JsonFields(const Json* object, std::string path, JsonFaults& faults)
        : object_(object), path_(std::move(path)), faults_(&faults) {}
    JsonFields(const JsonFields&) = delete;
    JsonFields& operator=(const JsonFields&) = delete;
    ~JsonFields();

    bool has(const char* name) const { return object_ && object_->contains(name); }
    JsonValue operator[](const std::string& name);

  private:
    const Json* object_;
    std::string path_;
    JsonFaults* faults_;
    std::set<std::string> asked_;
};

}  // namespace setwright::base
