#pragma once

#include <array>
#include <map>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "core/setup/history.h"
#include "core/setup/place.h"

/// What a stage looks like, as both views draw it and as the pointer picks it. No Qt and no kernel in here.
namespace setwright::viewer {

using setup::PieceId;
using setup::PlacementId;

/// A body to be drawn, in its own frame S (P for pieces, C for placements). Immutable, shared by all that look alike.
struct Shape {
    space::Mesh mesh;
    /// Face of each triangle: an index into piece.solid->faces, for placements any number per flat face.
    std::vector<int> face;
    /// Sharp edges and outlines worth a line.
    std::vector<std::vector<space::Vec3>> edges;
    /// The faces on both sides of each edge.
    std::vector<std::array<int, 2>> edge_faces;
    space::Aabb box;
};

using ItemId = std::variant<PieceId, PlacementId>;

struct Item {
    std::shared_ptr<const Shape> shape;
    space::Pose X_TS;
    /// Name of the piece, number of the placement.
    std::string label;
    /// Placements: locked; pieces: held by hand.
    bool set_apart = false;
};

/// One stage; rebuilt from a Setup at any time.
struct Scene {
    setup::StageId stage;
    shop::Table table;
    std::map<ItemId, Item> items;

    space::Aabb box() const;
};

/// Shapes made once; a cache may be thrown away at any time.
class ShapeBook {
  public:
    std::shared_ptr<const Shape> of(const weldment::Piece& piece);
    /// Of a component with its choices; packers included.
    std::shared_ptr<const Shape> of(const shop::Component& component, const setup::Seat& seat,
                                    const setup::Posed& posed);

  private:
    std::map<std::string, std::shared_ptr<const Shape>> placements_;
    std::map<const space::Solid*, std::pair<std::shared_ptr<const space::Solid>, std::shared_ptr<const Shape>>> pieces_;
};

Scene make_scene(const setup::Setup& setup, setup::StageId stage, ShapeBook& shapes);
/// Brings `scene`, made of the Setup before `changes`, to `setup`: the same value as make_scene() gives.
void update(Scene& scene, const setup::Setup& setup, setup::StageId stage, const setup::Changes& changes,
            ShapeBook& shapes);

/// The same table, items, poses and labels; shapes by value of their meshes.
bool same(const Scene& a, const Scene& b);

}  // namespace setwright::viewer
