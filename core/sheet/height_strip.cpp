// Side view of every distinct stack, on the table or on a block's face, with the heights that matter.

#include <algorithm>
#include <cmath>
#include <set>

#include "core/base/limits.h"
#include "core/sheet/scene.h"

namespace setwright::sheet {

using space::Vec3;

namespace {

/// Blocks that look the same from the side.
struct Stack {
    std::vector<const Block*> blocks;
    bool on_face = false;
    /// Over the table, or off the face.
    double height_mm = 0;
    double scale = 1;
    std::vector<space::ProjectedLine> lines;
    Rect extent;
    /// Heights that get a figure: top, packers, where pieces touch.
    std::vector<double> levels;
    /// Where pieces touch it.
    std::optional<std::pair<double, double>> touches;
};

bool same_stack(const Block& a, const Block& b) {
    const setup::Seat &s = a.placement->seat, &t = b.placement->seat;
    return s.host.kind == t.host.kind && a.placement->component == b.placement->component && s.plate == t.plate &&
           s.packers == t.packers && s.setting == t.setting && s.hand == t.hand;
}

double packed_under(const Block& block) {
    double sum = 0;
    for (const setup::Packer& packer : block.placement->seat.packers)
        if (packer.where == setup::Packer::Where::under) sum += packer.thickness_mm;
    return sum;
}

void add_level(std::vector<double>& levels, double level) {
    for (const double l : levels)
        if (std::abs(l - level) < base::limits::contact_mm) return;
    levels.push_back(level);
}

}  // namespace

base::Result<void> height_strip(const Job& job, const Scene& scene, std::vector<Draft>& pages) {
    std::vector<Stack> stacks;
    for (const Block& block : scene.blocks) {
        const setup::Host::Kind host = block.placement->seat.host.kind;
        if (host != setup::Host::Kind::table && host != setup::Host::Kind::placement) continue;
        const auto known = std::find_if(stacks.begin(), stacks.end(),
                                        [&](const Stack& s) { return same_stack(*s.blocks.front(), block); });
        if (known != stacks.end())
            known->blocks.push_back(&block);
        else
            stacks.push_back({{&block}, host == setup::Host::Kind::placement, 0, 1, {}, {}, {}, {}});
    }
    if (stacks.empty()) return {};
    constexpr double picture = 52, cell = 65.5, text = 3.5;
    // Seen from the side with the facing to the right: C from its -y.
    const space::Pose X_CV = space::Pose::from_axes(Vec3::Zero(), Vec3(0, -1, 0), Vec3(1, 0, 0));
    for (Stack& stack : stacks) {
        const Block& block = *stack.blocks.front();
        auto lines = space::project({{&block.brep, {}, 1}}, X_CV, false);
        if (!lines) return lines.error();
        stack.lines = std::move(*lines);
        // Packers under the component lie below C's origin: the host is where the stack ends.
        const double under = packed_under(block);
        std::vector<Vec2> points;
        for (const auto& line : stack.lines) points.insert(points.end(), line.points.begin(), line.points.end());
        if (points.empty()) continue;
        stack.extent = Rect::around(points);
        stack.extent.min.y() = -under;
        stack.scale = fitting_scale({stack.extent.width(), stack.extent.height()}, {cell - 25, picture}, 0.5);
        double packed = 0;
        for (const setup::Packer& packer : block.placement->seat.packers)
            if (packer.where == setup::Packer::Where::under) {
                packed += packer.thickness_mm;
                add_level(stack.levels, packed);
            }
        stack.height_mm = stack.extent.max.y() + under;
        add_level(stack.levels, stack.height_mm);
        if (scene.report)
            for (const check::Contact& contact : scene.report->contacts) {
                if (!contact.placement) continue;
                const auto own = std::find_if(stack.blocks.begin(), stack.blocks.end(),
                                              [&](const Block* b) { return b->placement->id == *contact.placement; });
                if (own == stack.blocks.end()) continue;
                const space::Pose X_CT = (*own)->posed.X_TC.inverse();
                const auto height = [&](const Vec3& p_T) { return (X_CT * p_T).z() + under; };
                double low = height(contact.point_T), high = low;
                for (const Vec3& p : contact.patch_T) {
                    low = std::min(low, height(p));
                    high = std::max(high, height(p));
                }
                if (!stack.touches) stack.touches = std::pair(low, high);
                stack.touches->first = std::min(stack.touches->first, low);
                stack.touches->second = std::max(stack.touches->second, high);
            }
        if (stack.touches && block.component->grid_faces.empty()) {
            add_level(stack.levels, stack.touches->first);
            add_level(stack.levels, stack.touches->second);
        }
        std::sort(stack.levels.begin(), stack.levels.end());
    }
    std::stable_sort(stacks.begin(), stacks.end(), [](const Stack& a, const Stack& b) {
        return std::pair(a.on_face, a.height_mm) < std::pair(b.on_face, b.height_mm);
    });

    std::size_t next = 0;
    Draft draft;
    double y = 0;
    bool opened = false;
    const auto open = [&] {
        draft = start_page(job, scene.stage, job.say("sheet.kind.heights"), true);
        draft.scale = job.say("sheet.scale_as_shown");
        y = draft.area.max.y();
        opened = true;
        if (draft.strip.width() > 30)
            write_lines(draft.page, wrap(job.say("sheet.heights_hint"), 2.5, false, draft.strip.width()),
                        {draft.strip.min.x(), draft.strip.max.y() - 1}, 2.5);
    };
    open();
    constexpr double below = 29, above = 7;
    while (next < stacks.size()) {
        const std::size_t in_row = static_cast<std::size_t>(std::max(1.0, std::floor(draft.area.width() / cell)));
        std::vector<const Stack*> row;
        const bool on_face = stacks[next].on_face;
        while (next < stacks.size() && row.size() < in_row && stacks[next].on_face == on_face)
            row.push_back(&stacks[next++]);
        double tallest = 10;
        for (const Stack* stack : row) tallest = std::max(tallest, stack->extent.height() * stack->scale);
        const double height = tallest + below + above;
        if (y - height < draft.area.min.y()) {
            pages.push_back(std::move(draft));
            opened = false;
            open();
        }
        const double table = y - above - tallest;
        const double left = draft.area.min.x() + 2;
        const double width = std::min(cell, draft.area.width() / static_cast<double>(in_row));
        // The table top and its hatch-free body.
        const double end = left + width * static_cast<double>(row.size());
        draft.page.add(Line{{{left, table}, {end, table}}, Pen::frame, false, -1});
        draw_rect(draft.page, {{left, table - 2}, {end, table - 0.35}}, Pen::none, 0.15);
        write(draft.page, {end - 1, table - 3.8}, job.say(on_face ? "sheet.heights.face" : "sheet.heights.table"), 1.8,
              Align::right);
        for (std::size_t i = 0; i < row.size(); ++i) {
            const Stack& stack = *row[i];
            const Block& block = *stack.blocks.front();
            const double x0 = left + width * static_cast<double>(i);
            View view;
            view.scale = stack.scale;
            view.world = {stack.extent.min.x(), stack.extent.min.y()};
            view.paper = {x0 + 4, table};
            view.clip = {{x0, table}, {x0 + width, y}};
            const double under = packed_under(block);
            for (const auto& line : stack.lines) draw(draft.page, view, line, Pen::outline);
            // Figures, spread where they would touch.
            const double edge = view(stack.extent.max).x();
            write(draft.page, {x0 + 1, y - 3.6}, job.say("sheet.scale", {{"scale", scale_text(stack.scale)}}), 2.5);
            double last = table - 10;
            for (const double level : stack.levels) {
                const double at = view(Vec2(0, level - under)).y();
                const double written = std::max(at, last + text * 1.3);
                last = written;
                draft.page.add(Line{{{edge + 1, at}, {edge + 4, at}, {edge + 7, written}}, Pen::thin, false, -1});
                write(draft.page, {edge + 8, written - text / 2}, job.length(level), text, Align::left, true);
            }
            double line = table - 4;
            std::string list;
            for (const Block* b : stack.blocks) list += (list.empty() ? "" : ", ") + std::to_string(b->placement->no);
            std::vector<std::string> lines =
                wrap(job.say("sheet.stack_blocks",
                             {{"count", static_cast<std::int64_t>(stack.blocks.size())}, {"list", list}}),
                     text, true, width - 3);
            line = write_lines(draft.page, lines, {x0, line}, text, true);
            std::string what = block.name;
            if (block.component->setting)
                what +=
                    " · " + job.say("sheet.mark", {{"mark", static_cast<std::int64_t>(block.placement->seat.setting)}});
            if (!block.placement->seat.plate.empty())
                what += " · " + job.say("sheet.plate", {{"plate", block.placement->seat.plate}});
            if (const std::string packers = packers_text(job, block); !packers.empty()) what += " · " + packers;
            line = write_lines(draft.page, wrap(what, 2.5, false, width - 3), {x0, line}, 2.5);
            if (stack.on_face) {
                std::string hosts;
                std::set<int> numbers_of_hosts;
                for (const Block* b : stack.blocks)
                    if (const setup::Placement* host = scene.stage->find(b->placement->seat.host.placement))
                        numbers_of_hosts.insert(host->no);
                for (const int no : numbers_of_hosts) hosts += (hosts.empty() ? "" : ", ") + std::to_string(no);
                line = write_lines(
                    draft.page,
                    wrap(job.say("sheet.heights.off_face", {{"length", job.length(stack.height_mm)}, {"list", hosts}}),
                         2.5, false, width - 3),
                    {x0, line}, 2.5);
            }
            if (stack.touches) {
                const std::string of = stack.on_face ? "_off" : "";
                const bool level = stack.touches->second - stack.touches->first < base::limits::contact_mm;
                write_lines(draft.page,
                            wrap(level ? job.say("sheet.touches_at" + of, {{"at", job.length(stack.touches->first)}})
                                       : job.say("sheet.touches" + of, {{"from", job.length(stack.touches->first)},
                                                                        {"to", job.length(stack.touches->second)}}),
                                 2.5, false, width - 3),
                            {x0, line}, 2.5);
            }
        }
        y -= height + 3;
    }
    if (opened) pages.push_back(std::move(draft));
    return {};
}

}  // namespace setwright::sheet
