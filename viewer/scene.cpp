#include "viewer/scene.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "core/base/limits.h"

namespace setwright::viewer {

namespace {

using space::Vec3;
using Corner = std::uint32_t;

/// Joins triangles into faces across edges that bend little, and chains the others into lines.
class SharpEdges {
  public:
    SharpEdges(const space::Mesh& mesh, int first_face) : mesh_(mesh), first_face_(first_face) {
        for (const auto& t : mesh.triangles) {
            const Vec3 n = (mesh.points[t[1]] - mesh.points[t[0]]).cross(mesh.points[t[2]] - mesh.points[t[0]]);
            normals_.push_back(n.norm() > 0 ? Vec3(n.normalized()) : Vec3(Vec3::Zero()));
            group_.push_back(group_.size());
        }
        for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
            for (std::size_t k = 0; k < 3; ++k) {
                const Corner a = mesh.triangles[i][k], b = mesh.triangles[i][(k + 1) % 3];
                sides_[std::minmax(a, b)].push_back(i);
            }
        const double bend = std::cos(base::Angle::deg(base::limits::drawn_edge_deg).rad());
        for (const auto& [ends, triangles] : sides_) {
            // A triangle without area has no direction: it belongs to whatever it lies against.
            if (triangles.size() == 2 && (normals_[triangles[0]].dot(normals_[triangles[1]]) >= bend ||
                                          normals_[triangles[0]].isZero() || normals_[triangles[1]].isZero()))
                group_[root(triangles[0])] = root(triangles[1]);
        }
    }

    void add_to(Shape& shape) {
        std::map<std::size_t, int> number;
        for (std::size_t i = 0; i < group_.size(); ++i) {
            const auto [at, fresh] = number.try_emplace(root(i), first_face_ + static_cast<int>(number.size()));
            shape.face.push_back(at->second);
        }
        // Lines between the same two faces are one outline: a cylinder's rim, not two dozen sides of it.
        std::map<std::array<int, 2>, std::multimap<Corner, Corner>> lines;
        for (const auto& [ends, triangles] : sides_) {
            std::array<int, 2> faces{number[root(triangles[0])], -1};
            if (triangles.size() > 1) faces[1] = number[root(triangles[1])];
            if (faces[0] == faces[1]) continue;
            if (faces[0] > faces[1]) std::swap(faces[0], faces[1]);
            lines[faces].emplace(ends.first, ends.second);
            lines[faces].emplace(ends.second, ends.first);
        }
        for (auto& [faces, from] : lines)
            while (!from.empty()) {
                // From an end where there is one, so that an open line comes in one piece.
                auto start = from.begin();
                for (auto at = from.begin(); at != from.end(); at = from.upper_bound(at->first))
                    if (from.count(at->first) == 1) {
                        start = at;
                        break;
                    }
                Corner at = start->first;
                std::vector<Vec3> line{mesh_.points[at]};
                for (auto next = start; next != from.end(); next = from.find(at)) {
                    const Corner to = next->second;
                    from.erase(next);
                    auto [back, last] = from.equal_range(to);
                    while (back != last && back->second != at) ++back;
                    if (back != last) from.erase(back);
                    line.push_back(mesh_.points[to]);
                    at = to;
                }
                shape.edges.push_back(std::move(line));
                shape.edge_faces.push_back(faces);
            }
    }

  private:
    std::size_t root(std::size_t i) {
        while (group_[i] != i) i = group_[i] = group_[group_[i]];
        return i;
    }

    const space::Mesh& mesh_;
    int first_face_;
    std::vector<Vec3> normals_;
    std::vector<std::size_t> group_;
    std::map<std::pair<Corner, Corner>, std::vector<std::size_t>> sides_;
};

Shape shape_of_parts(const setup::Posed& posed) {
    Shape shape;
    int faces = 0;
    for (const auto* parts : {&posed.fixed, &posed.moving})
        for (const shop::BodyPart& part : *parts) {
            const space::Mesh mesh = shop::mesh_of({part});
            SharpEdges(mesh, faces).add_to(shape);
            for (const int face : shape.face) faces = std::max(faces, face + 1);
            shape.mesh.add(mesh);
        }
    shape.box = shape.mesh.box();
    return shape;
}

Shape shape_of_solid(const space::Solid& solid) {
    Shape shape;
    shape.mesh = solid.mesh;
    shape.box = solid.mesh.box();
    shape.face.assign(solid.mesh.triangles.size(), -1);
    for (std::size_t f = 0; f < solid.faces.size(); ++f) {
        const space::Face& face = solid.faces[f];
        for (std::uint32_t t = 0; t < face.triangle_count; ++t)
            shape.face[face.first_triangle + t] = static_cast<int>(f);
    }
    for (const space::Edge& edge : solid.edges) {
        if (edge.convexity == space::Convexity::smooth || edge.face_a == edge.face_b || edge.polyline.size() < 2)
            continue;
        shape.edges.push_back(edge.polyline);
        shape.edge_faces.push_back({edge.face_a, edge.face_b});
    }
    return shape;
}

/// Everything that shape_of_parts() looks at, bit by bit.
std::string body_key(const setup::Posed& posed) {
    std::string key;
    const auto put = [&](double number) { key.append(reinterpret_cast<const char*>(&number), sizeof number); };
    const auto put_point = [&](const Vec3& p) {
        for (const double number : {p.x(), p.y(), p.z()}) put(number);
    };
    for (const auto* parts : {&posed.fixed, &posed.moving}) {
        put(static_cast<double>(parts->size()));
        for (const shop::BodyPart& part : *parts) {
            put(static_cast<double>(part.kind) + (part.upright ? 0.5 : 0));
            for (const Vec3& p : {part.min, part.max, part.from, part.to}) put_point(p);
            for (const double number : {part.diameter_mm, part.y0_mm, part.y1_mm, part.z0_mm, part.z1_mm}) put(number);
            put(static_cast<double>(part.outline.size()));
            for (const space::Vec2& p : part.outline) {
                put(p.x());
                put(p.y());
            }
        }
    }
    return key;
}

/// In the stage, earlier stages included, and not left out of the job.
std::set<PieceId> pieces_present(const setup::Setup& setup, const setup::Stage& stage) {
    std::set<PieceId> present;
    std::set<setup::StageId> seen;
    std::vector<const setup::Stage*> open{&stage};
    while (!open.empty()) {
        const setup::Stage& from = *open.back();
        open.pop_back();
        if (!seen.insert(from.id).second) continue;
        present.insert(from.pieces.begin(), from.pieces.end());
        for (const setup::StageId id : from.earlier)
            if (const setup::Stage* earlier = setup.find_stage(id)) open.push_back(earlier);
    }
    for (const setup::WeldmentUse& use : setup.weldments)
        for (const auto& [piece, edit] : use.piece_edits)
            if (edit.left_out) present.erase(piece);
    return present;
}

/// None where its pose fails: it stands nowhere.
std::optional<Item> item_of(const setup::Setup& setup, const setup::Stage& stage, const setup::Placement& placement,
                            ShapeBook& shapes) {
    const shop::Component* component = setup.find_component(placement.component);
    const base::Result<setup::Posed> posed = setup::pose(setup, stage, placement);
    if (!component || !posed) return std::nullopt;
    return Item{shapes.of(*component, placement.seat, *posed), posed->X_TC, std::to_string(placement.no),
                placement.locked};
}

bool same(const Shape& a, const Shape& b) {
    return &a == &b || (a.mesh.points == b.mesh.points && a.mesh.triangles == b.mesh.triangles && a.face == b.face);
}

}  // namespace

space::Aabb Scene::box() const {
    space::Aabb box;
    box.add(Vec3(-table.margin_west_mm, -table.margin_south_mm, -table.thickness_mm));
    box.add(Vec3(table.length_mm - table.margin_west_mm, table.width_mm - table.margin_south_mm, 0));
    for (const auto& [id, item] : items) box.add(item.shape->box.moved(item.X_TS));
    return box;
}

std::shared_ptr<const Shape> ShapeBook::of(const weldment::Piece& piece) {
    auto& [solid, shape] = pieces_[piece.solid.get()];
    if (!shape) {
        solid = piece.solid;
        shape = std::make_shared<const Shape>(solid ? shape_of_solid(*solid) : Shape{});
    }
    return shape;
}

std::shared_ptr<const Shape> ShapeBook::of(const shop::Component&, const setup::Seat&, const setup::Posed& posed) {
    auto& shape = placements_[body_key(posed)];
    if (!shape) shape = std::make_shared<const Shape>(shape_of_parts(posed));
    return shape;
}

Scene make_scene(const setup::Setup& setup, setup::StageId stage_id, ShapeBook& shapes) {
    Scene scene;
    scene.stage = stage_id;
    scene.table = setup.table;
    const setup::Stage* stage = setup.find_stage(stage_id);
    if (!stage) return scene;
    for (const PieceId id : pieces_present(setup, *stage)) {
        const weldment::Piece* piece = setup.find_piece(id);
        if (!piece || !piece->solid) continue;
        scene.items[id] = {shapes.of(*piece), stage->lay.X_TM * piece->X_MP, setup.piece_name(id),
                           stage->held(id) == setup::HeldBy::by_hand};
    }
    for (const setup::Placement& placement : stage->placements)
        if (auto item = item_of(setup, *stage, placement, shapes)) scene.items[placement.id] = std::move(*item);
    return scene;
}

void update(Scene& scene, const setup::Setup& setup, setup::StageId stage_id, const setup::Changes& changes,
            ShapeBook& shapes) {
    const setup::Stage* stage = setup.find_stage(stage_id);
    if (changes.rest || !stage || scene.stage != stage_id) {
        scene = make_scene(setup, stage_id, shapes);
        return;
    }
    for (const auto* ids : {&changes.removed, &changes.added, &changes.altered})
        for (const PlacementId id : *ids) {
            scene.items.erase(id);
            const setup::Placement* placement = stage->find(id);
            if (!placement) continue;
            if (auto item = item_of(setup, *stage, *placement, shapes)) scene.items[id] = std::move(*item);
        }
}

bool same(const Scene& a, const Scene& b) {
    return a.stage == b.stage && a.table == b.table &&
           std::equal(a.items.begin(), a.items.end(), b.items.begin(), b.items.end(), [](const auto& x, const auto& y) {
               return x.first == y.first && x.second.X_TS == y.second.X_TS && x.second.label == y.second.label &&
                      x.second.set_apart == y.second.set_apart && same(*x.second.shape, *y.second.shape);
           });
}

}  // namespace setwright::viewer
