#pragma once

#include <array>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace setwright::samples {

using Vec3 = std::array<double, 3>;

/// A rectangular hollow section, its axis along z, from z = 0 to z = centre_length_mm on the axis.
/// width_mm runs along x, depth_mm along y. Outer corner radius 2 x wall, inner corner radius 1 x wall.
/// A lean is the end cut measured from square; a positive one makes the +x side the longer at that end.
struct Tube {
    double width_mm{};
    double depth_mm{};
    double wall_mm{};
    double centre_length_mm{};
    double start_lean_deg{};
    double end_lean_deg{};
};

/// A round hole through a plate, along z.
struct Hole {
    double x_mm{};
    double y_mm{};
    double diameter_mm{};
};

/// A rectangular plate with one corner at the origin: 0..length_mm in x, 0..width_mm in y,
/// 0..thickness_mm in z.
struct Plate {
    double length_mm{};
    double width_mm{};
    double thickness_mm{};
    std::vector<Hole> holes;
};

using Form = std::variant<Tube, Plate>;

/// A right-handed frame given by its origin, z axis and x axis; the axes need not be of unit length.
struct Frame {
    Vec3 origin_mm{0, 0, 0};
    Vec3 z_axis{0, 0, 1};
    Vec3 x_axis{1, 0, 0};
};

/// One product: what is cut from stock. Its form stands in the piece frame P.
struct Product {
    std::string name;
    std::array<double, 3> colour_rgb{};  ///< linear, 0..1
    Form form;
};

/// One sub-assembly; its frame is given in the weldment frame M.
struct SubAssembly {
    std::string name;
    Frame frame_M;
};

/// One piece: a product placed in M, inside a sub-assembly or directly under the root.
struct Piece {
    std::string id;
    std::size_t product{};
    std::optional<std::size_t> sub_assembly;
    Frame frame_M;
};

/// One sample weldment as data. Frame M: X along, Y across, Z up, Z = 0 lowest face of the flat part.
struct WeldmentModel {
    std::string key;
    std::string name;
    std::vector<Product> products;
    std::vector<SubAssembly> sub_assemblies;
    std::vector<Piece> pieces;
};

/// D1: a grinder stand, an upright with two 45 degree braces on a flat tee. Handed, not planar.
WeldmentModel grinderStand();

/// D2: a mitred garden gate frame with a mid rail and two hinge tabs. Planar, closed, handed by its tabs.
WeldmentModel gardenGateFrame();

/// Every sample, in the order of its key.
std::vector<WeldmentModel> allModels();

}  // namespace setwright::samples
