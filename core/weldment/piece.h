#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/id.h"
#include "core/base/text.h"
#include "core/space/solid.h"
#include "core/weldment/end_cut.h"
#include "core/weldment/section.h"

namespace setwright::weldment {

using PieceId = base::Id<struct PieceTag>;

/// A face named by what it is, not by an index that the next import may change. In P.
struct FaceKey {
    space::SurfaceKind kind = space::SurfaceKind::plane;
    /// plane: outward normal; cylinder: axis direction.
    space::Vec3 axis = space::Vec3::UnitZ();
    /// plane: distance of the plane from P's origin along `axis`; else 0.
    double offset_mm = 0;
    double radius_mm = 0;
    /// Centre of the face, tells apart faces on one surface.
    space::Vec3 at = space::Vec3::Zero();
    friend bool operator==(const FaceKey&, const FaceKey&) = default;
};

/// What re-import recognises a piece by.
struct Fingerprint {
    std::vector<std::string> name_path;
    double volume_mm3 = 0;
    /// Ascending, mm^5.
    space::Vec3 principal_moments = space::Vec3::Zero();
    /// Number of faces of each SurfaceKind, in the enum's order.
    std::array<int, 7> face_kinds{};
    /// Sign of the mirror-odd invariant of the shape: -1, 0 (its own mirror image) or +1.
    int handedness = 0;
    space::Vec3 centroid_M = space::Vec3::Zero();
    friend bool operator==(const Fingerprint&, const Fingerprint&) = default;
};

/// One solid of the weldment, understood. P: z along the axis from end 0 to end 1, x along the wider side, origin on
/// the axis at the level of the lowest point along z; signs and ties are decided by M's axes.
struct Piece {
    PieceId id;
    std::string name;
    space::Pose X_MP;
    /// In P.
    std::shared_ptr<const space::Solid> solid;
    space::Brep brep;
    space::Pose X_PD;
    Section section;
    /// Extent along z, long points included; the next three as in Ends.
    double length_mm = 0;
    double long_point_mm = 0;
    double short_point_mm = 0;
    double centre_mm = 0;
    std::array<EndCut, 2> ends;
    PieceShape shape = PieceShape::straight;
    double mass_kg = 0;
    /// Pieces of one group are the same in shape (never mirror images).
    int group = 0;
    Fingerprint fingerprint;
    std::vector<base::Text> doubts;
};

/// Makes a piece of one solid given in its own frame; id, name, group and fingerprint's name path are the caller's.
Piece make_piece(const space::Solid& solid, const space::Pose& X_MD);

/// The same shape after a turn, within limits::exact_face_mm; with `mirrored`, b is a's mirror image. Both in P.
bool same_shape(const Piece& a, const Piece& b, bool mirrored);

FaceKey face_key(const Piece& piece, int face);
/// Index into piece.solid->faces, -1 where no face fits within limits.
int find_face(const Piece& piece, const FaceKey& key);

}  // namespace setwright::weldment
