#include "core/sheet/svg.h"

#include <algorithm>
#include <cmath>

#include "core/base/units.h"

namespace setwright::sheet {

namespace {

std::string number(double value) {
    return base::decimal_text(value, 3);
}

std::string grey(double darkness) {
    const int level = static_cast<int>(std::lround(255 * (1 - std::clamp(darkness, 0.0, 1.0))));
    return "rgb(" + std::to_string(level) + ',' + std::to_string(level) + ',' + std::to_string(level) + ')';
}

std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            default:
                // Other control characters are not allowed in XML.
                out += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
        }
    }
    return out;
}

std::string look(Pen pen, double fill) {
    const std::string inside = " fill=\"" + (fill < 0 ? std::string("none") : grey(fill)) + '"';
    if (pen == Pen::none) return inside;
    std::string out =
        inside + " stroke=\"" + grey(pen_grey(pen)) + "\" stroke-width=\"" + number(pen_width_mm(pen)) + '"';
    const std::vector<double> dashes = pen_dashes_mm(pen);
    if (dashes.empty()) return out;
    out += " stroke-dasharray=\"";
    for (std::size_t i = 0; i < dashes.size(); ++i) out += (i ? " " : "") + number(dashes[i]);
    return out + '"';
}

}  // namespace

std::string svg(const Page& page) {
    const auto y = [&](double up) { return number(page.height_mm - up); };
    const std::string w = number(page.width_mm), h = number(page.height_mm);
    std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"" +
                      w + "mm\" height=\"" + h + "mm\" viewBox=\"0 0 " + w + ' ' + h + "\">\n<title>" +
                      escaped(page.title) + "</title>\n<rect width=\"" + w + "\" height=\"" + h +
                      "\" fill=\"white\"/>\n<g stroke-linejoin=\"round\" stroke-linecap=\"round\" "
                      "font-family=\"'DejaVu Sans Condensed', sans-serif\" style=\"font-kerning:none\">\n";
    for (const Item& item : page.items) {
        switch (item.kind) {
            case Item::Kind::line: {
                if (item.line.points.empty()) break;
                out += "<path d=\"";
                for (std::size_t i = 0; i < item.line.points.size(); ++i)
                    out += (i ? "L" : "M") + number(item.line.points[i].x()) + ' ' + y(item.line.points[i].y());
                out += std::string(item.line.closed ? "Z" : "") + '"' + look(item.line.pen, item.line.fill) + "/>\n";
                break;
            }
            case Item::Kind::circle:
                out += "<circle cx=\"" + number(item.circle.centre.x()) + "\" cy=\"" + y(item.circle.centre.y()) +
                       "\" r=\"" + number(item.circle.radius_mm) + '"' + look(item.circle.pen, item.circle.fill) +
                       "/>\n";
                break;
            case Item::Kind::label: {
                const Label& l = item.label;
                const char* anchor = l.align == Align::left ? "start" : l.align == Align::middle ? "middle" : "end";
                out += "<text x=\"" + number(l.at.x()) + "\" y=\"" + y(l.at.y()) + "\" font-size=\"" +
                       number(l.height_mm * em_per_capital(l.bold)) + "\" text-anchor=\"" + anchor +
                       "\" textLength=\"" + number(text_width_mm(l.text, l.height_mm, l.bold)) + '"' +
                       (l.bold ? " font-weight=\"bold\"" : "");
                if (l.turn_deg != 0)
                    out += " transform=\"rotate(" + number(-l.turn_deg) + ' ' + number(l.at.x()) + ' ' + y(l.at.y()) +
                           ")\"";
                out += ">" + escaped(l.text) + "</text>\n";
                break;
            }
        }
    }
    return out + "</g>\n</svg>\n";
}

}  // namespace setwright::sheet
