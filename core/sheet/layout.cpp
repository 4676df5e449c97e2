// Frame, title block, text and marks that all pages share.

#include <algorithm>
#include <cmath>

#include "core/sheet/scene.h"

namespace setwright::sheet {

namespace {

// ISO 5457: 20 mm at the filing edge, 10 mm elsewhere; 15 leave room for the holes of North American binders (common
// practice, no source) and for a 96 in table at 1:10 on Letter. ISO 7200: the title block is 180 mm wide at most.
constexpr double edge = 10;
constexpr double title_width = 180, title_row = 8, title_height = 3 * title_row;

double filing_edge(Paper paper) {
    return paper == Paper::letter || paper == Paper::tabloid ? 15 : 20;
}

}  // namespace

Vec2 paper_size(Paper paper, bool landscape) {
    Vec2 size(210, 297);
    if (paper == Paper::a3) size = {297, 420};
    if (paper == Paper::letter) size = {8.5 * base::mm_per_inch, 11 * base::mm_per_inch};
    if (paper == Paper::tabloid) size = {11 * base::mm_per_inch, 17 * base::mm_per_inch};
    return landscape ? Vec2(size.y(), size.x()) : size;
}

Draft start_page(const Job& job, const setup::Stage* stage, const std::string& kind, bool landscape) {
    Draft draft;
    const Vec2 size = paper_size(job.options.paper, landscape);
    draft.page.width_mm = size.x();
    draft.page.height_mm = size.y();
    draft.page.title = kind;
    draft.kind = kind;
    draft.stage = stage;
    const Rect frame{{filing_edge(job.options.paper), edge}, {size.x() - edge, size.y() - edge}};
    draw_rect(draft.page, frame, Pen::frame);
    draft.area = {{frame.min.x() + 2, frame.min.y() + title_height + 2}, frame.max - Vec2(2, 2)};
    const double title_left = std::max(frame.min.x(), frame.max.x() - title_width);
    draft.strip = {{frame.min.x() + 2, frame.min.y() + 1}, {title_left - 2, frame.min.y() + title_height - 1}};
    return draft;
}

void finish(const Job& job, std::vector<Draft>& drafts) {
    const setup::TitleBlock& title = job.setup.title;
    const std::string hash = job.setup.weldments.empty() ? "" : job.setup.weldments.front().sha256.substr(0, 12);
    const auto or_dash = [](const std::string& text) { return text.empty() ? std::string("–") : text; };
    const std::string part =
        title.part.empty() && !job.setup.weldments.empty() ? job.setup.weldments.front().file_name : title.part;
    const std::string hand = title.hand == "left"       ? job.say("sheet.hand.left")
                             : title.hand == "right"    ? job.say("sheet.hand.right")
                             : title.hand == "as drawn" ? job.say("sheet.hand.as_drawn")
                                                        : or_dash(title.hand);
    const double filing = filing_edge(job.options.paper);
    for (std::size_t n = 0; n < drafts.size(); ++n) {
        Draft& draft = drafts[n];
        Page& page = draft.page;
        const double right = page.width_mm - edge;
        const double left = std::max(filing, right - title_width);
        const double bottom = edge;
        page.add(Line{
            {{left, bottom}, {left, bottom + title_height}, {right, bottom + title_height}}, Pen::frame, false, -1});
        if (left > filing)
            page.add(Line{{{filing, bottom + title_height}, {left, bottom + title_height}}, Pen::thin, false, -1});
        std::string stage_text = "–";
        if (draft.stage) {
            std::size_t number = 0;
            for (std::size_t i = 0; i < job.setup.stages.size(); ++i)
                if (job.setup.stages[i].id == draft.stage->id) number = i + 1;
            stage_text = job.say("sheet.title.stage_of", {{"n", static_cast<std::int64_t>(number)},
                                                          {"m", static_cast<std::int64_t>(job.setup.stages.size())},
                                                          {"name", draft.stage->name}});
        }
        struct Field {
            const char* name;
            std::string value;
            double width;
            bool bold = false;
        };
        const std::string unit =
            job.say(job.options.unit.unit == base::LengthUnit::inch ? "sheet.unit.inch" : "sheet.unit.mm");
        const std::string page_of = job.say("sheet.title.page_of", {{"n", static_cast<std::int64_t>(n + 1)},
                                                                    {"m", static_cast<std::int64_t>(drafts.size())}});
        const std::vector<std::vector<Field>> rows = {
            {{"job", or_dash(title.job), 48, true},
             {"part", or_dash(part), 62, true},
             {"revision", or_dash(title.revision), 20, true},
             {"hand", hand, 24, true},
             {"date", or_dash(title.date), 26}},
            {{"document", draft.kind, 56},
             {"stage", stage_text, 74},
             {"planner", or_dash(title.planner), 24},
             {"customer", or_dash(title.customer), 26}},
            {{"table", job.setup.table.name, 70},
             {"model", or_dash(hash), 40},
             {"unit", unit, 20},
             {"scale", draft.scale.empty() ? "–" : job.say("sheet.scale", {{"scale", draft.scale}}), 24},
             {"page", page_of, 26, true}},
        };
        const double stretch = (right - left) / title_width;
        for (std::size_t row = 0; row < rows.size(); ++row) {
            const double y = bottom + title_height - title_row * static_cast<double>(row + 1);
            if (row + 1 < rows.size()) page.add(Line{{{left, y}, {right, y}}, Pen::thin, false, -1});
            double x = left;
            for (const Field& field : rows[row]) {
                const double width = field.width * stretch;
                if (x > left) page.add(Line{{{x, y}, {x, y + title_row}}, Pen::thin, false, -1});
                write(page, {x + 1, y + title_row - 2.4}, job.say(std::string("sheet.title.") + field.name), 1.8);
                write_fitted(page, {x + 1, y + 1.1}, field.value, 3.5, width - 2, Align::left, field.bold, 2.0);
                x += width;
            }
        }
        page.title = job.say("sheet.page_title", {{"kind", draft.kind}, {"n", static_cast<std::int64_t>(n + 1)}});
    }
}

double write_lines(Page& page, const std::vector<std::string>& lines, const Vec2& top, double height_mm, bool bold) {
    double y = top.y();
    for (const std::string& line : lines) {
        write(page, {top.x(), y - height_mm}, line, height_mm, Align::left, bold);
        y -= height_mm * 1.55;
    }
    return y;
}

void write(Page& page, const Vec2& at, const std::string& text, double height_mm, Align align, bool bold,
           double turn_deg) {
    if (!text.empty()) page.add(Label{at, text, height_mm, align, bold, turn_deg});
}

void write_fitted(Page& page, const Vec2& at, const std::string& text, double height_mm, double width_mm, Align align,
                  bool bold, double least_mm) {
    const double width = text_width_mm(text, height_mm, bold);
    if (width <= width_mm) return write(page, at, text, height_mm, align, bold);
    const double smaller = height_mm * width_mm / width;
    if (smaller >= least_mm) return write(page, at, text, smaller, align, bold);
    std::string cut = text;
    while (!cut.empty() && text_width_mm(cut + "…", least_mm, bold) > width_mm) {
        // Whole UTF-8 characters only.
        while (!cut.empty() && (static_cast<unsigned char>(cut.back()) & 0xC0u) == 0x80u) cut.pop_back();
        if (!cut.empty()) cut.pop_back();
    }
    write(page, at, cut + "…", least_mm, align, bold);
}

void draw_rect(Page& page, const Rect& r, Pen pen, double fill) {
    page.add(Line{{r.min, {r.max.x(), r.min.y()}, r.max, {r.min.x(), r.max.y()}}, pen, true, fill});
}

void draw_arrow(Page& page, const Vec2& from, const Vec2& tip, double head_mm, Pen pen) {
    if ((tip - from).norm() < 1e-9) return;
    const Vec2 d = (tip - from).normalized(), n(-d.y(), d.x());
    page.add(Line{{from, tip - head_mm * 0.8 * d}, pen, false, -1});
    page.add(Line{
        {tip, tip - head_mm * d + head_mm * 0.32 * n, tip - head_mm * d - head_mm * 0.32 * n}, Pen::none, true, 1});
}

void draw_scale_bar(Page& page, const Job& job, const Vec2& at, double scale, double room_mm) {
    // A round length of the display unit, in four or five steps.
    const bool inch = job.options.unit.unit == base::LengthUnit::inch;
    const double unit = inch ? base::mm_per_inch : 1;
    double step = inch ? 1 : 10;
    const std::vector<double> choices =
        inch ? std::vector<double>{1, 2, 3, 6, 12, 24} : std::vector<double>{10, 20, 50, 100, 200, 500, 1000};
    for (const double choice : choices)
        if (choice * unit * scale * 5 <= room_mm - 12) step = choice;
    const double width = step * unit * scale;
    for (int i = 0; i < 5; ++i)
        draw_rect(page, {at + Vec2(i * width, 0), at + Vec2((i + 1) * width, 2)}, Pen::thin, i % 2 == 0 ? 1 : 0);
    for (int i = 0; i <= 5; i += 5)
        write(page, at + Vec2(i * width, 3.2),
              i == 0 ? std::string("0") : base::format_length_with_unit(step * unit * i, job.options.unit), 2.5,
              i == 0 ? Align::left : Align::right);
}

double Tag::radius_mm() const {
    // Two digits must stand inside the ring.
    return std::max(height_mm * 1.12, text_width_mm(number, height_mm, true) / 2 + 0.45 * height_mm * 0.6);
}

Vec2 Tag::size() const {
    const double r = radius_mm();
    return {2 * r + (text.empty() ? 0 : text_width_mm(text, height_mm, true) + 1.6), 2 * r};
}

Vec2 Tag::leader_start() const {
    const Rect b = box();
    if (text.empty()) return balloon() + (anchor - balloon()).normalized() * radius_mm();
    const Vec2 nearest = anchor.cwiseMax(b.min).cwiseMin(b.max);
    // From the ring where the anchor is on its side, else from the nearest edge of the text.
    if (nearest.x() <= balloon().x() + radius_mm()) return balloon() + (anchor - balloon()).normalized() * radius_mm();
    return nearest;
}

namespace {

bool cross(const Vec2& a, const Vec2& b, const Vec2& c, const Vec2& d) {
    const auto side = [](const Vec2& p, const Vec2& q, const Vec2& r) {
        return (q.x() - p.x()) * (r.y() - p.y()) - (q.y() - p.y()) * (r.x() - p.x());
    };
    return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

bool cross(const Vec2& a, const Vec2& b, const Rect& r) {
    const Vec2 p[] = {r.min, {r.max.x(), r.min.y()}, r.max, {r.min.x(), r.max.y()}};
    if (r.contains(a) || r.contains(b)) return true;
    for (int i = 0; i < 4; ++i)
        if (cross(a, b, p[i], p[(i + 1) % 4])) return true;
    return false;
}

/// Lower is better; overlaps weigh most because they hide something.
double cost(const Tag& tag, std::size_t self, const std::vector<Tag>& tags, const std::vector<bool>& placed,
            const Rect& area, const std::vector<Rect>& obstacles) {
    const Rect box = tag.box().grown(0.8);
    double sum = 0;
    if (!area.contains(tag.box())) sum += 1e6;
    const Vec2 start = tag.leader_start();
    sum += (tag.anchor - start).norm();
    for (const Rect& o : obstacles) {
        if (o.overlaps(box)) sum += 1e3;
        if (!o.contains(tag.anchor) && cross(start, tag.anchor, o)) sum += 6;
    }
    for (std::size_t i = 0; i < tags.size(); ++i) {
        if (i == self) continue;
        // Another block's hole must stay to be seen.
        if (box.contains(tags[i].anchor)) sum += 500;
        if (!placed[i]) continue;
        if (tags[i].box().grown(0.8).overlaps(box)) sum += 1e5;
        const Vec2 other = tags[i].leader_start();
        if (cross(start, tag.anchor, other, tags[i].anchor)) sum += 300;
        if (cross(start, tag.anchor, tags[i].box().grown(0.5))) sum += 300;
        if (cross(other, tags[i].anchor, box)) sum += 300;
    }
    return sum;
}

}  // namespace

void place_tags(std::vector<Tag>& tags, const Rect& area, const std::vector<Rect>& obstacles) {
    std::vector<bool> placed(tags.size(), false);
    constexpr int directions = 32;
    for (int pass = 0; pass < 4; ++pass)
        for (std::size_t i = 0; i < tags.size(); ++i) {
            Tag best = tags[i];
            double least = placed[i] ? cost(best, i, tags, placed, area, obstacles) : 1e18;
            const auto consider = [&](const Vec2& centre) {
                Tag tried = tags[i];
                tried.centre = centre;
                const double c = cost(tried, i, tags, placed, area, obstacles);
                if (c < least - 1e-9) {
                    least = c;
                    best = tried;
                }
            };
            const Vec2 half = tags[i].size() / 2;
            for (double reach = 2; reach <= 60; reach += 2.5)
                for (int k = 0; k < directions; ++k) {
                    const double a = 2 * std::numbers::pi * (k + 0.5) / directions;
                    const Vec2 d(std::cos(a), std::sin(a));
                    // The box's edge, not its centre, is `reach` away.
                    const double inside = std::min(std::abs(d.x()) > 1e-9 ? half.x() / std::abs(d.x()) : 1e9,
                                                   std::abs(d.y()) > 1e-9 ? half.y() / std::abs(d.y()) : 1e9);
                    consider(tags[i].anchor + d * (reach + inside));
                }
            if (least >= 1e3)
                for (double x = area.min.x() + half.x(); x <= area.max.x() - half.x(); x += 4)
                    for (double y = area.min.y() + half.y(); y <= area.max.y() - half.y(); y += 4) consider({x, y});
            tags[i] = best;
            placed[i] = true;
        }
    // Two tags whose leaders cross often stand better in each other's place.
    const auto pair_cost = [&](std::size_t i, std::size_t j) {
        return cost(tags[i], i, tags, placed, area, obstacles) + cost(tags[j], j, tags, placed, area, obstacles);
    };
    for (std::size_t i = 0; i < tags.size(); ++i)
        for (std::size_t j = i + 1; j < tags.size(); ++j) {
            const double before = pair_cost(i, j);
            std::swap(tags[i].centre, tags[j].centre);
            if (pair_cost(i, j) >= before - 1e-9) std::swap(tags[i].centre, tags[j].centre);
        }
}

void draw_tags(Page& page, const std::vector<Tag>& tags) {
    for (const Tag& tag : tags) {
        page.add(Line{{tag.leader_start(), tag.anchor}, Pen::balloon, false, -1});
        page.add(Circle{tag.anchor, 0.7, Pen::none, 1});
    }
    for (const Tag& tag : tags) {
        if (!tag.text.empty())
            draw_rect(page, {{tag.balloon().x(), tag.box().min.y() + 1}, tag.box().max - Vec2(0, 1)}, Pen::none, 0);
        page.add(Circle{tag.balloon(), tag.radius_mm(), Pen::outline, 0});
        write(page, tag.balloon() - Vec2(0, tag.height_mm / 2), tag.number, tag.height_mm, Align::middle, true);
        if (!tag.text.empty())
            write(page, {tag.balloon().x() + tag.radius_mm() + 1, tag.centre.y() - tag.height_mm / 2}, tag.text,
                  tag.height_mm, Align::left, true);
    }
}

}  // namespace setwright::sheet
