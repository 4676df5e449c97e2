#include "core/shop/component.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "core/shop/definition.h"

namespace setwright::shop {

using base::Json;
using base::JsonFields;
using base::JsonValue;
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
E read_name(const JsonValue& value, const std::array<Names<E>, N>& names) {
    std::array<const char*, N> words{};
    std::transform(names.begin(), names.end(), words.begin(), [](const auto& named) { return named.second; });
    return names[value.one_of(words)].first;
}

template <class Vector>
Json numbers(const Vector& v) {
    Json out = Json::array();
    for (Eigen::Index i = 0; i < v.size(); ++i) out.push_back(v[i] == 0 ? 0.0 : v[i]);
    return out;
}

template <class Vectors>
Json number_lists(const Vectors& vectors) {
    Json out = Json::array();
    for (const auto& v : vectors) out.push_back(numbers(v));
    return out;
}

Json write(const BodyPart& part) {
    SETWRIGHT_ASSERT(part.kind != BodyPart::Kind::step, "the reader refuses STEP bodies");
    Json out;
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

BodyPart read_part(const JsonValue& value) {
    JsonFields in = value.fields();
    BodyPart part;
    part.kind = read_name(in["kind"], part_names);
    switch (part.kind) {
        case BodyPart::Kind::box:
            part.min = read_point(in["min_mm"]);
            part.max = read_point(in["max_mm"]);
            if (!(part.min.array() < part.max.array()).all()) in["max_mm"].wrong("shop.kind_box");
            break;
        case BodyPart::Kind::cylinder:
            part.from = read_point(in["from_mm"]);
            part.to = read_point(in["to_mm"]);
            part.diameter_mm = read_size(in["diameter_mm"]);
            if (part.from == part.to) in["to_mm"].wrong("shop.kind_box");
            break;
        case BodyPart::Kind::prism:
            part.outline = read_polygon(in["outline_mm"]);
            if (part.outline.empty()) in["outline_mm"].wrong("shop.kind_outline");
            part.upright = in.has("z0_mm");
            (part.upright ? part.z0_mm : part.y0_mm) = in[part.upright ? "z0_mm" : "y0_mm"].number();
            (part.upright ? part.z1_mm : part.y1_mm) = in[part.upright ? "z1_mm" : "y1_mm"].number();
            if (part.upright ? part.z0_mm >= part.z1_mm : part.y0_mm >= part.y1_mm) {
                in[part.upright ? "z1_mm" : "y1_mm"].wrong("shop.kind_box");
            }
            break;
        case BodyPart::Kind::step:
            break;
    }
    part.moving = flag(in["moving"]);
    part.swinging = flag(in["swinging"]);
    return part;
}

Json write(const LocatingFace& face) {
    Json out;
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

LocatingFace read_face(const JsonValue& value) {
    JsonFields in = value.fields();
    LocatingFace face;
    face.id = in["id"].text();
    face.shape = read_name(in["shape"], shape_names);
    face.point = read_point(in["point_mm"]);
    face.normal = read_direction(in["normal"], Vec3::UnitX());
    face.up = read_direction(in["up"], Vec3::UnitZ());
    face.from_mm = in["from_mm"].number();
    face.to_mm = in["to_mm"].number();
    if (!(face.from_mm < face.to_mm)) in["to_mm"].wrong("shop.kind_box");
    if (face.shape == FaceShape::cylinder) {
        face.width_mm = number_or(in["width_mm"], 0);
        face.diameter_mm = read_size(in["diameter_mm"]);
    } else {
        face.width_mm = read_size(in["width_mm"]);
    }
    if (face.shape == FaceShape::v) {
        face.v_angle_deg = in["v_angle_deg"].number();
        if (!(face.v_angle_deg > 0 && face.v_angle_deg < 180)) in["v_angle_deg"].wrong("shop.kind_size");
    }
    if (std::abs(face.normal.dot(face.up)) > 1e-9) in["up"].wrong("shop.kind_square");
    face.locates = !in.has("locates") || flag(in["locates"]);
    face.moving = flag(in["moving"]);
    face.relieved = flag(in["relieved"]);
    return face;
}

Json write(const std::vector<BodyPart>& parts) {
    Json out = Json::array();
    for (const BodyPart& part : parts) out.push_back(write(part));
    return out;
}

Json write(const std::vector<LocatingFace>& faces) {
    Json out = Json::array();
    for (const LocatingFace& face : faces) out.push_back(write(face));
    return out;
}

std::vector<BodyPart> read_body(const JsonValue& value) {
    std::vector<BodyPart> out;
    for (const JsonValue& item : list(value)) out.push_back(read_part(item));
    return out;
}

std::vector<LocatingFace> read_faces(const JsonValue& value) {
    std::vector<LocatingFace> out;
    for (const JsonValue& item : list(value)) out.push_back(read_face(item));
    return out;
}

Json write(const Mount& mount) {
    Json out;
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

Mount read_mount(const JsonValue& value) {
    JsonFields in = value.fields();
    Mount mount;
    mount.kind = read_name(in["kind"], mount_names);
    mount.hole_mm = number_or(in["hole_mm"], 0);
    mount.pitch_mm = number_or(in["pitch_mm"], 0);
    const bool in_holes = mount.kind == MountKind::bolted || mount.kind == MountKind::drop_in;
    if (in_holes && !(mount.hole_mm > 0)) in["hole_mm"].wrong("shop.kind_size");
    if (in_holes && !(mount.pitch_mm > 0)) in["pitch_mm"].wrong("shop.kind_size");
    if (in.has("second")) {
        JsonFields second = in["second"].fields();
        Mount::Second slot;
        slot.from_mm = read_size(second["from_mm"]);
        slot.to_mm = read_size(second["to_mm"]);
        slot.direction = read_direction2(second["direction"], slot.direction);
        if (slot.to_mm < slot.from_mm) second["to_mm"].wrong("shop.kind_box");
        mount.second = slot;
    }
    mount.turns_freely = flag(in["turns_freely"]);
    mount.bolts = count_or(in["bolts"], 0);
    mount.dowels = count_or(in["dowels"], 0);
    mount.bolt_stock_id = text_or(in["bolt_stock_id"], "");
    mount.dowel_stock_id = text_or(in["dowel_stock_id"], "");
    for (const JsonValue& at : list(in["bolts_at_mm"])) mount.bolts_at.push_back(read_point(at));
    mount.footprint = read_polygon(in["footprint_mm"]);
    return mount;
}

Plate read_plate(const JsonValue& value) {
    JsonFields in = value.fields();
    Plate plate;
    plate.id = in["id"].text();
    plate.stock_id = in["stock_id"].text();
    plate.top_mm = read_size(in["top_mm"]);
    plate.body = read_body(in["body"]);
    plate.faces = read_faces(in["faces"]);
    plate.mass_kg = in["mass_kg"].number();
    return plate;
}

GridFace read_grid(const JsonValue& value) {
    JsonFields in = value.fields();
    GridFace grid;
    grid.id = in["id"].text();
    grid.origin = read_point(in["origin_mm"]);
    grid.right = read_direction(in["right"], Vec3::UnitY());
    grid.up = read_direction(in["up"], Vec3::UnitZ());
    if (std::abs(grid.right.dot(grid.up)) > 1e-9) in["up"].wrong("shop.kind_square");
    grid.pitch_right_mm = read_size(in["pitch_right_mm"]);
    grid.pitch_up_mm = read_size(in["pitch_up_mm"]);
    grid.cols = read_count_from_one(in["cols"]);
    grid.rows = read_count_from_one(in["rows"]);
    grid.hole_mm = read_size(in["hole_mm"]);
    return grid;
}

Component read_component(const JsonValue& value) {
    JsonFields in = value.fields();
    Component c;
    c.id = in["id"].text();
    const std::string family = in["family"].text();
    if (const std::optional<Family> known = parse_family(family)) {
        c.family = *known;
    } else {
        in["family"].wrong("shop.kind_family");
    }
    c.size = in["size"].text();
    c.nominal = read_unit(in["nominal"]);
    c.mount = read_mount(in["mount"]);
    c.body = read_body(in["body"]);
    c.faces = read_faces(in["faces"]);
    for (const JsonValue& item : list(in["plates"])) c.plates.push_back(read_plate(item));
    if (in.has("setting")) {
        JsonFields item = in["setting"].fields();
        Setting setting;
        setting.direction = read_direction(item["direction"], Vec3::UnitX());
        setting.step_mm = read_size(item["step_mm"]);
        setting.first = read_count(item["first"]);
        setting.last = read_count(item["last"]);
        if (setting.last < setting.first) item["last"].wrong("shop.kind_box");
        c.setting = setting;
    }
    c.handed = flag(in["handed"]);
    for (const JsonValue& item : list(in["grid_faces"])) c.grid_faces.push_back(read_grid(item));
    if (in.has("clamp")) {
        JsonFields item = in["clamp"].fields();
        c.clamp = Clamp{number_or(item["force_n"], 0), number_or(item["reach_mm"], 0), number_or(item["swing_deg"], 0),
                        number_or(item["stroke_mm"], 0)};
    }
    c.packers_under = flag(in["packers_under"]);
    c.packers_at_face = flag(in["packers_at_face"]);
    c.thickness_mm = number_or(in["thickness_mm"], 0);
    c.mass_kg = in["mass_kg"].number();
    c.key_room_diameter_mm = number_or(in["key_room_diameter_mm"], 0);
    c.key_room_height_mm = number_or(in["key_room_height_mm"], 0);
    c.to_cut = flag(in["to_cut"]);
    c.overall_height_mm = in["overall_height_mm"].number();
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
    Json out;
    out["id"] = c.id;
    out["family"] = key(c.family);
    out["size"] = c.size;
    out["nominal"] = key(c.nominal);
    out["mount"] = write(c.mount);
    out["body"] = write(c.body);
    out["faces"] = write(c.faces);
    out["plates"] = Json::array();
    for (const Plate& plate : c.plates) {
        Json item;
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
    out["grid_faces"] = Json::array();
    for (const GridFace& grid : c.grid_faces) {
        Json item;
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
    base::Result<Json> parsed = parse_object(text, where);
    if (!parsed) return parsed.error();
    base::JsonFaults faults{where, definition_sentences, {}};
    Component component = read_component(JsonValue(&*parsed, "", faults));
    if (faults.first) return *faults.first;
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
