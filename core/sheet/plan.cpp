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
    // On a table the fifth, tenth, …; on a small face every second or third from the first on.
    const auto wanted = [&](int index) {
        return index == 0 || (marks.every < 5 ? index % marks.every : (index + 1) % marks.every) == 0;
    };
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
        if (marks.east) label({frame.max.x() + 1.5, y - h / 2}, text, Align::left);
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

void draw_compass(Page& page, const Job& job, const Vec2& corner) {
    draw_arrow(page, corner, corner + Vec2(0, 7), 2.2);
    draw_arrow(page, corner, corner + Vec2(7, 0), 2.2);
    write(page, corner + Vec2(0, 7.8), job.say("sheet.north"), 3.5, Align::middle, true);
    write(page, corner + Vec2(8, -1.75), job.say("sheet.east"), 3.5, Align::left, true);
}

Rect table_rect(const shop::Table& t) {
    return {{-t.margin_west_mm, -t.margin_south_mm}, {t.length_mm - t.margin_west_mm, t.width_mm - t.margin_south_mm}};
}

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
    constexpr double text = 3.5, line_step = text * 1.55, band = 11, label = 3.5;
    std::vector<std::string> findings = finding_lines(job, *scene.stage);
    std::vector<std::string> head;
    for (const std::string& finding : findings)
        for (const std::string& line : wrap(finding, text, true, draft.area.width() - 2)) head.push_back(line);
    if (findings.empty()) head.push_back(job.say("sheet.nothing_to_report"));
    const std::string unchecked = not_checked(job, *scene.stage);
    const std::vector<std::string> unchecked_lines = wrap(unchecked, 2.5, false, draft.area.width() - 2);
    // Every fifth letter and the first are written.
    double side = 0;
    for (int row = 0; row < table.rows; ++row)
        if (row == 0 || (row + 1) % 5 == 0) {
            const std::string hole = shop::hole_label({0, row});
            side = std::max(side, text_width_mm(hole.substr(0, hole.size() - 1), label, true) + 1.7);
        }
    const double room_y = draft.area.height() - band - 2 * (label + 2);
    const double least_head = line_step + 2.5 * 1.55 * static_cast<double>(unchecked_lines.size()) + 2;
    const auto largest = [&](double sides) {
        return fitting_scale({world.width(), world.height()}, {draft.area.width() - sides * side, room_y - least_head},
                             0.2);
    };
    // Letters on one edge only, where that makes the next larger scale fit.
    const bool east = largest(2) >= largest(1);
    const double scale = largest(east ? 2 : 1);
    const double spare = room_y - world.height() * scale - 2.5 * 1.55 * static_cast<double>(unchecked_lines.size()) - 2;
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
    const Rect picture{{draft.area.min.x() + side, draft.area.min.y() + band + label + 2},
                       {draft.area.max.x() - (east ? side : 0), y - label - 2.5}};
    view.paper = picture.centre();
    view.clip = Rect{{draft.area.min.x(), draft.area.min.y()}, {draft.area.max.x(), y - 1}};
    const Rect plate = view(table_rect(table));
    draw_rect(page, plate, Pen::outline);
    auto lines = plan_lines(scene);
    if (!lines) return lines.error();
    draw_plan(page, view, scene, *lines, table);
    TableMarks marks{5, label, east, {}};
    draw_edge_labels(page, view, table, plate, marks);

    // Marked corner: a triangle that leaves hole A1 free.
    const double leg = 1.2 * std::min(table.margin_west_mm, table.margin_south_mm) * scale;
    page.add(Line{{plate.min, plate.min + Vec2(leg, 0), plate.min + Vec2(0, leg)}, Pen::thin, true, 1});
    // Close to the table also where the page is larger than the picture.
    const double foot = std::max(draft.area.min.y(), plate.min.y() - label - 2 - band);
    write(page, {draft.area.min.x() + 1, foot + 1}, job.say("sheet.marked_corner"), 3.5, Align::left, true);
    draw_arrow(page, {plate.min.x() - 2.5, foot + 5.5}, plate.min - Vec2(0.4, 0.4), 2);
    const Vec2 person(plate.centre().x(), foot);
    draw_person(page, person);
    write(page, person + Vec2(5, 2.5), job.say("sheet.stand_here"), 3.5, Align::left, true);
    const Vec2 compass(draft.area.max.x() - 12, foot + 1);
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
    draw_tags(page, tags);

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

}  // namespace setwright::sheet
