#include "core/sheet/hand_marks.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <set>
#include <tuple>

#include "core/base/limits.h"

namespace setwright::sheet {

namespace {

using setup::PieceId;
using space::Pose;

bool along(const Vec3& a, const Vec3& b) {
    return std::abs(a.dot(b)) > base::cos(base::Angle::deg(base::limits::face_word_deg));
}

bool square(const Vec3& a, const Vec3& b) {
    return std::abs(a.dot(b)) < base::sin(base::Angle::deg(base::limits::face_word_deg));
}

/// Up where it climbs, else north, else east.
Vec3 oriented(const Vec3& axis) {
    const double least = base::sin(base::Angle::deg(base::limits::face_word_deg));
    for (const int i : {2, 1, 0})
        if (std::abs(axis[i]) > least) return axis[i] < 0 ? Vec3(-axis) : axis;
    return axis;
}

std::array<Vec3, 3> axes_of(const Pose& X_TP) {
    return {X_TP.turn(Vec3::UnitX()), X_TP.turn(Vec3::UnitY()), X_TP.turn(Vec3::UnitZ())};
}

/// Directions to measure in: two in the contact's plane, after the neighbour's own; on a slanting cut the piece's own
/// three.
std::vector<Vec3> directions(const Pose& X_TA, const Pose& X_TB, const Vec3& normal, bool flat) {
    std::vector<Vec3> out;
    if (!flat) {
        for (const Vec3& axis : axes_of(X_TA)) out.push_back(oriented(axis));
        return out;
    }
    for (const Pose& X : {X_TB, X_TA}) {
        std::vector<Vec3> own;
        for (const Vec3& axis : axes_of(X))
            if (square(axis, normal)) own.push_back(oriented(axis));
        if (own.size() >= 2) return {own[0], own[1]};
        if (own.size() == 1) return {own[0], oriented(normal.cross(own[0]).normalized())};
    }
    const Vec3 level =
        along(normal, Vec3::UnitZ()) ? Vec3(Vec3::UnitX()) : Vec3(Vec3::UnitZ().cross(normal).normalized());
    return {oriented(level), oriented(normal.cross(level).normalized())};
}

double nearness(const Mark& mark) {
    return mark.kind == Mark::Kind::around ? std::min(mark.low_mm, mark.high_mm) : std::abs(mark.offset_mm);
}

Mark compare(const Vec3& axis, const std::pair<double, double>& a, const std::pair<double, double>& b) {
    constexpr double same = base::limits::contact_mm;
    const auto settle = [](double d) { return std::abs(d) < same ? 0.0 : d; };
    Mark mark;
    mark.axis_T = axis;
    const double low = settle(b.first - a.first), high = settle(a.second - b.second);
    if (low > 0 && high > 0) {
        mark.kind = Mark::Kind::around;
        mark.low_mm = low;
        mark.high_mm = high;
        mark.at_T_mm = a.second;
        mark.other_T_mm = b.second;
        return mark;
    }
    // Like edges first, the farther one along the axis on a tie: "top from top" reads best.
    double least = 1e300;
    for (const auto& [side, other] : {std::pair(1, 1), std::pair(-1, -1), std::pair(-1, 1), std::pair(1, -1)}) {
        const double at = side > 0 ? a.second : a.first, from = other > 0 ? b.second : b.first;
        if (std::abs(at - from) > least - same) continue;
        least = std::abs(at - from);
        mark.side = side;
        mark.other_side = other;
        mark.at_T_mm = at;
        mark.other_T_mm = from;
    }
    mark.offset_mm = settle(mark.at_T_mm - mark.other_T_mm);
    mark.centred = mark.offset_mm != 0 && mark.side == mark.other_side && std::abs(low - high) < same;
    return mark;
}

struct RoundHole {
    Vec3 centre_T;
    Vec3 axis_T;
    double diameter_mm;
};

/// Whole round holes of a plate or flat; the inner corners of tubes are none.
std::vector<RoundHole> holes_of(const weldment::Piece& piece, const Pose& X_TP) {
    using weldment::SectionKind;
    if (piece.section.kind != SectionKind::plate && piece.section.kind != SectionKind::flat_bar) return {};
    struct Found {
        Vec3 point, axis;
        double radius, area;
        double low, high;
    };
    std::vector<Found> found;
    for (const space::Face& face : piece.solid->faces) {
        const space::Surface& s = face.surface;
        if (s.kind != space::SurfaceKind::cylinder || s.outside) continue;
        double low = 1e300, high = -1e300;
        for (const space::Loop& loop : face.loops)
            for (const Vec3& p : loop.polyline) {
                low = std::min(low, (p - s.point).dot(s.axis));
                high = std::max(high, (p - s.point).dot(s.axis));
            }
        if (low > high) continue;
        const auto known = std::find_if(found.begin(), found.end(), [&](const Found& f) {
            const Vec3 d = s.point - f.point;
            return along(f.axis, s.axis) && std::abs(f.radius - s.radius_mm) < base::limits::coincident_mm &&
                   (d - d.dot(f.axis) * f.axis).norm() < base::limits::contact_mm;
        });
        if (known != found.end())
            known->area += face.area_mm2;
        else
            found.push_back({s.point, s.axis, s.radius_mm, face.area_mm2, low, high});
    }
    std::vector<RoundHole> out;
    for (const Found& f : found)
        if (f.area > 0.9 * 2 * std::numbers::pi * f.radius * (f.high - f.low))
            out.push_back({X_TP * (f.point + f.axis * (f.low + f.high) / 2), X_TP.turn(f.axis), 2 * f.radius});
    return out;
}

/// Nearest line of holes that the edge lies beyond, on the table.
Mark from_line(const shop::Table& table, const Vec3& axis, double at) {
    const bool x = along(axis, Vec3::UnitX());
    const double pitch = x ? table.pitch_x_mm : table.pitch_y_mm;
    const int last = (x ? table.cols : table.rows) - 1;
    Mark mark;
    mark.kind = Mark::Kind::line;
    mark.axis_T = axis;
    mark.side = -1;
    mark.index = std::clamp(static_cast<int>(std::floor(at / pitch + base::limits::coincident_mm)), 0, last);
    mark.at_T_mm = at;
    mark.other_T_mm = mark.index * pitch;
    const double offset = at - mark.other_T_mm;
    mark.offset_mm = std::abs(offset) < base::limits::contact_mm ? 0 : offset;
    return mark;
}

}  // namespace

std::optional<std::pair<double, double>> extent_T(const setup::Setup& setup, const setup::Stage& stage, PieceId id,
                                                  const Vec3& axis_T) {
    const weldment::Piece* piece = setup.find_piece(id);
    if (!piece || !piece->solid || piece->solid->mesh.points.empty()) return std::nullopt;
    const Pose X_TP = stage.lay.X_TM * piece->X_MP;
    std::pair<double, double> out(1e300, -1e300);
    for (const Vec3& p : piece->solid->mesh.points) {
        const double d = (X_TP * p).dot(axis_T);
        out.first = std::min(out.first, d);
        out.second = std::max(out.second, d);
    }
    return out;
}

std::vector<HandMarks> hand_marks(const setup::Setup& setup, const setup::Stage& stage,
                                  const check::StageReport& report) {
    std::vector<HandMarks> all;
    const auto lies = [&](PieceId id) { return stage.lay.X_TM * setup.find_piece(id)->X_MP; };
    std::set<PieceId> loaded;
    const auto before = [&](PieceId id) { return loaded.contains(id); };
    for (const check::LaidBody& body : check::laid_bodies(setup, stage)) {
        const bool by_hand = body.held_by == setup::HeldBy::by_hand && body.pieces.size() == 1;
        if (!by_hand) {
            loaded.insert(body.pieces.begin(), body.pieces.end());
            continue;
        }
        HandMarks hand;
        hand.piece = body.pieces.front();
        const weldment::Piece* piece = setup.find_piece(hand.piece);
        const Pose X_TA = lies(hand.piece);
        std::vector<Vec3> fixed;
        std::map<PieceId, HandMarks::Neighbour> touching;
        for (const check::Contact& contact : report.contacts) {
            const bool own = contact.piece == hand.piece;
            if (own && contact.placement) {
                if (!contact.locates) continue;
                fixed.push_back(contact.normal_T);
                auto& list = contact.normal_T.z() > 0.5 ? hand.rests_on : hand.stands_against;
                if (std::find(list.begin(), list.end(), *contact.placement) == list.end())
                    list.push_back(*contact.placement);
            } else if (contact.other && (own || *contact.other == hand.piece)) {
                const PieceId other = own ? *contact.other : contact.piece;
                HandMarks::Neighbour neighbour;
                neighbour.piece = other;
                neighbour.normal_T = own ? contact.normal_T : Vec3(-contact.normal_T);
                neighbour.patch_T = contact.patch_T.empty() ? std::vector<Vec3>{contact.point_T} : contact.patch_T;
                const auto axes = axes_of(X_TA);
                neighbour.flat =
                    std::any_of(axes.begin(), axes.end(), [&](const Vec3& a) { return along(a, neighbour.normal_T); });
                touching.try_emplace(other, std::move(neighbour));
            }
        }
        const auto by_number = [&](setup::PlacementId a, setup::PlacementId b) {
            const setup::Placement *p = stage.find(a), *q = stage.find(b);
            return p && q ? p->no < q->no : a < b;
        };
        std::sort(hand.rests_on.begin(), hand.rests_on.end(), by_number);
        std::sort(hand.stands_against.begin(), hand.stands_against.end(), by_number);
        const auto is_fixed = [&](const Vec3& axis) {
            return std::any_of(fixed.begin(), fixed.end(), [&](const Vec3& n) { return along(n, axis); });
        };

        // Where a piece that lies there first is met square on, the touch itself settles the direction.
        for (const auto& [other, neighbour] : touching)
            if (neighbour.flat && before(other)) fixed.push_back(neighbour.normal_T);
        for (auto& [other, neighbour] : touching)
            for (const Vec3& axis : directions(X_TA, lies(other), neighbour.normal_T, neighbour.flat)) {
                const auto a = extent_T(setup, stage, hand.piece, axis), b = extent_T(setup, stage, other, axis);
                if (!is_fixed(axis) && a && b) neighbour.marks.push_back(compare(axis, *a, *b));
            }
        // One mark for a direction: from what is there first, then that of the nearest edge.
        const auto rank = [&](PieceId id, const Mark& mark) {
            return std::tuple(!before(id), std::round(nearness(mark) / base::limits::contact_mm), id);
        };
        std::map<PieceId, std::vector<Mark>> kept;
        for (const auto& [id, neighbour] : touching)
            for (const Mark& mark : neighbour.marks) {
                const bool beaten = std::any_of(touching.begin(), touching.end(), [&](const auto& t) {
                    return std::any_of(t.second.marks.begin(), t.second.marks.end(), [&](const Mark& m) {
                        return along(m.axis_T, mark.axis_T) && rank(t.first, m) < rank(id, mark);
                    });
                });
                if (!beaten) kept[id].push_back(mark);
            }
        std::vector<Vec3> settled = fixed;
        const auto holes = holes_of(*piece, X_TA);
        for (auto& [id, neighbour] : touching) {
            neighbour.marks = kept[id];
            if (neighbour.marks.empty() && !(neighbour.flat && before(id))) continue;
            for (const Mark& mark : neighbour.marks) settled.push_back(mark.axis_T);
            if (neighbour.flat) settled.push_back(neighbour.normal_T);
            std::vector<Vec3> axes = directions(X_TA, lies(id), neighbour.normal_T, neighbour.flat);
            if (neighbour.flat) axes.push_back(oriented(neighbour.normal_T));
            // A pattern of many holes is the plate's own business.
            if (holes.size() <= 2 && !neighbour.marks.empty())
                for (const RoundHole& hole : holes) {
                    HoleMark mark{hole.diameter_mm, {}};
                    for (const Vec3& axis : axes)
                        if (const auto b = extent_T(setup, stage, id, axis); b && square(axis, hole.axis_T)) {
                            const double at = hole.centre_T.dot(axis);
                            mark.marks.push_back(compare(axis, {at, at}, *b));
                        }
                    if (!mark.marks.empty()) neighbour.holes.push_back(mark);
                }
            hand.neighbours.push_back(std::move(neighbour));
        }
        for (const Vec3& axis : {Vec3(Vec3::UnitX()), Vec3(Vec3::UnitY()), Vec3(Vec3::UnitZ())}) {
            // What the settled directions leave of this one.
            Vec3 rest = axis;
            std::vector<Vec3> basis;
            for (Vec3 s : settled) {
                for (const Vec3& b : basis) s -= s.dot(b) * b;
                if (s.norm() < base::sin(base::Angle::deg(base::limits::face_word_deg))) continue;
                basis.push_back(s.normalized());
                rest -= rest.dot(basis.back()) * basis.back();
            }
            const auto a = extent_T(setup, stage, hand.piece, axis);
            if (!a || rest.norm() < base::sin(base::Angle::deg(base::limits::face_word_deg))) continue;
            if (axis.z() > 0.5) {
                Mark mark;
                mark.kind = Mark::Kind::over_table;
                mark.axis_T = axis;
                mark.side = -1;
                mark.at_T_mm = mark.offset_mm = a->first;
                hand.on_table.push_back(mark);
            } else {
                hand.on_table.push_back(from_line(setup.table, axis, a->first));
            }
            settled.push_back(axis);
        }
        loaded.insert(hand.piece);
        all.push_back(std::move(hand));
    }
    return all;
}

}  // namespace setwright::sheet
