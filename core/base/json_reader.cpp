#include "core/base/json_reader.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace setwright::base {

namespace {

/// No key of our files lies deeper than a dozen; more is an attack on the stack.
constexpr int deepest = 40;

/// Brackets open at once, strings left out; the parser and what walks its tree would recurse as deep.
int nesting(std::string_view text) {
    int depth = 0;
    int most = 0;
    bool in_string = false;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (in_string) {
            if (c == '\\') ++i;
            if (c == '"') in_string = false;
        } else if (c == '"') {
            in_string = true;
        } else if (c == '[' || c == '{') {
            most = std::max(most, ++depth);
        } else if (c == ']' || c == '}') {
            --depth;
        }
    }
    return most;
}

std::string below(const std::string& path, const std::string& name) {
    return path.empty() ? name : path + "." + name;
}

}  // namespace

Result<Json> parse_json(std::string_view text, const std::string& where, const JsonSentences& sentences) {
    if (nesting(text) > deepest) return bad_input({sentences.too_deep, {{"file", where}}});
    std::vector<std::set<std::string>> keys;
    std::string twice;
    bool is_twice = false;
    const auto watch = [&](int, Json::parse_event_t event, Json& parsed) {
        if (event == Json::parse_event_t::object_start) keys.emplace_back();
        if (event == Json::parse_event_t::object_end) keys.pop_back();
        if (event == Json::parse_event_t::key && !keys.back().insert(parsed.get<std::string>()).second) {
            twice = parsed.get<std::string>();
            is_twice = true;
        }
        return true;
    };
    const auto damaged = [&](std::ptrdiff_t line) {
        return bad_input({sentences.damaged, {{"file", where}, {"line", static_cast<std::int64_t>(line)}}});
    };
    try {
        Json tree = Json::parse(text, watch);
        if (is_twice) return bad_input({sentences.key_twice, {{"file", where}, {"key", twice}}});
        return tree;
    } catch (const Json::parse_error& error) {
        const std::size_t at = std::min(error.byte, text.size());
        return damaged(1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n'));
    } catch (const Json::exception&) {
        // A number that no double holds.
        return damaged(1);
    }
}

void JsonFaults::say(const char* id, const std::string& path, std::map<std::string, TextArgument> arguments) {
    if (first) return;
    arguments["file"] = where;
    arguments["key"] = path;
    first = bad_input({id, std::move(arguments)});
}

bool JsonValue::is(bool (Json::*test)() const noexcept, const char* wanted) const {
    if (!value_)
        say(faults_->sentences.missing_key);
    else if (!(value_->*test)())
        wrong(wanted);
    else
        return true;
    return false;
}

void JsonValue::wrong(const char* wanted) const {
    say(faults_->sentences.wrong_type, {{"wanted", std::vector<Text>{Text{wanted, {}}}}});
}

void JsonValue::out_of_range(const std::string& low, const std::string& high) const {
    say(faults_->sentences.out_of_range,
        {{"value", value_->dump(-1, ' ', false, Json::error_handler_t::replace)}, {"low", low}, {"high", high}});
}

bool JsonValue::is_given() const {
    if (!value_) say(faults_->sentences.missing_key);
    return value_ && !value_->is_null();
}

std::string JsonValue::text() const {
    return is(&Json::is_string, "json.text") ? value_->get<std::string>() : std::string();
}

bool JsonValue::truth() const {
    return is(&Json::is_boolean, "json.truth") && value_->get<bool>();
}

double JsonValue::number() const {
    if (!is(&Json::is_number, "json.number")) return 0;
    const auto x = value_->get<double>();
    if (std::isfinite(x)) return x;
    wrong("json.number");
    return 0;
}

double JsonValue::number_in(double low, double high) const {
    const double x = number();
    if (value_ && (x < low || x > high)) out_of_range(number_text(low), number_text(high));
    return x;
}

int JsonValue::integer(int low, int high) const {
    if (!is(&Json::is_number_integer, "json.whole")) return low;
    // An unsigned number beyond int64 would wrap on its way into a signed one.
    const bool huge = value_->is_number_unsigned() && value_->get<std::uint64_t>() > std::uint64_t{1} << 62;
    const std::int64_t n = huge ? std::numeric_limits<std::int64_t>::max() : value_->get<std::int64_t>();
    if (n >= low && n <= high) return static_cast<int>(n);
    out_of_range(std::to_string(low), std::to_string(high));
    return low;
}

int JsonValue::any_integer() const {
    return integer(std::numeric_limits<int>::min(), std::numeric_limits<int>::max());
}

std::uint64_t JsonValue::count() const {
    return is(&Json::is_number_unsigned, "json.count") ? value_->get<std::uint64_t>() : 0;
}

std::uint32_t JsonValue::id_number(bool may_be_none) const {
    constexpr std::uint32_t largest = std::numeric_limits<std::uint32_t>::max();
    const std::uint64_t n = count();
    if (value_ && (n > largest || (n == 0 && !may_be_none)))
        out_of_range(may_be_none ? "0" : "1", std::to_string(largest));
    return static_cast<std::uint32_t>(n);
}

std::vector<JsonValue> JsonValue::items() const {
    std::vector<JsonValue> list;
    if (!is(&Json::is_array, "json.list")) return list;
    for (std::size_t i = 0; i < value_->size(); ++i)
        list.emplace_back(&(*value_)[i], path_ + "[" + std::to_string(i) + "]", *faults_);
    return list;
}

std::vector<JsonValue> JsonValue::items(std::size_t count) const {
    std::vector<JsonValue> list = items();
    if (list.size() != count) say(faults_->sentences.list_length, {{"count", static_cast<std::int64_t>(count)}});
    list.resize(count, JsonValue(nullptr, path_, *faults_));
    return list;
}

std::vector<std::string> JsonValue::texts() const {
    std::vector<std::string> list;
    for (const JsonValue& item : items()) list.push_back(item.text());
    return list;
}

JsonFields JsonValue::fields() const {
    return JsonFields(is(&Json::is_object, "json.object") ? value_ : nullptr, path_, *faults_);
}

std::vector<std::pair<std::string, JsonValue>> JsonValue::members() const {
    std::vector<std::pair<std::string, JsonValue>> list;
    if (!is(&Json::is_object, "json.object")) return list;
    for (const auto& [name, value] : value_->items())
        list.emplace_back(name, JsonValue(&value, below(path_, name), *faults_));
    return list;
}

JsonFields::~JsonFields() {
    if (!object_) return;
    for (const auto& [name, value] : object_->items())
        if (!asked_.contains(name)) faults_->say(faults_->sentences.unknown_key, below(path_, name));
}

JsonValue JsonFields::operator[](const std::string& name) {
    asked_.insert(name);
    const auto found = object_ ? object_->find(name) : Json::const_iterator();
    return JsonValue(object_ && found != object_->end() ? &*found : nullptr, below(path_, name), *faults_);
}

}  // namespace setwright::base
