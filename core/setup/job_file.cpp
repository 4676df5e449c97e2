#include "core/setup/job_file.h"

#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <limits>
#include <nlohmann/json.hpp>
#include <set>

#include "core/base/file.h"
#include "core/setup/match.h"
#include "core/space/bodies.h"

namespace setwright::setup {

using json = nlohmann::ordered_json;
using base::Text;
using space::Vec3;

namespace {

constexpr int version = 1;
/// No key of a job lies deeper than a dozen; more is an attack on the stack.
constexpr int deepest = 40;
/// What packs into one JSON string.
constexpr std::size_t largest_model_bytes = std::size_t{1} << 29;
constexpr std::size_t largest_job_bytes = std::size_t{1} << 30;
/// From here on checks take minutes, and people should know why.
constexpr std::size_t many_pieces = 2000;

// ---- words of the file --------------------------------------------------------------------------------------------

constexpr std::array host_kinds{"table", "placement", "piece", "pieces", "floor"};
constexpr std::array sides{"south", "east", "north", "west"};
constexpr std::array hands{"none", "right", "left"};
constexpr std::array packer_places{"under", "face"};
constexpr std::array surface_kinds{"plane", "cylinder", "cone", "sphere", "torus", "spline", "other"};
constexpr std::array length_units{"mm", "in"};
constexpr std::array sides_of_M{"", "-X", "+X", "-Y", "+Y", "-Z", "+Z"};
constexpr std::array papers{"A4", "A3", "letter", "tabloid"};
constexpr std::array processes{"mag", "tig", "stick"};
constexpr std::array part_hands{"", "as drawn", "left", "right"};

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

// ---- writing ------------------------------------------------------------------------------------------------------

json to_json(const Vec3& v) {
    return json::array({v.x(), v.y(), v.z()});
}

json to_json(const space::Pose& X) {
    return X.row_major();
}

template <class Tag>
json ids(const std::vector<base::Id<Tag>>& list) {
    json out = json::array();
    for (const auto id : list) out.push_back(id.value);
    return out;
}

template <class T>
std::vector<T> sorted(std::vector<T> list) {
    std::sort(list.begin(), list.end());
    return list;
}

template <class T>
std::vector<T> sorted_by_id(std::vector<T> list) {
    std::stable_sort(list.begin(), list.end(), [](const T& a, const T& b) { return a.id < b.id; });
    return list;
}

json to_json(const FaceKey& face) {
    return {{"kind", word(surface_kinds, face.kind)},
            {"axis", to_json(face.axis)},
            {"offset_mm", face.offset_mm},
            {"radius_mm", face.radius_mm},
            {"at_mm", to_json(face.at)}};
}

json packed(const std::string& data, const std::string& sha256) {
    return {{"sha256", sha256}, {"bytes", data.size()}, {"packed", base::pack(data)}};
}

json to_json(const weldment::EndCut& end) {
    return {{"kind", weldment::key(end.kind)},
            {"angle_deg", end.angle_deg},
            {"plane_deg", end.plane_deg},
            {"second_angle_deg", end.second_angle_deg},
            {"face", end.face}};
}

json to_json(const weldment::Section& section) {
    return {{"kind", weldment::key(section.kind)}, {"width_mm", section.width_mm},
            {"depth_mm", section.depth_mm},        {"wall_mm", section.wall_mm},
            {"diameter_mm", section.diameter_mm},  {"corner_radius_mm", section.corner_radius_mm}};
}

json to_json(const weldment::Fingerprint& print) {
    return {{"name_path", print.name_path},
            {"volume_mm3", print.volume_mm3},
            {"principal_moments_mm5", to_json(print.principal_moments)},
            {"face_kinds", print.face_kinds},
            {"handedness", print.handedness},
            {"centroid_M_mm", to_json(print.centroid_M)}};
}

json to_json(const WeldmentUse& use) {
    json edits = json::array();
    for (const auto& [piece, edit] : use.piece_edits)
        edits.push_back({{"piece", piece.value},
                         {"name", edit.name},
                         {"left_out", edit.left_out},
                         {"weld_side", edit.weld_side ? to_json(*edit.weld_side) : json()}});
    json seam_edits = json::array();
    for (const auto& [seam, edit] : use.seam_edits)
        seam_edits.push_back({{"seam", seam.value},
                              {"accepted", edit.accepted ? json(*edit.accepted) : json()},
                              {"size_mm", edit.size_mm ? json(*edit.size_mm) : json()}});
    json frozen = json::array();
    for (const auto& [piece, was] : use.frozen)
        frozen.push_back({{"id", piece.value}, {"fingerprint", to_json(was.fingerprint)}, {"X_MP", to_json(was.X_MP)}});
    json frozen_seams = json::array();
    for (const auto& [seam, was] : use.frozen_seams)
        frozen_seams.push_back({{"id", seam.value},
                                {"pieces", json::array({was.pieces[0].value, was.pieces[1].value})},
                                {"middle_M_mm", to_json(was.middle_M)},
                                {"length_mm", was.length_mm}});
    json drawn = json::array();
    for (const DrawnPiece& piece : sorted_by_id(use.drawn))
        drawn.push_back({{"id", piece.id.value},
                         {"name", piece.name},
                         {"section", to_json(piece.section)},
                         {"length_mm", piece.length_mm},
                         {"ends", json::array({to_json(piece.ends[0]), to_json(piece.ends[1])})},
                         {"X_MP", to_json(piece.X_MP)}});
    json important = json::array();
    for (const ImportantFace& face : use.important)
        important.push_back({{"piece", face.piece.value},
                             {"face", to_json(face.face)},
                             {"tolerance_mm", face.tolerance_mm},
                             {"note", face.note}});
    return {{"id", use.id.value},
            {"file_name", use.file_name},
            {"linked_path", use.linked_path},
            {"unit_factor", use.unit_factor},
            {"mirrored", use.mirrored},
            {"piece_edits", edits},
            {"seam_edits", seam_edits},
            {"pieces", frozen},
            {"seams", frozen_seams},
            {"drawn", drawn},
            {"important", important},
            {"step", use.step_text ? packed(*use.step_text, use.sha256) : json()}};
}

json to_json(const Seat& seat) {
    json faces = json::array();
    for (const FaceKey& face : seat.host.piece_faces) faces.push_back(to_json(face));
    json packers = json::array();
    for (const Packer& packer : seat.packers)
        packers.push_back({{"component", packer.component},
                           {"where", word(packer_places, packer.where)},
                           {"thickness_mm", packer.thickness_mm}});
    return {{"host",
             {{"kind", word(host_kinds, seat.host.kind)},
              {"placement", seat.host.placement.value},
              {"face", seat.host.face},
              {"pieces", ids(seat.host.pieces)},
              {"piece_faces", faces},
              {"side", word(sides, seat.host.side)}}},
            {"hole", {{"col", seat.hole.col}, {"row", seat.hole.row}}},
            {"turn", seat.turn},
            {"turn_15deg", seat.turn_15deg},
            {"hand", word(hands, seat.hand)},
            {"plate", seat.plate},
            {"setting", seat.setting},
            {"packers", packers},
            {"along_tenths", seat.along_tenths},
            {"across_tenths", seat.across_tenths}};
}

json to_json(const Stage& stage) {
    json held = json::array();
    for (const auto& [piece, held_by] : stage.held_by)
        held.push_back({{"piece", piece.value}, {"held_by", key(held_by)}});
    json placements = json::array();
    for (const Placement& placement : sorted_by_id(stage.placements))
        placements.push_back({{"id", placement.id.value},
                              {"no", placement.no},
                              {"component", placement.component},
                              {"seat", to_json(placement.seat)},
                              {"locked", placement.locked},
                              {"note", placement.note}});
    json order = json::array();
    for (const Step& step : stage.order)
        order.push_back({{"id", step.id.value},
                         {"kind", key(step.kind)},
                         {"placements", ids(step.placements)},
                         {"pieces", ids(step.pieces)},
                         {"seams", ids(step.seams)},
                         {"note", step.note}});
    json as_set = json::array();
    for (const auto& [placement, value] : stage.as_set_mm)
        as_set.push_back({{"placement", placement.value}, {"value_mm", value}});
    json measured = json::array();
    for (const Measured& m : stage.measured)
        measured.push_back({{"what", m.what}, {"value_mm", m.value_mm}, {"when", m.when}});
    return {{"id", stage.id.value},
            {"name", stage.name},
            {"lay",
             {{"side_down", stage.lay.side_down}, {"yaw_deg", stage.lay.yaw_deg}, {"X_TM", to_json(stage.lay.X_TM)}}},
            {"pieces", ids(sorted(stage.pieces))},
            {"earlier", ids(sorted(stage.earlier))},
            {"held_by", held},
            {"placements", placements},
            {"order", order},
            {"repeat", stage.repeat},
            {"as_set", as_set},
            {"measured", measured}};
}

std::string definition_sha256(const json& definition) {
    return base::sha256(definition.dump());
}

json to_json(const Setup& setup) {
    json weldments = json::array();
    for (const WeldmentUse& use : sorted_by_id(setup.weldments)) weldments.push_back(to_json(use));
    json stages = json::array();
    for (const Stage& stage : setup.stages) stages.push_back(to_json(stage));
    json components = json::object();
    for (const auto& [id, component] : setup.components) {
        json definition = json::parse(shop::component_json(*component));
        const std::string hash = definition_sha256(definition);
        components[id] = {{"sha256", hash}, {"definition", std::move(definition)}};
    }
    json revisions = json::array();
    for (const Revision& revision : setup.revisions)
        revisions.push_back({{"name", revision.name}, {"date", revision.date}, {"what", revision.what}});
    json photos = json::array();
    for (const Photo& photo : setup.photos) {
        SETWRIGHT_ASSERT(photo.data, "a photo of a job has its picture");
        json out = packed(*photo.data, photo.sha256);
        out["caption"] = photo.caption;
        photos.push_back(std::move(out));
    }
    json accepted = json::array();
    for (const Accepted& a : setup.accepted)
        accepted.push_back(
            {{"rule", a.rule}, {"subjects", a.subjects}, {"measured", a.measured}, {"reason", a.reason}});
    json stock_lengths = json::object();
    for (const auto& [section, length] : setup.stock.length_mm) stock_lengths[section] = length;
    const TitleBlock& title = setup.title;
    return {
        {"format", "setwright-job"},
        {"version", version},
        {"title",
         {{"job", title.job},
          {"part", title.part},
          {"customer", title.customer},
          {"planner", title.planner},
          {"date", title.date},
          {"revision", title.revision},
          {"hand", title.hand}}},
        {"revisions", revisions},
        {"notes", setup.notes},
        {"display",
         {{"unit", word(length_units, setup.display.unit.unit)},
          {"decimals", setup.display.unit.decimals},
          {"denominator", setup.display.unit.denominator},
          {"paper", setup.display.paper},
          {"language", setup.display.language}}},
        {"rough", setup.rough},
        {"limits",
         {{"clearance_piece_mm", setup.limits.clearance_piece_mm},
          {"clearance_moving_mm", setup.limits.clearance_moving_mm}}},
        {"process",
         {{"process", setup.process.process},
          {"gun", setup.process.gun},
          {"stick_out_mm", setup.process.stick_out_mm}}},
        {"shrink", {{"per_joint_mm", setup.shrink.per_joint_mm}, {"note", setup.shrink.note}}},
        {"stock",
         {{"length_mm", stock_lengths}, {"kerf_mm", setup.stock.kerf_mm}, {"end_trim_mm", setup.stock.end_trim_mm}}},
        {"last_id", setup.last_id},
        {"table", json::parse(shop::table_json(setup.table))},
        {"stages", stages},
        {"accepted", accepted},
        {"shelf", json::parse(shop::shelf_json(setup.shelf))},
        {"components", components},
        {"weldments", weldments},
        {"photos", photos}};
}

// ---- reading ------------------------------------------------------------------------------------------------------

/// Keeps the first fault; what is read after it does not matter.
struct Faults {
    std::string where;
    std::optional<base::Error> first;

    void say(const char* id, const std::string& path, std::map<std::string, base::TextArgument> arguments = {}) {
        if (first) return;
        arguments["file"] = where;
        arguments["key"] = path;
        first = base::bad_input({id, std::move(arguments)});
    }
};

class Fields;

/// One value of the file and the path to it. Reading the wrong type notes a fault and gives a blank.
class Value {
  public:
    Value(const json* value, std::string path, Faults* faults)
        : value_(value), path_(std::move(path)), faults_(faults) {}

    const std::string& path() const { return path_; }
    bool is_null() const { return value_ && value_->is_null(); }

    std::string text() const {
        return is(&json::is_string, "job.type_text") ? value_->get<std::string>() : std::string();
    }
    bool truth() const { return is(&json::is_boolean, "job.type_truth") && value_->get<bool>(); }

    double number() const { return is(&json::is_number, "job.type_number") ? value_->get<double>() : 0; }
    double number_in(double low, double high) const {
        const double x = number();
        if (value_ && (x < low || x > high)) out_of_range(base::number_text(low), base::number_text(high));
        return x;
    }
    /// A length, tolerance or the like: not negative, and no larger than a hall.
    double size_mm() const { return number_in(0, 1e6); }

    int integer(int low, int high) const {
        if (!is(&json::is_number_integer, "job.type_whole")) return low;
        // An unsigned number beyond int64 would wrap on its way into a signed one.
        const bool huge = value_->is_number_unsigned() && value_->get<std::uint64_t>() > std::uint64_t{1} << 62;
        const std::int64_t n = huge ? std::numeric_limits<std::int64_t>::max() : value_->get<std::int64_t>();
        if (n >= low && n <= high) return static_cast<int>(n);
        out_of_range(std::to_string(low), std::to_string(high));
        return low;
    }
    int any_integer() const { return integer(std::numeric_limits<int>::min(), std::numeric_limits<int>::max()); }

    std::uint64_t count() const {
        return is(&json::is_number_unsigned, "job.type_count") ? value_->get<std::uint64_t>() : 0;
    }
    std::uint32_t id_number(bool may_be_none) const {
        const std::uint64_t n = count();
        if (value_ && (n > std::numeric_limits<std::uint32_t>::max() || (n == 0 && !may_be_none)))
            out_of_range(may_be_none ? "0" : "1", std::to_string(std::numeric_limits<std::uint32_t>::max()));
        return static_cast<std::uint32_t>(n);
    }
    template <class Id>
    Id id() const {
        return Id{id_number(false)};
    }
    template <class Id>
    std::vector<Id> id_list() const {
        std::vector<Id> list;
        for (const Value& item : items()) list.push_back(item.id<Id>());
        return list;
    }

    /// Index of the text in `words`.
    template <class Words>
    std::size_t one_of(const Words& words) const {
        const std::string said = text();
        for (std::size_t i = 0; i < words.size(); ++i)
            if (said == words[i]) return i;
        std::string allowed;
        for (const auto& w : words) allowed += (allowed.empty() ? "\"" : ", \"") + std::string(w) + "\"";
        if (value_) faults_->say("job.word_unknown", path_, {{"value", said}, {"allowed", allowed}});
        return 0;
    }
    template <class Enum, class Words>
    Enum word(const Words& words) const {
        return static_cast<Enum>(one_of(words));
    }

    std::vector<Value> items() const {
        std::vector<Value> list;
        if (!is(&json::is_array, "job.type_list")) return list;
        for (std::size_t i = 0; i < value_->size(); ++i)
            list.emplace_back(&(*value_)[i], path_ + "[" + std::to_string(i) + "]", faults_);
        return list;
    }
    std::vector<Value> items(std::size_t count) const {
        std::vector<Value> list = items();
        if (value_ && value_->is_array() && list.size() != count)
            faults_->say("job.list_length", path_, {{"count", static_cast<std::int64_t>(count)}});
        list.resize(count, Value(nullptr, path_, faults_));
        return list;
    }
    std::vector<std::string> texts() const {
        std::vector<std::string> list;
        for (const Value& item : items()) list.push_back(item.text());
        return list;
    }
    Vec3 vector() const {
        const auto list = items(3);
        return {list[0].number(), list[1].number(), list[2].number()};
    }
    space::Pose pose() const {
        std::vector<double> numbers;
        for (const Value& item : items(16)) numbers.push_back(item.number());
        const auto X = space::Pose::from_row_major(numbers);
        if (!X && value_) faults_->say("job.pose_not_rigid", path_);
        return X.value_or(space::Pose{});
    }

    Fields fields() const;
    /// Every member of an object whose keys are free.
    std::vector<std::pair<std::string, Value>> members() const {
        std::vector<std::pair<std::string, Value>> list;
        if (!is(&json::is_object, "job.type_object")) return list;
        for (const auto& [name, value] : value_->items())
            list.emplace_back(name, Value(&value, path_ + "." + name, faults_));
        return list;
    }
    const json* raw() const { return value_; }

    void say(const char* id, std::map<std::string, base::TextArgument> arguments = {}) const {
        faults_->say(id, path_, std::move(arguments));
    }
    /// Notes what another reader found under this value.
    void adopt(const base::Error& error) const {
        if (!faults_->first) faults_->first = error;
    }
    std::string where() const { return faults_->where + ": " + path_; }

  private:
    bool is(bool (json::*test)() const noexcept, const char* type) const {
        if (!value_) return false;
        if ((value_->*test)()) return true;
        faults_->say("job.wrong_type", path_, {{"wanted", std::vector<Text>{Text{type, {}}}}});
        return false;
    }
    void out_of_range(const std::string& low, const std::string& high) const {
        faults_->say("job.out_of_range", path_, {{"value", value_->dump()}, {"low", low}, {"high", high}});
    }

    /// Null where it was missing; the fault is then noted.
    const json* value_;
    std::string path_;
    Faults* faults_;
};

/// An object whose keys are all known: each is asked for once, and what is left over at the end is a fault.
class Fields {
  public:
    Fields(const json* object, std::string path, Faults* faults)
        : object_(object), path_(std::move(path)), faults_(faults) {}
    Fields(const Fields&) = delete;
    Fields& operator=(const Fields&) = delete;
    ~Fields() {
        if (!object_) return;
        for (const auto& [name, value] : object_->items())
            if (!asked_.contains(name)) faults_->say("job.unknown_key", path_of(name));
    }

    Value operator[](const char* name) {
        asked_.insert(name);
        if (!object_) return Value(nullptr, path_of(name), faults_);
        const auto found = object_->find(name);
        if (found != object_->end()) return Value(&*found, path_of(name), faults_);
        faults_->say("job.missing_key", path_of(name));
        return Value(nullptr, path_of(name), faults_);
    }

  private:
    std::string path_of(const std::string& name) const { return path_.empty() ? name : path_ + "." + name; }

    const json* object_;
    std::string path_;
    Faults* faults_;
    std::set<std::string> asked_;
};

Fields Value::fields() const {
    return Fields(is(&json::is_object, "job.type_object") ? value_ : nullptr, path_, faults_);
}

FaceKey read_face(const Value& value) {
    Fields in = value.fields();
    FaceKey face;
    face.kind = in["kind"].word<space::SurfaceKind>(surface_kinds);
    face.axis = in["axis"].vector();
    face.offset_mm = in["offset_mm"].number();
    face.radius_mm = in["radius_mm"].number();
    face.at = in["at_mm"].vector();
    return face;
}

/// Data packed by packed(); the sum must hold.
std::shared_ptr<const std::string> read_packed(Fields& in, std::string& sha256) {
    sha256 = in["sha256"].text();
    const std::uint64_t bytes = in["bytes"].count();
    const Value text = in["packed"];
    if (!text.raw() || !text.raw()->is_string()) {
        (void)text.text();
        return std::make_shared<const std::string>();
    }
    auto data = base::unpack(text.raw()->get_ref<const std::string&>(), bytes);
    if (!data || base::sha256(*data) != sha256) {
        text.say("job.packed_damaged");
        return std::make_shared<const std::string>();
    }
    return std::make_shared<const std::string>(std::move(data).value());
}

weldment::EndCut read_end(const Value& value) {
    static const auto kinds = words_of(weldment::EndKind::other);
    Fields in = value.fields();
    weldment::EndCut end;
    end.kind = in["kind"].word<weldment::EndKind>(kinds);
    end.angle_deg = in["angle_deg"].number();
    end.plane_deg = in["plane_deg"].number();
    end.second_angle_deg = in["second_angle_deg"].number();
    end.face = in["face"].integer(-1, std::numeric_limits<int>::max());
    return end;
}

weldment::Section read_section(const Value& value) {
    static const auto kinds = words_of(weldment::SectionKind::other);
    Fields in = value.fields();
    weldment::Section section;
    section.kind = in["kind"].word<weldment::SectionKind>(kinds);
    section.width_mm = in["width_mm"].size_mm();
    section.depth_mm = in["depth_mm"].size_mm();
    section.wall_mm = in["wall_mm"].size_mm();
    section.diameter_mm = in["diameter_mm"].size_mm();
    section.corner_radius_mm = in["corner_radius_mm"].size_mm();
    return section;
}

weldment::Fingerprint read_fingerprint(const Value& value) {
    Fields in = value.fields();
    weldment::Fingerprint print;
    print.name_path = in["name_path"].texts();
    print.volume_mm3 = in["volume_mm3"].number();
    print.principal_moments = in["principal_moments_mm5"].vector();
    const auto kinds = in["face_kinds"].items(print.face_kinds.size());
    for (std::size_t i = 0; i < kinds.size(); ++i)
        print.face_kinds[i] = kinds[i].integer(0, std::numeric_limits<int>::max());
    print.handedness = in["handedness"].integer(-1, 1);
    print.centroid_M = in["centroid_M_mm"].vector();
    return print;
}

/// Ids of one kind that the file gives, and every place that refers to one.
class IdBook {
  public:
    explicit IdBook(std::uint32_t last_id) : last_id_(last_id) {}

    void give(const Value& at, std::uint32_t id) {
        if (id > last_id_) at.say("job.id_beyond_last", {{"id", std::to_string(id)}});
        if (!given_.insert(id).second) at.say("job.id_twice", {{"id", std::to_string(id)}});
    }
    void refer(const Value& at, std::uint32_t id) { referred_.emplace_back(at, id); }
    template <class Id>
    void refer(const Value& at, const std::vector<Id>& list) {
        for (const Id id : list) refer(at, id.value);
    }
    void settle() const {
        for (const auto& [at, id] : referred_)
            if (!given_.contains(id)) at.say("job.id_unknown", {{"id", std::to_string(id)}});
    }
    bool has(std::uint32_t id) const { return given_.contains(id); }

  private:
    std::uint32_t last_id_;
    std::set<std::uint32_t> given_;
    std::vector<std::pair<Value, std::uint32_t>> referred_;
};

struct Books {
    explicit Books(std::uint32_t last_id)
        : weldments(last_id), pieces(last_id), seams(last_id), stages(last_id), placements(last_id), steps(last_id) {}
    IdBook weldments, pieces, seams, stages, placements, steps;
};

/// Adds one entry of a list that is kept by id; twice the same id is a fault.
template <class Map, class Id, class T>
void put(Map& map, const Value& at, Id id, T value) {
    if (!map.emplace(id, std::move(value)).second) at.say("job.id_twice", {{"id", std::to_string(id.value)}});
}

WeldmentUse read_weldment(const Value& value, Books& books) {
    Fields in = value.fields();
    WeldmentUse use;
    use.id = in["id"].id<WeldmentId>();
    books.weldments.give(in["id"], use.id.value);
    use.file_name = in["file_name"].text();
    use.linked_path = in["linked_path"].text();
    use.unit_factor = in["unit_factor"].number_in(1e-6, 1e6);
    use.mirrored = in["mirrored"].truth();
    for (const Value& item : in["piece_edits"].items()) {
        Fields f = item.fields();
        const auto piece = f["piece"].id<PieceId>();
        books.pieces.refer(f["piece"], piece.value);
        PieceEdit edit;
        edit.name = f["name"].text();
        edit.left_out = f["left_out"].truth();
        if (const Value side = f["weld_side"]; side.raw() && !side.is_null()) edit.weld_side = read_face(side);
        put(use.piece_edits, f["piece"], piece, std::move(edit));
    }
    for (const Value& item : in["seam_edits"].items()) {
        Fields f = item.fields();
        const auto seam = f["seam"].id<SeamId>();
        books.seams.refer(f["seam"], seam.value);
        SeamEdit edit;
        if (const Value accepted = f["accepted"]; accepted.raw() && !accepted.is_null())
            edit.accepted = accepted.truth();
        if (const Value size = f["size_mm"]; size.raw() && !size.is_null()) edit.size_mm = size.size_mm();
        put(use.seam_edits, f["seam"], seam, edit);
    }
    for (const Value& item : in["pieces"].items()) {
        Fields f = item.fields();
        const auto piece = f["id"].id<PieceId>();
        books.pieces.give(f["id"], piece.value);
        use.frozen[piece] = {read_fingerprint(f["fingerprint"]), f["X_MP"].pose()};
    }
    for (const Value& item : in["seams"].items()) {
        Fields f = item.fields();
        const auto seam = f["id"].id<SeamId>();
        books.seams.give(f["id"], seam.value);
        WeldmentUse::FrozenSeam& was = use.frozen_seams[seam];
        const auto pair = f["pieces"].items(2);
        for (std::size_t i = 0; i < 2; ++i) {
            was.pieces[i] = pair[i].id<PieceId>();
            books.pieces.refer(pair[i], was.pieces[i].value);
        }
        was.middle_M = f["middle_M_mm"].vector();
        was.length_mm = f["length_mm"].size_mm();
    }
    for (const Value& item : in["drawn"].items()) {
        Fields f = item.fields();
        DrawnPiece piece;
        piece.id = f["id"].id<PieceId>();
        books.pieces.give(f["id"], piece.id.value);
        piece.name = f["name"].text();
        piece.section = read_section(f["section"]);
        piece.length_mm = f["length_mm"].size_mm();
        const auto ends = f["ends"].items(2);
        piece.ends = {read_end(ends[0]), read_end(ends[1])};
        piece.X_MP = f["X_MP"].pose();
        use.drawn.push_back(std::move(piece));
    }
    for (const Value& item : in["important"].items()) {
        Fields f = item.fields();
        ImportantFace face;
        face.piece = f["piece"].id<PieceId>();
        books.pieces.refer(f["piece"], face.piece.value);
        face.face = read_face(f["face"]);
        face.tolerance_mm = f["tolerance_mm"].size_mm();
        face.note = f["note"].text();
        use.important.push_back(std::move(face));
    }
    if (const Value step = in["step"]; step.raw() && !step.is_null()) {
        Fields f = step.fields();
        use.step_text = read_packed(f, use.sha256);
    }
    return use;
}

Seat read_seat(const Value& value, Books& books) {
    Fields in = value.fields();
    Seat seat;
    {
        const Value host_value = in["host"];
        Fields f = host_value.fields();
        Host& host = seat.host;
        host.kind = f["kind"].word<Host::Kind>(host_kinds);
        host.placement.value = f["placement"].id_number(host.kind != Host::Kind::placement);
        if (host.placement.valid()) books.placements.refer(f["placement"], host.placement.value);
        host.face = f["face"].text();
        host.pieces = f["pieces"].id_list<PieceId>();
        books.pieces.refer(f["pieces"], host.pieces);
        for (const Value& face : f["piece_faces"].items()) host.piece_faces.push_back(read_face(face));
        host.side = f["side"].word<shop::TableSide>(sides);
        const std::size_t wanted = host.kind == Host::Kind::piece ? 1 : host.kind == Host::Kind::pieces ? 2 : 0;
        if (host.pieces.size() != wanted)
            f["pieces"].say("job.list_length", {{"count", static_cast<std::int64_t>(wanted)}});
        if (host.piece_faces.size() != wanted)
            f["piece_faces"].say("job.list_length", {{"count", static_cast<std::int64_t>(wanted)}});
    }
    {
        Fields f = in["hole"].fields();
        seat.hole.col = f["col"].any_integer();
        seat.hole.row = f["row"].any_integer();
    }
    const auto turn = in["turn"].items(2);
    seat.turn = {turn[0].integer(-1000, 1000), turn[1].integer(-1000, 1000)};
    seat.turn_15deg = in["turn_15deg"].integer(-1000, 1000);
    seat.hand = in["hand"].word<shop::Hand>(hands);
    seat.plate = in["plate"].text();
    seat.setting = in["setting"].any_integer();
    for (const Value& item : in["packers"].items()) {
        Fields f = item.fields();
        Packer packer;
        packer.component = f["component"].text();
        packer.where = f["where"].word<Packer::Where>(packer_places);
        packer.thickness_mm = f["thickness_mm"].size_mm();
        seat.packers.push_back(std::move(packer));
    }
    seat.along_tenths = in["along_tenths"].any_integer();
    seat.across_tenths = in["across_tenths"].any_integer();
    return seat;
}

/// Follows hosts from each placement; a way that comes back is a fault.
void refuse_host_cycles(const Value& at, const Stage& stage) {
    std::map<PlacementId, PlacementId> host_of;
    for (const Placement& placement : stage.placements)
        if (placement.seat.host.kind == Host::Kind::placement) host_of[placement.id] = placement.seat.host.placement;
    std::set<PlacementId> settled;
    for (const auto& [start, host] : host_of) {
        std::set<PlacementId> way;
        for (PlacementId id = start; host_of.contains(id) && !settled.contains(id); id = host_of[id])
            if (!way.insert(id).second) {
                at.say("job.host_cycle", {{"id", std::to_string(id.value)}});
                return;
            }
        settled.insert(way.begin(), way.end());
    }
}

Stage read_stage(const Value& value, Books& books,
                 const std::map<std::string, std::shared_ptr<const shop::Component>>& components) {
    static const auto held_words = words_of(HeldBy::by_hand);
    static const auto step_kinds = words_of(StepKind::written);
    Fields in = value.fields();
    Stage stage;
    stage.id = in["id"].id<StageId>();
    books.stages.give(in["id"], stage.id.value);
    stage.name = in["name"].text();
    {
        Fields f = in["lay"].fields();
        stage.lay.side_down = sides_of_M[f["side_down"].one_of(sides_of_M)];
        stage.lay.yaw_deg = f["yaw_deg"].number();
        stage.lay.X_TM = f["X_TM"].pose();
    }
    stage.pieces = in["pieces"].id_list<PieceId>();
    books.pieces.refer(in["pieces"], stage.pieces);
    if (std::set(stage.pieces.begin(), stage.pieces.end()).size() != stage.pieces.size())
        in["pieces"].say("job.listed_twice");
    stage.earlier = in["earlier"].id_list<StageId>();
    // Only stages already read: a stage cannot come into itself or into one before it.
    for (const StageId earlier : stage.earlier)
        if (!books.stages.has(earlier.value) || earlier == stage.id)
            in["earlier"].say("job.stage_not_earlier", {{"id", std::to_string(earlier.value)}});
    for (const Value& item : in["held_by"].items()) {
        Fields f = item.fields();
        const auto piece = f["piece"].id<PieceId>();
        books.pieces.refer(f["piece"], piece.value);
        put(stage.held_by, f["piece"], piece, f["held_by"].word<HeldBy>(held_words));
    }
    std::set<PlacementId> here;
    std::vector<std::pair<Value, PlacementId>> local;
    for (const Value& item : in["placements"].items()) {
        Fields f = item.fields();
        Placement placement;
        placement.id = f["id"].id<PlacementId>();
        books.placements.give(f["id"], placement.id.value);
        here.insert(placement.id);
        placement.no = f["no"].integer(0, std::numeric_limits<int>::max());
        placement.component = f["component"].text();
        if (!components.contains(placement.component))
            f["component"].say("job.component_unknown", {{"component", placement.component}});
        placement.seat = read_seat(f["seat"], books);
        if (placement.seat.host.kind == Host::Kind::placement)
            local.emplace_back(f["seat"], placement.seat.host.placement);
        placement.locked = f["locked"].truth();
        placement.note = f["note"].text();
        stage.placements.push_back(std::move(placement));
    }
    for (const Value& item : in["order"].items()) {
        Fields f = item.fields();
        Step step;
        step.id = f["id"].id<StepId>();
        books.steps.give(f["id"], step.id.value);
        step.kind = f["kind"].word<StepKind>(step_kinds);
        step.placements = f["placements"].id_list<PlacementId>();
        for (const PlacementId id : step.placements) local.emplace_back(f["placements"], id);
        step.pieces = f["pieces"].id_list<PieceId>();
        books.pieces.refer(f["pieces"], step.pieces);
        step.seams = f["seams"].id_list<SeamId>();
        books.seams.refer(f["seams"], step.seams);
        step.note = f["note"].text();
        stage.order.push_back(std::move(step));
    }
    stage.repeat = in["repeat"].integer(1, 1000000);
    for (const Value& item : in["as_set"].items()) {
        Fields f = item.fields();
        const auto placement = f["placement"].id<PlacementId>();
        local.emplace_back(f["placement"], placement);
        put(stage.as_set_mm, f["placement"], placement, f["value_mm"].number());
    }
    for (const Value& item : in["measured"].items()) {
        Fields f = item.fields();
        Measured measured;
        measured.what = f["what"].text();
        measured.value_mm = f["value_mm"].number();
        measured.when = f["when"].text();
        stage.measured.push_back(std::move(measured));
    }
    for (const auto& [at, id] : local)
        if (!here.contains(id)) at.say("job.id_unknown", {{"id", std::to_string(id.value)}});
    refuse_host_cycles(in["placements"], stage);
    return stage;
}

/// Table, shelf and components have readers of their own.
template <class T, class Parse>
T read_part(const Value& value, Parse parse) {
    if (!value.raw()) return {};
    if (!value.raw()->is_object()) {
        (void)value.fields();
        return {};
    }
    auto part = parse(value.raw()->dump(-1, ' ', false, json::error_handler_t::replace), value.where());
    if (part) return std::move(part).value();
    value.adopt(part.error());
    return {};
}

std::map<std::string, std::shared_ptr<const shop::Component>> read_components(const Value& value) {
    std::map<std::string, std::shared_ptr<const shop::Component>> components;
    for (const auto& [id, item] : value.members()) {
        Fields f = item.fields();
        const std::string sum = f["sha256"].text();
        const Value definition = f["definition"];
        if (!definition.raw()) continue;
        auto component =
            std::make_shared<const shop::Component>(read_part<shop::Component>(definition, shop::parse_component));
        if (definition_sha256(*definition.raw()) != sum) definition.say("job.definition_damaged", {{"component", id}});
        if (component->id != id) definition.say("job.component_renamed", {{"component", id}, {"other", component->id}});
        components[id] = std::move(component);
    }
    return components;
}

Setup read_setup(const Value& root) {
    Fields in = root.fields();
    Setup setup;
    (void)in["format"];
    (void)in["version"];
    {
        Fields f = in["title"].fields();
        setup.title.job = f["job"].text();
        setup.title.part = f["part"].text();
        setup.title.customer = f["customer"].text();
        setup.title.planner = f["planner"].text();
        setup.title.date = f["date"].text();
        setup.title.revision = f["revision"].text();
        setup.title.hand = part_hands[f["hand"].one_of(part_hands)];
    }
    for (const Value& item : in["revisions"].items()) {
        Fields f = item.fields();
        Revision revision;
        revision.name = f["name"].text();
        revision.date = f["date"].text();
        revision.what = f["what"].text();
        setup.revisions.push_back(std::move(revision));
    }
    setup.notes = in["notes"].text();
    {
        Fields f = in["display"].fields();
        setup.display.unit.unit = f["unit"].word<base::LengthUnit>(length_units);
        setup.display.unit.decimals = f["decimals"].integer(0, 6);
        const Value denominator = f["denominator"];
        const int n = denominator.integer(1, 64);
        if ((n & (n - 1)) != 0) denominator.say("job.not_a_power_of_two");
        setup.display.unit.denominator = n;
        setup.display.paper = papers[f["paper"].one_of(papers)];
        setup.display.language = f["language"].text();
    }
    setup.rough = in["rough"].truth();
    {
        Fields f = in["limits"].fields();
        setup.limits.clearance_piece_mm = f["clearance_piece_mm"].size_mm();
        setup.limits.clearance_moving_mm = f["clearance_moving_mm"].size_mm();
    }
    {
        Fields f = in["process"].fields();
        setup.process.process = processes[f["process"].one_of(processes)];
        setup.process.gun = f["gun"].text();
        setup.process.stick_out_mm = f["stick_out_mm"].size_mm();
    }
    {
        Fields f = in["shrink"].fields();
        setup.shrink.per_joint_mm = f["per_joint_mm"].number_in(-1000, 1000);
        setup.shrink.note = f["note"].text();
    }
    {
        Fields f = in["stock"].fields();
        for (const auto& [section, length] : f["length_mm"].members())
            setup.stock.length_mm[section] = length.size_mm();
        setup.stock.kerf_mm = f["kerf_mm"].size_mm();
        setup.stock.end_trim_mm = f["end_trim_mm"].size_mm();
    }
    setup.last_id = in["last_id"].id_number(true);
    setup.table = read_part<shop::Table>(in["table"], shop::parse_table);
    setup.shelf = read_part<shop::Shelf>(in["shelf"], shop::parse_shelf);
    setup.components = read_components(in["components"]);
    Books books(setup.last_id);
    for (const Value& item : in["weldments"].items()) setup.weldments.push_back(read_weldment(item, books));
    for (const Value& item : in["stages"].items()) setup.stages.push_back(read_stage(item, books, setup.components));
    for (const IdBook* book :
         {&books.weldments, &books.pieces, &books.seams, &books.stages, &books.placements, &books.steps})
        book->settle();
    for (const Value& item : in["accepted"].items()) {
        Fields f = item.fields();
        Accepted accepted;
        accepted.rule = f["rule"].text();
        accepted.subjects = f["subjects"].texts();
        accepted.measured = f["measured"].number();
        accepted.reason = f["reason"].text();
        setup.accepted.push_back(std::move(accepted));
    }
    for (const Value& item : in["photos"].items()) {
        Fields f = item.fields();
        Photo photo;
        photo.data = read_packed(f, photo.sha256);
        photo.caption = f["caption"].text();
        setup.photos.push_back(std::move(photo));
    }
    return setup;
}

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

/// The tree, or what is wrong with the text; a key given twice is a fault, for one of the two would be lost.
base::Result<json> parse_text(std::string_view text, const std::string& where) {
    // A STEP file, say: "damaged" would send the reader looking for a backup copy.
    const std::size_t first = text.find_first_not_of(" \t\r\n");
    if (first != std::string_view::npos && text[first] != '{' && text[first] != '[')
        return base::bad_input({"job.not_a_job", {{"file", where}}});
    if (nesting(text) > deepest) return base::bad_input({"job.too_deep", {{"file", where}}});
    std::vector<std::set<std::string>> keys;
    std::string twice;
    const auto watch = [&](int, json::parse_event_t event, json& parsed) {
        if (event == json::parse_event_t::object_start) keys.emplace_back();
        if (event == json::parse_event_t::object_end) keys.pop_back();
        if (event == json::parse_event_t::key && !keys.back().insert(parsed.get<std::string>()).second)
            twice = parsed.get<std::string>();
        return true;
    };
    try {
        json tree = json::parse(text, watch);
        if (!twice.empty()) return base::bad_input({"job.key_twice", {{"file", where}, {"key", twice}}});
        return tree;
    } catch (const json::parse_error& error) {
        const std::size_t at = std::min(error.byte, text.size());
        const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
        return base::bad_input({"job.damaged", {{"file", where}, {"line", static_cast<std::int64_t>(line)}}});
    } catch (const json::exception&) {
        // A number that no double holds.
        return base::bad_input({"job.damaged", {{"file", where}, {"line", std::int64_t{1}}}});
    }
}

Text named(const std::string& name) {
    return {"job.name", {{"name", name}}};
}

/// What the catalogue of this computer says about the definitions that the job brought along.
void compare_with_catalogue(const Setup& setup, std::vector<Text>& remarks) {
    if (setup.components.empty()) return;
    const auto catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    if (!catalogue) {
        remarks.push_back(catalogue.error().text);
        return;
    }
    std::vector<Text> unknown;
    std::vector<Text> other;
    for (const auto& [id, component] : setup.components) {
        const shop::Component* known = catalogue->find(id);
        if (!known)
            unknown.push_back(named(id));
        else if (shop::component_json(*known) != shop::component_json(*component))
            other.push_back(named(id));
    }
    const auto remark = [&](const char* sentence, std::vector<Text> names) {
        const auto count = static_cast<std::int64_t>(names.size());
        if (count > 0) remarks.push_back({sentence, {{"components", std::move(names)}, {"count", count}}});
    };
    remark("job.component_not_in_catalogue", std::move(unknown));
    remark("job.component_differs", std::move(other));
}

/// A folder of its own with the STEP text in it, gone on every way out.
class ScratchModel {
  public:
    static base::Result<std::unique_ptr<ScratchModel>> make(const std::string& text) {
        std::error_code error;
        std::string folder = (std::filesystem::temp_directory_path(error) / "setwright-XXXXXX").string();
        if (error || !::mkdtemp(folder.data())) return base::bad_input({"job.no_scratch", {{"folder", folder}}});
        auto scratch = std::make_unique<ScratchModel>(folder);
        if (auto written = base::write_file(scratch->path(), text); !written) return written.error();
        return scratch;
    }
    explicit ScratchModel(std::string folder) : folder_(std::move(folder)) {}
    ScratchModel(const ScratchModel&) = delete;
    ScratchModel& operator=(const ScratchModel&) = delete;
    ~ScratchModel() {
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    std::string path() const { return folder_ + "/model.step"; }

  private:
    std::string folder_;
};

/// The reader's sentence names the scratch file; people know the model by its own name.
base::Error renamed(base::Error error, const std::string& path, const std::string& name) {
    for (auto& [key, argument] : error.text.arguments)
        if (auto* text = std::get_if<std::string>(&argument); text && *text == path) *text = name;
    return error;
}

base::Result<void> import_model(Setup& setup, WeldmentUse& use, const base::Progress& job, std::vector<Text>& remarks) {
    if (!use.step_text) return {};
    if (use.mirrored || use.unit_factor != 1)
        return base::Error{base::ErrorKind::not_yet,
                           {use.mirrored ? "job.mirrored_not_yet" : "job.scaled_not_yet", {{"model", use.file_name}}}};
    if (!use.linked_path.empty()) {
        const auto linked = base::read_file(use.linked_path, largest_model_bytes);
        if (linked && base::sha256(*linked) != use.sha256)
            remarks.push_back({"job.link_changed", {{"path", use.linked_path}}});
    }
    const auto scratch = ScratchModel::make(*use.step_text);
    if (!scratch) return scratch.error();
    const auto bodies = space::read_step((*scratch)->path(), job);
    if (!bodies) return renamed(bodies.error(), (*scratch)->path(), use.file_name);
    weldment::Weldment model = weldment::recognise(*bodies, job);
    if (job.cancelled()) return base::Error{base::ErrorKind::cancelled, {"job.cancelled", {}}};
    const Matched matched = match_to_frozen(use, model, setup.last_id);
    const auto remark = [&](const char* sentence, std::size_t count) {
        if (count > 0)
            remarks.push_back({sentence, {{"model", use.file_name}, {"count", static_cast<std::int64_t>(count)}}});
    };
    remark("job.pieces_gone", matched.pieces_gone);
    remark("job.pieces_new", matched.pieces_new);
    remark("job.seams_gone", matched.seams_gone);
    remark("job.seams_new", matched.seams_new);
    use.model = std::make_shared<const weldment::Weldment>(std::move(model));
    for (Text& read : import_remarks(use)) remarks.push_back(std::move(read));
    return {};
}

}  // namespace

std::string job_json(const Setup& setup) {
    // A name that is no UTF-8 gets the replacement sign instead of losing the job.
    return to_json(setup).dump(1, ' ', false, json::error_handler_t::replace) + "\n";
}

base::Result<OpenedJob> parse_job(std::string_view text, const std::string& where) {
    auto tree = parse_text(text, where);
    if (!tree) return tree.error();
    if (!tree->is_object() || tree->value("format", json()) != "setwright-job")
        return base::bad_input({"job.not_a_job", {{"file", where}}});
    const json said = tree->value("version", json());
    if (!said.is_number_unsigned() || said.get<std::uint64_t>() == 0)
        return base::bad_input({"job.version_missing", {{"file", where}}});
    if (said.get<std::uint64_t>() > version)
        return base::bad_input({"job.newer_version", {{"file", where}, {"version", said.dump()}}});
    Faults faults{where, {}};
    OpenedJob opened;
    opened.setup = read_setup(Value(&*tree, "", &faults));
    if (faults.first) return *faults.first;
    return opened;
}

base::Result<OpenedJob> open_job(const std::string& path, const base::Progress& job) {
    const auto text = base::read_file(path, largest_job_bytes);
    if (!text) return text.error();
    auto opened = parse_job(*text, path);
    if (!opened) return opened.error();
    compare_with_catalogue(opened->setup, opened->remarks);
    for (WeldmentUse& use : opened->setup.weldments)
        if (auto imported = import_model(opened->setup, use, job, opened->remarks); !imported) return imported.error();
    return opened;
}

base::Result<void> save_job(const Setup& setup, const std::string& path) {
    return base::write_file(path, job_json(setup));
}

base::Result<WeldmentUse> import_step(const std::string& path, const base::Progress& job) {
    auto text = base::read_file(path, largest_model_bytes);
    if (!text) return text.error();
    const auto bodies = space::read_step(path, job);
    if (!bodies) return bodies.error();
    auto model = std::make_shared<weldment::Weldment>(weldment::recognise(*bodies, job));
    if (job.cancelled()) return base::Error{base::ErrorKind::cancelled, {"job.cancelled", {}}};
    if (model->pieces.empty()) return base::bad_input({"job.no_pieces", {{"file", path}}});
    WeldmentUse use;
    use.file_name = std::filesystem::path(path).filename().string();
    use.sha256 = base::sha256(*text);
    use.step_text = std::make_shared<const std::string>(std::move(text).value());
    freeze(use, *model);
    use.model = std::move(model);
    return use;
}

std::vector<base::Text> import_remarks(const WeldmentUse& use) {
    const std::vector<weldment::Piece>& pieces = use.model->pieces;
    std::vector<Text> remarks;
    const auto remark = [&](const char* sentence, std::ptrdiff_t count) {
        remarks.push_back({sentence, {{"model", use.file_name}, {"count", static_cast<std::int64_t>(count)}}});
    };
    if (pieces.size() >= many_pieces) remark("job.many_pieces", std::ssize(pieces));
    const auto doubtful = std::count_if(pieces.begin(), pieces.end(), [](const auto& p) { return !p.doubts.empty(); });
    if (doubtful > 0) remark("job.doubts", doubtful);
    remarks.insert(remarks.end(), use.model->doubts.begin(), use.model->doubts.end());
    return remarks;
}

}  // namespace setwright::setup
