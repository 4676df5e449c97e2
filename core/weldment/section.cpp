#include "core/weldment/section.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include "core/base/limits.h"

namespace setwright::weldment {

using namespace base::limits;
using space::Face;
using space::Mat3;
using space::Solid;
using space::SurfaceKind;
using space::Vec3;

const char* key(SectionKind kind) {
    switch (kind) {
        case SectionKind::square_tube:
            return "square_tube";
        case SectionKind::rect_tube:
            return "rect_tube";
        case SectionKind::round_tube:
            return "round_tube";
        case SectionKind::round_bar:
            return "round_bar";
        case SectionKind::square_bar:
            return "square_bar";
        case SectionKind::flat_bar:
            return "flat_bar";
        case SectionKind::angle:
            return "angle";
        case SectionKind::channel:
            return "channel";
        case SectionKind::plate:
            return "plate";
        case SectionKind::formed:
            return "formed";
        case SectionKind::other:
            return "other";
    }
    return "other";
}

namespace {

const double parallel_sine = std::sin(base::Angle::deg(parallel_deg).rad());
/// Components nearer than this tie, so that noise of a rotated import does not flip an axis.
constexpr double tie = 1e-6;

bool parallel(const Vec3& a, const Vec3& b) {
    return a.cross(b).norm() < parallel_sine;
}
bool square_to(const Vec3& a, const Vec3& b) {
    return std::abs(a.dot(b)) < parallel_sine;
}

/// Largest component positive; ties by X, then Y, then Z.
Vec3 signed_by(const Vec3& d, const Mat3& R_MD) {
    const Vec3 d_M = R_MD * d;
    const double largest = d_M.cwiseAbs().maxCoeff();
    for (int i = 0; i < 3; ++i) {
        if (std::abs(d_M[i]) > largest - tie) return d_M[i] < 0 ? Vec3(-d) : d;
    }
    return d;
}

/// Whether a goes before b by |X|, then |Y|, then |Z| in M.
bool before(const Vec3& a, const Vec3& b, const Mat3& R_MD) {
    const Vec3 difference = (R_MD * a).cwiseAbs() - (R_MD * b).cwiseAbs();
    for (int i = 0; i < 3; ++i) {
        if (std::abs(difference[i]) > tie) return difference[i] > 0;
    }
    return false;
}

struct Span {
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();
    double length() const { return high - low; }
    double middle() const { return (low + high) / 2; }
};

Span span(const Solid& solid, const Vec3& d) {
    Span s;
    for (const Vec3& p : solid.mesh.points) {
        s.low = std::min(s.low, p.dot(d));
        s.high = std::max(s.high, p.dot(d));
    }
    return solid.mesh.points.empty() ? Span{0, 0} : s;
}

double lateral_area(const Solid& solid, const Vec3& d) {
    double sum = 0;
    for (const Face& face : solid.faces) {
        if ((face.surface.kind == SurfaceKind::plane && square_to(face.surface.axis, d)) ||
            (face.surface.kind == SurfaceKind::cylinder && parallel(face.surface.axis, d))) {
            sum += face.area_mm2;
        }
    }
    return sum;
}

/// Directions of straight edges and cylinder axes, each once.
std::vector<Vec3> directions(const Solid& solid) {
    // A weldment's stock has a handful; a sculpted solid may have thousands and is no stock section.
    constexpr std::size_t enough = 64;
    std::vector<Vec3> found;
    const auto add = [&](const Vec3& d) {
        if (found.size() < enough &&
            std::none_of(found.begin(), found.end(), [&](const Vec3& f) { return parallel(f, d); }))
            found.push_back(d);
    };
    for (const Face& face : solid.faces) {
        if (face.surface.kind == SurfaceKind::cylinder) add(face.surface.axis.normalized());
    }
    for (const space::Edge& edge : solid.edges) {
        if (edge.kind != space::CurveKind::line || edge.polyline.size() < 2) continue;
        const Vec3 d = edge.polyline.back() - edge.polyline.front();
        if (d.norm() > coincident_mm) add(d.normalized());
    }
    return found;
}

std::optional<Vec3> long_axis(const Solid& solid, const Mat3& R_MD) {
    std::optional<Vec3> best;
    double best_area = 0;
    for (const Vec3& d : directions(solid)) {
        const double sum = lateral_area(solid, d);
        const bool ties = std::abs(sum - best_area) <= tie * best_area;
        if (best ? (ties ? before(d, *best, R_MD) : sum > best_area) : sum > 0) {
            best = d;
            best_area = sum;
        }
    }
    return best;
}

base::Text because(const char* id) {
    return {id, {}};
}

/// The outer and, behind it, the inner face of one wall, as distances along the wall's outward direction.
struct Wall {
    double outer = -std::numeric_limits<double>::infinity();
    std::optional<double> inner;
    double inner_area = 0;
};

struct Box {
    bool found = false;
    base::Text reason;
    SectionFit fit;
};

/// Four walls at right angles about z: a tube, or a bar where there is nothing inside.
Box fit_walls(const Solid& solid, const Vec3& z, const Mat3& R_MD) {
    Box box;
    const Face* largest = nullptr;
    for (const Face& face : solid.faces) {
        if (face.surface.kind == SurfaceKind::plane && square_to(face.surface.axis, z) &&
            (!largest || face.area_mm2 > largest->area_mm2)) {
            largest = &face;
        }
    }
    if (!largest) {
        box.reason = because("piece.reason_round");
        return box;
    }
    const Vec3 across = (largest->surface.axis - z * largest->surface.axis.dot(z)).normalized();
    const std::array<Vec3, 4> out{across, z.cross(across), Vec3(-across), Vec3(-z.cross(across))};
    const auto side_of = [&](const Vec3& normal) {
        for (int i = 0; i < 4; ++i) {
            if (parallel(normal, out[static_cast<std::size_t>(i)]) && normal.dot(out[static_cast<std::size_t>(i)]) > 0)
                return i;
        }
        return -1;
    };

    std::array<Wall, 4> walls;
    for (const Face& face : solid.faces) {
        if (face.surface.kind != SurfaceKind::plane || !square_to(face.surface.axis, z)) continue;
        const int side = side_of(face.surface.axis);
        if (side < 0) continue;
        Wall& wall = walls[static_cast<std::size_t>(side)];
        wall.outer = std::max(wall.outer, face.surface.point.dot(out[static_cast<std::size_t>(side)]));
    }
    for (const Wall& wall : walls) {
        if (!std::isfinite(wall.outer)) {
            box.reason = because("piece.reason_profile");
            return box;
        }
    }
    for (const Face& face : solid.faces) {
        if (face.surface.kind != SurfaceKind::plane || !square_to(face.surface.axis, z)) continue;
        const int side = side_of(face.surface.axis);
        if (side < 0) continue;
        const std::size_t own = static_cast<std::size_t>(side);
        if (face.surface.point.dot(out[own]) > walls[own].outer - exact_face_mm) continue;
        const std::size_t opposite = (own + 2) % 4;
        if (face.area_mm2 > walls[opposite].inner_area) {
            walls[opposite].inner_area = face.area_mm2;
            walls[opposite].inner = face.surface.point.dot(out[opposite]);
        }
    }

    const double size_0 = walls[0].outer + walls[2].outer;
    const double size_1 = walls[1].outer + walls[3].outer;
    const Vec3 middle = out[0] * (walls[0].outer - walls[2].outer) / 2 + out[1] * (walls[1].outer - walls[3].outer) / 2;
    const int insides = static_cast<int>(
        std::count_if(walls.begin(), walls.end(), [](const Wall& wall) { return wall.inner.has_value(); }));
    double thickness = 0;
    if (insides == 4) {
        double least = std::numeric_limits<double>::infinity();
        double most = 0;
        for (const Wall& wall : walls) {
            least = std::min(least, wall.outer - *wall.inner);
            most = std::max(most, wall.outer - *wall.inner);
            thickness += (wall.outer - *wall.inner) / 4;
        }
        if (most - least > exact_face_mm) {
            box.reason = because("piece.reason_walls_differ");
            return box;
        }
    } else if (insides != 0) {
        box.reason = because("piece.reason_profile");
        return box;
    }

    double radius = 0;
    int left = 0;
    double left_area = 0;
    for (const Face& face : solid.faces) {
        const space::Surface& on = face.surface;
        bool understood = true;
        if (on.kind == SurfaceKind::plane) {
            if (square_to(on.axis, z)) {
                const int side = side_of(on.axis);
                understood = side >= 0;
                if (understood) {
                    const std::size_t own = static_cast<std::size_t>(side);
                    const std::size_t opposite = (own + 2) % 4;
                    const bool outer = on.point.dot(out[own]) > walls[own].outer - exact_face_mm;
                    const bool inner = walls[opposite].inner &&
                                       std::abs(on.point.dot(out[opposite]) - *walls[opposite].inner) < exact_face_mm;
                    understood = outer || inner;
                }
            }
        } else if (on.kind == SurfaceKind::cylinder && parallel(on.axis, z) && on.outside) {
            // A corner is tangent to two neighbouring walls.
            int tangent = 0;
            for (std::size_t i = 0; i < 4; ++i) {
                if (std::abs(walls[i].outer - on.point.dot(out[i]) - on.radius_mm) < exact_face_mm) ++tangent;
            }
            understood = tangent == 2;
            if (understood) radius = std::max(radius, on.radius_mm);
        } else if (on.kind != SurfaceKind::cylinder || on.outside) {
            understood = false;
        }
        if (!understood) {
            ++left;
            left_area += face.area_mm2;
        }
    }

    SectionFit& fit = box.fit;
    const bool tied = std::abs(size_0 - size_1) < exact_face_mm;
    const bool first_wider = tied ? before(out[0], out[1], R_MD) : size_0 > size_1;
    fit.z = signed_by(z, R_MD);
    fit.x = signed_by(first_wider ? out[0] : out[1], R_MD);
    fit.centre = middle;
    fit.faces_left = left;
    Section& section = fit.section;
    section.width_mm = std::max(size_0, size_1);
    section.depth_mm = std::min(size_0, size_1);
    section.corner_radius_mm = radius;
    const double length = span(solid, z).length();
    double filled = section.width_mm * section.depth_mm;
    if (insides == 4) {
        section.kind = tied ? SectionKind::square_tube : SectionKind::rect_tube;
        section.wall_mm = thickness;
        filled -= (section.width_mm - 2 * thickness) * (section.depth_mm - 2 * thickness);
    } else if (tied) {
        section.kind = SectionKind::square_bar;
    } else {
        section.kind = section.width_mm <= flat_bar_width_mm && length >= flat_bar_lengths_per_width * section.width_mm
                           ? SectionKind::flat_bar
                           : SectionKind::plate;
    }
    // Four walls may also belong to a block with half of it milled away: then the stock's name would mislead.
    if (left_area > solid.area_mm2 / 4 || solid.volume_mm3 < filled * length / 3) {
        box.reason = because("piece.reason_profile");
        return box;
    }
    box.found = true;
    return box;
}

/// Any outline of one thickness.
std::optional<SectionFit> fit_plate(const Solid& solid, const Mat3& R_MD) {
    const Face* big = nullptr;
    for (const Face& face : solid.faces) {
        if (face.surface.kind == SurfaceKind::plane && (!big || face.area_mm2 > big->area_mm2)) big = &face;
    }
    if (!big) return std::nullopt;
    const Vec3 n = big->surface.axis;
    const Face* back = nullptr;
    for (const Face& face : solid.faces) {
        if (face.surface.kind == SurfaceKind::plane && parallel(face.surface.axis, n) && face.surface.axis.dot(n) < 0 &&
            (!back || face.area_mm2 > back->area_mm2)) {
            back = &face;
        }
    }
    if (!back) return std::nullopt;
    const double thickness = (big->surface.point - back->surface.point).dot(n);
    // One per cent leaves room for countersinks and bevelled edges.
    if (thickness < coincident_mm || thickness * thickness > big->area_mm2 ||
        std::abs(solid.volume_mm3 - big->area_mm2 * thickness) > 0.01 * solid.volume_mm3) {
        return std::nullopt;
    }
    Vec3 z = Vec3::Zero();
    double longest = 0;
    for (const space::Edge& edge : solid.edges) {
        if (edge.kind != space::CurveKind::line || edge.polyline.size() < 2) continue;
        const Vec3 d = edge.polyline.back() - edge.polyline.front();
        if (d.norm() <= coincident_mm || !square_to(d.normalized(), n)) continue;
        const bool ties = std::abs(d.norm() - longest) <= tie * longest;
        if (ties ? before(d.normalized(), z, R_MD) : d.norm() > longest) {
            longest = d.norm();
            z = d.normalized();
        }
    }
    if (longest == 0) {
        // No straight edge to go by: the M axis nearest to lying in the plate.
        Vec3 best = Vec3::Zero();
        for (int i = 0; i < 3; ++i) {
            const Vec3 axis_D = R_MD.transpose() * Vec3::Unit(i);
            const Vec3 in_plate = axis_D - n * n.dot(axis_D);
            if (in_plate.norm() > best.norm() + tie) best = in_plate;
        }
        z = best.normalized();
    }
    z = (z - n * n.dot(z)).normalized();
    Vec3 x = n.cross(z);
    Span along = span(solid, z);
    Span across = span(solid, x);
    const bool tied = std::abs(along.length() - across.length()) < exact_face_mm;
    if (tied ? before(x, z, R_MD) : across.length() > along.length()) {
        std::swap(x, z);
        std::swap(along, across);
    }
    SectionFit fit;
    fit.section.kind = SectionKind::plate;
    fit.section.width_mm = across.length();
    fit.section.depth_mm = thickness;
    fit.centre = x * across.middle() + z * along.middle() + n * (big->surface.point.dot(n) - thickness / 2);
    fit.z = signed_by(z, R_MD);
    fit.x = signed_by(x, R_MD);
    return fit;
}

/// Why a solid without flat walls or with curved ones is not understood.
base::Text reason_of(const Solid& solid, const Vec3& z, const base::Text& walls_reason) {
    double round_area = 0;
    double curved_area = 0;
    for (const Face& face : solid.faces) {
        if (face.surface.kind == SurfaceKind::cylinder && parallel(face.surface.axis, z)) {
            round_area += face.area_mm2;
        } else if (face.surface.kind != SurfaceKind::plane && face.surface.kind != SurfaceKind::cylinder) {
            curved_area += face.area_mm2;
        }
    }
    if (round_area > solid.area_mm2 / 2) return because("piece.reason_round");
    if (curved_area > solid.area_mm2 / 4) return because("piece.reason_curved");
    return walls_reason;
}

SectionFit fit_other(const Solid& solid, const Vec3& axis, const Mat3& R_MD) {
    SectionFit fit;
    Vec3 x = Vec3::Zero();
    double largest = 0;
    for (const Face& face : solid.faces) {
        if (face.surface.kind == SurfaceKind::plane && square_to(face.surface.axis, axis) &&
            face.area_mm2 > largest * (1 + tie)) {
            largest = face.area_mm2;
            x = face.surface.axis;
        }
    }
    for (int i = 0; i < 3 && largest == 0; ++i) {
        const Vec3 axis_D = R_MD.transpose() * Vec3::Unit(i);
        const Vec3 in_section = axis_D - axis * axis.dot(axis_D);
        if (in_section.norm() > x.norm() + tie) x = in_section;
    }
    x = (x - axis * axis.dot(x)).normalized();
    Vec3 y = axis.cross(x);
    Span along_x = span(solid, x);
    Span along_y = span(solid, y);
    const bool tied = std::abs(along_x.length() - along_y.length()) < exact_face_mm;
    if (tied ? before(y, x, R_MD) : along_y.length() > along_x.length()) {
        std::swap(x, y);
        std::swap(along_x, along_y);
    }
    fit.section.width_mm = along_x.length();
    fit.section.depth_mm = along_y.length();
    fit.centre = x * along_x.middle() + y * along_y.middle();
    fit.z = signed_by(axis, R_MD);
    fit.x = signed_by(x, R_MD);
    return fit;
}

}  // namespace

SectionFit fit_section(const Solid& solid, const Mat3& R_MD) {
    const std::optional<Vec3> z = long_axis(solid, R_MD);
    if (!z) {
        SectionFit fit = fit_other(solid, R_MD.transpose() * Vec3::UnitX(), R_MD);
        fit.reason = because("piece.reason_curved");
        return fit;
    }
    const Box box = fit_walls(solid, *z, R_MD);
    // A snipped or countersunk flat bar is still flat bar; a bar that lacks more is a plate of another outline.
    const Section& of_box = box.fit.section;
    const bool nearly_full = of_box.kind == SectionKind::flat_bar &&
                             solid.volume_mm3 > 0.9 * of_box.width_mm * of_box.depth_mm * span(solid, *z).length();
    if (box.found && (of_box.wall_mm > 0 || box.fit.faces_left == 0 || nearly_full)) return box.fit;
    if (const std::optional<SectionFit> plate = fit_plate(solid, R_MD)) return *plate;
    if (box.found) return box.fit;
    SectionFit fit = fit_other(solid, *z, R_MD);
    fit.reason = reason_of(solid, *z, box.reason);
    return fit;
}

}  // namespace setwright::weldment
