#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>

#include "core/base/limits.h"
#include "core/setup/place.h"
#include "core/setup/seating.h"

/// Grammar: see callout() in place.h.
namespace setwright::setup {

namespace limits = base::limits;
using base::bad_input;
using base::Error;
using base::Result;
using shop::Component;
using shop::Hole;
using space::Vec3;

namespace {

constexpr int degrees_in_a_step = 15;
constexpr int steps_in_a_quarter = 6;
constexpr int steps_in_a_turn = 24;

struct TurnWord {
    const char* word;
    std::array<int, 2> turn;
};
constexpr std::array<TurnWord, 8> compass_words{{{"E", {1, 0}},
                                                 {"N", {0, 1}},
                                                 {"W", {-1, 0}},
                                                 {"S", {0, -1}},
                                                 {"NE", {1, 1}},
                                                 {"NW", {-1, 1}},
                                                 {"SW", {-1, -1}},
                                                 {"SE", {1, -1}}}};
constexpr std::array<TurnWord, 4> face_words{{{"right", {1, 0}}, {"up", {0, 1}}, {"left", {-1, 0}}, {"down", {0, -1}}}};

struct SideWord {
    const char* word;
    shop::TableSide side;
    /// H's y looks along z × x: out from the table on two sides only.
    int outward;
};
constexpr std::array<SideWord, 4> side_words{{{"south", shop::TableSide::south, -1},
                                              {"east", shop::TableSide::east, -1},
                                              {"north", shop::TableSide::north, 1},
                                              {"west", shop::TableSide::west, 1}}};

const SideWord& side_word(shop::TableSide side) {
    return *std::find_if(side_words.begin(), side_words.end(), [&](const SideWord& w) { return w.side == side; });
}

std::string lower(std::string_view text) {
    std::string result(text);
    for (char& c : result)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return result;
}

bool equal_pitch(const HostGrid& grid) {
    return std::abs(grid.pitch_x_mm - grid.pitch_y_mm) <= limits::coincident_mm;
}

std::string tenths(std::int32_t value) {
    return base::decimal_text(value / 10.0, 1);
}

/// In the component's unit; with the other unit's sign where that would not read back.
std::string packer_word(const Component& component, double thickness_mm) {
    for (const base::LengthUnit unit : {component.nominal, base::LengthUnit::mm}) {
        const std::string text = base::format_length(thickness_mm, {unit, 3, 64});
        const auto back = base::parse_length(text, unit);
        if (back && std::abs(*back - thickness_mm) <= limits::coincident_mm)
            return unit == component.nominal ? text : text + " mm";
    }
    return base::number_text(thickness_mm) + " mm";
}

std::string packer_words(const Component& component, const Seat& seat, Packer::Where where) {
    std::vector<double> stack;
    for (const Packer& packer : seat.packers)
        if (packer.where == where) stack.push_back(packer.thickness_mm);
    std::sort(stack.rbegin(), stack.rend());
    std::string text;
    for (const double thickness : stack) text += (text.empty() ? "" : "+") + packer_word(component, thickness);
    return text;
}

std::vector<const weldment::Piece*> all_pieces(const Setup& setup) {
    std::vector<const weldment::Piece*> pieces;
    for (const WeldmentUse& use : setup.weldments) {
        if (!use.model) continue;
        for (const weldment::Piece& piece : use.model->pieces) pieces.push_back(&piece);
    }
    return pieces;
}

constexpr std::array<const char*, 6> direction_words{"east", "north", "top", "west", "south", "bottom"};

/// Index into direction_words, -1 where the face looks nowhere in particular.
int direction_of(const Vec3& normal_T) {
    Eigen::Index axis = 0;
    const double most = normal_T.cwiseAbs().maxCoeff(&axis);
    if (most < base::cos(base::Angle::deg(limits::face_word_deg))) return -1;
    return static_cast<int>(axis) + (normal_T[axis] > 0 ? 0 : 3);
}

/// The outermost face that looks this way; the inner wall of a tube looks the same way and is called by its number.
int outermost(const weldment::Piece& piece, const space::Pose& X_TP, int direction) {
    const auto& faces = piece.solid->faces;
    int best = -1;
    double furthest = -std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < faces.size(); ++i) {
        if (faces[i].surface.kind != space::SurfaceKind::plane) continue;
        const Vec3 normal_T = X_TP.turn(faces[i].surface.axis);
        if (direction_of(normal_T) != direction) continue;
        const double out = normal_T.dot(X_TP * faces[i].centroid);
        if (out <= furthest + limits::coincident_mm) continue;
        best = static_cast<int>(i);
        furthest = out;
    }
    return best;
}

std::string piece_face_word(const Setup& setup, const Stage& stage, PieceId id, const FaceKey& key) {
    const weldment::Piece* piece = setup.find_piece(id);
    const int face = piece ? weldment::find_face(*piece, key) : -1;
    if (face < 0) return "face ?";
    const space::Pose X_TP = stage.lay.X_TM * piece->X_MP;
    const space::Surface& surface = piece->solid->faces[static_cast<std::size_t>(face)].surface;
    const int direction = surface.kind == space::SurfaceKind::plane ? direction_of(X_TP.turn(surface.axis)) : -1;
    if (direction >= 0 && outermost(*piece, X_TP, direction) == face)
        return direction_words[static_cast<std::size_t>(direction)];
    return "face " + std::to_string(face + 1);
}

std::string piece_word(const Setup& setup, PieceId id) {
    const std::string name = setup.piece_name(id);
    std::string text = "\"";
    for (const char c : name) text += c == '"' ? std::string("\"\"") : std::string(1, c);
    text += '"';
    int namesakes = 0;
    for (const weldment::Piece* piece : all_pieces(setup)) namesakes += setup.piece_name(piece->id) == name ? 1 : 0;
    return namesakes > 1 ? text + " #" + std::to_string(id.value) : text;
}

std::string place_on_holes(const Setup& setup, const Stage& stage, const Seat& seat) {
    std::string label = shop::hole_label(seat.hole);
    if (label.empty()) label = "?";
    if (seat.host.kind == Host::Kind::table) return label;
    const Placement* below = stage.find(seat.host.placement);
    const Component* its = below ? setup.find_component(below->component) : nullptr;
    std::string prefix = below ? std::to_string(below->no) : "?";
    if (its && its->grid_faces.size() != 1) prefix += "/" + seat.host.face;
    return prefix + ":" + label;
}

std::string place_without_holes(const Setup& setup, const Stage& stage, const Seat& seat) {
    const Host& host = seat.host;
    const std::string along = " " + tenths(seat.along_tenths) + " along, ";
    if (host.kind == Host::Kind::table) return "table" + along + tenths(seat.across_tenths) + " across";
    if (host.kind == Host::Kind::floor) {
        const SideWord& side = side_word(host.side);
        const std::int32_t out = seat.across_tenths * side.outward;
        return std::string("floor ") + side.word + along + tenths(std::abs(out)) + (out < 0 ? " in" : " out");
    }
    std::string text = "on";
    for (std::size_t i = 0; i < std::min(host.pieces.size(), host.piece_faces.size()); ++i)
        text += (i == 0 ? " " : " and ") + piece_word(setup, host.pieces[i]) + " " +
                piece_face_word(setup, stage, host.pieces[i], host.piece_faces[i]);
    return text + along + tenths(seat.across_tenths) + " across";
}

// ---- reading ----

struct Word {
    std::string text;
    bool quoted = false;
    bool parts = false;
};

bool digit(char c) {
    return c >= '0' && c <= '9';
}

std::vector<Word> words_of(std::string_view text) {
    std::vector<Word> words;
    std::string word;
    const auto end_word = [&] {
        if (!word.empty()) words.push_back({std::exchange(word, {}), false, false});
    };
    for (std::size_t i = 0; i < text.size(); ++i) {
        const std::string_view rest = text.substr(i);
        const auto takes = [&](std::string_view sign) {
            if (!rest.starts_with(sign)) return false;
            i += sign.size() - 1;
            return true;
        };
        const bool decimal_comma =
            rest[0] == ',' && !word.empty() && digit(word.back()) && rest.size() > 1 && digit(rest[1]);
        if (takes(" ") || takes("\t") || takes("\n") || takes("\r") || takes("\u00a0")) {
            end_word();
        } else if (!decimal_comma && (takes("·") || takes("•") || takes(";") || takes(","))) {
            end_word();
            words.push_back({"", false, true});
        } else if (rest[0] == '"' && word.empty()) {
            std::string inner;
            for (++i; i < text.size(); ++i) {
                if (text[i] == '"') {
                    if (i + 1 >= text.size() || text[i + 1] != '"') break;
                    ++i;
                }
                inner += text[i];
            }
            words.push_back({inner, true, false});
        } else {
            word += rest[0];
        }
    }
    end_word();
    return words;
}

std::optional<int> whole_number(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    int value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return {};
    return value;
}

bool looks_like_number(std::string_view text) {
    if (text.starts_with('-') || text.starts_with('+')) text.remove_prefix(1);
    return !text.empty() && digit(text[0]);
}

std::string list_of(const std::vector<std::string>& names) {
    constexpr std::size_t most = 12;
    std::string text;
    for (std::size_t i = 0; i < std::min(names.size(), most); ++i) text += (i == 0 ? "" : ", ") + names[i];
    return names.size() > most ? text + ", …" : text;
}

/// One callout being read, word by word.
class Reading {
  public:
    Reading(const Setup& setup, const Stage& stage, const Component& component, std::string_view text)
        : setup_(setup), stage_(stage), component_(component), words_(words_of(text)) {}

    Result<Seat> read() {
        skip_parting();
        if (at_ == words_.size()) return bad_input({"seat.callout_empty", {}});
        for (const auto step :
             {&Reading::read_place, &Reading::read_facing, &Reading::read_mark, &Reading::read_parts}) {
            if (Result<void> done = (this->*step)(); !done) return done.error();
        }
        if (Result<void> done = finish(); !done) return done.error();
        return seat_;
    }

  private:
    /// The word `ahead` of the next one in lower case, "" at the end or at a parting mark.
    std::string peek(std::size_t ahead = 0) const {
        const std::size_t i = at_ + ahead;
        return i < words_.size() && !words_[i].parts && !words_[i].quoted ? lower(words_[i].text) : "";
    }
    std::string shown() const { return at_ < words_.size() ? words_[at_].text : ""; }
    void skip_parting() {
        while (at_ < words_.size() && words_[at_].parts) ++at_;
    }
    bool takes(std::string_view word) {
        if (peek() != word) return false;
        ++at_;
        return true;
    }

    Result<void> read_place() {
        const std::string first = peek();
        if (first == "on") return read_pieces();
        if (first == "floor") return read_floor();
        if (first == "table") {
            ++at_;
            return read_along_across("across");
        }
        return read_hole();
    }

    Result<void> read_hole() {
        std::string text = shown();
        const std::size_t colon = text.find(':');
        if (colon != std::string::npos) {
            if (Result<void> host = read_host(text.substr(0, colon)); !host) return host;
            text.erase(0, colon + 1);
        }
        if (!needs_hole(component_)) return bad_input({"seat.needs_no_hole", {{"component", component_.id}}});
        if (Result<void> grid = find_grid(); !grid) return grid;
        const std::optional<Hole> hole = shop::parse_hole_label(text);
        if (!hole || hole->col >= grid_.cols || hole->row >= grid_.rows) {
            const std::string last = shop::hole_label({0, grid_.rows - 1});
            const bool table = seat_.host.kind == Host::Kind::table;
            return bad_input({"seat.hole_unknown",
                              {{"hole", text},
                               {"where", std::vector<base::Text>{{table ? "seat.this_table" : "seat.that_face", {}}}},
                               {"last_row", last.substr(0, last.size() - 1)},
                               {"columns", std::int64_t{grid_.cols}}}});
        }
        seat_.hole = *hole;
        ++at_;
        return {};
    }

    /// "3" or "3/A".
    Result<void> read_host(const std::string& text) {
        const std::size_t slash = text.find('/');
        const std::optional<int> no = whole_number(text.substr(0, slash));
        const auto placement = std::find_if(stage_.placements.begin(), stage_.placements.end(),
                                            [&](const Placement& p) { return no && p.no == *no; });
        const Component* its =
            placement == stage_.placements.end() ? nullptr : setup_.find_component(placement->component);
        if (!its || its->grid_faces.empty()) {
            std::vector<std::string> hosts;
            for (const Placement& p : stage_.placements) {
                const Component* c = setup_.find_component(p.component);
                if (c && !c->grid_faces.empty()) hosts.push_back(std::to_string(p.no));
            }
            if (hosts.empty()) return bad_input({"seat.no_hosts", {{"host", text}}});
            return bad_input({"seat.host_unknown", {{"host", text}, {"hosts", list_of(hosts)}}});
        }
        std::vector<std::string> names;
        for (const shop::GridFace& face : its->grid_faces) names.push_back(face.id);
        std::size_t face = 0;
        if (slash != std::string::npos || names.size() > 1) {
            const std::string wanted = slash == std::string::npos ? "" : lower(text.substr(slash + 1));
            while (face < names.size() && lower(names[face]) != wanted) ++face;
            if (face == names.size())
                return bad_input({"seat.callout_face_unknown",
                                  {{"host", text},
                                   {"no", std::int64_t{placement->no}},
                                   {"first", names[0]},
                                   {"faces", list_of(names)}}});
        }
        seat_.host.kind = Host::Kind::placement;
        seat_.host.placement = placement->id;
        seat_.host.face = names[face];
        return {};
    }

    Result<void> read_pieces() {
        ++at_;
        seat_.host.kind = Host::Kind::piece;
        if (Result<void> first = read_piece(); !first) return first;
        skip_parting();
        if (takes("and")) {
            seat_.host.kind = Host::Kind::pieces;
            if (Result<void> second = read_piece(); !second) return second;
        }
        return read_along_across("across");
    }

    Result<void> read_piece() {
        const std::string name = shown();
        std::vector<const weldment::Piece*> found;
        std::vector<std::string> names;
        for (const bool exact : {true, false}) {
            if (!found.empty()) break;
            names.clear();
            for (const weldment::Piece* piece : all_pieces(setup_)) {
                names.push_back(setup_.piece_name(piece->id));
                if (exact ? names.back() == name : lower(names.back()) == lower(name)) found.push_back(piece);
            }
        }
        if (at_ < words_.size()) ++at_;
        if (peek().starts_with('#')) {
            const std::optional<int> id = whole_number(peek().substr(1));
            std::erase_if(found, [&](const weldment::Piece* p) { return !id || static_cast<int>(p->id.value) != *id; });
            ++at_;
        }
        if (found.empty()) return bad_input({"seat.piece_unknown", {{"piece", name}, {"pieces", list_of(names)}}});
        if (found.size() > 1) {
            std::vector<std::string> numbers;
            for (const weldment::Piece* p : found) numbers.push_back("#" + std::to_string(p->id.value));
            return bad_input({"seat.piece_ambiguous", {{"piece", name}, {"numbers", list_of(numbers)}}});
        }
        const weldment::Piece& piece = *found[0];
        const int face = read_piece_face(piece);
        if (face < 0)
            return bad_input({"seat.piece_face_unknown",
                              {{"face", shown()},
                               {"piece", setup_.piece_name(piece.id)},
                               {"count", static_cast<std::int64_t>(piece.solid->faces.size())}}});
        ++at_;
        seat_.host.pieces.push_back(piece.id);
        seat_.host.piece_faces.push_back(weldment::face_key(piece, face));
        return {};
    }

    /// Leaves the last word of the face unread.
    int read_piece_face(const weldment::Piece& piece) {
        if (takes("face")) {
            const std::optional<int> number = whole_number(peek());
            return number && *number >= 1 && *number <= static_cast<int>(piece.solid->faces.size()) ? *number - 1 : -1;
        }
        for (std::size_t i = 0; i < direction_words.size(); ++i) {
            if (peek() == direction_words[i])
                return outermost(piece, stage_.lay.X_TM * piece.X_MP, static_cast<int>(i));
        }
        return -1;
    }

    Result<void> read_floor() {
        ++at_;
        seat_.host.kind = Host::Kind::floor;
        const auto side =
            std::find_if(side_words.begin(), side_words.end(), [&](const SideWord& w) { return peek() == w.word; });
        if (side == side_words.end()) return bad_input({"seat.floor_side_unknown", {{"side", shown()}}});
        ++at_;
        seat_.host.side = side->side;
        if (Result<void> place = read_along_across("out"); !place) return place;
        seat_.across_tenths *= side->outward;
        return {};
    }

    Result<void> read_along_across(std::string_view second) {
        if (needs_hole(component_)) return bad_input({"seat.needs_hole", {{"component", component_.id}}});
        skip_parting();
        const auto along = read_tenths();
        const bool has_along = along && takes("along");
        skip_parting();
        const auto across = has_along ? read_tenths() : std::nullopt;
        const bool inward = across && second == "out" && takes("in");
        if (!across || (!inward && !takes(second)))
            return bad_input({second == "out" ? "seat.floor_place_unread" : "seat.place_unread", {{"word", shown()}}});
        seat_.along_tenths = *along;
        seat_.across_tenths = inward ? -*across : *across;
        seat_.turn = {0, 0};
        return find_grid();
    }

    std::optional<std::int32_t> read_tenths() {
        const std::optional<double> mm = base::parse_length(peek(), base::LengthUnit::mm);
        constexpr double largest_mm = 1e7;
        if (!mm || !(std::abs(*mm) < largest_mm)) return {};
        const double value = std::round(*mm * 10);
        if (std::abs(value / 10 - *mm) > limits::coincident_mm) return {};
        ++at_;
        return static_cast<std::int32_t>(value);
    }

    Result<void> find_grid() {
        Result<HostGrid> grid = host_grid(setup_, stage_, seat_.host);
        if (!grid) return grid.error();
        grid_ = *grid;
        compass_ = has_compass(seat_.host);
        return {};
    }

    bool says_hand() const {
        const std::string word = peek(), next = peek(1);
        if (word != "left" && word != "right") return word.starts_with("left-") || word.starts_with("right-");
        return next == "hand" || next == "handed" || next == "-hand";
    }

    Error facing_error(const char* id) const {
        return bad_input({id,
                          {{"component", component_.id},
                           {"word", shown()},
                           {"facings", facing_words(component_, grid_, compass_)}}});
    }

    Result<void> read_facing() {
        skip_parting();
        const bool holes = needs_hole(component_);
        const std::size_t before = at_;
        const bool said = read_lattice_turn() || read_degrees();
        if (holes && has_no_facing(component_)) {
            if (!said) return {};
            at_ = before;
            return facing_error("seat.turn_none");
        }
        if (!said) {
            if (!holes) return {};
            return facing_error(shown().empty() || looks_like_number(shown()) ? "seat.turn_needed"
                                                                              : "seat.turn_unknown");
        }
        if (seat_.turn == std::array{0, 0}) {
            if (holes && !component_.mount.turns_freely) {
                at_ = before;
                return facing_error("seat.turn_unknown");
            }
            return holes ? quarter_turns_on_the_grid() : Result<void>{};
        }
        if (!holes) {
            at_ = before;
            return facing_error("seat.turn_steps");
        }
        // NE of a grid with unequal pitches would not be 45°; a clamp turns in its own steps.
        const bool diagonal = seat_.turn[0] != 0 && seat_.turn[1] != 0;
        if (diagonal && component_.mount.turns_freely) {
            at_ = before;
            return facing_error("seat.turn_unknown");
        }
        return {};
    }

    bool read_lattice_turn() {
        if (says_hand()) return false;
        const auto known = [&](const auto& words) {
            for (const TurnWord& w : words) {
                const bool diagonal = w.turn[0] != 0 && w.turn[1] != 0;
                if (peek() != lower(w.word) || (diagonal && !equal_pitch(grid_))) continue;
                seat_.turn = w.turn;
                ++at_;
                return true;
            }
            return false;
        };
        if (!needs_hole(component_)) return false;
        if (compass_ ? known(compass_words) : known(face_words)) return true;
        return read_slope();
    }

    /// "8 over, 5 up".
    bool read_slope() {
        const std::size_t before = at_;
        const std::optional<int> over = whole_number(peek());
        const std::string side = peek(1), after = peek(2);
        if (!over || *over <= 0 || (side != "over" && side != "left") || after == "hand" || after == "handed")
            return false;
        at_ += 2;
        skip_parting();
        const std::optional<int> up = whole_number(peek());
        const std::string way = peek(1);
        if (!up || *up <= 0 || (way != "up" && way != "down")) {
            at_ = before;
            return false;
        }
        at_ += 2;
        seat_.turn = {side == "over" ? *over : -*over, way == "up" ? *up : -*up};
        return true;
    }

    /// "30°", "30 deg".
    bool read_degrees() {
        std::string word = peek();
        std::size_t used = 1;
        bool sign = false;
        for (const std::string_view unit : {"°", "degrees", "deg"}) {
            if (word.ends_with(unit) && word.size() > unit.size()) {
                word.erase(word.size() - unit.size());
                sign = true;
                break;
            }
            if (peek(1) == unit) {
                used = 2;
                sign = true;
                break;
            }
        }
        const std::optional<int> degrees = sign ? whole_number(word) : std::nullopt;
        if (!degrees || *degrees % degrees_in_a_step != 0) return false;
        const int steps = *degrees / degrees_in_a_step % steps_in_a_turn;
        seat_.turn = {0, 0};
        seat_.turn_15deg = steps < 0 ? steps + steps_in_a_turn : steps;
        at_ += used;
        return true;
    }

    Result<void> quarter_turns_on_the_grid() {
        if (seat_.turn_15deg % steps_in_a_quarter != 0) return {};
        seat_.turn = compass_words[static_cast<std::size_t>(seat_.turn_15deg / steps_in_a_quarter)].turn;
        seat_.turn_15deg = 0;
        return {};
    }

    Result<void> read_mark() {
        skip_parting();
        const bool keyword = takes("mark");
        const std::string word = peek();
        if (!keyword && !looks_like_number(word)) {
            if (!component_.setting || component_.setting->first <= 0) return {};
            return mark_error("seat.mark_needed", word);
        }
        const std::optional<int> mark = whole_number(word);
        if (!component_.setting) return mark_error("seat.mark_none", word);
        if (!mark || *mark < component_.setting->first || *mark > component_.setting->last)
            return mark_error("seat.mark_unknown", word);
        seat_.setting = *mark;
        ++at_;
        return {};
    }

    Error mark_error(const char* id, const std::string& word) const {
        base::Text text{id, {{"component", component_.id}, {"mark", word}}};
        if (component_.setting) {
            text.arguments["first"] = std::to_string(component_.setting->first);
            text.arguments["last"] = std::to_string(component_.setting->last);
        }
        return bad_input(std::move(text));
    }

    Result<void> read_parts() {
        for (skip_parting(); at_ < words_.size(); skip_parting()) {
            Result<void> part;
            if (takes("plate")) {
                part = read_plate();
            } else if (takes("under")) {
                part = read_packers(Packer::Where::under);
            } else if (takes("face")) {
                part = read_packers(Packer::Where::face);
            } else if (takes("second")) {
                second_said_ = shown();
                if (at_ < words_.size()) ++at_;
            } else if (says_hand()) {
                part = read_hand();
            } else {
                part = bad_input({"seat.word_unknown", {{"word", shown()}}});
            }
            if (!part) return part;
        }
        return {};
    }

    /// Words up to the next part, joined by single blanks.
    std::string value() {
        std::string text;
        for (bool first = true; at_ < words_.size() && !words_[at_].parts; first = false, ++at_) {
            const std::string word = peek();
            if (word == "plate" || word == "under" || word == "face" || word == "second" || says_hand()) break;
            text += (first ? "" : " ") + words_[at_].text;
        }
        return text;
    }

    Result<void> read_plate() {
        const std::string said = value();
        const auto mm = base::parse_length(said, component_.nominal);
        std::vector<std::string> ids;
        for (const bool exact : {true, false}) {
            for (const shop::Plate& plate : component_.plates) {
                const auto its = exact ? std::nullopt : base::parse_length(plate.id, component_.nominal);
                if (exact ? lower(plate.id) != lower(said)
                          : !its || !mm || std::abs(*its - *mm) > limits::coincident_mm)
                    continue;
                seat_.plate = plate.id;
                return {};
            }
        }
        for (const shop::Plate& plate : component_.plates) ids.push_back(plate.id);
        if (ids.empty()) return bad_input({"seat.plate_none", {{"component", component_.id}, {"plate", said}}});
        return bad_input(
            {"seat.plate_unknown", {{"component", component_.id}, {"plate", said}, {"plates", list_of(ids)}}});
    }

    Result<void> read_packers(Packer::Where where) {
        if (where == Packer::Where::under && !component_.packers_under)
            return bad_input({"seat.packers_not_under", {{"component", component_.id}}});
        if (where == Packer::Where::face && !component_.packers_at_face)
            return bad_input({"seat.packers_not_at_face", {{"component", component_.id}}});
        const std::string said = value();
        for (std::size_t from = 0; from <= said.size();) {
            const std::size_t plus = std::min(said.find('+', from), said.size());
            std::string one = said.substr(from, plus - from);
            while (one.ends_with(' ')) one.pop_back();
            while (one.starts_with(' ')) one.erase(0, 1);
            const Component* packer = find_packer(one);
            if (!packer) {
                std::set<double> thicknesses;
                for (const Component* known : packers_of(setup_, component_)) thicknesses.insert(known->thickness_mm);
                std::vector<std::string> sizes;
                for (const double thickness : thicknesses) sizes.push_back(packer_word(component_, thickness));
                if (sizes.empty()) return bad_input({"seat.packers_none", {{"packer", one}}});
                return bad_input({"seat.packer_unknown", {{"packer", one}, {"packers", list_of(sizes)}}});
            }
            seat_.packers.push_back({where, packer->id, packer->thickness_mm});
            from = plus + 1;
        }
        return {};
    }

    const Component* find_packer(const std::string& said) const {
        const auto mm = base::parse_length(said, component_.nominal);
        if (!mm) return nullptr;
        for (const Component* packer : packers_of(setup_, component_))
            if (std::abs(packer->thickness_mm - *mm) <= limits::coincident_mm) return packer;
        return nullptr;
    }

    Result<void> read_hand() {
        const bool left = peek().starts_with("left");
        at_ += peek() == "left" || peek() == "right" ? 2 : 1;
        if (!component_.handed) return bad_input({"seat.hand_none", {{"component", component_.id}}});
        seat_.hand = left ? shop::Hand::left : shop::Hand::right;
        return {};
    }

    Result<void> finish() {
        std::stable_sort(seat_.packers.begin(), seat_.packers.end(), [](const Packer& a, const Packer& b) {
            return a.where != b.where ? a.where < b.where : a.thickness_mm > b.thickness_mm;
        });
        Result<Seated> here = seated(setup_, stage_, component_, seat_, {});
        if (!here) return here.error();
        if (second_said_.empty()) return {};
        const std::string second = here->second_hole ? shop::hole_label(*here->second_hole) : "";
        if (second.empty() || lower(second) != lower(second_said_))
            return bad_input({second.empty() ? "seat.second_none" : "seat.second_unknown",
                              {{"component", component_.id}, {"hole", second_said_}, {"second", second}}});
        return {};
    }

    const Setup& setup_;
    const Stage& stage_;
    const Component& component_;
    std::vector<Word> words_;
    std::size_t at_ = 0;
    Seat seat_;
    HostGrid grid_;
    bool compass_ = true;
    std::string second_said_;
};

}  // namespace

std::string facing_word(std::array<int, 2> turn, const HostGrid& grid, bool compass) {
    const auto [p, q] = turn;
    const auto word_of = [&](const auto& words) -> const char* {
        for (const TurnWord& w : words)
            if (w.turn == turn && (p == 0 || q == 0 || equal_pitch(grid))) return w.word;
        return nullptr;
    };
    if (const char* word = compass ? word_of(compass_words) : word_of(face_words)) return word;
    return std::to_string(std::abs(p)) + (p < 0 ? " left, " : " over, ") + std::to_string(std::abs(q)) +
           (q < 0 ? " down" : " up");
}

std::string facing_words(const Component& component, const HostGrid& grid, bool compass) {
    std::vector<std::string> words;
    for (const std::array<int, 2>& turn : turns(component, grid)) words.push_back(facing_word(turn, grid, compass));
    if (component.mount.turns_freely) words.push_back("15°, 30°, 45°, …");
    return list_of(words);
}

std::vector<const Component*> packers_of(const Setup& setup, const Component& component) {
    std::vector<const Component*> packers;
    for (const auto& [id, component] : setup.components)
        if (component->family == shop::Family::packer && component->thickness_mm > 0)
            packers.push_back(component.get());
    std::stable_sort(packers.begin(), packers.end(), [&](const Component* a, const Component* b) {
        const auto order = [&](const Component* p) {
            return std::pair(p->nominal != component.nominal, setup.shelf.have(p->id) <= 0);
        };
        return order(a) < order(b);
    });
    return packers;
}

std::string facing(const Setup& setup, const Stage& stage, const Placement& placement) {
    const Seat& seat = placement.seat;
    const Component* component = setup.find_component(placement.component);
    if (!component) return {};
    const bool holes = needs_hole(*component);
    if (holes && has_no_facing(*component)) return {};
    const Result<HostGrid> host = host_grid(setup, stage, seat.host);
    const HostGrid grid = host ? *host : HostGrid{};
    if (seat.turn != std::array{0, 0}) return facing_word(seat.turn, grid, has_compass(seat.host));
    const int steps = ((seat.turn_15deg % steps_in_a_turn) + steps_in_a_turn) % steps_in_a_turn;
    if (holes && steps % steps_in_a_quarter == 0)
        return facing_word(compass_words[static_cast<std::size_t>(steps / steps_in_a_quarter)].turn, grid,
                           has_compass(seat.host));
    return steps == 0 ? std::string() : std::to_string(steps * degrees_in_a_step) + "°";
}

std::string callout(const Setup& setup, const Stage& stage, const Placement& placement) {
    const Seat& seat = placement.seat;
    const Component* component = setup.find_component(placement.component);
    if (!component) return place_on_holes(setup, stage, seat);
    const bool holes = needs_hole(*component);
    std::string text = holes ? place_on_holes(setup, stage, seat) : place_without_holes(setup, stage, seat);
    const std::string faces = facing(setup, stage, placement);
    if (!faces.empty()) text += (holes ? " " : ", ") + faces;
    if (component->setting) text += (holes ? " " : " mark ") + std::to_string(seat.setting);
    if (!seat.plate.empty()) text += " · plate " + seat.plate;
    const std::string under = packer_words(*component, seat, Packer::Where::under);
    if (!under.empty()) text += " · under " + under;
    const std::string at_face = packer_words(*component, seat, Packer::Where::face);
    if (!at_face.empty()) text += " · face " + at_face;
    if (seat.hand != shop::Hand::none) text += seat.hand == shop::Hand::left ? " · left-hand" : " · right-hand";
    if (holes && component->mount.second && seat.turn[0] != 0 && seat.turn[1] != 0) {
        const Result<Seated> here = seated(setup, stage, *component, seat, placement.id);
        if (here && here->second_hole) text += " · second " + shop::hole_label(*here->second_hole);
    }
    return text;
}

base::Result<Seat> parse_callout(const Setup& setup, const Stage& stage, const Component& component,
                                 std::string_view text) {
    return Reading(setup, stage, component, text).read();
}

}  // namespace setwright::setup
