#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/sheet/pages.h"
#include "core/space/projection.h"

/// What the pages of one job are drawn from, and the marks they have in common.
namespace setwright::sheet {

struct Rect {
    Vec2 min = Vec2::Zero();
    Vec2 max = Vec2::Zero();
    double width() const { return max.x() - min.x(); }
    double height() const { return max.y() - min.y(); }
    Vec2 centre() const { return (min + max) / 2; }
    bool contains(const Vec2& p) const { return (p.array() >= min.array()).all() && (p.array() <= max.array()).all(); }
    bool contains(const Rect& r) const { return contains(r.min) && contains(r.max); }
    bool overlaps(const Rect& r) const {
        return (min.array() < r.max.array()).all() && (r.min.array() < max.array()).all();
    }
    Rect grown(double by) const { return {min - Vec2(by, by), max + Vec2(by, by)}; }
    void add(const Rect& r) {
        min = min.cwiseMin(r.min);
        max = max.cwiseMax(r.max);
    }
    static Rect around(const std::vector<Vec2>& points);
};

/// The job with its language and unit.
struct Job {
    const setup::Setup& setup;
    const check::Report& report;
    const base::TextCatalogue& texts;
    PageOptions options;

    std::string say(const std::string& id, std::map<std::string, base::TextArgument> arguments = {}) const;
    std::string say(const base::Text& text) const;
    /// To the nearest 0.5 mm or 1/32 in, without the unit's sign; the exact value (mm, or decimals of an inch) in
    /// brackets where rounding moved it by more than 0.1 mm. Common practice, no source.
    std::string length(double mm) const;
};

/// A placement with what is drawn of it.
struct Block {
    const setup::Placement* placement = nullptr;
    const shop::Component* component = nullptr;
    setup::Posed posed;
    /// In C.
    space::Brep brep;
    std::string callout;
    std::string name;
};

struct ScenePiece {
    const weldment::Piece* piece = nullptr;
    space::Pose X_TP;
    std::string name;
};

/// One stage as it stands on the table.
struct Scene {
    const setup::Stage* stage = nullptr;
    /// By number.
    std::vector<Block> blocks;
    /// Seats that do not resolve: in the table, not in the views.
    std::vector<const setup::Placement*> not_drawn;
    std::vector<ScenePiece> pieces;
    const check::StageReport* report = nullptr;

    const Block* find(setup::PlacementId id) const;
};
Scene make_scene(const Job& job, const setup::Stage& stage);

/// Lines of a view that looks along -z of V: blocks as if the weldment were glass (the fitter sets them first), the
/// weldment with what the blocks hide left out. Tags are ids.
struct ViewLines {
    std::vector<space::ProjectedLine> blocks;
    std::vector<space::ProjectedLine> pieces;
};
base::Result<ViewLines> view_lines(const std::vector<const Block*>& blocks, const std::vector<ScenePiece>& pieces,
                                   const space::Pose& X_TV);

/// Silhouettes of body parts given in C, in the plane of V: one convex or true outline per part.
std::vector<space::Polygon2> silhouettes(const setup::Posed& posed, const space::Pose& X_VC);
/// Of a piece: empty where only its lines are to be drawn.
std::vector<space::Polygon2> silhouettes(const ScenePiece& piece, const space::Pose& X_VT);
Rect bounds(const std::vector<space::Polygon2>& outlines);

/// Largest scale of ISO 5455 at which `size_mm` fits into `room_mm`; 1:n is 1/n.
double fitting_scale(const Vec2& size_mm, const Vec2& room_mm, double largest = 1.0);
std::string scale_text(double scale);

/// From a plane of the real thing to paper.
struct View {
    double scale = 1;
    Vec2 world = Vec2::Zero();
    Vec2 paper = Vec2::Zero();
    /// On paper; lines are cut off there.
    Rect clip;

    Vec2 operator()(const Vec2& p) const { return paper + (p - world) * scale; }
    Rect operator()(const Rect& r) const { return {(*this)(r.min), (*this)(r.max)}; }
    space::Polygon2 operator()(const space::Polygon2& polygon) const;
};
void draw(Page& page, const View& view, const space::ProjectedLine& line, Pen pen);
/// Fill without a line around it.
void fill(Page& page, const View& view, const space::Polygon2& polygon, double grey);

/// A page being made. The title block is drawn when all pages are known.
struct Draft {
    Page page;
    std::string kind;
    const setup::Stage* stage = nullptr;
    std::string scale;
    /// Inside the frame, above the title block.
    Rect area;
    /// Left of the title block: scale bar, key map.
    Rect strip;
};
Vec2 paper_size(Paper paper, bool landscape);
Draft start_page(const Job& job, const setup::Stage* stage, const std::string& kind, bool landscape);
void finish(const Job& job, std::vector<Draft>& drafts);

/// Text whose lines start at `top` and go down; gives the next free y.
double write_lines(Page& page, const std::vector<std::string>& lines, const Vec2& top, double height_mm,
                   bool bold = false);
void write(Page& page, const Vec2& at, const std::string& text, double height_mm, Align align = Align::left,
           bool bold = false, double turn_deg = 0);
/// Smaller where the text would be wider than `width_mm`, but never below `least_mm`; then cut short with "…".
void write_fitted(Page& page, const Vec2& at, const std::string& text, double height_mm, double width_mm,
                  Align align = Align::left, bool bold = false, double least_mm = 1.8);
void draw_rect(Page& page, const Rect& rect, Pen pen, double fill = -1);
/// Filled head at `tip`.
void draw_arrow(Page& page, const Vec2& from, const Vec2& tip, double head_mm, Pen pen = Pen::balloon);
void draw_scale_bar(Page& page, const Job& job, const Vec2& at, double scale, double room_mm);

/// A balloon with its number, and what is written beside it.
struct Tag {
    Vec2 anchor = Vec2::Zero();
    std::string number;
    std::string text;
    double height_mm = 3.5;
    /// Found by place_tags().
    Vec2 centre = Vec2::Zero();

    double radius_mm() const;
    Vec2 size() const;
    Rect box() const { return {centre - size() / 2, centre + size() / 2}; }
    Vec2 balloon() const { return {box().min.x() + radius_mm(), centre.y()}; }
    /// Where the leader leaves towards the anchor.
    Vec2 leader_start() const;
};
/// Finds a place for each tag within `area`, off `obstacles` and each other, leaders short and not crossing.
void place_tags(std::vector<Tag>& tags, const Rect& area, const std::vector<Rect>& obstacles);
/// All leaders first, so that no ring is crossed.
void draw_tags(Page& page, const std::vector<Tag>& tags);

/// Which way a block faces, in the plane of its host (T for loose ones); none for round ones.
std::optional<Vec2> facing(const Scene& scene, const Job& job, const Block& block);
std::string facing_word(const Job& job, const Block& block, const Vec2& facing);
std::string component_name(const Job& job, const shop::Component& component);
/// "under 10 + 5 · face 2" in the component's own unit.
std::string packers_text(const Job& job, const Block& block);
/// Label of the hole it sits in, "" where it sits in none.
std::string hole_text(const Job& job, const Scene& scene, const setup::Placement& placement);

/// The pages by kind.
base::Result<void> overview(const Job& job, const Scene& scene, std::vector<Draft>& pages);
base::Result<void> zones(const Job& job, const Scene& scene, std::vector<Draft>& pages);
base::Result<void> placement_table(const Job& job, const Scene& scene, std::vector<Draft>& pages);
base::Result<void> elevations(const Job& job, const Scene& scene, std::vector<Draft>& pages);
base::Result<void> height_strip(const Job& job, const Scene& scene, std::vector<Draft>& pages);
base::Result<void> by_hand(const Job& job, const Scene& scene, std::vector<Draft>& pages);
base::Result<void> pick_list(const Job& job, const std::vector<Scene>& scenes, std::vector<Draft>& pages);

/// Shared by overview and zones.
struct TableMarks {
    int every = 1;
    double label_mm = 5;
    /// False where only the west edge has room for the letters.
    bool east = true;
    /// Rectangles of the labels, for place_tags().
    std::vector<Rect> taken;
};
void draw_holes(Page& page, const View& view, const shop::Table& table);
void draw_edge_labels(Page& page, const View& view, const shop::Table& table, const Rect& frame, TableMarks& marks);
/// Fills, blocks and weldment of a plan.
void draw_plan(Page& page, const View& view, const Scene& scene, const ViewLines& lines, const shop::Table& table);
base::Result<ViewLines> plan_lines(const Scene& scene);
Rect table_rect(const shop::Table& table);
/// North and east from this corner.
void draw_compass(Page& page, const Job& job, const Vec2& corner);
/// Names on the pieces, off `taken`, which grows by them.
void write_piece_names(Page& page, const Scene& scene, const View& view, double height_mm, std::vector<Rect>& taken);

}  // namespace setwright::sheet
