#include "core/space/bodies.h"

#include <zlib.h>

#include <bit>
#include <cmath>
#include <csignal>
#include <cstring>
#include <nlohmann/json.hpp>
#include <type_traits>

#include "core/base/child.h"
#include "core/base/file.h"
#include "core/space/wire.h"

namespace setwright::space {

using base::Result;
using nlohmann::json;

namespace {

static_assert(std::endian::native == std::endian::little, "records are written as they lie in memory");

constexpr std::string_view wire_mark = "SETWRIGHT BODIES 1\n";
/// Record kinds, in the order they come.
constexpr std::string_view header_kind = "head", solid_kind = "sold", brep_kind = "brep", error_kind = "fail",
                           end_kind = "done";

struct Damaged {};

/// Fixed-width values, one after the other.
class Writer {
  public:
    template <class T>
    void put(T value) {
        static_assert(std::is_arithmetic_v<T>);
        bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
    }
    void put(const Vec3& v) {
        for (int i = 0; i < 3; ++i) put(v[i]);
    }
    void put_count(std::size_t n) { put(static_cast<std::uint32_t>(n)); }
    void put_points(const std::vector<Vec3>& points) {
        put_count(points.size());
        for (const Vec3& p : points) put(p);
    }
    std::string take() { return std::move(bytes_); }

  private:
    std::string bytes_;
};

/// Reads what Writer wrote. Anything that cannot be true throws Damaged, which decode() catches.
class Reader {
  public:
    explicit Reader(std::string_view bytes) : bytes_(bytes) {}

    template <class T>
    T get() {
        static_assert(std::is_arithmetic_v<T>);
        T value;
        std::memcpy(&value, get_bytes(sizeof value).data(), sizeof value);
        if constexpr (std::is_floating_point_v<T>)
            if (!std::isfinite(value)) throw Damaged{};
        return value;
    }
    std::string_view get_bytes(std::size_t size) {
        if (size > bytes_.size()) throw Damaged{};
        const std::string_view part = bytes_.substr(0, size);
        bytes_.remove_prefix(size);
        return part;
    }
    Vec3 get_point() {
        Vec3 v;
        for (int i = 0; i < 3; ++i) v[i] = get<double>();
        return v;
    }
    /// A count of items of at least `size` bytes each: no more than what is left can hold.
    std::size_t get_count(std::size_t size) {
        const auto n = get<std::uint32_t>();
        if (n > bytes_.size() / size) throw Damaged{};
        return n;
    }
    std::uint32_t get_index(std::size_t below) {
        const auto i = get<std::uint32_t>();
        if (i >= below) throw Damaged{};
        return i;
    }
    template <class Enum>
    Enum get_enum(Enum last) {
        const auto value = get<std::uint8_t>();
        if (value > static_cast<std::uint8_t>(last)) throw Damaged{};
        return static_cast<Enum>(value);
    }
    bool get_bool() {
        const auto value = get<std::uint8_t>();
        if (value > 1) throw Damaged{};
        return value == 1;
    }
    std::vector<Vec3> get_points() {
        std::vector<Vec3> points(get_count(3 * sizeof(double)));
        for (Vec3& p : points) p = get_point();
        return points;
    }
    bool at_end() const { return bytes_.empty(); }

  private:
    std::string_view bytes_;
};

std::string solid_bytes(const Solid& solid) {
    Writer w;
    w.put_points(solid.mesh.points);
    w.put_count(solid.mesh.triangles.size());
    for (const auto& triangle : solid.mesh.triangles)
        for (const std::uint32_t corner : triangle) w.put(corner);
    w.put_count(solid.edges.size());
    for (const Edge& edge : solid.edges) {
        w.put(static_cast<std::uint8_t>(edge.kind));
        w.put(static_cast<std::uint8_t>(edge.convexity));
        w.put(static_cast<std::int32_t>(edge.face_a));
        w.put(static_cast<std::int32_t>(edge.face_b));
        w.put(edge.length_mm);
        w.put_points(edge.polyline);
    }
    w.put_count(solid.faces.size());
    for (const Face& face : solid.faces) {
        const Surface& s = face.surface;
        w.put(static_cast<std::uint8_t>(s.kind));
        w.put(static_cast<std::uint8_t>(s.outside));
        w.put(s.point);
        w.put(s.axis);
        for (const double value : {s.radius_mm, s.minor_radius_mm, s.half_angle_deg, s.residual_mm, face.area_mm2})
            w.put(value);
        w.put(face.centroid);
        w.put(face.first_triangle);
        w.put(face.triangle_count);
        w.put_count(face.loops.size());
        for (const Loop& loop : face.loops) {
            w.put(static_cast<std::uint8_t>(loop.outer));
            w.put_count(loop.edges.size());
            for (const std::uint32_t edge : loop.edges) w.put(edge);
            w.put_points(loop.polyline);
        }
    }
    w.put(solid.volume_mm3);
    w.put(solid.area_mm2);
    w.put(solid.centroid);
    for (int i = 0; i < 3; ++i) w.put(Vec3(solid.inertia.row(i).transpose()));
    w.put(static_cast<std::uint8_t>(solid.valid));
    return w.take();
}

Solid read_solid(std::string_view bytes) {
    Reader r(bytes);
    Solid solid;
    solid.mesh.points = r.get_points();
    solid.mesh.triangles.resize(r.get_count(3 * sizeof(std::uint32_t)));
    for (auto& triangle : solid.mesh.triangles)
        for (std::uint32_t& corner : triangle) corner = r.get_index(solid.mesh.points.size());
    solid.edges.resize(r.get_count(22));
    for (Edge& edge : solid.edges) {
        edge.kind = r.get_enum(CurveKind::other);
        edge.convexity = r.get_enum(Convexity::open);
        edge.face_a = r.get<std::int32_t>();
        edge.face_b = r.get<std::int32_t>();
        edge.length_mm = r.get<double>();
        edge.polyline = r.get_points();
    }
    solid.faces.resize(r.get_count(126));
    for (Face& face : solid.faces) {
        Surface& s = face.surface;
        s.kind = r.get_enum(SurfaceKind::other);
        s.outside = r.get_bool();
        s.point = r.get_point();
        s.axis = r.get_point();
        for (double* value : {&s.radius_mm, &s.minor_radius_mm, &s.half_angle_deg, &s.residual_mm, &face.area_mm2})
            *value = r.get<double>();
        face.centroid = r.get_point();
        face.first_triangle = r.get<std::uint32_t>();
        face.triangle_count = r.get<std::uint32_t>();
        if (std::uint64_t{face.first_triangle} + face.triangle_count > solid.mesh.triangles.size()) throw Damaged{};
        face.loops.resize(r.get_count(9));
        for (Loop& loop : face.loops) {
            loop.outer = r.get_bool();
            loop.edges.resize(r.get_count(sizeof(std::uint32_t)));
            for (std::uint32_t& edge : loop.edges) edge = r.get_index(solid.edges.size());
            loop.polyline = r.get_points();
        }
        for (std::uint32_t i = 0; i < face.triangle_count; ++i)
            for (const std::uint32_t corner : solid.mesh.triangles[face.first_triangle + i])
                face.box.add(solid.mesh.points[corner]);
    }
    const int faces = static_cast<int>(solid.faces.size());
    for (const Edge& edge : solid.edges)
        if (edge.face_a < -1 || edge.face_a >= faces || edge.face_b < -1 || edge.face_b >= faces) throw Damaged{};
    solid.volume_mm3 = r.get<double>();
    solid.area_mm2 = r.get<double>();
    solid.centroid = r.get_point();
    for (int i = 0; i < 3; ++i) solid.inertia.row(i) = r.get_point().transpose();
    solid.valid = r.get_bool();
    if (!r.at_end()) throw Damaged{};
    solid.box = solid.mesh.box();
    return solid;
}

json text_json(const base::Text& text) {
    json arguments = json::object();
    for (const auto& [name, argument] : text.arguments) {
        arguments[name] = std::visit(
            [](const auto& value) -> json {
                using Value = std::decay_t<decltype(value)>;
                if constexpr (std::is_same_v<Value, base::LengthArg>) {
                    return {{"mm", value.mm}};
                } else if constexpr (std::is_same_v<Value, std::vector<base::Text>>) {
                    json list = json::array();
                    for (const base::Text& item : value) list.push_back(text_json(item));
                    return list;
                } else {
                    return value;
                }
            },
            argument);
    }
    return {{"id", text.id}, {"arguments", arguments}};
}

constexpr int deepest_text = 8;

base::Text text_of(const json& j, int depth = 0) {
    if (depth > deepest_text || !j.is_object() || !j.contains("id") || !j["id"].is_string()) throw Damaged{};
    base::Text text{j["id"].get<std::string>(), {}};
    const json& arguments = j.contains("arguments") ? j["arguments"] : json::object();
    if (!arguments.is_object()) throw Damaged{};
    for (const auto& [name, value] : arguments.items()) {
        if (value.is_string()) {
            text.arguments[name] = value.get<std::string>();
        } else if (value.is_number_integer()) {
            text.arguments[name] = value.get<std::int64_t>();
        } else if (value.is_number_float()) {
            text.arguments[name] = value.get<double>();
        } else if (value.is_object() && value.contains("mm") && value["mm"].is_number()) {
            text.arguments[name] = base::LengthArg{value["mm"].get<double>()};
        } else if (value.is_array()) {
            std::vector<base::Text> list;
            for (const json& item : value) list.push_back(text_of(item, depth + 1));
            text.arguments[name] = std::move(list);
        } else {
            throw Damaged{};
        }
    }
    return text;
}

const json& field(const json& j, const char* key, json::value_t type) {
    const auto found = j.find(key);
    if (found == j.end() || found->type() != type) throw Damaged{};
    return *found;
}

std::string string_of(const json& j) {
    if (!j.is_string()) throw Damaged{};
    return j.get<std::string>();
}

double number_of(const json& j) {
    if (!j.is_number() || !std::isfinite(j.get<double>())) throw Damaged{};
    return j.get<double>();
}

int count_of(const json& j, const char* key) {
    const auto value = field(j, key, json::value_t::number_unsigned).get<std::uint64_t>();
    if (value > 1'000'000'000) throw Damaged{};
    return static_cast<int>(value);
}

std::string dumped(const json& j) {
    return j.dump(-1, ' ', false, json::error_handler_t::replace);
}

std::string header_json(const Bodies& bodies) {
    json list = json::array();
    for (const Body& body : bodies.bodies) {
        json item = {{"path", body.path}, {"name", body.name}, {"solid", body.solid}, {"X_MD", body.X_MD.row_major()}};
        if (body.mirrored) item["mirrored"] = true;
        if (body.colour) item["colour"] = *body.colour;
        list.push_back(std::move(item));
    }
    json remarks = json::array();
    for (const base::Text& remark : bodies.remarks) remarks.push_back(text_json(remark));
    return dumped({{"bodies", list},
                   {"solids", bodies.solids.size()},
                   {"unit", bodies.file_unit},
                   {"schema", bodies.schema},
                   {"solids_in_text", static_cast<unsigned>(bodies.solids_in_text)},
                   {"lost", bodies.lost},
                   {"loose_faces", static_cast<unsigned>(bodies.loose_faces)},
                   {"remarks", remarks}});
}

/// Fills all but the solids and says how many of those must follow.
std::size_t read_header(std::string_view text, Bodies& bodies) {
    const json j = json::parse(text, nullptr, false);
    if (!j.is_object()) throw Damaged{};
    const auto solids = static_cast<std::size_t>(count_of(j, "solids"));
    for (const json& item : field(j, "bodies", json::value_t::array)) {
        if (!item.is_object()) throw Damaged{};
        Body body;
        for (const json& name : field(item, "path", json::value_t::array)) body.path.push_back(string_of(name));
        body.name = string_of(field(item, "name", json::value_t::string));
        const auto solid = static_cast<std::size_t>(count_of(item, "solid"));
        if (solid >= solids) throw Damaged{};
        body.solid = static_cast<std::uint32_t>(solid);
        std::vector<double> numbers;
        for (const json& number : field(item, "X_MD", json::value_t::array)) numbers.push_back(number_of(number));
        const std::optional<Pose> pose = Pose::from_row_major(numbers);
        if (!pose) throw Damaged{};
        body.X_MD = *pose;
        body.mirrored = item.contains("mirrored") && field(item, "mirrored", json::value_t::boolean).get<bool>();
        if (item.contains("colour")) {
            const json& colour = field(item, "colour", json::value_t::array);
            if (colour.size() != 3) throw Damaged{};
            body.colour.emplace();
            for (std::size_t i = 0; i < 3; ++i) (*body.colour)[i] = static_cast<float>(number_of(colour[i]));
        }
        bodies.bodies.push_back(std::move(body));
    }
    bodies.file_unit = string_of(field(j, "unit", json::value_t::string));
    bodies.schema = string_of(field(j, "schema", json::value_t::string));
    bodies.solids_in_text = count_of(j, "solids_in_text");
    bodies.loose_faces = count_of(j, "loose_faces");
    for (const json& name : field(j, "lost", json::value_t::array)) bodies.lost.push_back(string_of(name));
    for (const json& remark : field(j, "remarks", json::value_t::array)) bodies.remarks.push_back(text_of(remark));
    return solids;
}

std::uint32_t checksum(std::string_view kind, std::string_view content) {
    std::uint32_t sum = 0;
    for (const std::string_view part : {kind, content})
        if (!part.empty())
            sum = static_cast<std::uint32_t>(
                ::crc32_z(sum, reinterpret_cast<const unsigned char*>(part.data()), part.size()));
    return sum;
}

/// kind (4), length (8), checksum over kind and content (4), content.
void put_record(std::string& wire, std::string_view kind, std::string_view content) {
    const std::uint64_t length = content.size();
    const std::uint32_t sum = checksum(kind, content);
    wire.append(kind);
    wire.append(reinterpret_cast<const char*>(&length), sizeof length);
    wire.append(reinterpret_cast<const char*>(&sum), sizeof sum);
    wire.append(content);
}

struct Record {
    std::string_view kind, content;
};

Record get_record(Reader& wire) {
    Record record;
    record.kind = wire.get_bytes(4);
    const auto length = wire.get<std::uint64_t>();
    const auto sum = wire.get<std::uint32_t>();
    record.content = wire.get_bytes(length);
    if (checksum(record.kind, record.content) != sum) throw Damaged{};
    return record;
}

base::Error error_of(std::string_view content) {
    const json j = json::parse(content, nullptr, false);
    if (!j.is_object() || !j.contains("text")) throw Damaged{};
    base::Error error;
    error.text = text_of(j["text"]);
    const std::string kind = string_of(field(j, "kind", json::value_t::string));
    if (kind == "none_possible") error.kind = base::ErrorKind::none_possible;
    return error;
}

Result<Bodies> read_records(std::string_view wire) {
    Reader reader(wire);
    if (reader.get_bytes(wire_mark.size()) != wire_mark) throw Damaged{};
    Record record = get_record(reader);
    if (record.kind == error_kind) return error_of(record.content);
    if (record.kind != header_kind) throw Damaged{};
    Bodies bodies;
    const std::size_t solids = read_header(record.content, bodies);
    for (std::size_t i = 0; i < solids; ++i) {
        const Record solid = get_record(reader);
        const Record brep = get_record(reader);
        if (solid.kind != solid_kind || brep.kind != brep_kind) throw Damaged{};
        bodies.solids.push_back(std::make_shared<const Solid>(read_solid(solid.content)));
        Result<Brep> opened = Brep::from_bytes(brep.content);
        if (!opened) throw Damaged{};
        bodies.breps.push_back(std::move(*opened));
    }
    record = get_record(reader);
    if (record.kind != end_kind || !record.content.empty() || !reader.at_end()) throw Damaged{};
    return bodies;
}

base::Error answer_damaged() {
    return base::bad_input({"import.answer_damaged", {}});
}

}  // namespace

std::string encode(const Bodies& bodies) {
    SETWRIGHT_ASSERT(bodies.solids.size() == bodies.breps.size(), "each solid has its exact boundary");
    std::string wire(wire_mark);
    put_record(wire, header_kind, header_json(bodies));
    for (std::size_t i = 0; i < bodies.solids.size(); ++i) {
        put_record(wire, solid_kind, solid_bytes(*bodies.solids[i]));
        put_record(wire, brep_kind, bodies.breps[i].bytes());
    }
    put_record(wire, end_kind, {});
    return wire;
}

std::string encode_error(const base::Error& error) {
    std::string wire(wire_mark);
    const char* kind = error.kind == base::ErrorKind::none_possible ? "none_possible" : "bad_input";
    put_record(wire, error_kind, dumped({{"kind", kind}, {"text", text_json(error.text)}}));
    put_record(wire, end_kind, {});
    return wire;
}

Result<Bodies> decode(std::string_view wire) {
    try {
        return read_records(wire);
    } catch (const Damaged&) {
        return answer_damaged();
    } catch (const std::exception&) {
        // No memory for what the records ask for.
        return answer_damaged();
    }
}

Result<Bodies> read_step(const std::string& path, const base::Progress& job, int wall_seconds) {
    const auto about_file = [&](const char* id) { return base::bad_input({id, {{"path", path}}}); };
    const Result<base::ChildRun> started = base::run_child(
        base::worker_path(), {"read", path, std::to_string(wall_seconds)}, std::chrono::seconds(wall_seconds), job);
    if (!started) return started.error();
    const base::ChildRun& run = *started;
    if (run.cancelled) return base::Error{base::ErrorKind::cancelled, {"import.cancelled", {{"path", path}}}};
    if (run.timed_out || run.signal == SIGXCPU)
        return base::bad_input({"import.too_slow", {{"path", path}, {"seconds", std::int64_t{wall_seconds}}}});
    if (run.exit_code == 0) {
        Result<Bodies> bodies = decode(run.output);
        if (bodies) job.report(1);
        return bodies;
    }
    // The helper says what is wrong before it ends with an error; without that, the file broke it.
    if (run.exit_code > 0) {
        const Result<Bodies> answer = decode(run.output);
        if (!answer && answer.error().text.id != answer_damaged().text.id) return answer.error();
    }
    return about_file("import.reader_broke");
}

}  // namespace setwright::space
