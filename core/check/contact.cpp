#include "core/check/contact.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>
#include <tuple>

#include "core/base/limits.h"

namespace setwright::check {

namespace limits = base::limits;
using setup::HeldBy;
using setup::PosedFace;
using space::Polygon2;
using space::Vec2;
using space::Vec3;

namespace {

/// A plane with its own axes: `right` × `up` = `normal`.
struct Frame2 {
    Vec3 origin, right, up, normal;

    Vec2 flat(const Vec3& p) const { return {right.dot(p - origin), up.dot(p - origin)}; }
    Vec3 lift(const Vec2& p) const { return origin + right * p.x() + up * p.y(); }
};

Frame2 frame(const Vec3& origin, const Vec3& normal, const Vec3& up) {
    return {origin, up.cross(normal), up, normal};
}

Frame2 frame(const Vec3& origin, const Vec3& normal) {
    // The axis least along the normal, so that the frame is the same for the same face.
    int axis = 0;
    normal.cwiseAbs().minCoeff(&axis);
    return frame(origin, normal, normal.cross(Vec3::Unit(axis)).normalized());
}

/// A planar face of a piece as it lies. In T.
struct Flat {
    int face = -1;
    Vec3 out, at;
    space::Aabb box;
    std::vector<Vec3> outer;
    std::vector<std::vector<Vec3>> holes;
};

/// An outside of a round tube or bar as it lies: not the rounded corner of a square one. In T.
struct Round {
    int face = -1;
    Vec3 from, to;
    double radius_mm = 0;
    space::Aabb box;
};

/// A whole round hole as it lies, whichever number of faces its wall is made of. In T.
struct Bore {
    Vec3 from, to;
    double radius_mm = 0;
};

struct LaidPiece {
    const weldment::Piece* piece = nullptr;
    std::size_t body = 0;
    space::Pose X_TP;
    space::Aabb box;
    std::vector<Flat> flats;
    std::vector<Round> rounds;
    std::vector<Bore> bores;
};

Flat lay_flat(const weldment::Piece& piece, int index, const space::Pose& X_TP) {
    const space::Face& face = piece.solid->faces[static_cast<std::size_t>(index)];
    Flat flat;
    flat.face = index;
    flat.out = X_TP.turn(face.surface.axis);
    flat.at = X_TP * face.surface.point;
    for (const space::Loop& loop : face.loops) {
        std::vector<Vec3> ring;
        for (const Vec3& p : loop.polyline) {
            ring.push_back(X_TP * p);
            if (loop.outer) flat.box.add(ring.back());
        }
        if (loop.outer) {
            flat.outer = std::move(ring);
        } else {
            flat.holes.push_back(std::move(ring));
        }
    }
    return flat;
}

std::optional<Round> lay_round(const weldment::Piece& piece, int index, const space::Pose& X_TP) {
    const space::Face& face = piece.solid->faces[static_cast<std::size_t>(index)];
    if (!face.surface.outside) return {};
    double from = std::numeric_limits<double>::infinity(), to = -from;
    for (const space::Loop& loop : face.loops) {
        for (const Vec3& p : loop.polyline) {
            const double along = face.surface.axis.dot(p - face.surface.point);
            from = std::min(from, along);
            to = std::max(to, along);
        }
    }
    if (!(to > from)) return {};
    // A corner of a square tube covers a quarter of its circle, a round tube with coped ends well over half.
    if (face.area_mm2 < std::numbers::pi * face.surface.radius_mm * (to - from)) return {};
    Round round;
    round.face = index;
    round.from = X_TP * (face.surface.point + face.surface.axis * from);
    round.to = X_TP * (face.surface.point + face.surface.axis * to);
    round.radius_mm = face.surface.radius_mm;
    round.box = face.box.moved(X_TP);
    return round;
}

std::vector<Bore> lay_bores(const weldment::Piece& piece, const space::Pose& X_TP) {
    struct Wall {
        Vec3 point, axis;
        double radius_mm, from, to, area_mm2;
    };
    std::vector<Wall> walls;
    for (const space::Face& face : piece.solid->faces) {
        const space::Surface& surface = face.surface;
        if (surface.kind != space::SurfaceKind::cylinder || surface.outside) continue;
        const auto same = [&](const Wall& w) {
            return std::abs(w.radius_mm - surface.radius_mm) <= limits::coincident_mm &&
                   w.axis.cross(surface.axis).norm() <= base::Angle::deg(limits::parallel_deg).rad() &&
                   w.axis.cross(surface.point - w.point).norm() <= limits::coincident_mm;
        };
        const auto known = std::find_if(walls.begin(), walls.end(), same);
        Wall wall{surface.point, surface.axis, surface.radius_mm, 0, 0, 0};
        if (known != walls.end()) wall = *known;
        double from = std::numeric_limits<double>::infinity(), to = -from;
        for (const space::Loop& loop : face.loops) {
            for (const Vec3& p : loop.polyline) {
                from = std::min(from, wall.axis.dot(p - wall.point));
                to = std::max(to, wall.axis.dot(p - wall.point));
            }
        }
        if (!(to > from)) continue;
        wall.from = known == walls.end() ? from : std::min(wall.from, from);
        wall.to = known == walls.end() ? to : std::max(wall.to, to);
        wall.area_mm2 += face.area_mm2;
        if (known == walls.end()) {
            walls.push_back(wall);
        } else {
            *known = wall;
        }
    }
    std::vector<Bore> bores;
    for (const Wall& wall : walls) {
        // The end of a slot covers half of its circle and lets a pin slide.
        if (wall.area_mm2 < 1.5 * std::numbers::pi * wall.radius_mm * (wall.to - wall.from)) continue;
        bores.push_back({X_TP * Vec3(wall.point + wall.axis * wall.from), X_TP * Vec3(wall.point + wall.axis * wall.to),
                         wall.radius_mm});
    }
    return bores;
}

std::vector<LaidPiece> lay_pieces(const setup::Setup& setup, const setup::Stage& stage) {
    std::vector<LaidPiece> out;
    const auto bodies = laid_bodies(setup, stage);
    for (std::size_t body = 0; body < bodies.size(); ++body) {
        for (const PieceId id : bodies[body].pieces) {
            LaidPiece laid;
            laid.piece = setup.find_piece(id);
            laid.body = body;
            laid.X_TP = stage.lay.X_TM * laid.piece->X_MP;
            laid.box = laid.piece->solid->box.moved(laid.X_TP);
            for (std::size_t f = 0; f < laid.piece->solid->faces.size(); ++f) {
                const int index = static_cast<int>(f);
                switch (laid.piece->solid->faces[f].surface.kind) {
                    case space::SurfaceKind::plane: {
                        Flat flat = lay_flat(*laid.piece, index, laid.X_TP);
                        if (flat.outer.size() >= 3) laid.flats.push_back(std::move(flat));
                        break;
                    }
                    case space::SurfaceKind::cylinder:
                        if (auto round = lay_round(*laid.piece, index, laid.X_TP)) laid.rounds.push_back(*round);
                        break;
                    case space::SurfaceKind::cone:
                    case space::SurfaceKind::sphere:
                    case space::SurfaceKind::torus:
                    case space::SurfaceKind::spline:
                    case space::SurfaceKind::other:
                        break;
                }
            }
            laid.bores = lay_bores(*laid.piece, laid.X_TP);
            out.push_back(std::move(laid));
        }
    }
    return out;
}

bool opposed(const Vec3& into_piece, const Vec3& out_of_piece) {
    return (into_piece + out_of_piece).norm() <= base::Angle::deg(limits::contact_deg).rad();
}

bool square_to(const Vec3& axis, const Vec3& normal) {
    return std::abs(axis.dot(normal)) <= base::Angle::deg(limits::contact_deg).rad();
}

Polygon2 hull(std::vector<Vec2> points) {
    std::sort(points.begin(), points.end(),
              [](const Vec2& a, const Vec2& b) { return std::pair(a.x(), a.y()) < std::pair(b.x(), b.y()); });
    Polygon2 out;
    const auto half = [&](auto begin, auto end) {
        const std::size_t start = out.size();
        for (auto p = begin; p != end; ++p) {
            while (out.size() >= start + 2) {
                const Vec2 a = out.back() - out[out.size() - 2];
                const Vec2 b = *p - out.back();
                if (a.x() * b.y() - a.y() * b.x() > limits::coincident_mm * limits::coincident_mm) break;
                out.pop_back();
            }
            out.push_back(*p);
        }
        out.pop_back();
    };
    if (points.size() < 3) return points;
    half(points.begin(), points.end());
    half(points.rbegin(), points.rend());
    return out;
}

/// Part of a planar face seen through convex windows.
struct Overlap {
    double area_mm2 = 0;
    Vec2 moment = Vec2::Zero();
    std::vector<Vec2> corners;

    void add(const Polygon2& outer, const std::vector<Polygon2>& holes, const Polygon2& window) {
        const Polygon2 part = space::clip_to_convex(outer, window);
        if (part.size() < 3) return;
        double part_area = std::abs(space::area(part));
        Vec2 part_moment = part_area * space::centroid(part);
        for (const Polygon2& hole : holes) {
            const Polygon2 gone = space::clip_to_convex(hole, window);
            const double gone_area = std::abs(space::area(gone));
            if (gone_area <= 0) continue;
            part_area -= gone_area;
            part_moment -= gone_area * space::centroid(gone);
        }
        if (part_area <= limits::coincident_mm) return;
        area_mm2 += part_area;
        moment += part_moment;
        corners.insert(corners.end(), part.begin(), part.end());
    }
};

Polygon2 flatten(const std::vector<Vec3>& ring, const Frame2& frame) {
    Polygon2 out;
    for (const Vec3& p : ring) out.push_back(frame.flat(p));
    return out;
}

/// The contact of a flat of a piece with convex windows in a plane; `frame`'s normal looks into the piece.
std::optional<Contact> flat_contact(const Frame2& frame, const std::vector<Polygon2>& windows, const Flat& flat,
                                    double reach_mm) {
    std::vector<Polygon2> holes;
    for (const auto& hole : flat.holes) holes.push_back(flatten(hole, frame));
    const Polygon2 outer = flatten(flat.outer, frame);
    Overlap overlap;
    for (const Polygon2& window : windows) overlap.add(outer, holes, window);
    if (overlap.area_mm2 < limits::contact_least) return {};

    Contact contact;
    contact.piece_face = flat.face;
    contact.kind = "plane";
    contact.normal_T = frame.normal;
    contact.point_T = frame.lift(overlap.moment / overlap.area_mm2);
    // Along the contact normal from the locating face to the piece's own plane.
    contact.gap_mm = flat.out.dot(flat.at - contact.point_T) / flat.out.dot(frame.normal);
    if (std::abs(contact.gap_mm) > reach_mm) return {};
    for (const Vec2& p : hull(overlap.corners)) contact.patch_T.push_back(frame.lift(p));
    contact.area_mm2 = overlap.area_mm2;
    return contact;
}

/// The part of a line that lies on a flat: its outermost ends and the length on material.
struct OnFlat {
    double first = 0, last = 0, length_mm = 0;
};
OnFlat clip_line(const Vec2& from, const Vec2& to, const Polygon2& outer, const std::vector<Polygon2>& holes) {
    const Vec2 along = to - from;
    const double length = along.norm();
    std::vector<double> cuts{0, 1};
    const auto cut = [&](const Polygon2& ring) {
        for (std::size_t i = 0; i < ring.size(); ++i) {
            const Vec2 a = ring[i];
            const Vec2 side = ring[(i + 1) % ring.size()] - a;
            const double det = along.x() * side.y() - along.y() * side.x();
            if (det == 0) continue;
            const Vec2 d = a - from;
            const double s = (d.x() * side.y() - d.y() * side.x()) / det;
            if (s > 0 && s < 1) cuts.push_back(s);
        }
    };
    cut(outer);
    for (const Polygon2& hole : holes) cut(hole);
    std::sort(cuts.begin(), cuts.end());
    OnFlat out;
    bool any = false;
    for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
        const Vec2 middle = from + along * ((cuts[i] + cuts[i + 1]) / 2);
        bool inside = space::contains(outer, middle);
        for (const Polygon2& hole : holes) inside = inside && !space::contains(hole, middle);
        if (!inside) continue;
        if (!any) out.first = cuts[i];
        any = true;
        out.last = cuts[i + 1];
        out.length_mm += (cuts[i + 1] - cuts[i]) * length;
    }
    return out;
}

Contact line_contact(const Vec3& from, const Vec3& to, const Vec3& normal, double gap_mm) {
    Contact contact;
    contact.kind = "line";
    contact.point_T = (from + to) / 2;
    contact.normal_T = normal;
    contact.patch_T = {from, to};
    contact.gap_mm = gap_mm;
    return contact;
}

/// A round stop against a flat of a piece.
std::optional<Contact> round_stop_contact(const PosedFace& stop, const Flat& flat, double reach_mm) {
    const Vec3 into = -flat.out;
    if (!square_to(stop.normal_T, into)) return {};
    const double radius = stop.diameter_mm / 2;
    const double gap = into.dot(flat.at - stop.point_T) - radius;
    if (std::abs(gap) > reach_mm) return {};
    const Frame2 plane = frame(flat.at, into);
    const Vec3 foot = stop.point_T + into * radius;
    const Vec2 from = plane.flat(foot + stop.normal_T * stop.from_mm);
    const Vec2 to = plane.flat(foot + stop.normal_T * stop.to_mm);
    std::vector<Polygon2> holes;
    for (const auto& hole : flat.holes) holes.push_back(flatten(hole, plane));
    const OnFlat part = clip_line(from, to, flatten(flat.outer, plane), holes);
    if (part.length_mm < limits::contact_least) return {};
    const auto at = [&](double s) -> Vec3 {
        return foot + stop.normal_T * (stop.from_mm + s * (stop.to_mm - stop.from_mm));
    };
    Contact contact = line_contact(at(part.first), at(part.last), into, gap);
    contact.piece_face = flat.face;
    return contact;
}

/// A flat locating face against the outside of a round tube or bar.
std::optional<Contact> round_piece_contact(const Frame2& plane, const Polygon2& window, const Round& round,
                                           double reach_mm) {
    const Vec3 axis = (round.to - round.from).normalized();
    if (!square_to(axis, plane.normal)) return {};
    const double gap = plane.normal.dot(round.from - plane.origin) - round.radius_mm;
    if (std::abs(gap) > reach_mm) return {};
    const Vec2 from = plane.flat(round.from), to = plane.flat(round.to);
    const OnFlat part = clip_line(from, to, window, {});
    if (part.length_mm < limits::contact_least) return {};
    return line_contact(plane.lift(from + (to - from) * part.first), plane.lift(from + (to - from) * part.last),
                        plane.normal, gap);
}

/// A pin in a hole of a piece: a round one holds along two directions across its axis, a relieved one along its `up`.
void add_pin_contacts(const PosedFace& pin, const Bore& bore, double reach_mm, std::vector<Contact>& out) {
    const Vec3& axis = pin.normal_T;
    const Vec3 along = (bore.to - bore.from).normalized();
    if (axis.cross(along).norm() > base::Angle::deg(limits::contact_deg).rad()) return;
    const double a = axis.dot(bore.from - pin.point_T), b = axis.dot(bore.to - pin.point_T);
    const double from = std::max(pin.from_mm, std::min(a, b)), to = std::min(pin.to_mm, std::max(a, b));
    if (to - from < limits::contact_least) return;
    const Vec3 middle = pin.point_T + axis * ((from + to) / 2);
    const Vec3 off = bore.from + along * along.dot(middle - bore.from) - middle;
    const double radius = pin.diameter_mm / 2;
    const double play = 2 * (bore.radius_mm - radius);
    // A pin beside the hole is not one in it.
    if (off.norm() >= bore.radius_mm + radius) return;

    const Frame2 across = frame(middle, axis, pin.up_T);
    std::vector<Vec3> normals{across.up};
    if (!pin.relieved) normals.push_back(across.right);
    std::vector<Contact> found;
    for (const Vec3& normal : normals) {
        Contact contact;
        contact.kind = "point";
        contact.point_T = middle + normal * radius;
        contact.normal_T = normal;
        contact.gap_mm = play / 2 - (pin.relieved ? std::abs(off.dot(normal)) : off.norm());
        contact.both_ways = true;
        // A looser pin is near, not in contact, and one that is too thick or off the hole does not go in.
        const double least = play < -limits::coincident_mm ? play / 2 : std::min(0.0, contact.gap_mm);
        const bool fits = play >= -limits::coincident_mm && play <= limits::pin_play_mm + limits::coincident_mm &&
                          least >= -limits::contact_mm;
        const bool near = reach_mm > limits::contact_mm && std::abs(contact.gap_mm) <= reach_mm;
        if (!fits && !near) return;
        found.push_back(std::move(contact));
    }
    out.insert(out.end(), found.begin(), found.end());
}

/// A round stop against the outside of a round tube or bar: a line where they lie side by side, a point where they
/// cross.
std::optional<Contact> round_on_round(const PosedFace& stop, const Round& round, double reach_mm) {
    const Vec3& u = stop.normal_T;
    const Vec3 v = (round.to - round.from).normalized();
    const Vec3 between = round.from - stop.point_T;
    const double radius = stop.diameter_mm / 2;
    const Vec3 across = u.cross(v);
    if (across.norm() <= base::Angle::deg(limits::contact_deg).rad()) {
        const Vec3 apart = between - u * u.dot(between);
        const double distance = apart.norm();
        if (distance < limits::coincident_mm) return {};
        const double gap = distance - radius - round.radius_mm;
        if (std::abs(gap) > reach_mm) return {};
        const double a = u.dot(between), b = u.dot(round.to - stop.point_T);
        const double from = std::max(stop.from_mm, std::min(a, b)), to = std::min(stop.to_mm, std::max(a, b));
        if (to - from < limits::contact_least) return {};
        const Vec3 normal = apart / distance;
        const Vec3 foot = stop.point_T + normal * radius;
        return line_contact(foot + u * from, foot + u * to, normal, gap);
    }
    // Feet of the common perpendicular of the two axes.
    const double square = across.squaredNorm();
    const double s = between.cross(v).dot(across) / square, t = between.cross(u).dot(across) / square;
    const Vec3 on_stop = stop.point_T + u * s;
    const Vec3 apart = round.from + v * t - on_stop;
    const double distance = apart.norm();
    if (distance < limits::coincident_mm || s < stop.from_mm || s > stop.to_mm) return {};
    if (t < 0 || t > (round.to - round.from).norm()) return {};
    const double gap = distance - radius - round.radius_mm;
    if (std::abs(gap) > reach_mm) return {};
    Contact contact;
    contact.kind = "point";
    contact.normal_T = apart / distance;
    contact.point_T = on_stop + contact.normal_T * radius;
    contact.gap_mm = gap;
    return contact;
}

/// The two flats of a V as planes of their own.
std::vector<PosedFace> as_planes(const PosedFace& face) {
    if (face.shape != shop::FaceShape::v) return {face};
    const base::Angle half = base::Angle::deg(face.v_angle_deg / 2);
    const Vec3 side = face.normal_T.cross(face.up_T);
    std::vector<PosedFace> out;
    for (const double sign : {1.0, -1.0}) {
        PosedFace plane = face;
        plane.shape = shop::FaceShape::plane;
        plane.up_T = face.up_T * base::cos(half) + side * (sign * base::sin(half));
        plane.normal_T = face.up_T * base::sin(half) - side * (sign * base::cos(half));
        plane.from_mm = face.from_mm / base::cos(half);
        plane.to_mm = face.to_mm / base::cos(half);
        out.push_back(plane);
    }
    return out;
}

space::Aabb box_of(const PosedFace& face) {
    space::Aabb box;
    const Vec3 along = face.shape == shop::FaceShape::cylinder ? face.normal_T : face.up_T;
    box.add(face.point_T + along * face.from_mm);
    box.add(face.point_T + along * face.to_mm);
    return box.grown(std::max(face.width_mm, face.diameter_mm));
}

void add_face_contacts(const PosedFace& face, const LaidPiece& laid, double reach_mm, std::vector<Contact>& out) {
    if (box_of(face).distance(laid.box) > reach_mm) return;
    const auto keep = [&](std::optional<Contact> contact) {
        if (contact) out.push_back(std::move(*contact));
    };
    if (face.shape == shop::FaceShape::cylinder) {
        for (const Flat& flat : laid.flats) keep(round_stop_contact(face, flat, reach_mm));
        for (const Round& round : laid.rounds) keep(round_on_round(face, round, reach_mm));
        for (const Bore& bore : laid.bores) add_pin_contacts(face, bore, reach_mm, out);
        return;
    }
    for (const PosedFace& plane : as_planes(face)) {
        const Frame2 axes = frame(plane.point_T, plane.normal_T, plane.up_T);
        const double half = plane.width_mm / 2;
        const Polygon2 window{{-half, plane.from_mm}, {half, plane.from_mm}, {half, plane.to_mm}, {-half, plane.to_mm}};
        for (const Flat& flat : laid.flats) {
            if (!opposed(plane.normal_T, flat.out)) continue;
            if (std::abs(plane.normal_T.dot(flat.at - plane.point_T)) > reach_mm + flat.box.size().norm()) continue;
            keep(flat_contact(axes, {window}, flat, reach_mm));
        }
        for (const Round& round : laid.rounds) keep(round_piece_contact(axes, window, round, reach_mm));
    }
}

/// Contacts of the later piece on the earlier one.
void add_piece_contacts(const LaidPiece& later, const LaidPiece& earlier, std::vector<Contact>& out) {
    if (later.box.distance(earlier.box) > limits::contact_mm) return;
    for (const Flat& on : earlier.flats) {
        const space::Face& face = earlier.piece->solid->faces[static_cast<std::size_t>(on.face)];
        for (const Flat& flat : later.flats) {
            if (!opposed(on.out, flat.out) || on.box.distance(flat.box) > limits::contact_mm) continue;
            const Frame2 axes = frame(on.at, on.out);
            std::vector<Polygon2> windows;
            for (std::uint32_t t = 0; t < face.triangle_count; ++t) {
                const auto& mesh = earlier.piece->solid->mesh;
                Polygon2 window;
                for (const auto corner : mesh.triangles[face.first_triangle + t]) {
                    window.push_back(axes.flat(earlier.X_TP * mesh.points[corner]));
                }
                if (space::area(window) > 0) windows.push_back(std::move(window));
            }
            auto contact = flat_contact(axes, windows, flat, limits::contact_mm);
            if (!contact) continue;
            contact->piece = later.piece->id;
            contact->other = earlier.piece->id;
            contact->other_face = on.face;
            out.push_back(std::move(*contact));
        }
    }
}

}  // namespace

std::vector<LaidBody> laid_bodies(const setup::Setup& setup, const setup::Stage& stage) {
    std::set<PieceId> left_out;
    for (const setup::WeldmentUse& use : setup.weldments) {
        for (const auto& [id, edit] : use.piece_edits) {
            if (edit.left_out) left_out.insert(id);
        }
    }
    std::set<PieceId> seen;
    const auto lies_here = [&](PieceId id) {
        const weldment::Piece* piece = setup.find_piece(id);
        return piece != nullptr && piece->solid && !left_out.contains(id) && seen.insert(id).second;
    };
    // Stages that come in as one body, with what came into them.
    const auto pieces_of = [&](const setup::Stage& earlier) {
        std::vector<PieceId> out;
        std::set<setup::StageId> done;
        std::vector<const setup::Stage*> open{&earlier};
        while (!open.empty()) {
            const setup::Stage* from = open.back();
            open.pop_back();
            if (from == nullptr || !done.insert(from->id).second) continue;
            for (const PieceId id : from->pieces) {
                if (lies_here(id)) out.push_back(id);
            }
            for (const setup::StageId id : from->earlier) open.push_back(setup.find_stage(id));
        }
        std::sort(out.begin(), out.end());
        return out;
    };

    std::vector<LaidBody> bodies;
    for (const setup::StageId id : stage.earlier) {
        const setup::Stage* earlier = setup.find_stage(id);
        if (earlier == nullptr || earlier == &stage) continue;
        auto pieces = pieces_of(*earlier);
        if (!pieces.empty()) bodies.push_back({pieces, stage.held(pieces.front())});
    }
    for (const PieceId id : stage.pieces) {
        if (lies_here(id)) bodies.push_back({{id}, stage.held(id)});
    }

    std::map<PieceId, std::size_t> loaded;
    for (std::size_t i = 0; i < stage.order.size(); ++i) {
        if (stage.order[i].kind != setup::StepKind::load) continue;
        for (const PieceId id : stage.order[i].pieces) loaded.try_emplace(id, i);
    }
    const auto place_in_order = [&](const LaidBody& body) {
        const auto step = loaded.find(body.pieces.front());
        return std::tuple(step == loaded.end() ? stage.order.size() : step->second, static_cast<int>(body.held_by),
                          body.pieces.front());
    };
    std::sort(bodies.begin(), bodies.end(),
              [&](const LaidBody& a, const LaidBody& b) { return place_in_order(a) < place_in_order(b); });
    return bodies;
}

namespace {

void add_placement_contacts(const LaidPiece& laid, const std::vector<setup::Posed>& posed, double reach_mm,
                            std::vector<Contact>& out) {
    for (const setup::Posed& placement : posed) {
        for (const PosedFace& face : placement.faces) {
            const std::size_t first = out.size();
            add_face_contacts(face, laid, reach_mm, out);
            for (std::size_t k = first; k < out.size(); ++k) {
                out[k].piece = laid.piece->id;
                out[k].placement = placement.id;
                out[k].locating_face = face.id;
                out[k].locates = face.locates;
            }
        }
    }
}

void put_in_order(std::vector<Contact>& contacts) {
    const auto place_in_list = [](const Contact& c) {
        return std::tuple(c.piece, !c.placement.has_value(), c.placement.value_or(PlacementId{}),
                          c.other.value_or(PieceId{}), c.locating_face, c.other_face, c.piece_face);
    };
    std::stable_sort(contacts.begin(), contacts.end(),
                     [&](const Contact& a, const Contact& b) { return place_in_list(a) < place_in_list(b); });
}

std::vector<Contact> find_contacts(const setup::Setup& setup, const setup::Stage& stage,
                                   const std::vector<setup::Posed>& posed, double reach_mm) {
    const auto pieces = lay_pieces(setup, stage);
    std::vector<Contact> out;
    for (std::size_t i = 0; i < pieces.size(); ++i) {
        add_placement_contacts(pieces[i], posed, reach_mm, out);
        for (std::size_t k = 0; k < i; ++k) {
            if (pieces[k].body != pieces[i].body) add_piece_contacts(pieces[i], pieces[k], out);
        }
    }
    put_in_order(out);
    return out;
}

}  // namespace

struct PieceFaces::Laid {
    std::vector<LaidPiece> pieces;
};

PieceFaces::PieceFaces(const setup::Setup& setup, const setup::Stage& stage)
    : laid_(std::make_unique<const Laid>(Laid{lay_pieces(setup, stage)})) {}
PieceFaces::~PieceFaces() = default;

std::vector<Contact> PieceFaces::met_by(const std::vector<setup::Posed>& posed, double reach_mm) const {
    std::vector<Contact> out;
    for (const LaidPiece& piece : laid_->pieces) add_placement_contacts(piece, posed, reach_mm, out);
    put_in_order(out);
    return out;
}

std::vector<Contact> contacts(const setup::Setup& setup, const setup::Stage& stage,
                              const std::vector<setup::Posed>& posed) {
    return find_contacts(setup, stage, posed, limits::contact_mm);
}

std::vector<Contact> contacts_within(const setup::Setup& setup, const setup::Stage& stage,
                                     const std::vector<setup::Posed>& posed, double reach_mm) {
    return find_contacts(setup, stage, posed, reach_mm);
}

namespace {

/// Middles of the two ends of a patch, in each of its two directions where it is long enough.
std::vector<Vec3> end_points(const Contact& contact) {
    const auto& patch = contact.patch_T;
    std::vector<Vec3> ends;
    if (patch.size() == 2) {
        if ((patch[1] - patch[0]).norm() >= limits::contact_pair_mm) ends = patch;
        return ends;
    }
    if (patch.size() < 3) return ends;
    // The smallest rectangle around a convex outline has a side along one of its edges.
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < patch.size(); ++i) {
        const Vec3 edge = patch[(i + 1) % patch.size()] - patch[i];
        if (edge.norm() < limits::coincident_mm) continue;
        const Vec3 u = edge.normalized();
        const Vec3 v = contact.normal_T.cross(u);
        const Frame2 axes{patch[i], u, v, contact.normal_T};
        Vec2 low = axes.flat(patch[0]), high = low;
        for (const Vec3& p : patch) {
            low = low.cwiseMin(axes.flat(p));
            high = high.cwiseMax(axes.flat(p));
        }
        const Vec2 size = high - low;
        // Only a rectangle that is really smaller replaces an earlier one, so that the answer does not flicker.
        if (size.prod() >= least * (1 - 1e-9)) continue;
        least = size.prod();
        const Vec2 middle = (low + high) / 2;
        ends.clear();
        if (size.x() >= limits::contact_pair_mm) {
            ends.push_back(axes.lift({low.x(), middle.y()}));
            ends.push_back(axes.lift({high.x(), middle.y()}));
        }
        if (size.y() >= limits::contact_pair_mm) {
            ends.push_back(axes.lift({middle.x(), low.y()}));
            ends.push_back(axes.lift({middle.x(), high.y()}));
        }
    }
    return ends;
}

}  // namespace

std::vector<Vec3> row_points(const Contact& contact) {
    std::vector<Vec3> points{contact.point_T};
    for (const Vec3& end : end_points(contact)) points.push_back(end);
    return points;
}

std::vector<Eigen::Matrix<double, 6, 1>> rows(const Contact& contact) {
    std::vector<Eigen::Matrix<double, 6, 1>> out;
    for (const Vec3& at : row_points(contact)) {
        Eigen::Matrix<double, 6, 1> row;
        row << contact.normal_T, at.cross(contact.normal_T);
        out.push_back(row);
    }
    return out;
}

}  // namespace setwright::check
