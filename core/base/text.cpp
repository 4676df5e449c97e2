#include "core/base/text.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

namespace setwright::base {

namespace {

struct Renderer {
    const TextCatalogue& catalogue;
    DisplayUnit unit;

    std::string value(const TextArgument& argument) const {
        struct Visitor {
            const Renderer& self;
            std::string operator()(const std::string& s) const { return s; }
            std::string operator()(std::int64_t n) const { return std::to_string(n); }
            std::string operator()(double x) const { return decimal_text(x, 2); }
            std::string operator()(LengthArg l) const { return format_length_with_unit(l.mm, self.unit); }
            std::string operator()(const std::vector<Text>& list) const { return self.joined(list); }
        };
        return std::visit(Visitor{*this}, argument);
    }

    std::string sentence_or(const char* id, std::string fallback) const {
        const auto found = catalogue.sentences().find(id);
        return found == catalogue.sentences().end() ? std::move(fallback) : found->second;
    }

    std::string joined(const std::vector<Text>& list) const {
        std::string out;
        for (std::size_t i = 0; i < list.size(); ++i) {
            if (i > 0) out += i + 1 == list.size() ? sentence_or("list.and", ", ") : sentence_or("list.comma", ", ");
            out += catalogue.render(list[i], unit);
        }
        return out;
    }

    /// `pattern` is what stands after "name, plural," : `one {…} other {…}`.
    std::string plural(std::string_view pattern, const TextArgument& argument, const Text& text) const {
        const auto* count = std::get_if<std::int64_t>(&argument);
        const std::string_view wanted = count && *count == 1 ? "one" : "other";
        std::string_view chosen;
        while (!pattern.empty()) {
            const std::size_t open = pattern.find('{');
            if (open == std::string_view::npos) break;
            std::string_view name = pattern.substr(0, open);
            while (!name.empty() && name.front() == ' ') name.remove_prefix(1);
            while (!name.empty() && name.back() == ' ') name.remove_suffix(1);
            const std::size_t close = closing_brace(pattern, open);
            if (close == std::string_view::npos) break;
            if (name == wanted || (chosen.empty() && name == "other"))
                chosen = pattern.substr(open + 1, close - open - 1);
            if (name == wanted) break;
            pattern.remove_prefix(close + 1);
        }
        std::string filled;
        for (const char c : chosen) filled += c == '#' ? value(argument) : std::string(1, c);
        return expand(filled, text);
    }

    static std::size_t closing_brace(std::string_view pattern, std::size_t open) {
        int depth = 0;
        for (std::size_t i = open; i < pattern.size(); ++i) {
            if (pattern[i] == '{') ++depth;
            if (pattern[i] == '}' && --depth == 0) return i;
        }
        return std::string_view::npos;
    }

    std::string expand(std::string_view pattern, const Text& text) const {
        std::string out;
        for (std::size_t i = 0; i < pattern.size();) {
            const char c = pattern[i];
            if ((c == '{' || c == '}') && i + 1 < pattern.size() && pattern[i + 1] == c) {
                out += c;
                i += 2;
                continue;
            }
            const std::size_t close = c == '{' ? closing_brace(pattern, i) : std::string_view::npos;
            if (close == std::string_view::npos) {
                out += c;
                ++i;
                continue;
            }
            const std::string_view inside = pattern.substr(i + 1, close - i - 1);
            const std::size_t comma = inside.find(',');
            const auto found = text.arguments.find(std::string(inside.substr(0, comma)));
            if (found == text.arguments.end()) {
                out += pattern.substr(i, close - i + 1);
            } else if (comma == std::string_view::npos) {
                out += value(found->second);
            } else {
                std::string_view rest = inside.substr(comma + 1);
                rest.remove_prefix(std::min(rest.size(), rest.find("plural,") + 7));
                out += plural(rest, found->second, text);
            }
            i = close + 1;
        }
        return out;
    }
};

}  // namespace

TextCatalogue TextCatalogue::load(const std::string& folder) {
    TextCatalogue catalogue;
    std::error_code error;
    std::vector<std::filesystem::path> paths;
    for (std::filesystem::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error))
        if (entry->path().extension() == ".json") paths.push_back(entry->path());
    std::sort(paths.begin(), paths.end());
    for (const std::filesystem::path& path : paths) {
        std::ifstream file(path, std::ios::binary);
        std::stringstream content;
        content << file.rdbuf();
        catalogue.sentences_.merge(parse(content.str()).sentences_);
    }
    return catalogue;
}

TextCatalogue TextCatalogue::parse(std::string_view json) {
    TextCatalogue catalogue;
    const auto document = nlohmann::json::parse(json, nullptr, false);
    if (!document.is_object()) return catalogue;
    for (const auto& [key, sentence] : document.items())
        if (sentence.is_string()) catalogue.sentences_.emplace(key, sentence.get<std::string>());
    return catalogue;
}

std::string TextCatalogue::render(const Text& text, DisplayUnit unit) const {
    const Renderer renderer{*this, unit};
    const auto found = sentences_.find(text.id);
    if (found != sentences_.end()) return renderer.expand(found->second, text);
    std::string out = text.id;
    for (const auto& [name, argument] : text.arguments) out += ' ' + name + '=' + renderer.value(argument);
    return out;
}

}  // namespace setwright::base
