// What to fetch before starting, the pieces, and the usual cautions.

#include <algorithm>
#include <set>

#include "core/base/limits.h"
#include "core/sheet/scene.h"

namespace setwright::sheet {

namespace {

constexpr double text = 3.5, row = 6.5;

struct Cell {
    std::string text;
    bool bold = false;
};

/// Rows of text over as many pages as it takes.
class List {
  public:
    List(const Job& job, std::vector<Draft>& pages) : job_(job), pages_(pages) { open(); }
    ~List() = default;

    void heading(const std::string& title) {
        need(3 * row);
        y_ -= 2;
        write(draft_.page, {left(), y_ - 5}, title, 5, Align::left, true);
        y_ -= 8;
    }
    void columns(std::vector<double> widths) { widths_ = std::move(widths); }
    void line(const std::vector<Cell>& cells, bool head = false) {
        need(row);
        double x = left();
        double total = 0;
        for (const double w : widths_) total += w;
        const double stretch = draft_.area.width() / total;
        for (std::size_t i = 0; i < cells.size(); ++i) {
            const double w = widths_[i] * stretch;
            write_fitted(draft_.page, {x + 1, y_ - row + 1.6}, cells[i].text, head ? 2.5 : text, w - 2, Align::left,
                         head || cells[i].bold, 2.2);
            x += w;
        }
        y_ -= row;
        draft_.page.add(Line{{{left(), y_}, {draft_.area.max.x(), y_}}, head ? Pen::outline : Pen::thin, false, -1});
    }
    void tick(double column_left) {
        const double total = [&] {
            double t = 0;
            for (const double w : widths_) t += w;
            return t;
        }();
        const double x = left() + column_left * draft_.area.width() / total + 1;
        draw_rect(draft_.page, {{x, y_ + 1}, {x + 4.2, y_ + 5.2}}, Pen::thin);
    }
    void paragraph(const std::string& sentence) {
        const auto lines = wrap("• " + sentence, text, false, draft_.area.width() - 2);
        need(static_cast<double>(lines.size()) * text * 1.55 + 1);
        y_ = write_lines(draft_.page, lines, {left() + 1, y_}, text) - 0.6;
    }
    void close() { pages_.push_back(std::move(draft_)); }

  private:
    double left() const { return draft_.area.min.x(); }
    void open() {
        draft_ = start_page(job_, nullptr, job_.say("sheet.kind.pick_list"), false);
        y_ = draft_.area.max.y();
    }
    void need(double height) {
        if (y_ - height >= draft_.area.min.y()) return;
        pages_.push_back(std::move(draft_));
        open();
    }

    const Job& job_;
    std::vector<Draft>& pages_;
    Draft draft_;
    double y_ = 0;
    std::vector<double> widths_;
};

std::string section_text(const Job& job, const weldment::Section& section) {
    using weldment::SectionKind;
    // A stock size is a name: the exact figure in brackets would not fit beside it.
    const auto l = [&](double mm) { return base::format_length(mm, job.options.unit); };
    std::string size;
    switch (section.kind) {
        case SectionKind::square_tube:
        case SectionKind::rect_tube:
        case SectionKind::angle:
        case SectionKind::channel:
            size = l(section.width_mm) + " × " + l(section.depth_mm) + " × " + l(section.wall_mm);
            break;
        case SectionKind::round_tube:
            size = "Ø" + l(section.diameter_mm) + " × " + l(section.wall_mm);
            break;
        case SectionKind::round_bar:
            size = "Ø" + l(section.diameter_mm);
            break;
        case SectionKind::square_bar:
        case SectionKind::flat_bar:
        case SectionKind::plate:
            size = l(section.width_mm) + " × " + l(section.depth_mm);
            break;
        case SectionKind::formed:
        case SectionKind::other:
            break;
    }
    const std::string kind = job.say(std::string("sheet.section.") + weldment::key(section.kind));
    return size.empty() ? kind : kind + ' ' + size;
}

}  // namespace

base::Result<void> pick_list(const Job& job, const std::vector<Scene>& scenes, std::vector<Draft>& pages) {
    List list(job, pages);
    const std::vector<check::PickLine> lines = check::pick_list(job.setup);
    const auto head = [&](const char* id) { return Cell{job.say(std::string("sheet.pick.") + id), true}; };
    const auto number = [](int n) { return std::to_string(n); };
    if (!lines.empty()) {
        list.heading(job.say("sheet.pick.fetch"));
        list.columns({10, 96, 18, 18, 38});
        list.line({head("tick"), head("what"), head("need"), head("have"), head("remark")}, true);
        for (const check::PickLine& line : lines) {
            if (line.to_cut) continue;
            const int lacking = line.need - line.have;
            list.line({{""},
                       {job.say(check::stock_name(job.setup, line.stock_id))},
                       {number(line.need), true},
                       {number(line.have)},
                       {lacking > 0 ? job.say("sheet.pick.short", {{"count", static_cast<std::int64_t>(lacking)}}) : "",
                        true}});
            list.tick(0);
        }
        if (std::any_of(lines.begin(), lines.end(), [](const auto& l) { return l.to_cut; })) {
            list.heading(job.say("sheet.pick.cut"));
            for (const check::PickLine& line : lines) {
                if (!line.to_cut) continue;
                list.line({{""},
                           {job.say(check::stock_name(job.setup, line.stock_id))},
                           {number(line.need), true},
                           {""},
                           {job.say("sheet.pick.to_cut")}});
                list.tick(0);
            }
        }
    }

    list.heading(job.say("sheet.pieces"));
    list.columns({10, 34, 64, 28, 14, 30});
    list.line({head("tick"), head("piece"), head("section"), head("length"), head("mass"), head("held")}, true);
    double mass = 0;
    std::set<weldment::PieceId> seen;
    for (const Scene& scene : scenes)
        for (const ScenePiece& piece : scene.pieces) {
            if (!seen.insert(piece.piece->id).second) continue;
            mass += piece.piece->mass_kg;
            list.line({{""},
                       {piece.name, true},
                       {section_text(job, piece.piece->section)},
                       {job.length(piece.piece->length_mm)},
                       {base::decimal_text(piece.piece->mass_kg, 1)},
                       {job.say(std::string("sheet.held.") + setup::key(scene.stage->held(piece.piece->id)))}});
            list.tick(0);
        }

    list.heading(job.say("sheet.caution.title"));
    double heaviest = 0;
    std::string heaviest_name;
    bool clamps = false;
    for (const Scene& scene : scenes)
        for (const Block& block : scene.blocks) {
            if (block.component->mass_kg > heaviest) {
                heaviest = block.component->mass_kg;
                heaviest_name = block.name;
            }
            if (block.component->clamp) clamps = true;
        }
    if (heaviest >= base::limits::heavy_kg)
        list.paragraph(
            job.say("sheet.caution.heavy", {{"name", heaviest_name}, {"kg", base::decimal_text(heaviest, 0)}}));
    list.paragraph(
        job.say(mass >= base::limits::two_people_kg ? "sheet.caution.weldment_two" : "sheet.caution.weldment",
                {{"kg", base::decimal_text(mass, 1)}}));
    if (clamps) list.paragraph(job.say("sheet.caution.pinch"));
    for (const char* id : {"hot_work", "eyes", "fume", "return_lead", "tacked", "defer"})
        list.paragraph(job.say(std::string("sheet.caution.") + id));
    list.close();
    return {};
}

}  // namespace setwright::sheet
