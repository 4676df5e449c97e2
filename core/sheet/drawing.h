#pragma once

#include <string>
#include <vector>

#include "core/space/pose.h"

namespace setwright::sheet {

using space::Vec2;

/// Line widths and kinds after ISO 128 (0.5 / 0.25 pair for A4 and A3).
/// `none` paints only the fill.
enum class Pen { outline, thin, hidden, centre, ghost, hole, frame, balloon, none };
enum class Align { left, middle, right };

/// Paper coordinates: mm from the lower left corner, y up.
struct Line {
    std::vector<Vec2> points;
    Pen pen = Pen::thin;
    bool closed = false;
    /// Paper white under the line, so that what lies behind is hidden; grey 0 (white) to 1 (black); negative: none.
    double fill = -1;
};
struct Circle {
    Vec2 centre = Vec2::Zero();
    double radius_mm = 0;
    Pen pen = Pen::thin;
    double fill = -1;
};
struct Label {
    Vec2 at = Vec2::Zero();
    std::string text;
    /// Height of a capital letter.
    double height_mm = 3.5;
    Align align = Align::left;
    bool bold = false;
    /// Counter-clockwise.
    double turn_deg = 0;
};

struct Item {
    enum class Kind { line, circle, label } kind;
    Line line;
    Circle circle;
    Label label;
};

/// One page, painted in order.
struct Page {
    double width_mm = 210;
    double height_mm = 297;
    std::string title;
    std::vector<Item> items;

    void add(Line line) { items.push_back({Item::Kind::line, std::move(line), {}, {}}); }
    void add(Circle circle) { items.push_back({Item::Kind::circle, {}, circle, {}}); }
    void add(Label label) { items.push_back({Item::Kind::label, {}, {}, std::move(label)}); }
};

double pen_width_mm(Pen pen);
/// Dash pattern in mm, empty for a full line.
std::vector<double> pen_dashes_mm(Pen pen);

/// 0 (white) to 1 (black).
double pen_grey(Pen pen);

/// Files of the one bundled font; its em size over its capital height, for painters that size text by the em.
std::string font_path(bool bold);
double em_per_capital(bool bold);
/// Width of a text on the bundled font at this capital height, measured with FreeType.
double text_width_mm(const std::string& utf8, double height_mm, bool bold);
/// Breaks at spaces so that no line is wider; a word too wide for a line stands alone.
std::vector<std::string> wrap(const std::string& utf8, double height_mm, bool bold, double width_mm);

}  // namespace setwright::sheet
