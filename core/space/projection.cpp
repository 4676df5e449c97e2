#include "core/space/projection.h"

#include <BRepBuilderAPI_Copy.hxx>
#include <BRepLib.hxx>
#include <BRepMesh_IncrementalMesh.hxx>
#include <HLRAlgo_EdgeStatus.hxx>
#include <HLRAlgo_Projector.hxx>
#include <HLRBRep_PolyAlgo.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_DataMapOfShapeInteger.hxx>
#include <algorithm>
#include <cmath>
#include <gp_Ax2.hxx>
#include <map>
#include <numbers>
#include <tuple>

#include "core/base/limits.h"
#include "core/space/occt.h"

namespace setwright::space {

namespace limits = base::limits;

namespace {

struct Segment {
    std::uint32_t tag = 0;
    bool visible = true;
    Vec2 a, b;
};

struct Interval {
    double from = 0, to = 0;
};

bool before(const Vec2& a, const Vec2& b) {
    return a.x() != b.x() ? a.x() < b.x() : a.y() < b.y();
}

/// Raw output of the kernel: one segment per mesh edge, doubled where faces meet.
std::vector<Segment> raw_segments(const std::vector<ProjectedBody>& bodies, const Pose& X_TV, bool with_hidden) {
    Handle(HLRBRep_PolyAlgo) algorithm = new HLRBRep_PolyAlgo();
    TopTools_DataMapOfShapeInteger tags;
    bool any = false;
    const Pose X_VT = X_TV.inverse();
    for (const ProjectedBody& body : bodies) {
        if (!body.brep || body.brep->empty()) continue;
        // A copy: meshing and marking smooth edges write into the shape, and instances share one.
        const TopoDS_Shape shape = BRepBuilderAPI_Copy(shape_of(*body.brep, X_VT * body.X_TD), false, true).Shape();
        BRepMesh_IncrementalMesh(shape, limits::mesh_deflection_mm, false, limits::mesh_angle_rad);
        // Without the mark on tangent edges the kernel takes every one of them for sharp.
        BRepLib::EncodeRegularity(shape, limits::smooth_edge_deg * std::numbers::pi / 180);
        for (const TopAbs_ShapeEnum kind : {TopAbs_EDGE, TopAbs_FACE})
            for (TopExp_Explorer part(shape, kind); part.More(); part.Next())
                tags.Bind(part.Current(), static_cast<int>(body.tag));
        algorithm->Load(shape);
        any = true;
    }
    std::vector<Segment> segments;
    if (!any) return segments;
    algorithm->Projector(HLRAlgo_Projector(gp_Ax2(gp::Origin(), gp::DZ(), gp::DX())));
    algorithm->Update();
    for (algorithm->InitHide(); algorithm->MoreHide(); algorithm->NextHide()) {
        HLRAlgo_EdgeStatus status;
        TopoDS_Shape source;
        bool smooth = false, sewn = false, outline = false, inner = false;
        const HLRAlgo_BiPoint::PointsT& points = algorithm->Hide(status, source, smooth, sewn, outline, inner);
        if ((smooth || sewn) && !outline && !inner) continue;
        const Vec2 a(points.PntP1.X(), points.PntP1.Y());
        const Vec2 b(points.PntP2.X(), points.PntP2.Y());
        if ((b - a).norm() <= limits::coincident_mm) continue;
        const std::uint32_t tag = tags.IsBound(source) ? static_cast<std::uint32_t>(tags.Find(source)) : 0;
        double done = 0;
        const auto add = [&](double from, double to, bool visible) {
            if ((to - from) * (b - a).norm() > limits::coincident_mm && (visible || with_hidden))
                segments.push_back({tag, visible, a + from * (b - a), a + to * (b - a)});
        };
        for (int i = 1; i <= status.NbVisiblePart(); ++i) {
            double from = 0, to = 0;
            Standard_ShortReal tolerance_from = 0, tolerance_to = 0;
            status.VisiblePart(i, from, tolerance_from, to, tolerance_to);
            add(done, from, false);
            add(from, to, true);
            done = std::max(done, to);
        }
        add(done, 1, false);
    }
    return segments;
}

/// Joins intervals that overlap or touch.
std::vector<Interval> joined(std::vector<Interval> intervals) {
    std::sort(intervals.begin(), intervals.end(), [](const Interval& a, const Interval& b) { return a.from < b.from; });
    std::vector<Interval> out;
    for (const Interval& i : intervals) {
        if (!out.empty() && i.from <= out.back().to + limits::drawn_line_mm)
            out.back().to = std::max(out.back().to, i.to);
        else
            out.push_back(i);
    }
    return out;
}

/// What of `intervals` is outside `covered`; both joined.
std::vector<Interval> outside(const std::vector<Interval>& intervals, const std::vector<Interval>& covered) {
    std::vector<Interval> out;
    for (Interval i : intervals) {
        for (const Interval& c : covered) {
            if (c.to <= i.from || c.from >= i.to) continue;
            if (c.from - i.from > limits::drawn_line_mm) out.push_back({i.from, c.from});
            i.from = c.to;
        }
        if (i.to - i.from > limits::drawn_line_mm) out.push_back(i);
    }
    return out;
}

/// Segments on one line become as few as possible; what several bodies, or the same line seen and hidden, share is
/// given once: the visible and the lower tag keep it.
std::vector<Segment> merged(std::vector<Segment> segments) {
    struct OnLine {
        double angle, offset;
        Segment segment;
    };
    std::vector<OnLine> lines;
    for (Segment& s : segments) {
        Vec2 d = (s.b - s.a).normalized();
        double angle = std::atan2(d.y(), d.x());
        if (angle < 0) angle += std::numbers::pi;
        // Directions just below a half turn belong to those just above none.
        if (angle > std::numbers::pi - limits::parallel_deg * std::numbers::pi / 180) angle -= std::numbers::pi;
        lines.push_back({angle, 0, s});
    }
    std::sort(lines.begin(), lines.end(), [](const OnLine& a, const OnLine& b) {
        return std::tuple(a.angle, a.segment.a.x(), a.segment.a.y(), a.segment.tag) <
               std::tuple(b.angle, b.segment.a.x(), b.segment.a.y(), b.segment.tag);
    });
    std::vector<Segment> out;
    for (std::size_t first = 0; first < lines.size();) {
        std::size_t last = first + 1;
        const double step = limits::parallel_deg * std::numbers::pi / 180;
        while (last < lines.size() && lines[last].angle - lines[last - 1].angle < step &&
               lines[last].angle - lines[first].angle < 2 * step)
            ++last;
        // The longest segment says best where the common direction lies.
        std::size_t longest = first;
        for (std::size_t i = first; i < last; ++i)
            if ((lines[i].segment.b - lines[i].segment.a).norm() >
                (lines[longest].segment.b - lines[longest].segment.a).norm() + limits::coincident_mm)
                longest = i;
        const Vec2 d(std::cos(lines[longest].angle), std::sin(lines[longest].angle));
        const Vec2 n(-d.y(), d.x());
        for (std::size_t i = first; i < last; ++i)
            lines[i].offset = n.dot((lines[i].segment.a + lines[i].segment.b) / 2);
        std::sort(lines.begin() + static_cast<std::ptrdiff_t>(first), lines.begin() + static_cast<std::ptrdiff_t>(last),
                  [&](const OnLine& a, const OnLine& b) {
                      return std::tuple(a.offset, d.dot(a.segment.a), a.segment.tag) <
                             std::tuple(b.offset, d.dot(b.segment.a), b.segment.tag);
                  });
        for (std::size_t from = first; from < last;) {
            std::size_t to = from + 1;
            while (to < last && lines[to].offset - lines[to - 1].offset < limits::drawn_line_mm) ++to;
            std::map<std::pair<bool, std::uint32_t>, std::vector<Interval>> by_owner;
            for (std::size_t i = from; i < to; ++i) {
                const Segment& s = lines[i].segment;
                const double p = d.dot(s.a), q = d.dot(s.b);
                by_owner[{!s.visible, s.tag}].push_back({std::min(p, q), std::max(p, q)});
            }
            std::vector<Interval> covered;
            for (const auto& [owner, intervals] : by_owner) {
                const std::vector<Interval> own = joined(intervals);
                for (const Interval& i : outside(own, covered))
                    out.push_back({owner.second, !owner.first, d * i.from + n * lines[from].offset,
                                   d * i.to + n * lines[from].offset});
                covered.insert(covered.end(), own.begin(), own.end());
                covered = joined(std::move(covered));
            }
            from = to;
        }
        first = last;
    }
    return out;
}

/// Numbers for points, the same for points within the drawn-line limit.
class Nodes {
  public:
    std::size_t number(const Vec2& p) {
        const auto cell = [](double v) {
            return static_cast<std::int64_t>(std::floor(v / (4 * limits::drawn_line_mm)));
        };
        const std::int64_t cx = cell(p.x()), cy = cell(p.y());
        for (std::int64_t x = cx - 1; x <= cx + 1; ++x)
            for (std::int64_t y = cy - 1; y <= cy + 1; ++y) {
                const auto found = cells_.find({x, y});
                if (found == cells_.end()) continue;
                for (const std::size_t i : found->second)
                    if ((points_[i] - p).norm() < 2 * limits::drawn_line_mm) return i;
            }
        cells_[{cx, cy}].push_back(points_.size());
        points_.push_back(p);
        return points_.size() - 1;
    }
    const Vec2& point(std::size_t i) const { return points_[i]; }
    std::size_t size() const { return points_.size(); }

  private:
    std::map<std::pair<std::int64_t, std::int64_t>, std::vector<std::size_t>> cells_;
    std::vector<Vec2> points_;
};

/// Polylines through points where exactly two segments of one owner meet.
void chain(std::vector<Segment> segments, std::vector<ProjectedLine>& out) {
    for (Segment& s : segments)
        if (before(s.b, s.a)) std::swap(s.a, s.b);
    std::sort(segments.begin(), segments.end(), [](const Segment& a, const Segment& b) {
        return std::tuple(a.a.x(), a.a.y(), a.b.x(), a.b.y()) < std::tuple(b.a.x(), b.a.y(), b.b.x(), b.b.y());
    });
    Nodes nodes;
    std::vector<std::array<std::size_t, 2>> ends;
    for (const Segment& s : segments) {
        const std::size_t a = nodes.number(s.a);
        ends.push_back({a, nodes.number(s.b)});
    }
    std::vector<std::vector<std::size_t>> at(nodes.size());
    for (std::size_t i = 0; i < ends.size(); ++i)
        for (const std::size_t node : ends[i]) at[node].push_back(i);
    std::vector<bool> used(segments.size(), false);
    const auto follow = [&](std::size_t segment, std::size_t node) {
        ProjectedLine line{segments[segment].tag, segments[segment].visible, {nodes.point(node)}};
        for (;;) {
            used[segment] = true;
            node = ends[segment][0] == node ? ends[segment][1] : ends[segment][0];
            line.points.push_back(nodes.point(node));
            if (at[node].size() != 2) break;
            const std::size_t next = at[node][0] == segment ? at[node][1] : at[node][0];
            if (used[next]) break;
            segment = next;
        }
        out.push_back(std::move(line));
    };
    for (std::size_t i = 0; i < segments.size(); ++i)
        for (const std::size_t node : ends[i])
            if (!used[i] && at[node].size() != 2) follow(i, node);
    for (std::size_t i = 0; i < segments.size(); ++i)
        if (!used[i]) follow(i, ends[i][0]);
}

}  // namespace

base::Result<std::vector<ProjectedLine>> project(const std::vector<ProjectedBody>& bodies, const Pose& X_TV,
                                                 bool with_hidden) {
    return guard([&]() -> base::Result<std::vector<ProjectedLine>> {
        std::map<std::pair<std::uint32_t, bool>, std::vector<Segment>> by_owner;
        for (const Segment& s : merged(raw_segments(bodies, X_TV, with_hidden)))
            by_owner[{s.tag, !s.visible}].push_back(s);
        std::vector<ProjectedLine> lines;
        for (auto& [owner, segments] : by_owner) chain(std::move(segments), lines);
        return lines;
    });
}

}  // namespace setwright::space
