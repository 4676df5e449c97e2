#include "core/weldment/piece.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "core/base/limits.h"

namespace setwright::weldment {

using namespace base::limits;
using space::Face;
using space::Mat3;
using space::Pose;
using space::Solid;
using space::SurfaceKind;
using space::Vec3;

namespace {

/// Carbon steel, kg/mm3 (EN 1993 handbook notes: 7850 kg/m3).
constexpr double steel_density = 7850e-9;

/// A pseudo-scalar of the shape: unchanged by turning it, negated by mirroring it. Several are tried because each of
/// them vanishes for some symmetric shapes that still have a hand.
int handedness_of(const Solid& solid) {
    // Areas and centroids from a file carry noise of about 1e-6.
    constexpr double noise = 1e-5;
    const std::size_t count = solid.faces.size();
    std::vector<Vec3> at(count);
    std::vector<Vec3> normal(count, Vec3::Zero());
    double radius = 0;
    for (std::size_t i = 0; i < count; ++i) {
        at[i] = solid.faces[i].centroid - solid.centroid;
        radius = std::max(radius, at[i].norm());
        if (solid.faces[i].surface.kind == SurfaceKind::plane) normal[i] = solid.faces[i].surface.axis;
    }
    if (radius <= 0 || solid.area_mm2 <= 0 || solid.volume_mm3 <= 0) return 0;
    Mat3 by_place = Mat3::Zero();
    Mat3 by_normal = Mat3::Zero();
    for (std::size_t i = 0; i < count; ++i) {
        at[i] /= radius;
        const double share = solid.faces[i].area_mm2 / solid.area_mm2;
        by_place += share * at[i] * at[i].transpose();
        by_normal += share * normal[i] * normal[i].transpose();
    }
    const Mat3 by_mass = solid.inertia / (solid.volume_mm3 * radius * radius);
    const std::array<Mat3, 3> tensors{by_place, by_normal, by_mass};
    for (int weighting = 0; weighting < 3; ++weighting) {
        std::array<double, 12> sums{};
        for (std::size_t i = 0; i < count; ++i) {
            const double share = solid.faces[i].area_mm2 / solid.area_mm2;
            const double weight = weighting == 0 ? share : weighting == 1 ? share * share : share * at[i].squaredNorm();
            const Vec3& r = at[i];
            const Vec3& n = normal[i];
            std::size_t k = 0;
            for (std::size_t t = 0; t < 3; ++t) {
                const Mat3& a = tensors[t];
                const Mat3& b = tensors[(t + 1) % 3];
                sums[k++] += weight * r.dot((a * r).cross(b * r));
                sums[k++] += weight * n.dot(r.cross(a * r));
                sums[k++] += weight * n.dot((a * n).cross(r));
                sums[k++] += weight * n.dot((a * r).cross(b * r));
            }
        }
        for (const double sum : sums) {
            if (std::abs(sum) > noise) return sum > 0 ? 1 : -1;
        }
    }
    return 0;
}

/// The 24 turns that take the axes of P to one another.
std::vector<Mat3> quarter_turns() {
    std::vector<Mat3> turns;
    for (int x = 0; x < 3; ++x) {
        for (int y = 0; y < 3; ++y) {
            if (y == x) continue;
            for (int signs = 0; signs < 4; ++signs) {
                const Vec3 to_x = Vec3::Unit(x) * (signs & 1 ? -1 : 1);
                const Vec3 to_y = Vec3::Unit(y) * (signs & 2 ? -1 : 1);
                Mat3 turn;
                turn << to_x, to_y, to_x.cross(to_y);
                turns.push_back(turn);
            }
        }
    }
    return turns;
}

/// `relation` may be a turn or a mirror; both solids about their centroids.
bool faces_match(const Solid& a, const Solid& b, const Mat3& relation) {
    const double sine = std::sin(base::Angle::deg(parallel_deg).rad());
    std::vector<bool> taken(b.faces.size(), false);
    for (const Face& face : a.faces) {
        const Vec3 at = relation * (face.centroid - a.centroid);
        const Vec3 axis = relation * face.surface.axis;
        bool found = false;
        for (std::size_t j = 0; j < b.faces.size() && !found; ++j) {
            const Face& other = b.faces[j];
            if (taken[j] || other.surface.kind != face.surface.kind ||
                (other.centroid - b.centroid - at).norm() > exact_face_mm)
                continue;
            if (other.surface.outside != face.surface.outside) continue;
            if (std::abs(other.surface.radius_mm - face.surface.radius_mm) > exact_face_mm) continue;
            const double edge = std::sqrt(std::max(face.area_mm2, other.area_mm2));
            if (std::abs(other.area_mm2 - face.area_mm2) > exact_face_mm * 4 * edge) continue;
            if (face.surface.kind == SurfaceKind::plane || face.surface.kind == SurfaceKind::cylinder) {
                if (axis.cross(other.surface.axis).norm() > sine) continue;
                if (face.surface.kind == SurfaceKind::plane && axis.dot(other.surface.axis) < 0) continue;
            }
            taken[j] = true;
            found = true;
        }
        if (!found) return false;
    }
    return true;
}

}  // namespace

Piece make_piece(const Solid& solid, const Pose& X_MD) {
    Piece piece;
    const SectionFit fit = fit_section(solid, X_MD.rotation());
    double low = std::numeric_limits<double>::infinity();
    for (const Vec3& p : solid.mesh.points) low = std::min(low, p.dot(fit.z));
    if (!std::isfinite(low)) low = 0;
    const Vec3 origin = fit.centre + fit.z * (low - fit.centre.dot(fit.z));
    const Pose X_DP = Pose::from_axes(origin, fit.z, fit.x);
    piece.X_PD = X_DP.inverse();
    piece.X_MP = X_MD * X_DP;
    const auto in_P = std::make_shared<const Solid>(space::moved(solid, piece.X_PD));
    piece.solid = in_P;
    piece.section = fit.section;
    const Ends ends = find_ends(*in_P, piece.section);
    piece.ends = ends.cuts;
    piece.shape = ends.shape;
    piece.length_mm = ends.length_mm;
    piece.long_point_mm = ends.long_point_mm;
    piece.short_point_mm = ends.short_point_mm;
    piece.centre_mm = ends.centre_mm;
    piece.mass_kg = in_P->volume_mm3 * steel_density;

    Fingerprint& print = piece.fingerprint;
    print.volume_mm3 = in_P->volume_mm3;
    print.principal_moments = Eigen::SelfAdjointEigenSolver<Mat3>(in_P->inertia, Eigen::EigenvaluesOnly).eigenvalues();
    for (const Face& face : in_P->faces) ++print.face_kinds[static_cast<std::size_t>(face.surface.kind)];
    print.handedness = handedness_of(*in_P);
    print.centroid_M = piece.X_MP * in_P->centroid;

    if (!fit.reason.empty()) piece.doubts.push_back(fit.reason);
    if (fit.faces_left > 0) piece.doubts.push_back({"piece.faces_left", {{"count", std::int64_t{fit.faces_left}}}});
    // Plates of any outline have no cut ends to speak of.
    const bool stock = fit.section.kind != SectionKind::other && fit.section.kind != SectionKind::plate;
    for (const EndCut& end : piece.ends) {
        if (stock && end.kind == EndKind::other) piece.doubts.push_back({"piece.end_other", {}});
    }
    if (!in_P->valid) piece.doubts.push_back({"piece.not_valid", {}});
    return piece;
}

bool same_shape(const Piece& a, const Piece& b, bool mirrored) {
    const Fingerprint& fa = a.fingerprint;
    const Fingerprint& fb = b.fingerprint;
    if (a.section.kind != b.section.kind || fa.face_kinds != fb.face_kinds) return false;
    // A length apart by the face tolerance changes the volume by less than a face's area times it.
    if (std::abs(fa.volume_mm3 - fb.volume_mm3) > exact_face_mm * std::max(a.solid->area_mm2, b.solid->area_mm2))
        return false;
    if (fa.handedness * fb.handedness == (mirrored ? 1 : -1)) return false;
    static const std::vector<Mat3> turns = quarter_turns();
    const Mat3 mirror = mirrored ? Mat3(Vec3(-1, 1, 1).asDiagonal()) : Mat3(Mat3::Identity());
    return std::any_of(turns.begin(), turns.end(),
                       [&](const Mat3& turn) { return faces_match(*a.solid, *b.solid, turn * mirror); });
}

FaceKey face_key(const Piece& piece, int face) {
    SETWRIGHT_ASSERT(face >= 0 && static_cast<std::size_t>(face) < piece.solid->faces.size(),
                     "a face index of another piece");
    const Face& of = piece.solid->faces[static_cast<std::size_t>(face)];
    FaceKey key;
    key.kind = of.surface.kind;
    key.axis = of.surface.axis;
    key.offset_mm = of.surface.kind == SurfaceKind::plane ? of.surface.point.dot(of.surface.axis) : 0;
    key.radius_mm = of.surface.radius_mm;
    key.at = of.centroid;
    return key;
}

int find_face(const Piece& piece, const FaceKey& key) {
    const double sine = std::sin(base::Angle::deg(parallel_deg).rad());
    int best = -1;
    double best_distance = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < piece.solid->faces.size(); ++i) {
        const Face& face = piece.solid->faces[i];
        if (face.surface.kind != key.kind || std::abs(face.surface.radius_mm - key.radius_mm) > exact_face_mm) continue;
        const double distance = (face.centroid - key.at).norm();
        if (key.kind == SurfaceKind::plane) {
            if (face.surface.axis.cross(key.axis).norm() > sine || face.surface.axis.dot(key.axis) < 0) continue;
            if (std::abs(face.surface.point.dot(key.axis) - key.offset_mm) > exact_face_mm) continue;
        } else if (key.kind == SurfaceKind::cylinder) {
            if (face.surface.axis.cross(key.axis).norm() > sine) continue;
        }
        // A face that moved by more than its own half size is another face of the same kind.
        const double near = key.kind == SurfaceKind::plane || key.kind == SurfaceKind::cylinder
                                ? std::max(exact_face_mm, face.box.size().norm() / 2)
                                : exact_face_mm;
        if (distance <= near && distance < best_distance) {
            best = static_cast<int>(i);
            best_distance = distance;
        }
    }
    return best;
}

}  // namespace setwright::weldment
