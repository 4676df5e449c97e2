#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "core/base/limits.h"
#include "core/setup/place.h"
#include "core/setup/seating.h"

namespace setwright::setup {

namespace limits = base::limits;
using base::Angle;
using shop::Component;
using shop::Hole;
using space::Pose;
using space::Vec2;
using space::Vec3;

namespace {

/// The piece's plane face as it lies on the table.
struct Wanted {
    /// x along, y across, z out of the piece.
    Pose X_TF;
    Vec3 out_T = Vec3::UnitX();
    /// out_T · point = offset on the plane.
    double offset_mm = 0;
    space::Polygon2 outer;
    std::vector<space::Polygon2> openings;
};

std::optional<Wanted> wanted_face(const Setup& setup, const Stage& stage, PieceId id, int index) {
    const weldment::Piece* piece = setup.find_piece(id);
    if (!piece || index < 0 || index >= static_cast<int>(piece->solid->faces.size())) return {};
    const space::Face& face = piece->solid->faces[static_cast<std::size_t>(index)];
    if (face.surface.kind != space::SurfaceKind::plane) return {};
    const Pose X_PF = face_frame(*piece, index);
    const Pose X_FP = X_PF.inverse();
    Wanted wanted;
    wanted.X_TF = stage.lay.X_TM * piece->X_MP * X_PF;
    wanted.out_T = wanted.X_TF.rotation().col(2);
    wanted.offset_mm = wanted.out_T.dot(wanted.X_TF.position());
    for (const space::Loop& loop : face.loops) {
        space::Polygon2 polygon;
        for (const Vec3& p : loop.polyline) polygon.push_back((X_FP * p).head<2>());
        if (loop.outer)
            wanted.outer = std::move(polygon);
        else
            wanted.openings.push_back(std::move(polygon));
    }
    return wanted.outer.empty() ? std::nullopt : std::optional<Wanted>(std::move(wanted));
}

/// A turn as the seat writes it and as C lies in H.
struct Turning {
    std::array<int, 2> turn{1, 0};
    int turn_15deg = 0;
    Pose X_HC;
};

std::vector<Turning> turnings(const Component& component, const HostGrid& grid) {
    constexpr int steps_in_a_turn = 24, degrees_in_a_step = 15, steps_in_a_quarter = 6;
    std::vector<Turning> all;
    for (const std::array<int, 2>& turn : turns(component, grid))
        all.push_back(
            {turn, 0,
             has_no_facing(component) ? Pose{} : Pose::facing(turn[0] * grid.pitch_x_mm, turn[1] * grid.pitch_y_mm)});
    if (!component.mount.turns_freely) return all;
    for (int step = 1; step < steps_in_a_turn; ++step) {
        if (step % steps_in_a_quarter == 0) continue;
        all.push_back({{0, 0}, step, Pose::turn_z(Angle::deg(step * degrees_in_a_step))});
    }
    return all;
}

/// One face of the component in one hand, plate and turn, as far as it decides where it can touch.
struct Reach {
    shop::Hand hand = shop::Hand::none;
    std::string plate;
    std::string face;
    Turning turning;
    bool round = false;
    /// In H without the hole: middle of the band at the first mark, and its move from mark to mark.
    Vec3 middle_H = Vec3::Zero(), per_mark_H = Vec3::Zero();
    /// In H: half of the band across and up.
    Vec3 half_across_H = Vec3::Zero(), half_up_H = Vec3::Zero();
    int first_mark = 0, last_mark = 0;
    /// What one millimetre of packers adds to the gap (never positive), and where they go.
    double per_packer = 0;
    Packer::Where packers = Packer::Where::face;
    /// Order among equals.
    int rank = 0;
};

struct Candidate {
    TouchingSeat touching;
    bool exact = false;
    std::size_t packers = 0;
    double distance_mm = 0;
    int rank = 0;
};

class Search {
  public:
    Search(const Setup& setup, const Stage& stage, const Component& component, const Host& host, const HostGrid& grid,
           const Wanted& wanted, const Vec3& near_T)
        : setup_(setup),
          stage_(stage),
          component_(component),
          host_(host),
          grid_(grid),
          wanted_(wanted),
          near_T_(near_T),
          out_H_(grid.X_TH.inverse().turn(wanted.out_T)),
          stacks_(packer_stacks(setup, component)) {
        const Pose X_HF = grid.X_TH.inverse() * wanted.X_TF;
        for (const Vec2& p : wanted.outer) extent_H_.add(X_HF * Vec3(p.x(), p.y(), 0));
        if (host.kind == Host::Kind::table)
            for (const shop::Table::Deviation& d : setup.table.deviations)
                slack_mm_ = std::max(slack_mm_, std::hypot(d.dx_mm, d.dy_mm));
        // Components of out_H far below the parallel limit are rounding: the face is upright, or lies along a row.
        const double slight = base::sin(Angle::deg(limits::parallel_deg));
        const std::array<double, 3> pitch{grid.pitch_x_mm, grid.pitch_y_mm, 1};
        for (std::size_t i = 0; i < 3; ++i) {
            const double share = out_H_[static_cast<Eigen::Index>(i)];
            if (std::abs(share) > slight) per_hole_[i] = share * pitch[i];
        }
    }

    std::vector<TouchingSeat> run(int count) {
        for (const Reach& reach : reaches()) solve(reach);
        std::sort(candidates_.begin(), candidates_.end(),
                  [this](const Candidate& a, const Candidate& b) { return order(a) < order(b); });
        std::vector<TouchingSeat> answer;
        for (const Candidate& c : candidates_) {
            if (static_cast<int>(answer.size()) >= count) break;
            const base::Result<Seated> here = seated(setup_, stage_, component_, c.touching.seat, {});
            if (here && holes_free(setup_, stage_, component_, c.touching.seat, *here, {}))
                answer.push_back(c.touching);
        }
        return answer;
    }

  private:
    std::tuple<double, bool, double, std::size_t, double, int, Hole, int> order(const Candidate& c) const {
        // Within one pitch of each other an exact seat comes first, then the one with the fewest packers.
        const double ring = std::floor(c.distance_mm / std::max(grid_.pitch_x_mm, grid_.pitch_y_mm));
        const Seat& seat = c.touching.seat;
        return {ring,      !c.exact,    c.exact ? 0 : c.touching.gap_mm, c.packers, c.distance_mm, c.rank,
                seat.hole, seat.setting};
    }

    std::vector<Reach> reaches() const {
        std::vector<shop::Hand> hands{shop::Hand::none};
        if (component_.handed) hands = {shop::Hand::right, shop::Hand::left};
        std::vector<std::string> plates;
        for (const shop::Plate& plate : component_.plates) plates.push_back(plate.id);
        if (plates.empty()) plates.emplace_back();
        const std::vector<Turning> turnings_here = turnings(component_, grid_);
        std::vector<Reach> all;
        for (const std::string& plate : plates)
            for (const shop::Hand hand : hands) add_reaches(plate, hand, turnings_here, all);
        return all;
    }

    void add_reaches(const std::string& plate, shop::Hand hand, const std::vector<Turning>& turnings_here,
                     std::vector<Reach>& all) const {
        const int first = component_.setting ? component_.setting->first : 0;
        const int last = component_.setting ? component_.setting->last : 0;
        const shop::ComponentShape shape = shop::shape_of(component_, plate, hand, first);
        const shop::ComponentShape next = last > first ? shop::shape_of(component_, plate, hand, first + 1) : shape;
        // Clamps have no locating face: then their pads are what should touch.
        const bool locates =
            std::any_of(shape.faces.begin(), shape.faces.end(), [](const auto& f) { return f.locates; });
        const auto packed = std::find_if(shape.faces.begin(), shape.faces.end(), [](const shop::LocatingFace& f) {
            return f.locates && f.shape == shop::FaceShape::plane;
        });
        for (std::size_t i = 0; i < shape.faces.size(); ++i) {
            const shop::LocatingFace& face = shape.faces[i];
            if (face.shape == shop::FaceShape::v || (locates && !face.locates)) continue;
            const bool takes_packers = face.locates && packed != shape.faces.end() && face.normal == packed->normal &&
                                       face.shape == shop::FaceShape::plane;
            for (const Turning& turning : turnings_here) {
                if (std::optional<Reach> reach = reach_of(face, turning)) {
                    reach->hand = hand;
                    reach->plate = plate;
                    reach->per_mark_H = turning.X_HC.turn(next.faces[i].point - face.point);
                    reach->first_mark = first;
                    reach->last_mark = last;
                    if (component_.packers_at_face && takes_packers) {
                        reach->per_packer = -1;
                    } else if (component_.packers_under && per_hole_[2] < 0) {
                        reach->per_packer = per_hole_[2];
                        reach->packers = Packer::Where::under;
                    }
                    reach->rank = static_cast<int>(all.size());
                    all.push_back(std::move(*reach));
                }
            }
        }
    }

    /// None where the face does not look at the wanted one in this turn.
    std::optional<Reach> reach_of(const shop::LocatingFace& face, const Turning& turning) const {
        const Vec3 normal_H = turning.X_HC.turn(face.normal);
        const double slight = base::sin(Angle::deg(limits::parallel_deg));
        Reach reach;
        reach.face = face.id;
        reach.turning = turning;
        reach.round = face.shape == shop::FaceShape::cylinder;
        const double middle = (face.from_mm + face.to_mm) / 2, half = (face.to_mm - face.from_mm) / 2;
        if (reach.round) {
            if (std::abs(normal_H.dot(out_H_)) > slight) return {};
            // It touches along a line: a strip of a millimetre stands for it.
            constexpr double half_strip_mm = 0.5;
            reach.middle_H = turning.X_HC * Vec3(face.point + face.normal * middle) - out_H_ * (face.diameter_mm / 2);
            reach.half_up_H = normal_H * half;
            reach.half_across_H = normal_H.cross(out_H_) * half_strip_mm;
            return reach;
        }
        if (normal_H.dot(out_H_) > 0 || normal_H.cross(out_H_).norm() > slight) return {};
        reach.middle_H = turning.X_HC * Vec3(face.point + face.up * middle);
        reach.half_up_H = turning.X_HC.turn(face.up * half);
        reach.half_across_H = turning.X_HC.turn(face.up.cross(face.normal) * (face.width_mm / 2));
        return reach;
    }

    /// Per hole the exact seats, or else the one that comes nearest.
    void solve(const Reach& reach) {
        std::map<Hole, std::vector<Candidate>> by_hole;
        // The axis along which the gap changes most is solved, the other is walked along the face.
        const std::size_t solved = std::abs(per_hole_[0]) >= std::abs(per_hole_[1]) ? 0 : 1;
        const std::size_t walked = 1 - solved;
        for (int mark = reach.first_mark; mark <= reach.last_mark; ++mark) {
            const Vec3 middle = reach.middle_H + reach.per_mark_H * (mark - reach.first_mark);
            const double start = out_H_.dot(middle) + wanted_.out_T.dot(grid_.X_TH.position()) - wanted_.offset_mm;
            const auto [low, high] = holes_in_reach(reach, middle);
            for (int w = low[walked]; w <= high[walked]; ++w) {
                const double before = start + w * per_hole_[walked];
                for (const int s : solutions(before, per_hole_[solved], reach, low[solved], high[solved])) {
                    const Hole hole = solved == 0 ? Hole{s, w} : Hole{w, s};
                    offer(reach, hole, mark, middle, before + s * per_hole_[solved], by_hole[hole]);
                }
            }
        }
        for (auto& [hole, found] : by_hole)
            for (Candidate& candidate : found) candidates_.push_back(std::move(candidate));
    }

    struct Range {
        std::array<int, 2> low, high;
    };
    /// Holes from which the band can lie on the wanted face at all.
    Range holes_in_reach(const Reach& reach, const Vec3& middle) const {
        const Vec3 half =
            reach.half_up_H.cwiseAbs() + reach.half_across_H.cwiseAbs() + Vec3::Constant(most_off_mm(reach));
        const Vec3 low = extent_H_.min - middle - half, high = extent_H_.max - middle + half;
        const auto clamped = [](double value, int last) {
            return static_cast<int>(std::clamp(value, -1.0, last + 1.0));
        };
        Range range{};
        range.low = {std::max(0, clamped(std::ceil(low.x() / grid_.pitch_x_mm), grid_.cols - 1)),
                     std::max(0, clamped(std::ceil(low.y() / grid_.pitch_y_mm), grid_.rows - 1))};
        range.high = {std::min(grid_.cols - 1, clamped(std::floor(high.x() / grid_.pitch_x_mm), grid_.cols - 1)),
                      std::min(grid_.rows - 1, clamped(std::floor(high.y() / grid_.pitch_y_mm), grid_.rows - 1))};
        return range;
    }

    /// Largest gap worth an answer before packers: what they can fill, or one more hole.
    double most_off_mm(const Reach& reach) const {
        const double next_hole = std::max(std::abs(per_hole_[0]), std::abs(per_hole_[1]));
        return std::max({-reach.per_packer * limits::packer_stack_mm, next_hole, limits::packer_stack_mm});
    }

    std::vector<int> solutions(double before, double per_hole, const Reach& reach, int low, int high) const {
        double from = low, to = high;
        const double least = -limits::exact_face_mm - slack_mm_, most = most_off_mm(reach) + slack_mm_;
        if (per_hole != 0) {
            const auto [near, far] = std::minmax({(least - before) / per_hole, (most - before) / per_hole});
            from = std::max(from, std::ceil(near));
            to = std::min(to, std::floor(far));
        } else if (before < least || before > most) {
            return {};
        }
        std::vector<int> all;
        for (double index = from; index <= to; ++index) all.push_back(static_cast<int>(index));
        return all;
    }

    void offer(const Reach& reach, Hole hole, int mark, const Vec3& middle, double gap, std::vector<Candidate>& found) {
        Vec3 at_H(hole.col * grid_.pitch_x_mm, hole.row * grid_.pitch_y_mm, 0);
        if (host_.kind == Host::Kind::table) {
            for (const shop::Table::Deviation& d : setup_.table.deviations) {
                if (d.hole != hole) continue;
                at_H += Vec3(d.dx_mm, d.dy_mm, 0);
                gap += out_H_.dot(Vec3(d.dx_mm, d.dy_mm, 0));
            }
        }
        if (gap < -limits::exact_face_mm) return;
        const PackerStack* stack = &stacks_.front();
        if (reach.per_packer < 0) {
            const double fill = (gap + limits::exact_face_mm) / -reach.per_packer;
            stack = &*std::prev(std::upper_bound(stacks_.begin(), stacks_.end(), fill,
                                                 [](double sum, const PackerStack& s) { return sum < s.sum_mm; }));
        }
        Candidate candidate;
        candidate.touching.gap_mm = gap + reach.per_packer * stack->sum_mm;
        candidate.touching.face = reach.face;
        candidate.exact = std::abs(candidate.touching.gap_mm) <= limits::exact_face_mm;
        candidate.packers = stack->packers.size();
        candidate.rank = reach.rank;
        // Only one that comes nearer is kept beside others that are not exact.
        if (!candidate.exact && !found.empty() &&
            std::pair(found[0].touching.gap_mm, found[0].packers) <=
                std::pair(candidate.touching.gap_mm, candidate.packers))
            return;
        const Vec3 raise = reach.packers == Packer::Where::under ? Vec3(0, 0, stack->sum_mm) : Vec3::Zero();
        const std::optional<Vec3> touch_T = touch(reach, at_H + middle + raise);
        if (!touch_T) return;
        candidate.distance_mm = (*touch_T - near_T_).norm();

        Seat& seat = candidate.touching.seat;
        seat.host = host_;
        seat.hole = hole;
        seat.turn = reach.turning.turn;
        seat.turn_15deg = reach.turning.turn_15deg;
        seat.hand = reach.hand;
        seat.plate = reach.plate;
        seat.setting = mark;
        for (const Component* packer : stack->packers)
            seat.packers.push_back({reach.packers, packer->id, packer->thickness_mm});
        if (!found.empty() && !found[0].exact) found.clear();
        if (candidate.exact || found.empty()) found.push_back(std::move(candidate));
    }

    /// Middle of the common area of band and face, none where they do not meet.
    std::optional<Vec3> touch(const Reach& reach, const Vec3& middle_H) const {
        const Pose X_FH = wanted_.X_TF.inverse() * grid_.X_TH;
        space::Polygon2 band;
        for (const auto& [across, up] : {std::pair(-1, -1), std::pair(1, -1), std::pair(1, 1), std::pair(-1, 1)})
            band.push_back((X_FH * Vec3(middle_H + across * reach.half_across_H + up * reach.half_up_H)).head<2>());
        if (space::area(band) < 0) std::reverse(band.begin(), band.end());
        const space::Polygon2 common = space::clip_to_convex(wanted_.outer, band);
        double area = std::abs(space::area(common));
        for (const space::Polygon2& opening : wanted_.openings)
            area -= std::abs(space::area(space::clip_to_convex(opening, band)));
        if (area < limits::touch_area_mm2) return {};
        const Vec2 centre = space::centroid(common);
        return wanted_.X_TF * Vec3(centre.x(), centre.y(), 0);
    }

    const Setup& setup_;
    const Stage& stage_;
    const Component& component_;
    const Host& host_;
    const HostGrid& grid_;
    const Wanted& wanted_;
    Vec3 near_T_;
    Vec3 out_H_;
    /// What one column, one row and one millimetre up add to the gap.
    std::array<double, 3> per_hole_{};
    space::Aabb extent_H_;
    std::vector<PackerStack> stacks_;
    std::vector<Candidate> candidates_;
    /// Measured deviations of holes may move a face this much past the nominal search.
    double slack_mm_ = 0;
};

}  // namespace

std::vector<PackerStack> packer_stacks(const Setup& setup, const Component& component) {
    struct Owned {
        const Component* packer;
        int count;
    };
    std::vector<Owned> owned;
    for (const Component* packer : packers_of(setup, component)) {
        const bool known = std::any_of(owned.begin(), owned.end(), [&](const Owned& o) {
            return std::abs(o.packer->thickness_mm - packer->thickness_mm) <= limits::coincident_mm;
        });
        const int count = setup.shelf.have(packer->id);
        if (!known && count > 0) owned.push_back({packer, count});
    }
    std::sort(owned.begin(), owned.end(),
              [](const Owned& a, const Owned& b) { return a.packer->thickness_mm > b.packer->thickness_mm; });

    std::vector<PackerStack> all{{}};
    // Thickest first, so each set is made once: extend every stack by packers no thicker than its last.
    struct Open {
        PackerStack stack;
        std::size_t last;
        int used;
    };
    std::vector<Open> open{{{}, 0, 0}};
    for (int size = 1; size <= limits::packers_in_stack; ++size) {
        std::vector<Open> longer;
        for (const Open& from : open) {
            for (std::size_t i = from.last; i < owned.size(); ++i) {
                const int used = i == from.last ? from.used : 0;
                const double sum = from.stack.sum_mm + owned[i].packer->thickness_mm;
                if (used >= owned[i].count || sum > limits::packer_stack_mm + limits::coincident_mm) continue;
                Open next{from.stack, i, used + 1};
                next.stack.sum_mm = sum;
                next.stack.packers.push_back(owned[i].packer);
                all.push_back(next.stack);
                longer.push_back(std::move(next));
            }
        }
        open = std::move(longer);
    }
    // Found with few packers first: of equal heights the simplest stays.
    std::stable_sort(all.begin(), all.end(),
                     [](const PackerStack& a, const PackerStack& b) { return a.sum_mm < b.sum_mm; });
    std::vector<PackerStack> simplest;
    for (PackerStack& stack : all) {
        if (simplest.empty() || stack.sum_mm - simplest.back().sum_mm > limits::coincident_mm)
            simplest.push_back(std::move(stack));
        else if (stack.packers.size() < simplest.back().packers.size())
            simplest.back() = std::move(stack);
    }
    return simplest;
}

std::vector<TouchingSeat> seats_touching(const Setup& setup, const Stage& stage, const Component& component,
                                         const Host& host, PieceId piece, int piece_face, const Vec3& near_T,
                                         int count) {
    const base::Result<HostGrid> grid = host_grid(setup, stage, host);
    const std::optional<Wanted> wanted = wanted_face(setup, stage, piece, piece_face);
    if (!grid || !grid->has_holes || !needs_hole(component) || !wanted) return {};
    if (std::abs(component.mount.hole_mm - grid->hole_mm) > limits::hole_size_mm) return {};
    return Search(setup, stage, component, host, *grid, *wanted, near_T).run(count);
}

}  // namespace setwright::setup
