// Table of placements: one row a block, in the order of placing.

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "core/base/limits.h"
#include "core/sheet/scene.h"

namespace setwright::sheet {

using space::Vec3;

namespace {

/// They press on pieces that must lie there first.
bool presses(const shop::Component* component) {
    return component && (component->clamp || component->family == shop::Family::pusher);
}

/// Piece after which this block is set: loaded last before the step that sets it; where no step does, the last one that
/// a clamp or pusher presses on or stands on. None where it stands before any piece.
std::optional<weldment::PieceId> after_piece(const Job& job, const Scene& scene, const setup::Placement& placement) {
    const setup::Stage& stage = *scene.stage;
    std::optional<weldment::PieceId> last;
    for (const setup::Step& step : stage.order) {
        if (step.kind == setup::StepKind::load && !step.pieces.empty()) last = step.pieces.back();
        const bool sets = step.kind == setup::StepKind::set || step.kind == setup::StepKind::clamp_hard ||
                          step.kind == setup::StepKind::clamp_snug;
        if (sets && std::find(step.placements.begin(), step.placements.end(), placement.id) != step.placements.end())
            return last;
    }
    const shop::Component* component = job.setup.find_component(placement.component);
    const Block* block = scene.find(placement.id);
    if (!block) return std::nullopt;
    std::set<weldment::PieceId> under(placement.seat.host.pieces.begin(), placement.seat.host.pieces.end());
    if (presses(component)) {
        const double stroke = component->clamp ? component->clamp->stroke_mm : 0;
        const double reach = std::max(stroke, base::limits::contact_mm);
        for (const check::Contact& contact : check::contacts_within(job.setup, stage, {block->posed}, reach))
            if (contact.placement) under.insert(contact.piece);
    }
    last.reset();
    for (const check::LaidBody& body : check::laid_bodies(job.setup, stage))
        for (const weldment::PieceId id : body.pieces)
            if (under.contains(id)) last = id;
    return last;
}

/// What stands on the table, then what stands on its faces, then what presses; by number within each.
std::vector<const setup::Placement*> in_order_of_placing(const Job& job, const setup::Stage& stage) {
    const auto level = [&](const setup::Placement* p) {
        int hosts = 0;
        for (const setup::Placement* at = p; at && at->seat.host.kind == setup::Host::Kind::placement && hosts < 100;
             ++hosts)
            at = stage.find(at->seat.host.placement);
        const bool on_pieces =
            p->seat.host.kind == setup::Host::Kind::piece || p->seat.host.kind == setup::Host::Kind::pieces;
        return std::pair(on_pieces || presses(job.setup.find_component(p->component)), hosts);
    };
    std::vector<const setup::Placement*> out;
    for (const setup::Placement& p : stage.placements) out.push_back(&p);
    std::sort(out.begin(), out.end(), [&](const auto* a, const auto* b) {
        return std::tuple(level(a), a->no, a->id) < std::tuple(level(b), b->no, b->id);
    });
    return out;
}

/// Callouts break only between their parts.
std::vector<std::string> wrap_callout(const std::string& callout, double height_mm, double width_mm) {
    std::vector<std::string> lines;
    std::size_t at = 0;
    const std::string mark = " · ";
    while (at <= callout.size()) {
        const std::size_t end = std::min(callout.find(mark, at), callout.size());
        const std::string part = callout.substr(at, end - at);
        at = end + mark.size();
        if (!lines.empty() && text_width_mm(lines.back() + mark + part, height_mm, true) <= width_mm)
            lines.back() += mark + part;
        else
            for (std::string& line : wrap(lines.empty() ? part : "· " + part, height_mm, true, width_mm))
                lines.push_back(std::move(line));
        if (end == callout.size()) break;
    }
    return lines;
}

/// Drawn small, seen from above the right-hand front of the component.
base::Result<void> draw_picture(Page& page, const Block& block, const Rect& box) {
    // V's x must lie level: the component stands upright in its picture.
    const Vec3 z = Vec3(0.55, -0.75, 0.55).normalized();
    const space::Pose X_CV = space::Pose::from_axes(Vec3::Zero(), z, Vec3::UnitZ().cross(z).normalized());
    auto lines = space::project({{&block.brep, {}, 1}}, X_CV, false);
    if (!lines) return lines.error();
    std::vector<Vec2> points;
    for (const auto& line : *lines) points.insert(points.end(), line.points.begin(), line.points.end());
    if (points.empty()) return {};
    const Rect r = Rect::around(points);
    View view;
    view.scale = std::min({box.width() / std::max(r.width(), 1.0), box.height() / std::max(r.height(), 1.0)});
    view.world = r.centre();
    view.paper = box.centre();
    view.clip = box.grown(1);
    for (const auto& line : *lines) draw(page, view, line, Pen::thin);
    return {};
}

struct Column {
    const char* key;
    double width;
};

}  // namespace

base::Result<void> placement_table(const Job& job, const Scene& scene, std::vector<Draft>& pages) {
    constexpr double text = 3.5, call = 5, pad = 1.2, picture = 14.5;
    const std::vector<const setup::Placement*> order = in_order_of_placing(job, *scene.stage);
    if (order.empty()) return {};
    std::vector<Column> columns = {{"no", 12},      {"picture", 21}, {"name", 38},   {"callout", 74}, {"faces", 25},
                                   {"setting", 17}, {"packers", 24}, {"height", 22}, {"after", 32}};
    Draft draft;
    double y = 0;
    double scale = 1;
    const auto open = [&] {
        draft = start_page(job, scene.stage, job.say("sheet.kind.table"), true);
        if (draft.strip.width() > 30)
            write_lines(draft.page, wrap(job.say("sheet.table_hint"), 2.5, false, draft.strip.width()),
                        {draft.strip.min.x(), draft.strip.max.y() - 1}, 2.5);
        double total = 0;
        for (const Column& c : columns) total += c.width;
        scale = draft.area.width() / total;
        y = draft.area.max.y();
        double x = draft.area.min.x();
        std::size_t lines = 1;
        for (const Column& c : columns)
            lines = std::max(
                lines,
                wrap(job.say(std::string("sheet.column.") + c.key), 2.5, true, c.width * scale - 2 * pad).size());
        const double height = static_cast<double>(lines) * 2.5 * 1.55 + 2;
        for (const Column& c : columns) {
            write_lines(draft.page,
                        wrap(job.say(std::string("sheet.column.") + c.key), 2.5, true, c.width * scale - 2 * pad),
                        {x + pad, y - 1}, 2.5, true);
            x += c.width * scale;
        }
        y -= height;
        draft.page.add(Line{{{draft.area.min.x(), y}, {draft.area.max.x(), y}}, Pen::outline, false, -1});
    };
    open();
    for (const setup::Placement* placement : order) {
        const Block* block = scene.find(placement->id);
        const shop::Component* component = job.setup.find_component(placement->component);
        const std::string callout = block ? block->callout : setup::callout(job.setup, *scene.stage, *placement);
        std::map<std::string, std::vector<std::string>> cells;
        const auto width = [&](const char* key) {
            for (const Column& c : columns)
                if (std::string(c.key) == key) return c.width * scale - 2 * pad;
            return 0.0;
        };
        const auto put = [&](const char* key, const std::string& value) {
            cells[key] = wrap(value, text, false, width(key));
        };
        std::string name = component ? component_name(job, *component) : placement->component;
        cells["callout"] = wrap_callout(callout, call, width("callout"));
        std::optional<Vec2> face;
        if (block) {
            face = facing(scene, job, *block);
            if (face) cells["faces"] = wrap(facing_word(job, *block, *face), text, false, width("faces"));
            if (component->setting) put("setting", std::to_string(placement->seat.setting));
            put("packers", packers_text(job, *block));
            put("height", job.length(block->posed.height_mm));
        } else {
            name += " – " + job.say("sheet.not_a_seat");
        }
        put("name", name);
        std::string note;
        if (const auto piece = after_piece(job, scene, *placement)) note = job.setup.piece_name(*piece);
        std::vector<std::string> notes;
        if (!note.empty()) notes.push_back(note);
        if (!placement->note.empty()) notes.push_back(placement->note);
        if (component && component->mass_kg >= base::limits::heavy_kg)
            notes.push_back(
                job.say(component->mass_kg >= base::limits::two_people_kg ? "sheet.heavy_two" : "sheet.heavy",
                        {{"kg", base::decimal_text(component->mass_kg, 0)}}));
        for (const std::string& n : notes)
            for (std::string& line : wrap(n, text, false, width("after"))) cells["after"].push_back(std::move(line));

        double height = picture;
        for (const auto& [key, lines] : cells)
            height = std::max(height, static_cast<double>(lines.size()) * (key == "callout" ? call : text) * 1.55 + 2 +
                                          (key == "faces" ? 9.0 : 0.0));
        if (y - height < draft.area.min.y()) {
            pages.push_back(std::move(draft));
            open();
        }
        double x = draft.area.min.x();
        for (const Column& c : columns) {
            const std::string key = c.key;
            const double w = c.width * scale;
            if (key == "no") {
                Tag tag{{}, std::to_string(placement->no), "", 4, {x + w / 2, y - height / 2}};
                draft.page.add(Circle{tag.centre, tag.radius_mm(), Pen::outline, 0});
                write(draft.page, tag.centre - Vec2(0, 2), tag.number, 4, Align::middle, true);
            } else if (key == "picture") {
                if (block)
                    if (const auto drawn =
                            draw_picture(draft.page, *block, {{x + 1, y - height + 1.2}, {x + w - 1, y - 1.2}});
                        !drawn)
                        return drawn.error();
            } else {
                const auto& lines = cells[key];
                const double size = key == "callout" ? call : text;
                double top = y - 1.5;
                if (key == "callout")
                    top = y - (height - static_cast<double>(lines.size()) * size * 1.55 + 0.55 * size) / 2;
                write_lines(draft.page, lines, {x + pad, top}, size, key == "callout");
                if (key == "faces" && face) {
                    const Vec2 c2(x + w / 2 - 2, y - height + 5.5);
                    draw_arrow(draft.page, c2 - *face * 4.5, c2 + *face * 4.5, 3);
                }
            }
            if (x > draft.area.min.x()) draft.page.add(Line{{{x, y}, {x, y - height}}, Pen::thin, false, -1});
            x += w;
        }
        y -= height;
        draft.page.add(Line{{{draft.area.min.x(), y}, {draft.area.max.x(), y}}, Pen::thin, false, -1});
    }
    pages.push_back(std::move(draft));
    return {};
}

}  // namespace setwright::sheet
