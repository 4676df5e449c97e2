#include "core/worker/step_text.h"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <map>
#include <optional>
#include <set>
#include <unordered_map>
#include <unordered_set>

namespace setwright::worker {

namespace {

using Number = std::int64_t;

bool is_space(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool is_keyword(char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '_' || is_digit(c);
}

/// One line of the data section: all keywords of a complex one, all references and strings in order.
struct Entity {
    Number number = 0;
    std::vector<std::string_view> keywords;
    std::vector<Number> references;
    std::vector<std::string_view> strings;
    std::string_view body;

    bool is(std::string_view keyword) const {
        return std::find(keywords.begin(), keywords.end(), keyword) != keywords.end();
    }
};

constexpr std::string_view solid_kinds[] = {"MANIFOLD_SOLID_BREP", "BREP_WITH_VOIDS",
                                            "FACETED_BREP",        "CSG_SOLID",
                                            "EXTRUDED_AREA_SOLID", "REVOLVED_AREA_SOLID",
                                            "EXTRUDED_FACE_SOLID", "REVOLVED_FACE_SOLID",
                                            "SWEPT_DISK_SOLID",    "SURFACE_CURVE_SWEPT_AREA_SOLID",
                                            "SOLID_REPLICA"};
constexpr std::string_view other_kinds[] = {"CLOSED_SHELL",
                                            "ORIENTED_CLOSED_SHELL",
                                            "SHELL_BASED_SURFACE_MODEL",
                                            "PRODUCT",
                                            "PRODUCT_DEFINITION",
                                            "PRODUCT_DEFINITION_WITH_ASSOCIATED_DOCUMENTS",
                                            "PRODUCT_DEFINITION_FORMATION",
                                            "PRODUCT_DEFINITION_FORMATION_WITH_SPECIFIED_SOURCE",
                                            "PRODUCT_DEFINITION_SHAPE",
                                            "SHAPE_DEFINITION_REPRESENTATION",
                                            "NEXT_ASSEMBLY_USAGE_OCCURRENCE",
                                            "SHAPE_REPRESENTATION_RELATIONSHIP",
                                            "LENGTH_UNIT",
                                            "GLOBAL_UNIT_ASSIGNED_CONTEXT",
                                            "TESSELLATED_SOLID"};

bool is_solid(const Entity& e) {
    return std::any_of(e.keywords.begin(), e.keywords.end(), [](std::string_view k) {
        return std::find(std::begin(solid_kinds), std::end(solid_kinds), k) != std::end(solid_kinds);
    });
}

bool is_representation(std::string_view keyword) {
    return keyword.ends_with("SHAPE_REPRESENTATION") && !keyword.starts_with("CONTEXT_DEPENDENT");
}

bool is_wanted(const Entity& e) {
    static const std::unordered_set<std::string_view> wanted = [] {
        std::unordered_set<std::string_view> set(std::begin(solid_kinds), std::end(solid_kinds));
        set.insert(std::begin(other_kinds), std::end(other_kinds));
        return set;
    }();
    return std::any_of(e.keywords.begin(), e.keywords.end(),
                       [](std::string_view k) { return wanted.count(k) > 0 || is_representation(k); });
}

/// Walks the lines of the data section. After damage it goes on at the next line that starts like one.
class Scanner {
  public:
    explicit Scanner(std::string_view text) : text_(text) {}

    /// False at the end.
    bool next(Entity& entity) {
        while (seek_start()) {
            entity = {};
            const std::size_t start = at_;
            ++at_;
            entity.number = number();
            skip_space();
            if (entity.number <= 0 || at_ >= text_.size() || text_[at_] != '=') continue;
            ++at_;
            body(entity);
            entity.body = text_.substr(start, at_ - start);
            return true;
        }
        return false;
    }

  private:
    bool seek_start() {
        while (at_ < text_.size()) {
            skip_space();
            if (at_ >= text_.size()) return false;
            if (text_[at_] == '#') return true;
            if (text_.compare(at_, 2, "/*") == 0) {
                skip_comment();
                continue;
            }
            skip_statement();
        }
        return false;
    }
    void skip_comment() {
        const std::size_t end = text_.find("*/", at_ + 2);
        at_ = end == std::string_view::npos ? text_.size() : end + 2;
    }
    void skip_statement() {
        for (; at_ < text_.size(); ++at_) {
            if (text_[at_] == '\'') {
                string();
                --at_;
            } else if (text_[at_] == ';') {
                ++at_;
                return;
            }
        }
    }
    void skip_space() {
        while (at_ < text_.size() && is_space(text_[at_])) ++at_;
    }
    Number number() {
        Number n = 0;
        int digits = 0;
        for (; at_ < text_.size() && is_digit(text_[at_]); ++at_)
            if (++digits < 18) n = n * 10 + (text_[at_] - '0');
        return digits > 0 && digits < 18 ? n : -1;
    }
    /// Between the quotes, still coded. A new line that starts an entity ends an open one.
    std::string_view string() {
        const std::size_t start = ++at_;
        for (; at_ < text_.size(); ++at_) {
            if (text_[at_] == '\n' && starts_entity(at_ + 1)) return text_.substr(start, at_ - start);
            if (text_[at_] != '\'') continue;
            if (at_ + 1 < text_.size() && text_[at_ + 1] == '\'') {
                ++at_;
                continue;
            }
            return text_.substr(start, at_++ - start);
        }
        return text_.substr(start);
    }
    bool starts_entity(std::size_t at) const {
        if (at >= text_.size() || text_[at] != '#') return false;
        do ++at;
        while (at < text_.size() && is_digit(text_[at]));
        while (at < text_.size() && text_[at] == ' ') ++at;
        return at < text_.size() && text_[at] == '=';
    }
    void body(Entity& entity) {
        int depth = 0;
        skip_space();
        const bool complex = at_ < text_.size() && text_[at_] == '(';
        while (at_ < text_.size()) {
            const char c = text_[at_];
            if (c == ';') {
                ++at_;
                return;
            }
            if (c == '\n' && starts_entity(at_ + 1)) return;
            if (c == '\'') {
                entity.strings.push_back(string());
            } else if (c == '#') {
                ++at_;
                entity.references.push_back(number());
            } else if (c == '/' && text_.compare(at_, 2, "/*") == 0) {
                skip_comment();
            } else if (is_keyword(c) && !is_digit(c) && depth <= 1) {
                const std::size_t start = at_;
                while (at_ < text_.size() && is_keyword(text_[at_])) ++at_;
                const std::string_view word = text_.substr(start, at_ - start);
                skip_space();
                // Inside a simple entity's brackets a word before "(" is a typed value, not a keyword.
                if (at_ < text_.size() && text_[at_] == '(' && (depth == 0 || complex)) entity.keywords.push_back(word);
            } else {
                if (c == '(') ++depth;
                if (c == ')') --depth;
                ++at_;
            }
        }
    }

    std::string_view text_;
    std::size_t at_ = 0;
};

void append_utf8(std::string& out, std::uint32_t code) {
    if (code < 0x80) {
        out += static_cast<char>(code);
    } else if (code < 0x800) {
        out += static_cast<char>(0xC0 | (code >> 6));
        out += static_cast<char>(0x80 | (code & 0x3F));
    } else {
        out += static_cast<char>(0xE0 | (code >> 12));
        out += static_cast<char>(0x80 | ((code >> 6) & 0x3F));
        out += static_cast<char>(0x80 | (code & 0x3F));
    }
}

std::optional<std::uint32_t> hexadecimal(std::string_view digits) {
    std::uint32_t value = 0;
    const auto end = digits.data() + digits.size();
    const auto read = std::from_chars(digits.data(), end, value, 16);
    if (read.ec != std::errc{} || read.ptr != end) return {};
    return value;
}

/// ISO 10303-21 strings: doubled quotes, \X2\....\X0\ and \X\.. codes.
std::string decoded(std::string_view coded) {
    std::string out;
    for (std::size_t i = 0; i < coded.size();) {
        if (coded.compare(i, 2, "''") == 0 || coded.compare(i, 2, "\\\\") == 0) {
            out += coded[i];
            i += 2;
        } else if (coded.compare(i, 4, "\\X2\\") == 0) {
            i += 4;
            while (i + 4 <= coded.size() && coded[i] != '\\') {
                if (const auto code = hexadecimal(coded.substr(i, 4))) append_utf8(out, *code);
                i += 4;
            }
            if (coded.compare(i, 4, "\\X0\\") == 0) i += 4;
        } else if (coded.compare(i, 3, "\\X\\") == 0 && i + 5 <= coded.size()) {
            if (const auto code = hexadecimal(coded.substr(i + 3, 2))) append_utf8(out, *code);
            i += 5;
        } else if (coded[i] == '\n' || coded[i] == '\r') {
            ++i;
        } else {
            out += coded[i++];
        }
    }
    while (!out.empty() && out.back() == ' ') out.pop_back();
    return out;
}

std::string unit_of(const Entity& e) {
    if (e.is("CONVERSION_BASED_UNIT")) {
        std::string name = e.strings.empty() ? "" : decoded(e.strings[0]);
        std::transform(name.begin(), name.end(), name.begin(),
                       [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
        if (name.find("inch") != std::string::npos) return "inch";
        if (name.find("foot") != std::string::npos || name.find("feet") != std::string::npos) return "ft";
        return name;
    }
    if (e.body.find(".MILLI.") != std::string_view::npos) return "mm";
    if (e.body.find(".CENTI.") != std::string_view::npos) return "cm";
    return "m";
}

/// Which product owns which solid, and how often the assembly places it.
class Assembly {
  public:
    explicit Assembly(const std::vector<Entity>& entities) {
        for (const Entity& e : entities) by_number_[e.number] = &e;
        std::map<Number, Number> definition_of_shape;
        for (const Entity& e : entities) {
            if (e.is("PRODUCT_DEFINITION_SHAPE") && !e.references.empty())
                definition_of_shape[e.number] = e.references[0];
            if (e.is("NEXT_ASSEMBLY_USAGE_OCCURRENCE")) {
                const bool whole =
                    e.references.size() >= 2 && is_definition(e.references[0]) && is_definition(e.references[1]);
                if (whole) parents_[e.references[1]].push_back(e.references[0]);
                broken_placements_ += whole ? 0 : 1;
            }
            if (e.keywords.size() == 1 && e.is("SHAPE_REPRESENTATION_RELATIONSHIP") && e.references.size() >= 2) {
                linked_[e.references[0]].push_back(e.references[1]);
                linked_[e.references[1]].push_back(e.references[0]);
            }
        }
        for (const Entity& e : entities) {
            if (!e.is("SHAPE_DEFINITION_REPRESENTATION") || e.references.size() < 2) continue;
            const auto definition = definition_of_shape.find(e.references[0]);
            if (definition == definition_of_shape.end() || !is_definition(definition->second)) continue;
            add_owner(e.references[1], definition->second, direct_);
            for (const Number representation : linked_[e.references[1]])
                add_owner(representation, definition->second, through_link_);
        }
    }

    int broken_placements() const { return broken_placements_; }

    SolidInText solid(const Entity& e) {
        SolidInText solid{e.number, e.strings.empty() ? "" : decoded(e.strings[0]), 0};
        const Owners& owners = direct_.count(e.number) ? direct_ : through_link_;
        if (const auto found = owners.find(e.number); found != owners.end()) {
            for (const Number definition : found->second) {
                solid.instances += paths(definition);
                if (solid.name.empty()) solid.name = product_name(definition);
            }
        }
        solid.instances = std::max(solid.instances, 1);
        return solid;
    }

  private:
    using Owners = std::map<Number, std::set<Number>>;

    const Entity* find(Number number) const {
        const auto found = by_number_.find(number);
        return found == by_number_.end() ? nullptr : found->second;
    }
    bool is_definition(Number number) const {
        const Entity* const e = find(number);
        return e && (e->is("PRODUCT_DEFINITION") || e->is("PRODUCT_DEFINITION_WITH_ASSOCIATED_DOCUMENTS"));
    }
    void add_owner(Number representation, Number definition, Owners& owners) {
        const Entity* const e = find(representation);
        if (!e || !std::any_of(e->keywords.begin(), e->keywords.end(), is_representation)) return;
        for (const Number item : e->references) {
            const Entity* const solid = find(item);
            if (solid && is_solid(*solid)) owners[item].insert(definition);
        }
    }
    int paths(Number definition) {
        constexpr int most = 1'000'000;
        const auto known = paths_.find(definition);
        if (known != paths_.end()) return known->second;
        // 0 while it is being counted: a circle of placements adds nothing.
        paths_[definition] = 0;
        const auto parents = parents_.find(definition);
        Number sum = parents == parents_.end() ? 1 : 0;
        if (parents != parents_.end())
            for (const Number parent : parents->second) sum = std::min<Number>(sum + paths(parent), most);
        return paths_[definition] = static_cast<int>(sum);
    }
    std::string product_name(Number definition) const {
        const Entity* e = find(definition);
        for (int hop = 0; e && hop < 2; ++hop) e = e->references.empty() ? nullptr : find(e->references[0]);
        if (!e || !e->is("PRODUCT")) return {};
        for (const std::size_t i : {1u, 0u}) {
            if (e->strings.size() <= i) continue;
            if (const std::string name = decoded(e->strings[i]); !name.empty()) return name;
        }
        return {};
    }

    std::unordered_map<Number, const Entity*> by_number_;
    std::map<Number, std::vector<Number>> parents_, linked_;
    Owners direct_, through_link_;
    std::map<Number, int> paths_;
    int broken_placements_ = 0;
};

std::vector<Entity> wanted_entities(std::string_view data) {
    std::vector<Entity> entities;
    Scanner scanner(data);
    for (Entity entity; scanner.next(entity);)
        if (is_wanted(entity)) entities.push_back(std::move(entity));
    return entities;
}

/// A closed shell that nothing uses was a solid before a line was damaged: the line that refers to it is taken for that
/// solid. Returns the number of shells to which no line refers, less the solids that refer to no shell.
int mend_keywords(std::string_view data, std::vector<Entity>& entities) {
    std::set<Number> shells, unused;
    for (const Entity& e : entities)
        if (e.is("CLOSED_SHELL")) shells.insert(e.number);
    unused = shells;
    int solids_without_shell = 0;
    for (const Entity& e : entities) {
        if (!is_solid(e) && !e.is("ORIENTED_CLOSED_SHELL") && !e.is("SHELL_BASED_SURFACE_MODEL")) continue;
        bool has_shell = false;
        for (const Number reference : e.references) {
            unused.erase(reference);
            has_shell |= shells.count(reference) > 0;
        }
        if (e.is("MANIFOLD_SOLID_BREP") && !has_shell) ++solids_without_shell;
    }
    if (unused.empty()) return 0;
    Scanner scanner(data);
    for (Entity entity; scanner.next(entity);) {
        // Colours and layers refer to shells too; is_wanted() ones have been seen.
        if (entity.references.size() != 1 || unused.count(entity.references[0]) == 0 || is_wanted(entity)) continue;
        unused.erase(entity.references[0]);
        entity.keywords = {"MANIFOLD_SOLID_BREP"};
        entities.push_back(std::move(entity));
    }
    return std::max(0, static_cast<int>(unused.size()) - solids_without_shell);
}

/// The unit of the representations that hold solids; of any context where none does.
void find_unit(const std::vector<Entity>& entities, StepText& found) {
    std::map<Number, std::string> unit_of_length, unit_of_context;
    std::set<Number> solids;
    for (const Entity& e : entities) {
        if (e.is("LENGTH_UNIT")) unit_of_length[e.number] = unit_of(e);
        if (is_solid(e)) solids.insert(e.number);
    }
    for (const Entity& e : entities) {
        if (!e.is("GLOBAL_UNIT_ASSIGNED_CONTEXT")) continue;
        for (const Number reference : e.references)
            if (const auto unit = unit_of_length.find(reference); unit != unit_of_length.end())
                unit_of_context.try_emplace(e.number, unit->second);
    }
    for (const Entity& e : entities) {
        if (e.references.empty() || !std::any_of(e.keywords.begin(), e.keywords.end(), is_representation)) continue;
        const auto context = unit_of_context.find(e.references.back());
        const bool holds_solid =
            std::any_of(e.references.begin(), e.references.end(), [&](Number n) { return solids.count(n) > 0; });
        if (!holds_solid || context == unit_of_context.end()) continue;
        if (found.unit.empty()) found.unit = context->second;
        found.mixed_units |= found.unit != context->second;
    }
    if (found.unit.empty() && !unit_of_context.empty()) found.unit = unit_of_context.begin()->second;
}

}  // namespace

base::Result<StepText> scan_step(std::string_view text, const std::string& path) {
    const auto fault = [&](const char* id) { return base::bad_input({id, {{"path", path}}}); };
    if (std::all_of(text.begin(), text.end(), is_space)) return fault("import.empty_file");
    if (text.starts_with("\x1f\x8b") || text.starts_with("PK\x03\x04")) return fault("import.packed");
    constexpr std::size_t head = 4096;
    if (text.substr(0, head).find("ISO-10303-21") == std::string_view::npos) return fault("import.not_step");
    const std::size_t data = text.find("DATA;");
    if (data == std::string_view::npos || text.find("ENDSEC", data) == std::string_view::npos ||
        text.rfind("END-ISO-10303-21") == std::string_view::npos)
        return fault("import.cut_off");

    StepText found;
    const std::size_t schema = text.substr(0, data).find("FILE_SCHEMA");
    if (schema != std::string_view::npos) {
        const std::size_t from = text.find('\'', schema), to = text.find('\'', from + 1);
        if (from < data && to < data) found.schema = decoded(text.substr(from + 1, to - from - 1));
    }

    std::vector<Entity> entities = wanted_entities(text.substr(data));
    const int shells_without_solid = mend_keywords(text.substr(data), entities);
    Assembly assembly(entities);
    found.broken_placements = assembly.broken_placements();
    for (const Entity& e : entities) {
        if (is_solid(e)) found.solids.push_back(assembly.solid(e));
        if (e.is("TESSELLATED_SOLID")) ++found.tessellated_solids;
    }
    found.solids.resize(found.solids.size() + static_cast<std::size_t>(shells_without_solid));
    find_unit(entities, found);
    return found;
}

}  // namespace setwright::worker
