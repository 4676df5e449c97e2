#include "core/weldment/seam.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/base/limits.h"
#include "core/weldment/joint.h"
#include "core/weldment/recognise.h"

namespace setwright::weldment {

using namespace base::limits;
using space::Aabb;
using space::Polygon2;
using space::SurfaceKind;
using space::Vec2;
using space::Vec3;

const char* key(SeamKind kind) {
    switch (kind) {
        case SeamKind::fillet:
            return "fillet";
        case SeamKind::square_butt:
            return "square_butt";
        case SeamKind::v:
            return "v";
        case SeamKind::bevel:
            return "bevel";
        case SeamKind::flare_bevel:
            return "flare_bevel";
        case SeamKind::flare_v:
            return "flare_v";
        case SeamKind::edge:
            return "edge";
    }
    return "edge";
}

namespace {

/// A cut that leans more than this from the face it meets leaves a gap too wide to weld across any usual wall.
const double facing = -std::cos(base::Angle::deg(30).rad());
/// Air angles that take a fillet, and beyond which faces count as flush or an outside corner. Common practice, no
/// source.
constexpr double fillet_least_deg = 30;
constexpr double fillet_most_deg = 150;

struct Side {
    const Piece* piece = nullptr;
    Aabb box;
    std::vector<Flat> flats;
    /// Cylinders that run into a plane face without an edge: corner radii, not round pieces.
    std::vector<bool> corner;
};

Side side_of(const Piece& piece) {
    Side side{&piece, box_M(piece), flats_of(piece), std::vector<bool>(piece.solid->faces.size(), false)};
    const auto kind = [&](int face) { return piece.solid->faces[static_cast<std::size_t>(face)].surface.kind; };
    for (const space::Edge& edge : piece.solid->edges) {
        if (edge.convexity != space::Convexity::smooth || edge.face_a < 0 || edge.face_b < 0) continue;
        if (kind(edge.face_a) == SurfaceKind::cylinder && kind(edge.face_b) == SurfaceKind::plane) {
            side.corner[static_cast<std::size_t>(edge.face_a)] = true;
        } else if (kind(edge.face_b) == SurfaceKind::cylinder && kind(edge.face_a) == SurfaceKind::plane) {
            side.corner[static_cast<std::size_t>(edge.face_b)] = true;
        }
    }
    return side;
}

/// Stretch of a border that lies over the other piece.
struct Run {
    std::vector<Vec3> points;
    /// Into the end face, square to the border, at the middle segment.
    Vec3 inward = Vec3::Zero();
    Vec3 middle = Vec3::Zero();
    Vec3 along = Vec3::Zero();
    double length_mm = 0;
};

void add_crossings(std::vector<double>& at, const Vec2& from, const Vec2& to, const Polygon2& ring) {
    const Vec2 d = to - from;
    for (std::size_t i = 0; i < ring.size(); ++i) {
        const Vec2& a = ring[i];
        const Vec2 e = ring[(i + 1) % ring.size()] - a;
        const double cross = d.x() * e.y() - d.y() * e.x();
        if (std::abs(cross) < 1e-12) continue;
        const Vec2 w = a - from;
        const double t = (w.x() * e.y() - w.y() * e.x()) / cross;
        const double s = (w.x() * d.y() - w.y() * d.x()) / cross;
        if (t > 0 && t < 1 && s >= 0 && s <= 1) at.push_back(t);
    }
}

/// Into the face, square to the segment; null vector where neither side is the face.
Vec3 inward_of(const Flat& end, const Vec3& from, const Vec3& to) {
    const Vec3 across = end.normal.cross((to - from).normalized());
    const Vec3 middle = (from + to) / 2;
    for (const double sign : {1.0, -1.0}) {
        if (end.covers(end.in_plane(middle + across * sign * contact_mm))) return across * sign;
    }
    return Vec3::Zero();
}

/// Stretches of the border that have the support (its corner radii included) within the seam gap beneath them.
std::vector<Run> runs_over(const Flat& end, const Border& border, const Flat& support) {
    std::vector<Run> runs;
    bool open = false;
    double longest = 0;
    for (std::size_t i = 0; i + 1 < border.points.size(); ++i) {
        const Vec3 from = border.points[i];
        const Vec3 d = border.points[i + 1] - from;
        const double length = d.norm();
        if (length < coincident_mm) continue;
        const Vec3 inward = inward_of(end, from, border.points[i + 1]);
        if (inward.isZero()) {
            open = false;
            continue;
        }
        // A touch inside the end face, so that an edge on the border of the support counts where there is
        // material under the end, and not where two pieces only share an edge.
        const Vec2 q0 = support.in_plane(from + inward * contact_mm);
        const Vec2 q1 = support.in_plane(from + d + inward * contact_mm);
        const double h0 = support.height(from);
        const double h1 = support.height(from + d);
        std::vector<double> at{0, 1};
        for (const double level : {seam_gap_mm, -seam_gap_mm}) {
            if ((h0 - level) * (h1 - level) < 0) at.push_back((level - h0) / (h1 - h0));
        }
        for (const Polygon2& ring : support.rings) add_crossings(at, q0, q1, ring);
        for (const Rounding& rounding : support.roundings) add_crossings(at, q0, q1, rounding.outline);
        std::sort(at.begin(), at.end());
        for (std::size_t k = 0; k + 1 < at.size(); ++k) {
            if ((at[k + 1] - at[k]) * length < coincident_mm) continue;
            const double t = (at[k] + at[k + 1]) / 2;
            const Vec2 q = q0 + (q1 - q0) * t;
            if (std::abs(h0 + (h1 - h0) * t) > seam_gap_mm || (!support.covers(q) && !support.rounding_at(q))) {
                open = false;
                continue;
            }
            const Vec3 p0 = from + d * at[k];
            const Vec3 p1 = from + d * at[k + 1];
            if (!open) {
                runs.emplace_back().points.push_back(p0);
                longest = 0;
            }
            open = true;
            Run& run = runs.back();
            run.points.push_back(p1);
            run.length_mm += (p1 - p0).norm();
            if ((p1 - p0).norm() > longest) {
                longest = (p1 - p0).norm();
                run.inward = inward;
                run.along = d / length;
            }
        }
    }
    for (Run& run : runs) {
        std::vector<Vec3> merged{run.points.front()};
        for (std::size_t i = 1; i + 1 < run.points.size(); ++i) {
            const Vec3 chord = (run.points[i + 1] - merged.back()).normalized();
            if ((run.points[i] - merged.back()).cross(chord).norm() > coincident_mm) merged.push_back(run.points[i]);
        }
        merged.push_back(run.points.back());
        run.points = std::move(merged);
        double half = run.length_mm / 2;
        for (std::size_t i = 0; i + 1 < run.points.size(); ++i) {
            const Vec3 d = run.points[i + 1] - run.points[i];
            if (half <= d.norm() || i + 2 == run.points.size()) {
                run.middle = run.points[i] + d.normalized() * std::min(half, d.norm());
                if (run.points.size() > 2) {
                    run.along = d.normalized();
                    const Vec3 inward = inward_of(end, run.points[i], run.points[i + 1]);
                    if (!inward.isZero()) run.inward = inward;
                }
                break;
            }
            half -= d.norm();
        }
    }
    std::erase_if(runs, [](const Run& run) { return run.length_mm < flush_step_mm; });
    return runs;
}

/// Where a line from the run's middle into the end face leaves the material.
struct Depth {
    double mm = 0;
    bool hollow = false;
};

Depth depth_of(const Flat& end, const Run& run) {
    const Vec2 from = end.in_plane(run.middle + run.inward * contact_mm);
    const double far = end.box.size().norm();
    const Vec2 to = end.in_plane(run.middle + run.inward * far);
    Depth depth{far, false};
    for (std::size_t i = 0; i < end.rings.size(); ++i) {
        std::vector<double> at;
        add_crossings(at, from, to, end.rings[i]);
        for (const double t : at) {
            const double mm = contact_mm + t * (far - contact_mm);
            if (mm < depth.mm) depth = {mm, i != end.outer_ring};
        }
    }
    return depth;
}

/// Outward normal of a face beside the weld line.
Vec3 normal_at(const Piece& piece, int face, const Vec3& at) {
    const space::Surface& on = piece.solid->faces[static_cast<std::size_t>(face)].surface;
    const Vec3 axis = piece.X_MP.turn(on.axis).normalized();
    if (on.kind == SurfaceKind::plane) return axis;
    const Vec3 from_axis = at - piece.X_MP * on.point;
    return (from_axis - axis * axis.dot(from_axis)).normalized() * (on.outside ? 1.0 : -1.0);
}

double angle_deg(const Vec3& a, const Vec3& b) {
    return base::Angle::rad(std::atan2(a.cross(b).norm(), a.dot(b))).deg();
}

/// The support's border that the run ends flush with.
const Border* flush_border(const Flat& support, const Run& run, bool smooth) {
    // Cuts a few degrees off still make one line.
    const double sine = std::sin(base::Angle::deg(5).rad());
    const Border* best = nullptr;
    double best_mm = flush_step_mm;
    const Vec2 q = support.in_plane(run.middle);
    const Vec2 along(run.along.dot(support.u), run.along.dot(support.v));
    for (const Border& border : support.borders) {
        if (border.smooth != smooth || border.beyond < 0) continue;
        for (std::size_t i = 0; i + 1 < border.points.size(); ++i) {
            const Vec2 from = support.in_plane(border.points[i]);
            const Vec2 d = support.in_plane(border.points[i + 1]) - from;
            const double length = d.norm();
            if (length < coincident_mm || std::abs(d.x() * along.y() - d.y() * along.x()) > sine * length) continue;
            const double t = std::clamp((q - from).dot(d) / (length * length), 0.0, 1.0);
            const double mm = (q - from - t * d).norm();
            if (mm <= best_mm) {
                best_mm = mm;
                best = &border;
            }
        }
    }
    return best;
}

void measure_gap(Seam& seam, const Flat& end, const Flat& support, const Run& run, bool own_rounding) {
    const Depth depth = own_rounding ? Depth{} : depth_of(end, run);
    double least = std::numeric_limits<double>::infinity();
    double most = -least;
    for (const Vec3& p : {run.points.front(), run.middle, run.points.back()}) {
        // A touch towards the middle: the ends lie on borders.
        const Vec3 to_middle = run.middle - p;
        const Vec3 at = p + to_middle * (to_middle.norm() > contact_mm ? contact_mm / to_middle.norm() : 0);
        const double root_mm = depth.hollow ? depth.mm : 0;
        double gap = support.height(at + run.inward * root_mm);
        const Vec2 toe = support.in_plane(at + run.inward * contact_mm);
        if (const Rounding* over = support.rounding_at(toe)) {
            const double nearest = depth.hollow ? depth.mm : std::min(depth.mm / 2, over->radius_mm);
            const Vec2 q = support.in_plane(at + run.inward * nearest);
            if (!support.covers(q) && support.rounding_at(q)) gap += support.drop(*support.rounding_at(q), q);
        }
        least = std::min(least, gap);
        most = std::max(most, gap);
    }
    seam.gap_mm = std::max(0.0, least);
    const bool over_radius = seam.kind == SeamKind::flare_bevel || seam.kind == SeamKind::flare_v;
    if (!over_radius && most > seam_gap_doubt_mm) {
        seam.doubts.push_back({"seam.gap_wide", {{"gap", base::LengthArg{most}}}});
    }
    if (least < -contact_mm) seam.doubts.push_back({"seam.sunk", {{"depth", base::LengthArg{-least}}}});
}

Seam seam_of(const Side& a, const Side& b, const Flat& end, const Border& border, const Flat& support, const Run& run) {
    Seam seam;
    seam.pieces = {a.piece->id, b.piece->id};
    seam.faces[0] = border.beyond;
    seam.path_M = run.points;
    seam.length_mm = run.length_mm;
    // Of a corner radius the direction between the two flats it joins.
    seam.n1_M =
        border.smooth ? Vec3((end.normal - run.inward).normalized()) : normal_at(*a.piece, border.beyond, run.middle);
    if (const Border* flush = flush_border(support, run, border.smooth)) {
        seam.faces[1] = flush->beyond;
        if (border.smooth) {
            seam.n2_M = (support.normal - run.inward).normalized();
            seam.kind = SeamKind::flare_v;
            seam.dihedral_deg = 180 - angle_deg(seam.n1_M, seam.n2_M);
        } else {
            seam.n2_M = normal_at(*b.piece, flush->beyond, run.middle);
            Vec3 into_a = run.along.cross(seam.n1_M).normalized();
            if (into_a.dot(end.normal) > 0) into_a = -into_a;
            const double turn = angle_deg(seam.n1_M, seam.n2_M);
            seam.dihedral_deg = seam.n2_M.dot(into_a) > 0 ? 180 - turn : 180 + turn;
            seam.kind = seam.dihedral_deg < fillet_most_deg ? SeamKind::fillet : SeamKind::square_butt;
        }
    } else {
        const Vec2 toe = support.in_plane(run.middle + run.inward * contact_mm);
        const Rounding* over = support.covers(toe) ? nullptr : support.rounding_at(toe);
        const bool far_down = over && support.drop(*over, toe) > seam_gap_doubt_mm;
        seam.faces[1] = far_down ? over->face : support.face;
        seam.n2_M = far_down ? normal_at(*b.piece, over->face, run.middle) : support.normal;
        seam.dihedral_deg = 180 - angle_deg(seam.n1_M, seam.n2_M);
        if (far_down) {
            seam.kind = border.smooth ? SeamKind::flare_v : SeamKind::flare_bevel;
        } else if (border.smooth) {
            seam.kind = SeamKind::flare_bevel;
        } else {
            const bool fillet = seam.dihedral_deg >= fillet_least_deg && seam.dihedral_deg <= fillet_most_deg;
            seam.kind = fillet ? SeamKind::fillet : SeamKind::edge;
        }
    }
    measure_gap(seam, end, support, run, border.smooth);
    return seam;
}

/// A line where both pieces end flush is found from either piece.
bool same_line(const Seam& s, const Seam& t) {
    const bool swapped = s.pieces[0] == t.pieces[1] && s.faces[0] == t.faces[1] && s.faces[1] == t.faces[0];
    const bool equal = s.pieces == t.pieces && s.faces == t.faces;
    if (!swapped && !equal) return false;
    const Vec3 s_middle = (s.path_M.front() + s.path_M.back()) / 2;
    const Vec3 t_middle = (t.path_M.front() + t.path_M.back()) / 2;
    return (s_middle - t_middle).norm() < seam_gap_mm;
}

/// Whether a groove opens between the corner radius beyond the border and the support: where the support ends under the
/// radius, its own edge makes the seam.
bool rounding_faces(const Flat& end, const Border& border, const Flat& support, const Run& run) {
    if (flush_border(support, run, true)) return true;
    for (const Rounding& rounding : end.roundings) {
        if (rounding.face != border.beyond) continue;
        const Vec2 q = support.in_plane(run.middle - run.inward * (rounding.radius_mm + contact_mm));
        return support.covers(q) || support.rounding_at(q) != nullptr;
    }
    return false;
}

void add_seams(std::vector<Seam>& of_pair, const Side& a, const Side& b) {
    for (const Flat& end : a.flats) {
        if (end.box.distance(b.box) > seam_gap_mm) continue;
        for (const Flat& support : b.flats) {
            if (end.normal.dot(support.normal) > facing || end.box.distance(support.box) > seam_gap_mm) continue;
            for (const Border& border : end.borders) {
                if (border.beyond < 0) continue;
                const space::Surface& beside = a.piece->solid->faces[static_cast<std::size_t>(border.beyond)].surface;
                const bool corner = a.corner[static_cast<std::size_t>(border.beyond)];
                // Planes: an edge to a flat side. Cylinders: the rim of a round piece, or the line where a flat turns
                // into its corner radius; the arcs of corner radii at a cut end belong to no seam.
                const bool line = beside.kind == SurfaceKind::plane ? !border.smooth
                                                                    : beside.kind == SurfaceKind::cylinder &&
                                                                          beside.outside && border.smooth == corner;
                if (!line) continue;
                for (const Run& run : runs_over(end, border, support)) {
                    if (border.smooth && !rounding_faces(end, border, support, run)) continue;
                    Seam seam = seam_of(a, b, end, border, support, run);
                    if (std::none_of(of_pair.begin(), of_pair.end(),
                                     [&](const Seam& s) { return same_line(s, seam); })) {
                        of_pair.push_back(std::move(seam));
                    }
                }
            }
        }
    }
}

}  // namespace

std::vector<Seam> find_seams(const std::vector<Piece>& pieces, const base::Progress& job) {
    std::vector<Side> sides;
    std::vector<Aabb> boxes;
    for (const Piece& piece : pieces) {
        if (job.cancelled()) return {};
        sides.push_back(side_of(piece));
        boxes.push_back(sides.back().box);
    }
    const std::vector<Near> pairs = near_pairs(boxes, seam_gap_mm);
    std::vector<Seam> seams;
    for (std::size_t i = 0; i < pairs.size(); ++i) {
        if (job.cancelled()) return {};
        job.report(static_cast<double>(i) / static_cast<double>(pairs.size()));
        std::vector<Seam> of_pair;
        add_seams(of_pair, sides[pairs[i].a], sides[pairs[i].b]);
        add_seams(of_pair, sides[pairs[i].b], sides[pairs[i].a]);
        for (Seam& seam : of_pair) {
            seam.id = SeamId{static_cast<std::uint32_t>(seams.size() + 1)};
            seams.push_back(std::move(seam));
        }
    }
    return seams;
}

}  // namespace setwright::weldment
