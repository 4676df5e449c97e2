// Every face of a block that carries others, seen square on.

#include <algorithm>
#include <cmath>
#include <set>

#include "core/sheet/scene.h"

namespace setwright::sheet {

using space::Vec3;

base::Result<void> elevations(const Job& job, const Scene& scene, std::vector<Draft>& pages) {
    std::set<std::pair<int, std::string>> faces;
    std::map<std::pair<int, std::string>, setup::Host> hosts;
    for (const Block& block : scene.blocks) {
        const setup::Host& host = block.placement->seat.host;
        if (host.kind != setup::Host::Kind::placement) continue;
        const setup::Placement* on = scene.stage->find(host.placement);
        if (on) hosts.emplace(std::pair(on->no, host.face), host);
    }
    constexpr double label = 5;
    for (const auto& [name, host] : hosts) {
        const auto grid = setup::host_grid(job.setup, *scene.stage, host);
        const Block* carrier = scene.find(host.placement);
        if (!grid || !carrier) continue;
        std::vector<const Block*> shown{carrier};
        for (const Block& block : scene.blocks)
            if (block.placement->seat.host == host) shown.push_back(&block);
        const space::Pose& X_TV = grid->X_TH;
        const auto lines = view_lines(shown, scene.pieces, X_TV);
        if (!lines) return lines.error();

        const space::Pose X_VT = X_TV.inverse();
        Rect world = bounds(silhouettes(carrier->posed, X_VT * carrier->posed.X_TC));
        for (const Block* block : shown) world.add(bounds(silhouettes(block->posed, X_VT * block->posed.X_TC)));
        const bool upright = std::abs(X_TV.turn(Vec3::UnitY()).z() - 1) < 1e-9;
        const double table_y = upright ? -X_TV.position().z() : 0;
        if (upright) world.add({{world.min.x(), table_y}, {world.max.x(), table_y}});

        // Upright or lying page, whichever shows it larger.
        const double side = 34, head = 8;
        Draft draft;
        Rect room;
        double scale = 0;
        for (const bool landscape : {true, false}) {
            Draft tried =
                start_page(job, scene.stage,
                           job.say("sheet.kind.elevation", {{"no", static_cast<std::int64_t>(name.first)}}), landscape);
            const Rect r{tried.area.min + Vec2(side, label + 8), tried.area.max - Vec2(side, head + label + 4)};
            const double s = fitting_scale({world.width(), world.height()}, {r.width(), r.height()}, 0.5);
            if (s <= scale) continue;
            draft = std::move(tried);
            room = r;
            scale = s;
        }
        Page& page = draft.page;
        View view;
        view.scale = scale;
        view.world = world.centre();
        view.paper = room.centre();
        view.clip = {draft.area.min, draft.area.max - Vec2(0, head)};
        draft.scale = scale_text(scale);
        write(page, {draft.area.min.x() + 1, draft.area.max.y() - 5},
              job.say("sheet.elevation_of", {{"no", static_cast<std::int64_t>(name.first)}, {"name", carrier->name}}),
              5, Align::left, true);

        const Rect frame = view(bounds(silhouettes(carrier->posed, X_VT * carrier->posed.X_TC)));
        // The weldment only near this face; the rest of it would be clutter.
        View near = view;
        near.clip = frame.grown(12);
        for (const auto& outline : silhouettes(carrier->posed, X_VT * carrier->posed.X_TC))
            fill(page, view, outline, 0);
        for (int row = 0; row < grid->rows; ++row)
            for (int col = 0; col < grid->cols; ++col)
                page.add(Circle{view(Vec2(col * grid->pitch_x_mm, row * grid->pitch_y_mm)), grid->hole_mm / 2 * scale,
                                Pen::hole, -1});
        for (const Block* block : shown)
            if (block != carrier)
                for (const auto& outline : silhouettes(block->posed, X_VT * block->posed.X_TC))
                    fill(page, view, outline, 0);
        for (const auto& line : lines->pieces) draw(page, near, line, Pen::ghost);
        for (const auto& line : lines->blocks) draw(page, view, line, Pen::outline);

        shop::Table as_table;
        as_table.pitch_x_mm = grid->pitch_x_mm;
        as_table.pitch_y_mm = grid->pitch_y_mm;
        as_table.cols = grid->cols;
        as_table.rows = grid->rows;
        TableMarks marks;
        marks.label_mm = label;
        marks.every = 1;
        const double narrow = std::min(grid->pitch_x_mm, grid->pitch_y_mm) * scale;
        while (marks.every < 5 && narrow * marks.every < text_width_mm("00", label, true) + 1) ++marks.every;
        draw_edge_labels(page, view, as_table, frame, marks);

        if (upright) {
            const double y = view(Vec2(0, table_y)).y();
            page.add(Line{{{frame.min.x() - 14, y}, {frame.max.x() + 34, y}}, Pen::frame, false, -1});
            const double x = frame.max.x() + 22;
            const double step = job.options.unit.unit == base::LengthUnit::inch ? 4 * base::mm_per_inch : 100;
            page.add(Line{{{x, y}, {x, frame.max.y()}}, Pen::thin, false, -1});
            for (double h = step; h <= world.max.y() - table_y + 1; h += step) {
                const double at = view(Vec2(0, table_y + h)).y();
                page.add(Line{{{x - 1, at}, {x + 1, at}}, Pen::thin, false, -1});
                write(page, {x + 2, at - 1.75}, job.length(h), 3.5);
            }
            write(page, {x - 2, frame.max.y() + 3}, job.say("sheet.over_table"), 2.5);
            marks.taken.push_back({{x - 2, y}, {x + 14, frame.max.y() + 6}});
            write(page, {frame.max.x() + 34, y - 5}, job.say("sheet.table_top"), 3.5, Align::right);
        }

        // Beside the face, so that its holes stay to be counted.
        std::vector<Rect> taken = marks.taken;
        taken.push_back(frame);
        std::vector<Tag> tags;
        for (const Block* block : shown) {
            if (block == carrier) continue;
            for (const auto& outline : silhouettes(block->posed, X_VT * block->posed.X_TC))
                taken.push_back(view(bounds({outline})).grown(0.3));
            const Vec3 at = X_VT * block->posed.X_TC.position();
            tags.push_back({view(Vec2(at.x(), at.y())),
                            std::to_string(block->placement->no),
                            hole_text(job, scene, *block->placement),
                            label,
                            {}});
        }
        place_tags(tags, view.clip, taken);
        draw_tags(page, tags);
        if (draft.strip.width() > 30)
            draw_scale_bar(page, job, draft.strip.min + Vec2(1, 1.5), scale, std::min(70.0, draft.strip.width()));
        pages.push_back(std::move(draft));
    }
    return {};
}

}  // namespace setwright::sheet
