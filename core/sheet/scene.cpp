#include "core/sheet/scene.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "core/base/limits.h"

namespace setwright::sheet {

using space::Vec3;

namespace {

constexpr std::uint32_t piece_tag = 0x80000000u;
/// A printed figure may differ from the exact one by this much without saying so. Common practice, no source.
constexpr double rounded_silently_mm = 0.1;

space::Polygon2 hull(std::vector<Vec2> points) {
    std::sort(points.begin(), points.end(),
              [](const Vec2& a, const Vec2& b) { return a.x() != b.x() ? a.x() < b.x() : a.y() < b.y(); });
    if (points.size() < 3) return {};
    const auto turn = [](const Vec2& o, const Vec2& a, const Vec2& b) {
        return (a.x() - o.x()) * (b.y() - o.y()) - (a.y() - o.y()) * (b.x() - o.x());
    };
    space::Polygon2 out;
    for (int pass = 0; pass < 2; ++pass) {
        const std::size_t start = out.size();
        for (const Vec2& p : points) {
            while (out.size() >= start + 2 && turn(out[out.size() - 2], out.back(), p) <= 0) out.pop_back();
            out.push_back(p);
        }
        out.pop_back();
        std::reverse(points.begin(), points.end());
    }
    return out;
}

Vec2 flat(const Vec3& p) {
    return {p.x(), p.y()};
}

std::set<weldment::PieceId> pieces_of(const setup::Setup& setup, const setup::Stage& stage, int depth = 0) {
    std::set<weldment::PieceId> ids(stage.pieces.begin(), stage.pieces.end());
    for (const setup::StageId id : stage.earlier)
        if (const setup::Stage* earlier = setup.find_stage(id); earlier && depth < 100)
            ids.merge(pieces_of(setup, *earlier, depth + 1));
    return ids;
}

}  // namespace

Rect Rect::around(const std::vector<Vec2>& points) {
    if (points.empty()) return {};
    Rect r{points.front(), points.front()};
    for (const Vec2& p : points) r.add({p, p});
    return r;
}

std::string Job::say(const std::string& id, std::map<std::string, base::TextArgument> arguments) const {
    return texts.render({id, std::move(arguments)}, options.unit);
}

std::string Job::say(const base::Text& text) const {
    return texts.render(text, options.unit);
}

std::string Job::length(double mm) const {
    base::DisplayUnit unit = options.unit;
    if (unit.unit == base::LengthUnit::inch) {
        unit.denominator = std::min(unit.denominator, 32);
        const std::string text = base::format_length(mm, unit);
        return base::length_is_rounded(mm, unit) ? text + " (" + base::decimal_text(mm / base::mm_per_inch, 3) + ")"
                                                 : text;
    }
    const double half = std::round(mm * 2) / 2;
    const std::string text = base::decimal_text(half, 1);
    return std::abs(mm - half) > rounded_silently_mm ? text + " (" + base::decimal_text(mm, 2) + ")" : text;
}

const Block* Scene::find(setup::PlacementId id) const {
    for (const Block& block : blocks)
        if (block.placement->id == id) return &block;
    return nullptr;
}

Scene make_scene(const Job& job, const setup::Stage& stage) {
    Scene scene;
    scene.stage = &stage;
    for (const check::StageReport& report : job.report.stages)
        if (report.stage == stage.id) scene.report = &report;
    for (const setup::Placement& placement : stage.placements) {
        const shop::Component* component = job.setup.find_component(placement.component);
        const base::Result<setup::Posed> posed = setup::pose(job.setup, stage, placement);
        if (!component || !posed) {
            scene.not_drawn.push_back(&placement);
            continue;
        }
        std::vector<shop::BodyPart> parts = posed->fixed;
        parts.insert(parts.end(), posed->moving.begin(), posed->moving.end());
        scene.blocks.push_back({&placement, component, *posed, shop::brep_of(parts),
                                setup::callout(job.setup, stage, placement), component_name(job, *component)});
    }
    std::sort(scene.blocks.begin(), scene.blocks.end(), [](const Block& a, const Block& b) {
        return std::pair(a.placement->no, a.placement->id) < std::pair(b.placement->no, b.placement->id);
    });
    for (const weldment::PieceId id : pieces_of(job.setup, stage))
        if (const weldment::Piece* piece = job.setup.find_piece(id))
            scene.pieces.push_back({piece, stage.lay.X_TM * piece->X_MP, job.setup.piece_name(id)});
    return scene;
}

base::Result<ViewLines> view_lines(const std::vector<const Block*>& blocks, const std::vector<ScenePiece>& pieces,
                                   const space::Pose& X_TV) {
    std::vector<space::ProjectedBody> bodies;
    for (const Block* block : blocks) bodies.push_back({&block->brep, block->posed.X_TC, block->placement->id.value});
    ViewLines lines;
    auto of_blocks = space::project(bodies, X_TV, false);
    if (!of_blocks) return of_blocks.error();
    lines.blocks = std::move(*of_blocks);
    for (const ScenePiece& p : pieces)
        bodies.push_back({&p.piece->brep, p.X_TP * p.piece->X_PD, p.piece->id.value | piece_tag});
    auto all = space::project(bodies, X_TV, false);
    if (!all) return all.error();
    for (space::ProjectedLine& line : *all) {
        if (!(line.tag & piece_tag)) continue;
        line.tag &= ~piece_tag;
        lines.pieces.push_back(std::move(line));
    }
    return lines;
}

std::vector<space::Polygon2> silhouettes(const setup::Posed& posed, const space::Pose& X_VC) {
    std::vector<space::Polygon2> outlines;
    for (const std::vector<shop::BodyPart>* parts : {&posed.fixed, &posed.moving})
        for (const shop::BodyPart& part : *parts) {
            const bool plan_prism = part.kind == shop::BodyPart::Kind::prism && part.upright &&
                                    std::abs(X_VC.turn(Vec3::UnitZ()).z()) > 1 - 1e-9;
            std::vector<Vec2> points;
            if (plan_prism) {
                for (const Vec2& p : part.outline) points.push_back(flat(X_VC * Vec3(p.x(), p.y(), part.z0_mm)));
                outlines.push_back(std::move(points));
                continue;
            }
            const space::Mesh mesh = shop::mesh_of({part});
            for (const Vec3& p : mesh.points) points.push_back(flat(X_VC * p));
            space::Polygon2 outline = hull(std::move(points));
            if (!outline.empty()) outlines.push_back(std::move(outline));
        }
    return outlines;
}

std::vector<space::Polygon2> silhouettes(const ScenePiece& piece, const space::Pose& X_VT) {
    using weldment::SectionKind;
    const SectionKind kind = piece.piece->section.kind;
    if (!piece.piece->solid || kind == SectionKind::angle || kind == SectionKind::channel ||
        kind == SectionKind::formed || kind == SectionKind::plate || kind == SectionKind::other)
        return {};
    std::vector<Vec2> points;
    const space::Pose X_VP = X_VT * piece.X_TP;
    for (const Vec3& p : piece.piece->solid->mesh.points) points.push_back(flat(X_VP * p));
    return {hull(std::move(points))};
}

Rect bounds(const std::vector<space::Polygon2>& outlines) {
    std::vector<Vec2> points;
    for (const auto& outline : outlines) points.insert(points.end(), outline.begin(), outline.end());
    return Rect::around(points);
}

double fitting_scale(const Vec2& size_mm, const Vec2& room_mm, double largest) {
    // ISO 5455: 1:1, 1:2, 1:5 and these times powers of ten.
    for (double decade = 1; decade <= 1e6; decade *= 10)
        for (const double step : {1.0, 2.0, 5.0}) {
            const double scale = 1 / (step * decade);
            if (scale > largest * (1 + 1e-9)) continue;
            if (size_mm.x() * scale <= room_mm.x() && size_mm.y() * scale <= room_mm.y()) return scale;
        }
    return 1e-6;
}

std::string scale_text(double scale) {
    return "1:" + base::decimal_text(1 / scale, 3);
}

space::Polygon2 View::operator()(const space::Polygon2& polygon) const {
    space::Polygon2 out;
    for (const Vec2& p : polygon) out.push_back((*this)(p));
    return out;
}

void draw(Page& page, const View& view, const space::ProjectedLine& line, Pen pen) {
    std::vector<Vec2> run;
    const auto flush = [&] {
        if (run.size() > 1) page.add(Line{run, pen, false, -1});
        run.clear();
    };
    for (std::size_t i = 1; i < line.points.size(); ++i) {
        const Vec2 a = view(line.points[i - 1]), b = view(line.points[i]);
        // Liang-Barsky against the window.
        double from = 0, to = 1;
        const Vec2 d = b - a;
        for (int axis = 0; axis < 2; ++axis)
            for (const double side : {-1.0, 1.0}) {
                const double along = side * d[axis];
                const double room = side > 0 ? view.clip.max[axis] - a[axis] : a[axis] - view.clip.min[axis];
                if (along == 0) {
                    if (room < 0) to = -1;
                } else if (along > 0) {
                    to = std::min(to, room / along);
                } else {
                    from = std::max(from, room / along);
                }
            }
        if (from >= to) {
            flush();
            continue;
        }
        if (run.empty() || from > 0) {
            flush();
            run.push_back(a + from * d);
        }
        run.push_back(a + to * d);
        if (to < 1) flush();
    }
    flush();
}

void fill(Page& page, const View& view, const space::Polygon2& polygon, double grey) {
    const Rect& c = view.clip;
    space::Polygon2 cut =
        space::clip_to_convex(view(polygon), {c.min, {c.max.x(), c.min.y()}, c.max, {c.min.x(), c.max.y()}});
    if (cut.size() > 2) page.add(Line{std::move(cut), Pen::none, true, grey});
}

std::optional<Vec2> facing(const Scene& scene, const Job& job, const Block& block) {
    const shop::Mount& mount = block.component->mount;
    if (mount.kind != shop::MountKind::loose && mount.kind != shop::MountKind::magnet && !mount.second &&
        !mount.turns_freely)
        return std::nullopt;
    Vec3 x = block.posed.X_TC.turn(Vec3::UnitX());
    if (block.placement->seat.host.kind == setup::Host::Kind::placement) {
        const auto host = setup::host_grid(job.setup, *scene.stage, block.placement->seat.host);
        if (host) x = host->X_TH.inverse().turn(x);
    }
    if (flat(x).norm() < 0.1) return std::nullopt;
    return flat(x).normalized();
}

std::string facing_word(const Job& job, const Block& block, const Vec2& facing) {
    const bool on_face = block.placement->seat.host.kind == setup::Host::Kind::placement;
    static const char* const compass[] = {"east", "north_east", "north", "north_west",
                                          "west", "south_west", "south", "south_east"};
    static const char* const sides[] = {"right", "right_up",  "up",   "left_up",
                                        "left",  "left_down", "down", "right_down"};
    const double eighths = std::atan2(facing.y(), facing.x()) / (std::atan(1.0));
    const double nearest = std::round(eighths);
    const std::size_t index = static_cast<std::size_t>(std::lround(nearest) + 8) % 8;
    if (std::abs(eighths - nearest) < 1e-6)
        return job.say(std::string("sheet.facing.") + (on_face ? sides : compass)[index]);
    const auto [p, q] = block.placement->seat.turn;
    if (p == 0 && q == 0)
        return job.say("sheet.facing.degrees",
                       {{"degrees", static_cast<std::int64_t>(block.placement->seat.turn_15deg * 15)}});
    return job.say("sheet.facing.slope",
                   {{"over", static_cast<std::int64_t>(std::abs(p))}, {"up", static_cast<std::int64_t>(std::abs(q))}});
}

std::string component_name(const Job& job, const shop::Component& component) {
    return job.say(check::component_name(component));
}

std::string packers_text(const Job& job, const Block& block) {
    std::string out;
    for (const setup::Packer::Where where : {setup::Packer::Where::under, setup::Packer::Where::face}) {
        std::string stack;
        for (const setup::Packer& packer : block.placement->seat.packers) {
            if (packer.where != where) continue;
            const shop::Component* component = job.setup.find_component(packer.component);
            const std::string size = component
                                         ? component->size
                                         : base::format_length(packer.thickness_mm, {block.component->nominal, 2, 64});
            stack += (stack.empty() ? "" : " + ") + size;
        }
        if (stack.empty()) continue;
        if (!out.empty()) out += " · ";
        out += job.say(where == setup::Packer::Where::under ? "sheet.packers.under" : "sheet.packers.face",
                       {{"stack", stack}});
    }
    return out;
}

std::string hole_text(const Job& job, const Scene& scene, const setup::Placement& placement) {
    const auto host = setup::host_grid(job.setup, *scene.stage, placement.seat.host);
    const shop::Component* component = job.setup.find_component(placement.component);
    if (!host || !host->has_holes || !component || component->mount.kind == shop::MountKind::magnet ||
        component->mount.kind == shop::MountKind::loose)
        return "";
    return shop::hole_label(placement.seat.hole);
}

}  // namespace setwright::sheet
