// The plan of the table: overview page, and what the zone pages share with it.

#include <algorithm>
#include <cmath>
#include <set>

#include "core/sheet/scene.h"

namespace setwright::sheet {

using check::Verdict;
using space::Vec3;

base::Result<ViewLines> plan_lines(const Scene& scene) {
    std::vector<const Block*> blocks;
    for (const Block& block : scene.blocks) blocks.push_back(&block);
    return view_lines(blocks, scene.pieces, {});
}

void draw_holes(Page& page, const View& view, const shop::Table& table) {
    for (int row = 0; row < table.rows; ++row)
        for (int col = 0; col < table.cols; ++col) {
            const Vec2 at = view(Vec2(col * table.pitch_x_mm, row * table.pitch_y_mm));
            if (!view.clip.contains(at)) continue;
            const double r = table.hole_mm / 2 * view.scale;
            const bool blocked = table.is_blocked({col, row});
            page.add(Circle{at, r, Pen::hole, -1});
            if (!blocked) continue;
            const double d = r * 0.9;
            page.add(Line{{at - Vec2(d, d), at + Vec2(d, d)}, Pen::thin, false, -1});
            page.add(Line{{at + Vec2(-d, d), at + Vec2(d, -d)}, Pen::thin, false, -1});
        }
}

void draw_edge_labels(Page& page, const View& view, const shop::Table& table, const Rect& frame, TableMarks& marks) {
    const double h = marks.label_mm;
    const auto label = [&](const Vec2& at, const std::string& text, Align align) {
        write(page, at, text, h, align, true);
        const double w = text_width_mm(text, h, true);
        const double left = align == Align::middle ? at.x() - w / 2 : align == Align::right ? at.x() - w : at.x();
        marks.taken.push_back({{left, at.y()}, {left + w, at.y() + h}});
    };
    const auto wanted = [&](int index) { return index == 0 || (index + 1) % marks.every == 0; };
    for (int col = 0; col < table.cols; ++col) {
        const double x = view(Vec2(col * table.pitch_x_mm, 0)).x();
        if (!wanted(col) || x < frame.min.x() || x > frame.max.x()) continue;
        const std::string text = std::to_string(col + 1);
        label({x, frame.min.y() - h - 1.5}, text, Align::middle);
        label({x, frame.max.y() + 1.5}, text, Align::middle);
    }
    for (int row = 0; row < table.rows; ++row) {
        const double y = view(Vec2(0, row * table.pitch_y_mm)).y();
        if (!wanted(row) || y < frame.min.y() || y > frame.max.y()) continue;
        // The letters of a hole label without its figure.
        std::string text = shop::hole_label({0, row});
        text.pop_back();
        label({frame.min.x() - 1.5, y - h / 2}, text, Align::right);
        label({frame.max.x() + 1.5, y - h / 2}, text, Align::left);
    }
}

void draw_plan(Page& page, const View& view, const Scene& scene, const ViewLines& lines, const shop::Table& table) {
    for (const ScenePiece& piece : scene.pieces)
        for (const auto& outline : silhouettes(piece, {})) fill(page, view, outline, 0.07);
    draw_holes(page, view, table);
    for (const Block& block : scene.blocks)
        for (const auto& outline : silhouettes(block.posed, block.posed.X_TC)) fill(page, view, outline, 0);
    for (const auto& line : lines.pieces) draw(page, view, line, Pen::ghost);
    for (const auto& line : lines.blocks) draw(page, view, line, Pen::outline);
}

namespace {

/// "reach.tack" belongs to "reach".
std::string topic(const std::string& rule) {
    return rule.substr(0, rule.find('.'));
}

std::vector<std::string> finding_lines(const Job& job, const setup::Stage& stage) {
    std::vector<std::string> lines;
    for (const check::Finding& finding : job.report.findings) {
        if (finding.verdict != Verdict::fail && finding.verdict != Verdict::warn &&
            finding.verdict != Verdict::cancelled)
            continue;
        if (finding.stage.valid() && finding.stage != stage.id) continue;
        std::string line = job.say(finding.text);
        if (!finding.cure.empty()) line += ' ' + job.say(finding.cure);
        const char* id = finding.accepted                   ? "sheet.finding.accepted"
                         : finding.verdict == Verdict::fail ? "sheet.finding.fail"
                         : finding.verdict == Verdict::warn ? "sheet.finding.warn"
                                                            : "sheet.finding.cancelled";
        lines.push_back(job.say(id, {{"text", line}}));
    }
    return lines;
}

std::string not_checked(const Job& job, const setup::Stage& stage) {
    std::set<std::string> topics;
    for (const check::Finding& finding : job.report.findings)
        if (finding.verdict == Verdict::not_run && (!finding.stage.valid() || finding.stage == stage.id))
            topics.insert(topic(finding.rule));
    if (topics.empty()) return "";
    std::vector<base::Text> names;
    for (const std::string& t : topics) names.push_back({"sheet.topic." + t, {}});
    return job.say("sheet.not_checked", {{"topics", names}});
}

/// Front view of a person, feet at `at`, 9 mm tall: says from which side the letters and numbers count.
void draw_person(Page& page, const Vec2& at) {
    page.add(Circle{at + Vec2(0, 8), 1.0, Pen::outline, 1});
    page.add(Line{{at + Vec2(0, 7), at + Vec2(0, 3.4)}, Pen::frame, false, -1});
    page.add(Line{{at + Vec2(-2, 5.8), at + Vec2(2, 5.8)}, Pen::frame, false, -1});
    page.add(Line{{at + Vec2(-1.5, 0), at + Vec2(0, 3.4), at + Vec2(1.5, 0)}, Pen::frame, false, -1});
}

void draw_compass(Page& page, const Job& job, const Vec2& corner) {
    draw_arrow(page, corner, corner + Vec2(0, 7), 2.2);
    draw_arrow(page, corner, corner + Vec2(7, 0), 2.2);
    write(page, corner + Vec2(0, 7.8), job.say("sheet.north"), 3.5, Align::middle, true);
    write(page, corner + Vec2(8, -1.75), job.say("sheet.east"), 3.5, Align::left, true);
}

Rect table_rect(const shop::Table& t) {
    return {{-t.margin_west_mm, -t.margin_south_mm}, {t.length_mm - t.margin_west_mm, t.width_mm - t.margin_south_mm}};
}

struct NamePlace {
    Vec2 at;
    double turn_deg = 0;
    Rect box;
};

/// Where a piece's name stands on it, clear of `taken`; along the piece where it runs up the page.
NamePlace name_place(const ScenePiece& piece, const View& view, double height_mm, const std::vector<Rect>& taken) {
    const space::Aabb box = piece.piece->solid ? piece.piece->solid->box : space::Aabb{};
    const Vec3 low = box.empty() ? Vec3::Zero() : box.min, high = box.empty() ? Vec3::Zero() : box.max;
    const Vec3 middle = (low + high) / 2;
    const auto on_paper = [&](double z) {
        const Vec3 p = piece.X_TP * Vec3(middle.x(), middle.y(), z);
        return view(Vec2(p.x(), p.y()));
    };
    const Vec2 run = on_paper(high.z()) - on_paper(low.z());
    const double width = text_width_mm(piece.name, height_mm, false);
    const bool upright = std::abs(run.y()) > std::abs(run.x()) && run.norm() > width;
    const Vec2 half = upright ? Vec2(height_mm, width) / 2 : Vec2(width, height_mm) / 2;
    NamePlace best;
    std::size_t least = taken.size() + 1;
    for (const double t : {0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88}) {
        const Vec2 c = on_paper(low.z() + t * (high.z() - low.z()));
        const Rect r = Rect{c - half, c + half}.grown(0.4);
        const std::size_t hits = static_cast<std::size_t>(
            std::count_if(taken.begin(), taken.end(), [&](const Rect& o) { return o.overlaps(r); }));
        if (hits < least) {
            least = hits;
            best = {c + (upright ? Vec2(height_mm / 2, 0) : Vec2(0, -height_mm / 2)), upright ? 90.0 : 0.0, r};
        }
    }
    return best;
}

}  // namespace

void write_piece_names(Page& page, const Scene& scene, const View& view, double height_mm, std::vector<Rect>& taken) {
    for (const ScenePiece& piece : scene.pieces) {
        const NamePlace place = name_place(piece, view, height_mm, taken);
        if (!view.clip.contains(place.box)) continue;
        draw_rect(page, place.box, Pen::none, 0.07);
        write(page, place.at, piece.name, height_mm, Align::middle, false, place.turn_deg);
        taken.push_back(place.box);
    }
}

base::Result<void> overview(const Job& job, const Scene& scene, std::vector<Draft>& pages) {
    const shop::Table& table = job.setup.table;
    Draft draft = start_page(job, scene.stage, job.say("sheet.kind.overview"), true);
    Page& page = draft.page;

    Rect world = table_rect(table);
    for (const Block& block : scene.blocks) world.add(bounds(silhouettes(block.posed, block.posed.X_TC)));
    for (const ScenePiece& piece : scene.pieces) {
        const space::Aabb box = piece.piece->solid ? piece.piece->solid->box.moved(piece.X_TP) : space::Aabb{};
        if (!box.empty()) world.add({{box.min.x(), box.min.y()}, {box.max.x(), box.max.y()}});
    }

    // What fails or cannot be said comes first; the picture takes the rest, the list goes on another page where it is
    // long.
    constexpr double text = 3.5, line_step = text * 1.55, band = 17, label = 3.5;
    std::vector<std::string> findings = finding_lines(job, *scene.stage);
    std::vector<std::string> head;
    for (const std::string& finding : findings)
        for (const std::string& line : wrap(finding, text, false, draft.area.width() - 2)) head.push_back(line);
    if (findings.empty()) head.push_back(job.say("sheet.nothing_to_report"));
    const std::string unchecked = not_checked(job, *scene.stage);
    const std::vector<std::string> unchecked_lines = wrap(unchecked, 2.5, false, draft.area.width() - 2);
    const double side = text_width_mm("AA", label, true) + 3;
    const Vec2 room(draft.area.width() - 2 * side, draft.area.height() - band - 2 * (label + 3));
    const double least_head = line_step + 2.5 * 1.55 * static_cast<double>(unchecked_lines.size()) + 2;
    const double scale = fitting_scale({world.width(), world.height()}, room - Vec2(0, least_head), 0.2);
    const double spare =
        room.y() - world.height() * scale - 2.5 * 1.55 * static_cast<double>(unchecked_lines.size()) - 2;
    const std::size_t lines_that_fit = static_cast<std::size_t>(std::max(1.0, std::floor(spare / line_step)));
    std::vector<std::string> shown = head;
    const bool too_long = head.size() > lines_that_fit;
    if (too_long) {
        shown.resize(lines_that_fit - 1);
        shown.push_back(job.say("sheet.finding.more", {{"count", static_cast<std::int64_t>(findings.size())}}));
    }
    double y = write_lines(page, shown, {draft.area.min.x() + 1, draft.area.max.y() - 0.5}, text, !findings.empty());
    y = write_lines(page, unchecked_lines, {draft.area.min.x() + 1, y}, 2.5);
    page.add(Line{{{draft.area.min.x() - 2, y - 0.5}, {draft.area.max.x() + 2, y - 0.5}}, Pen::thin, false, -1});

    View view;
    view.scale = scale;
    view.world = world.centre();
    const Rect picture{{draft.area.min.x() + side, draft.area.min.y() + band + label + 3},
                       {draft.area.max.x() - side, y - label - 4}};
    view.paper = picture.centre();
    view.clip = Rect{{draft.area.min.x(), draft.area.min.y()}, {draft.area.max.x(), y - 1}};
    const Rect plate = view(table_rect(table));
    draw_rect(page, plate, Pen::outline);
    auto lines = plan_lines(scene);
    if (!lines) return lines.error();
    draw_plan(page, view, scene, *lines, table);
    TableMarks marks{5, label, {}};
    draw_edge_labels(page, view, table, plate, marks);

    // Marked corner: a triangle that leaves hole A1 free.
    const double leg = 1.2 * std::min(table.margin_west_mm, table.margin_south_mm) * scale;
    page.add(Line{{plate.min, plate.min + Vec2(leg, 0), plate.min + Vec2(0, leg)}, Pen::thin, true, 1});
    const double foot = draft.area.min.y() + 1.5;
    write(page, {draft.area.min.x() + 1, foot + 1}, job.say("sheet.marked_corner"), 3.5, Align::left, true);
    draw_arrow(page, {plate.min.x() - 2.5, foot + 6}, plate.min - Vec2(0.4, 0.4), 2);
    const Vec2 person(plate.centre().x(), foot);
    draw_person(page, person);
    write(page, person + Vec2(5, 2.5), job.say("sheet.stand_here"), 3.5, Align::left, true);
    const Vec2 compass(draft.area.max.x() - 18, foot + 1.5);
    draw_compass(page, job, compass);

    std::vector<Rect> taken = marks.taken;
    for (const Block& block : scene.blocks)
        for (const auto& outline : silhouettes(block.posed, block.posed.X_TC))
            taken.push_back(view(bounds({outline})).grown(0.3));
    write_piece_names(page, scene, view, 3.5, taken);
    taken.push_back({{compass.x() - 3, foot}, {draft.area.max.x(), foot + 14}});
    taken.push_back({{person.x() - 4, foot}, {person.x() + 40, foot + 10}});
    taken.push_back({{draft.area.min.x(), foot},
                     {draft.area.min.x() + text_width_mm(job.say("sheet.marked_corner"), 3.5, true) + 3, foot + 6}});
    std::vector<Tag> tags;
    for (const Block& block : scene.blocks) {
        const Vec3& at = block.posed.X_TC.position();
        tags.push_back({view(Vec2(at.x(), at.y())), std::to_string(block.placement->no), "", 3.5, {}});
    }
    place_tags(tags, {{draft.area.min.x(), draft.area.min.y()}, {draft.area.max.x(), y - 1.5}}, taken);
    for (const Tag& tag : tags) draw_tag(page, tag);

    draft.scale = scale_text(scale);
    if (draft.strip.width() > 30) {
        draw_scale_bar(page, job, draft.strip.min + Vec2(1, 1.5), scale, draft.strip.width());
        double mass = 0;
        for (const ScenePiece& piece : scene.pieces) mass += piece.piece->mass_kg;
        write_lines(page,
                    wrap(job.say("sheet.weldment_mass", {{"kg", base::decimal_text(mass, 1)},
                                                         {"count", static_cast<std::int64_t>(scene.pieces.size())}}),
                         3.5, false, draft.strip.width()),
                    {draft.strip.min.x(), draft.strip.max.y() - 1}, 3.5);
    }
    pages.push_back(std::move(draft));

    if (too_long) {
        constexpr double step = text * 1.55;
        std::size_t next = 0;
        while (next < head.size()) {
            Draft list = start_page(job, scene.stage, job.say("sheet.kind.findings"), true);
            const std::size_t fit = static_cast<std::size_t>(list.area.height() / step);
            const std::size_t end = std::min(head.size(), next + fit);
            write_lines(
                list.page,
                {head.begin() + static_cast<std::ptrdiff_t>(next), head.begin() + static_cast<std::ptrdiff_t>(end)},
                {list.area.min.x() + 1, list.area.max.y() - 0.5}, text);
            next = end;
            pages.push_back(std::move(list));
        }
    }
    return {};
}

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
    const Vec2 window = (room - Vec2(36, 36)) / scale;

    // Fewest columns and rows of windows that hold every block and at most 25 balloons each.
    std::vector<std::vector<Spot>> cells;
    int across = std::max(1, static_cast<int>(std::ceil(all.width() / window.x())));
    int up = std::max(1, static_cast<int>(std::ceil(all.height() / window.y())));
    for (;;) {
        cells.assign(static_cast<std::size_t>(across * up), {});
        for (const Spot& spot : spots) {
            const Vec2 c = (spot.rect.centre() - all.min).cwiseQuotient((all.max - all.min).cwiseMax(Vec2(1, 1)));
            const int x = std::clamp(static_cast<int>(c.x() * across), 0, across - 1);
            const int y = std::clamp(static_cast<int>((1 - c.y()) * up), 0, up - 1);
            cells[static_cast<std::size_t>(y * across + x)].push_back(spot);
        }
        bool good = true;
        for (const auto& cell : cells) {
            if (cell.size() > most_balloons) good = false;
            Rect r = cell.empty() ? Rect{} : cell.front().rect;
            for (const Spot& spot : cell) r.add(spot.rect);
            // A block larger than the window is cut at its edge; splitting further would not help.
            if (cell.size() > 1 && (r.width() > room.x() / scale || r.height() > room.y() / scale)) good = false;
        }
        if (good || across * up > 64) break;
        (all.width() / across > all.height() / up ? across : up) += 1;
    }

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
        TableMarks marks{1, label, {}};
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
        for (const Spot& spot : cell) {
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
        for (const Tag& tag : tags) draw_tag(page, tag);

        if (draft.strip.width() > 30) {
            draw_scale_bar(page, job, draft.strip.min + Vec2(1, 1.5), scale, std::min(60.0, draft.strip.width()));
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
            write_lines(page, wrap(job.say("sheet.key_map"), 2.5, false, box.max.x() - x), {x, box.max.y()}, 2.5);
            draw_compass(page, job, {x + 1, box.min.y() + 1});
        }
        pages.push_back(std::move(draft));
    }
    return {};
}

}  // namespace setwright::sheet
