// The part of the table that holds blocks, large enough for every hole's label.

#include <algorithm>
#include <cmath>

#include "core/base/limits.h"
#include "core/sheet/scene.h"

namespace setwright::sheet {

using space::Vec3;

base::Result<void> zones(const Job& job, const Scene& scene, std::vector<Draft>& pages) {
    if (scene.blocks.empty()) return {};
    const shop::Table& table = job.setup.table;
    constexpr double label = 5;
    constexpr std::size_t most_balloons = 25;
    const Draft probe = start_page(job, scene.stage, "", true);
    const double side = text_width_mm("AA", label, true) + 4;
    const Vec2 room(probe.area.width() - 2 * side, probe.area.height() - 2 * (label + 4));

    struct Spot {
        std::size_t block;
        Rect rect;
    };
    std::vector<Spot> spots;
    Rect all;
    for (std::size_t i = 0; i < scene.blocks.size(); ++i) {
        const Rect r = bounds(silhouettes(scene.blocks[i].posed, scene.blocks[i].posed.X_TC));
        if (i == 0) all = r;
        all.add(r);
        spots.push_back({i, r});
    }
    // Around the blocks there must be room for their tags.
    const auto with_tags = [](const Rect& r, double scale) { return r.grown(18 / scale); };
    double scale = 0.2;
    if (const Rect r = with_tags(all, 0.5);
        spots.size() <= most_balloons && r.width() * 0.5 <= room.x() && r.height() * 0.5 <= room.y())
        scale = 0.5;
    const Vec2 window = (room - Vec2(10, 10)) / scale;

    // Each window takes as many blocks as it can, until none is left: few pages, none of them empty.
    std::vector<std::vector<Spot>> cells;
    std::vector<Spot> left = spots;
    const auto inside = [&](const Spot& spot, const Rect& w) {
        const bool too_large = spot.rect.width() > window.x() || spot.rect.height() > window.y();
        return too_large ? w.contains(spot.rect.centre()) : w.grown(base::limits::contact_mm).contains(spot.rect);
    };
    while (!left.empty()) {
        std::vector<std::size_t> best;
        for (const Spot& x : left)
            for (const Spot& y : left) {
                const Vec2 corner(x.rect.min.x(), y.rect.min.y());
                const Rect w{corner, corner + window};
                std::vector<std::size_t> taken;
                for (std::size_t i = 0; i < left.size() && taken.size() < most_balloons; ++i)
                    if (inside(left[i], w)) taken.push_back(i);
                if (taken.size() > best.size()) best = std::move(taken);
            }
        // One that is larger than any window stands alone, cut at the frame.
        if (best.empty()) best.push_back(0);
        std::vector<Spot> cell;
        for (const std::size_t i : best) cell.push_back(left[i]);
        for (auto i = best.rbegin(); i != best.rend(); ++i) left.erase(left.begin() + static_cast<std::ptrdiff_t>(*i));
        cells.push_back(std::move(cell));
    }
    // From the north-west, as one reads.
    std::stable_sort(cells.begin(), cells.end(), [](const auto& a, const auto& b) {
        return a.front().rect.max.y() > b.front().rect.max.y() + 300;
    });

    auto lines = plan_lines(scene);
    if (!lines) return lines.error();
    int number = 0;
    const auto zone_count = std::count_if(cells.begin(), cells.end(), [](const auto& cell) { return !cell.empty(); });
    for (const auto& cell : cells) {
        if (cell.empty()) continue;
        ++number;
        Draft draft = start_page(job, scene.stage,
                                 job.say("sheet.kind.zone", {{"n", static_cast<std::int64_t>(number)},
                                                             {"m", static_cast<std::int64_t>(zone_count)}}),
                                 true);
        Page& page = draft.page;
        draft.scale = scale_text(scale);
        Rect content = cell.front().rect;
        for (const Spot& spot : cell) content.add(spot.rect);
        View view;
        view.scale = scale;
        const Rect frame{{draft.area.min.x() + side, draft.area.min.y() + label + 4},
                         {draft.area.max.x() - side, draft.area.max.y() - label - 4}};
        // As much of the table as the page shows, but no empty floor where the table could be seen instead.
        const Vec2 half = Vec2(frame.width(), frame.height()) / scale / 2;
        Vec2 centre = content.centre();
        const Rect plate = table_rect(table).grown(10 / scale);
        for (int axis = 0; axis < 2; ++axis) {
            const double slack_low = content.min[axis] - 14 / scale, slack_high = content.max[axis] + 14 / scale;
            if (centre[axis] - half[axis] < plate.min[axis])
                centre[axis] = std::min({plate.min[axis] + half[axis], slack_low + half[axis],
                                         std::max(centre[axis], plate.centre()[axis])});
            if (centre[axis] + half[axis] > plate.max[axis])
                centre[axis] = std::max({plate.max[axis] - half[axis], slack_high - half[axis],
                                         std::min(centre[axis], plate.centre()[axis])});
        }
        view.world = centre;
        view.paper = frame.centre();
        view.clip = frame;
        draw_plan(page, view, scene, *lines, table);
        const Rect r = view(table_rect(table));
        draw(page, view,
             {0,
              true,
              {table_rect(table).min,
               {table_rect(table).max.x(), table_rect(table).min.y()},
               table_rect(table).max,
               {table_rect(table).min.x(), table_rect(table).max.y()},
               table_rect(table).min}},
             Pen::outline);
        draw_rect(page, frame, Pen::thin);
        TableMarks marks{1, label, true, {}};
        draw_edge_labels(page, view, table, frame, marks);
        if (frame.contains(r.min)) {
            const double leg = 1.2 * std::min(table.margin_west_mm, table.margin_south_mm) * scale;
            page.add(Line{{r.min, r.min + Vec2(leg, 0), r.min + Vec2(0, leg)}, Pen::thin, true, 1});
        }

        std::vector<Rect> taken;
        for (const Block& block : scene.blocks)
            for (const auto& outline : silhouettes(block.posed, block.posed.X_TC))
                taken.push_back(view(bounds({outline})).grown(0.3));
        write_piece_names(page, scene, view, 3.5, taken);
        std::vector<Tag> tags;
        // Whatever else is seen whole is named too.
        std::vector<Spot> named = cell;
        for (const Spot& spot : spots) {
            const bool known =
                std::any_of(named.begin(), named.end(), [&](const Spot& s) { return s.block == spot.block; });
            if (!known && named.size() < most_balloons && frame.contains(view(spot.rect))) named.push_back(spot);
        }
        for (const Spot& spot : named) {
            const Block& block = scene.blocks[spot.block];
            const Vec3& at = block.posed.X_TC.position();
            Vec2 anchor = view(Vec2(at.x(), at.y()));
            anchor = anchor.cwiseMax(frame.min).cwiseMin(frame.max);
            const bool on_table = block.placement->seat.host.kind == setup::Host::Kind::table;
            tags.push_back({anchor,
                            std::to_string(block.placement->no),
                            on_table ? hole_text(job, scene, *block.placement) : "",
                            label,
                            {}});
            // The arrow says which way it faces: from the hole, to the edge of the block and a little beyond.
            if (const auto d = facing(scene, job, block); d && on_table) {
                const Vec2 from = view(Vec2(at.x(), at.y()));
                const Rect own = view(spot.rect);
                double reach = 1e9;
                for (int axis = 0; axis < 2; ++axis)
                    if (std::abs((*d)[axis]) > 1e-9)
                        reach =
                            std::min(reach, ((*d)[axis] > 0 ? own.max[axis] - from[axis] : own.min[axis] - from[axis]) /
                                                (*d)[axis]);
                draw_arrow(page, from, from + *d * (std::max(reach, 3.0) - 0.5), 3);
            }
        }
        place_tags(tags, frame.grown(-0.5), taken);
        draw_tags(page, tags);

        if (draft.strip.width() > 30) {
            draw_scale_bar(page, job, draft.strip.min + Vec2(1, 1.5), scale, draft.strip.width());
            const Rect box{{draft.strip.min.x(), draft.strip.min.y() + 8}, {draft.strip.max.x(), draft.strip.max.y()}};
            View key;
            const Rect whole = table_rect(table);
            key.scale = std::min(box.width() / 2 / whole.width(), box.height() / whole.height());
            key.world = whole.min;
            key.paper = box.min;
            key.clip = {box.min, box.min + Vec2(whole.width(), whole.height()) * key.scale};
            const Rect shown{view.world - half, view.world + half};
            fill(page, key, {shown.min, {shown.max.x(), shown.min.y()}, shown.max, {shown.min.x(), shown.max.y()}},
                 0.3);
            draw_rect(page, key(whole), Pen::outline);
            page.add(Line{{key.paper, key.paper + Vec2(2, 0), key.paper + Vec2(0, 2)}, Pen::none, true, 1});
            const double x = key(whole).max.x() + 3;
            write_lines(page, wrap(job.say("sheet.key_map"), 2.5, false, box.max.x() - x - 14), {x, box.max.y()}, 2.5);
            draw_compass(page, job, {box.max.x() - 12, box.min.y() + 2.5});
        }
        pages.push_back(std::move(draft));
    }
    return {};
}

}  // namespace setwright::sheet
