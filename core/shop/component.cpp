#include "core/shop/component.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "core/shop/json_reader.h"

namespace setwright::shop {

using nlohmann::json;
using nlohmann::ordered_json;
using space::Pose;
using space::Vec2;
using space::Vec3;

namespace {

template <class E>
using Names = std::pair<E, const char*>;

constexpr std::array<Names<Family>, 24> family_names{{{Family::stop, "stop"},
                                                      {Family::index_stop, "index_stop"},
                                                      {Family::slotted_stop, "slotted_stop"},
                                                      {Family::round_stop, "round_stop"},
                                                      {Family::pull_back_stop, "pull_back_stop"},
                                                      {Family::magnet, "magnet"},
                                                      {Family::rest, "rest"},
                                                      {Family::packer, "packer"},
                                                      {Family::v_block, "v_block"},
                                                      {Family::angle_plate, "angle_plate"},
                                                      {Family::long_bar, "long_bar"},
                                                      {Family::wedge, "wedge"},
                                                      {Family::pin_carrier, "pin_carrier"},
                                                      {Family::pin, "pin"},
                                                      {Family::pusher, "pusher"},
                                                      {Family::down_clamp, "down_clamp"},
                                                      {Family::side_clamp, "side_clamp"},
                                                      {Family::swing_clamp, "swing_clamp"},
                                                      {Family::bar_clamp, "bar_clamp"},
                                                      {Family::c_clamp, "c_clamp"},
                                                      {Family::comb, "comb"},
                                                      {Family::spacer, "spacer"},
                                                      {Family::clamping_bolt, "clamping_bolt"},
                                                      {Family::dowel, "dowel"}}};
constexpr std::array<Names<MountKind>, 4> mount_names{{{MountKind::bolted, "bolted"},
                                                       {MountKind::drop_in, "drop_in"},
                                                       {MountKind::magnet, "magnet"},
                                                       {MountKind::loose, "loose"}}};
constexpr std::array<Names<FaceShape>, 3> shape_names{
    {{FaceShape::plane, "plane"}, {FaceShape::cylinder, "cylinder"}, {FaceShape::v, "v"}}};
constexpr std::array<Names<BodyPart::Kind>, 3> part_names{
    {{BodyPart::Kind::box, "box"}, {BodyPart::Kind::cylinder, "cylinder"}, {BodyPart::Kind::prism, "prism"}}};

template <class Table, class E>
const char* name_of(const Table& names, E value) {
    const auto it = std::find_if(names.begin(), names.end(), [&](const auto& named) { return named.first == value; });
    SETWRIGHT_ASSERT(it != names.end(), "every value has a name");
    return it->second;
}

template <class E, std::size_t N>
E read_name(JsonReader& in, const char* key, const std::array<Names<E>, N>& names, const char* what) {
    const std::string text = in.text(key);
    for (const auto& [value, name] : names) {
        if (text == name) return value;
    }
    in.wrong(key, what);
    return names.front().first;
}

template <class Vector>
ordered_json numbers(const Vector& v) {
    ordered_json out = ordered_json::array();
    for (Eigen::Index i = 0; i < v.size(); ++i) out.push_back(v[i] == 0 ? 0.0 : v[i]);
    return out;
}

template <class Vectors>
ordered_json number_lists(const Vectors& vectors) {
    ordered_json out = ordered_json::array();
    for (const auto& v : vectors) out.push_back(numbers(v));
    return out;
}

ordered_json write(const BodyPart& part) {
    SETWRIGHT_ASSERT(part.kind != BodyPart::Kind::step, "the reader refuses STEP bodies");
    ordered_json out;
    out["kind"] = name_of(part_names, part.kind);
    switch (part.kind) {
        case BodyPart::Kind::box:
            out["min_mm"] = numbers(part.min);
            out["max_mm"] = numbers(part.max);
            break;
        case BodyPart::Kind::cylinder:
            out["from_mm"] = numbers(part.from);
            out["to_mm"] = numbers(part.to);
            out["diameter_mm"] = part.diameter_mm;
            break;
        case BodyPart::Kind::prism:
            out["outline_mm"] = number_lists(part.outline);
            out[part.upright ? "z0_mm" : "y0_mm"] = part.upright ? part.z0_mm : part.y0_mm;
            out[part.upright ? "z1_mm" : "y1_mm"] = part.upright ? part.z1_mm : part.y1_mm;
            break;
        case BodyPart::Kind::step:
            break;
    }
    if (part.moving) out["moving"] = true;
    if (part.swinging) out["swinging"] = true;
    return out;
}

BodyPart read_part(JsonReader in) {
    BodyPart part;
    part.kind = read_name(in, "kind", part_names, "shop.kind_part");
    switch (part.kind) {
        case BodyPart::Kind::box:
            part.min = in.point("min_mm");
            part.max = in.point("max_mm");
            if (!(part.min.array() < part.max.array()).all()) in.wrong("max_mm", "shop.kind_box");
            break;
        case BodyPart::Kind::cylinder:
            part.from = in.point("from_mm");
            part.to = in.point("to_mm");
            part.diameter_mm = in.size("diameter_mm");
            if (part.from == part.to) in.wrong("to_mm", "shop.kind_box");
            break;
        case BodyPart::Kind::prism:
            part.outline = in.polygon("outline_mm");
            if (part.outline.empty()) in.wrong("outline_mm", "shop.kind_outline");
            part.upright = in.has("z0_mm");
            (part.upright ? part.z0_mm : part.y0_mm) = in.number(part.upright ? "z0_mm" : "y0_mm");
            (part.upright ? part.z1_mm : part.y1_mm) = in.number(part.upright ? "z1_mm" : "y1_mm");
            if (part.upright ? part.z0_mm >= part.z1_mm : part.y0_mm >= part.y1_mm) {
                in.wrong(part.upright ? "z1_mm" : "y1_mm", "shop.kind_box");
            }
            break;
        case BodyPart::Kind::step:
            break;
    }
    part.moving = in.flag("moving");
    part.swinging = in.flag("swinging");
    in.finish();
    return part;
}

ordered_json write(const LocatingFace& face) {
    ordered_json out;
    out["id"] = face.id;
    out["shape"] = name_of(shape_names, face.shape);
    out["point_mm"] = numbers(face.point);
    out["normal"] = numbers(face.normal);
    out["up"] = numbers(face.up);
    out["from_mm"] = face.from_mm;
    out["to_mm"] = face.to_mm;
    out["width_mm"] = face.width_mm;
    if (face.shape == FaceShape::cylinder) out["diameter_mm"] = face.diameter_mm;
    if (face.shape == FaceShape::v) out["v_angle_deg"] = face.v_angle_deg;
    out["locates"] = face.locates;
    if (face.moving) out["moving"] = true;
    if (face.relieved) out["relieved"] = true;
    return out;
}

LocatingFace read_face(JsonReader in) {
    LocatingFace face;
    face.id = in.text("id");
    face.shape = read_name(in, "shape", shape_names, "shop.kind_face");
    face.point = in.point("point_mm");
    face.normal = in.direction("normal", Vec3::UnitX());
    face.up = in.direction("up", Vec3::UnitZ());
    face.from_mm = in.number("from_mm");
    face.to_mm = in.number("to_mm");
    if (!(face.from_mm < face.to_mm)) in.wrong("to_mm", "shop.kind_box");
    if (face.shape == FaceShape::cylinder) {
        face.width_mm = in.number_or("width_mm", 0);
        face.diameter_mm = in.size("diameter_mm");
    } else {
        face.width_mm = in.size("width_mm");
    }
    if (face.shape == FaceShape::v) {
        face.v_angle_deg = in.number("v_angle_deg");
        if (!(face.v_angle_deg > 0 && face.v_angle_deg < 180)) in.wrong("v_angle_deg", "shop.kind_size");
    }
    if (std::abs(face.normal.dot(face.up)) > 1e-9) in.wrong("up", "shop.kind_square");
    face.locates = !in.has("locates") || in.flag("locates");
    face.moving = in.flag("moving");
    face.relieved = in.flag("relieved");
    in.finish();
    return face;
}

ordered_json write(const std::vector<BodyPart>& parts) {
    ordered_json out = ordered_json::array();
    for (const BodyPart& part : parts) out.push_back(write(part));
    return out;
}

ordered_json write(const std::vector<LocatingFace>& faces) {
    ordered_json out = ordered_json::array();
    for (const LocatingFace& face : faces) out.push_back(write(face));
    return out;
}

std::vector<BodyPart> read_body(JsonReader& in, JsonReader::Fault& fault) {
    std::vector<BodyPart> parts;
    const json& list = in.list("body");
    for (std::size_t i = 0; i < list.size(); ++i) parts.push_back(read_part({list[i], in.item_path("body", i), fault}));
    return parts;
}

std::vector<LocatingFace> read_faces(JsonReader& in, JsonReader::Fault& fault) {
    std::vector<LocatingFace> faces;
    const json& list = in.list("faces");
    for (std::size_t i = 0; i < list.size(); ++i)
        faces.push_back(read_face({list[i], in.item_path("faces", i), fault}));
    return faces;
}

ordered_json write(const Mount& mount) {
    ordered_json out;
    out["kind"] = name_of(mount_names, mount.kind);
    out["hole_mm"] = mount.hole_mm;
    out["pitch_mm"] = mount.pitch_mm;
    if (mount.second) {
        out["second"] = {{"from_mm", mount.second->from_mm},
                         {"to_mm", mount.second->to_mm},
                         {"direction", numbers(mount.second->direction)}};
    }
    out["turns_freely"] = mount.turns_freely;
    out["bolts"] = mount.bolts;
    out["dowels"] = mount.dowels;
    out["bolt_stock_id"] = mount.bolt_stock_id;
    out["dowel_stock_id"] = mount.dowel_stock_id;
    out["bolts_at_mm"] = number_lists(mount.bolts_at);
    out["footprint_mm"] = number_lists(mount.footprint);
    return out;
}

Mount read_mount(JsonReader in, JsonReader::Fault& fault) {
    Mount mount;
    mount.kind = read_name(in, "kind", mount_names, "shop.kind_mount");
    mount.hole_mm = in.number_or("hole_mm", 0);
    mount.pitch_mm = in.number_or("pitch_mm", 0);
    const bool in_holes = mount.kind == MountKind::bolted || mount.kind == MountKind::drop_in;
    if (in_holes && !(mount.hole_mm > 0)) in.wrong("hole_mm", "shop.kind_size");
    if (in_holes && !(mount.pitch_mm > 0)) in.wrong("pitch_mm", "shop.kind_size");
    if (in.has("second")) {
        JsonReader second(in.value("second"), in.key_path("second"), fault);
        Mount::Second slot;
        slot.from_mm = second.size("from_mm");
        slot.to_mm = second.size("to_mm");
        slot.direction = second.direction2("direction", slot.direction);
        if (slot.to_mm < slot.from_mm) second.wrong("to_mm", "shop.kind_box");
        second.finish();
        mount.second = slot;
    }
    mount.turns_freely = in.flag("turns_freely");
    mount.bolts = in.count_or("bolts", 0);
    mount.dowels = in.count_or("dowels", 0);
    if (mount.bolts < 0) in.wrong("bolts", "shop.kind_integer");
    if (mount.dowels < 0) in.wrong("dowels", "shop.kind_integer");
    mount.bolt_stock_id = in.text_or("bolt_stock_id", "");
    mount.dowel_stock_id = in.text_or("dowel_stock_id", "");
    const json& bolts_at = in.list("bolts_at_mm");
    for (std::size_t i = 0; i < bolts_at.size(); ++i) {
        if (bolts_at[i].is_array() && bolts_at[i].size() == 3 &&
            std::all_of(bolts_at[i].begin(), bolts_at[i].end(), [](const json& n) { return n.is_number(); })) {
            mount.bolts_at.emplace_back(bolts_at[i][0].get<double>(), bolts_at[i][1].get<double>(),
                                        bolts_at[i][2].get<double>());
        } else {
            fault.wrong(in.item_path("bolts_at_mm", i), "shop.kind_point");
        }
    }
    mount.footprint = in.polygon("footprint_mm");
    in.finish();
    return mount;
}

Plate read_plate(JsonReader in, JsonReader::Fault& fault) {
    Plate plate;
    plate.id = in.text("id");
    plate.stock_id = in.text("stock_id");
    plate.top_mm = in.size("top_mm");
    plate.body = read_body(in, fault);
    plate.faces = read_faces(in, fault);
    plate.mass_kg = in.number("mass_kg");
    in.finish();
    return plate;
}

GridFace read_grid(JsonReader in) {
    GridFace grid;
    grid.id = in.text("id");
    grid.origin = in.point("origin_mm");
    grid.right = in.direction("right", Vec3::UnitY());
    grid.up = in.direction("up", Vec3::UnitZ());
    if (std::abs(grid.right.dot(grid.up)) > 1e-9) in.wrong("up", "shop.kind_square");
    grid.pitch_right_mm = in.size("pitch_right_mm");
    grid.pitch_up_mm = in.size("pitch_up_mm");
    grid.cols = in.count("cols");
    grid.rows = in.count("rows");
    if (grid.cols < 1) in.wrong("cols", "shop.kind_size");
    if (grid.rows < 1) in.wrong("rows", "shop.kind_size");
    grid.hole_mm = in.size("hole_mm");
    in.finish();
    return grid;
}

Component read_component(JsonReader& in, JsonReader::Fault& fault) {
    Component c;
    c.id = in.text("id");
    const std::string family = in.text("family");
    if (const std::optional<Family> known = parse_family(family)) {
        c.family = *known;
    } else {
        in.wrong("family", "shop.kind_family");
    }
    c.size = in.text("size");
    c.nominal = in.unit("nominal");
    c.mount = read_mount({in.value("mount"), in.key_path("mount"), fault}, fault);
    c.body = read_body(in, fault);
    c.faces = read_faces(in, fault);
    const json& plates = in.list("plates");
    for (std::size_t i = 0; i < plates.size(); ++i) {
        c.plates.push_back(read_plate({plates[i], in.item_path("plates", i), fault}, fault));
    }
    if (in.has("setting")) {
        JsonReader item(in.value("setting"), in.key_path("setting"), fault);
        Setting setting;
        setting.direction = item.direction("direction", Vec3::UnitX());
        setting.step_mm = item.size("step_mm");
        setting.first = item.count("first");
        setting.last = item.count("last");
        if (setting.last < setting.first) item.wrong("last", "shop.kind_box");
        item.finish();
        c.setting = setting;
    }
    c.handed = in.flag("handed");
    const json& grids = in.list("grid_faces");
    for (std::size_t i = 0; i < grids.size(); ++i)
        c.grid_faces.push_back(read_grid({grids[i], in.item_path("grid_faces", i), fault}));
    if (in.has("clamp")) {
        JsonReader item(in.value("clamp"), in.key_path("clamp"), fault);
        c.clamp = Clamp{item.number_or("force_n", 0), item.number_or("reach_mm", 0), item.number_or("swing_deg", 0),
                        item.number_or("stroke_mm", 0)};
        item.finish();
    }
    c.packers_under = in.flag("packers_under");
    c.packers_at_face = in.flag("packers_at_face");
    c.thickness_mm = in.number_or("thickness_mm", 0);
    c.mass_kg = in.number("mass_kg");
    c.key_room_diameter_mm = in.number_or("key_room_diameter_mm", 0);
    c.key_room_height_mm = in.number_or("key_room_height_mm", 0);
    c.to_cut = in.flag("to_cut");
    c.overall_height_mm = in.number("overall_height_mm");
    in.finish();
    return c;
}

Vec3 mirrored(const Vec3& v) {
    return {v.x(), -v.y(), v.z()};
}

BodyPart mirrored(BodyPart part) {
    const double old_min = part.min.y();
    part.min.y() = -part.max.y();
    part.max.y() = -old_min;
    part.from = mirrored(part.from);
    part.to = mirrored(part.to);
    if (part.upright) {
        for (Vec2& corner : part.outline) corner.y() = -corner.y();
        std::reverse(part.outline.begin(), part.outline.end());
    } else {
        const double old_y0 = part.y0_mm;
        part.y0_mm = -part.y1_mm;
        part.y1_mm = -old_y0;
    }
    return part;
}

LocatingFace mirrored(LocatingFace face) {
    face.point = mirrored(face.point);
    face.normal = mirrored(face.normal);
    face.up = mirrored(face.up);
    return face;
}

BodyPart moved(BodyPart part, const Vec3& by) {
    part.min += by;
    part.max += by;
    part.from += by;
    part.to += by;
    for (Vec2& corner : part.outline) corner += part.upright ? Vec2(by.x(), by.y()) : Vec2(by.x(), by.z());
    part.y0_mm += by.y();
    part.y1_mm += by.y();
    part.z0_mm += by.z();
    part.z1_mm += by.z();
    return part;
}

/// Local x, y, z of a prism's outline frame in C: out of the xz plane looks -y.
Pose outline_frame(const BodyPart& part) {
    if (part.upright) return {};
    space::Mat3 axes;
    axes.col(0) = Vec3::UnitX();
    axes.col(1) = Vec3::UnitZ();
    axes.col(2) = -Vec3::UnitY();
    return {axes, Vec3::Zero()};
}

std::pair<double, double> outline_reach(const BodyPart& part) {
    return part.upright ? std::pair(part.z0_mm, part.z1_mm) : std::pair(-part.y1_mm, -part.y0_mm);
}

}  // namespace

const char* key(Family family) {
    return name_of(family_names, family);
}

std::optional<Family> parse_family(std::string_view text) {
    for (const auto& [family, name] : family_names) {
        if (text == name) return family;
    }
    return {};
}

const Plate* Component::find_plate(std::string_view plate) const {
    const auto it = std::find_if(plates.begin(), plates.end(), [&](const Plate& p) { return p.id == plate; });
    return it == plates.end() ? nullptr : &*it;
}

double volume_mm3(const BodyPart& part) {
    switch (part.kind) {
        case BodyPart::Kind::box:
            return (part.max - part.min).prod();
        case BodyPart::Kind::cylinder:
            return std::numbers::pi / 4 * part.diameter_mm * part.diameter_mm * (part.to - part.from).norm();
        case BodyPart::Kind::prism: {
            const auto [low, high] = outline_reach(part);
            return space::area(part.outline) * (high - low);
        }
        case BodyPart::Kind::step:
            break;
    }
    SETWRIGHT_ASSERT(false, "the reader refuses STEP bodies");
    return 0;
}

std::string component_json(const Component& c) {
    ordered_json out;
    out["id"] = c.id;
    out["family"] = key(c.family);
    out["size"] = c.size;
    out["nominal"] = key(c.nominal);
    out["mount"] = write(c.mount);
    out["body"] = write(c.body);
    out["faces"] = write(c.faces);
    out["plates"] = ordered_json::array();
    for (const Plate& plate : c.plates) {
        ordered_json item;
        item["id"] = plate.id;
        item["stock_id"] = plate.stock_id;
        item["top_mm"] = plate.top_mm;
        item["body"] = write(plate.body);
        item["faces"] = write(plate.faces);
        item["mass_kg"] = plate.mass_kg;
        out["plates"].push_back(std::move(item));
    }
    if (c.setting) {
        out["setting"] = {{"direction", numbers(c.setting->direction)},
                          {"step_mm", c.setting->step_mm},
                          {"first", c.setting->first},
                          {"last", c.setting->last}};
    }
    out["handed"] = c.handed;
    out["grid_faces"] = ordered_json::array();
    for (const GridFace& grid : c.grid_faces) {
        ordered_json item;
        item["id"] = grid.id;
        item["origin_mm"] = numbers(grid.origin);
        item["right"] = numbers(grid.right);
        item["up"] = numbers(grid.up);
        item["pitch_right_mm"] = grid.pitch_right_mm;
        item["pitch_up_mm"] = grid.pitch_up_mm;
        item["cols"] = grid.cols;
        item["rows"] = grid.rows;
        item["hole_mm"] = grid.hole_mm;
        out["grid_faces"].push_back(std::move(item));
    }
    if (c.clamp) {
        out["clamp"] = {{"force_n", c.clamp->force_n},
                        {"reach_mm", c.clamp->reach_mm},
                        {"swing_deg", c.clamp->swing_deg},
                        {"stroke_mm", c.clamp->stroke_mm}};
    }
    out["packers_under"] = c.packers_under;
    out["packers_at_face"] = c.packers_at_face;
    out["thickness_mm"] = c.thickness_mm;
    out["mass_kg"] = c.mass_kg;
    out["key_room_diameter_mm"] = c.key_room_diameter_mm;
    out["key_room_height_mm"] = c.key_room_height_mm;
    out["to_cut"] = c.to_cut;
    out["overall_height_mm"] = c.overall_height_mm;
    return out.dump();
}

base::Result<Component> parse_component(std::string_view text, const std::string& where) {
    base::Result<json> parsed = parse_object(text, where);
    if (!parsed) return parsed.error();
    JsonReader::Fault fault{where, {}};
    JsonReader in(*parsed, "", fault);
    Component component = read_component(in, fault);
    if (fault.error) return *fault.error;
    return component;
}

ComponentShape shape_of(const Component& component, std::string_view plate, Hand hand, int setting) {
    std::vector<BodyPart> parts = component.body;
    std::vector<LocatingFace> faces = component.faces;
    if (const Plate* chosen = component.find_plate(plate)) {
        parts.insert(parts.end(), chosen->body.begin(), chosen->body.end());
        faces.insert(faces.end(), chosen->faces.begin(), chosen->faces.end());
    }
    const Vec3 travel =
        component.setting ? Vec3(component.setting->direction * (component.setting->step_mm * setting)) : Vec3::Zero();
    ComponentShape shape;
    for (BodyPart& part : parts) {
        if (part.moving) part = moved(std::move(part), travel);
        if (hand == Hand::left) part = mirrored(std::move(part));
        (part.swinging ? shape.moving : shape.fixed).push_back(std::move(part));
    }
    for (LocatingFace& face : faces) {
        if (face.moving) face.point += travel;
        if (hand == Hand::left) face = mirrored(std::move(face));
        shape.faces.push_back(std::move(face));
    }
    return shape;
}

space::Mesh mesh_of(const std::vector<BodyPart>& parts) {
    space::Mesh mesh;
    for (const BodyPart& part : parts) {
        switch (part.kind) {
            case BodyPart::Kind::box:
                mesh.add(space::box_mesh(part.min, part.max));
                break;
            case BodyPart::Kind::cylinder:
                mesh.add(space::cylinder_mesh(part.from, part.to, part.diameter_mm / 2));
                break;
            case BodyPart::Kind::prism: {
                const auto [low, high] = outline_reach(part);
                mesh.add(space::prism_mesh(part.outline, low, high, outline_frame(part)));
                break;
            }
            case BodyPart::Kind::step:
                SETWRIGHT_ASSERT(false, "the reader refuses STEP bodies");
        }
    }
    return mesh;
}

space::Brep brep_of(const std::vector<BodyPart>& parts) {
    std::vector<space::Brep> breps;
    for (const BodyPart& part : parts) {
        switch (part.kind) {
            case BodyPart::Kind::box:
                breps.push_back(space::Brep::box(part.min, part.max));
                break;
            case BodyPart::Kind::cylinder:
                breps.push_back(space::Brep::cylinder(part.from, part.to, part.diameter_mm / 2));
                break;
            case BodyPart::Kind::prism: {
                const auto [low, high] = outline_reach(part);
                base::Result<space::Brep> prism = space::Brep::prism(part.outline, {}, low, high, outline_frame(part));
                // A definition from a file may have an outline that crosses itself: left out of the drawing, never a
                // crash.
                if (prism) breps.push_back(std::move(*prism));
                break;
            }
            case BodyPart::Kind::step:
                SETWRIGHT_ASSERT(false, "the reader refuses STEP bodies");
        }
    }
    return space::Brep::together(breps);
}

}  // namespace setwright::shop
