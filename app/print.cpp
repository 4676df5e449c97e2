#include "app/print.h"

#include <QBuffer>
#include <QFont>
#include <QFontDatabase>
#include <QPageLayout>
#include <QPageSize>
#include <QPainter>
#include <QPdfWriter>
#include <QPen>
#include <QPolygonF>
#include <cmath>

#include "core/base/file.h"

namespace setwright::app {

namespace {

/// Text is set at this size and scaled down: at a few pixels the advances would be rounded.
constexpr int text_pixels = 1000;
constexpr int dots_per_inch = 1200;

QColor grey(double darkness) {
    const int level = static_cast<int>(std::lround(255 * (1 - darkness)));
    return QColor(level, level, level);
}

QPen pen_of(sheet::Pen kind) {
    if (kind == sheet::Pen::none) return QPen(Qt::NoPen);
    const double width = sheet::pen_width_mm(kind);
    QPen pen(grey(sheet::pen_grey(kind)), width, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin);
    QList<qreal> dashes;
    for (const double d : sheet::pen_dashes_mm(kind)) dashes.push_back(d / width);
    if (!dashes.isEmpty()) {
        pen.setCapStyle(Qt::FlatCap);
        pen.setDashPattern(dashes);
    }
    return pen;
}

QBrush brush_of(double fill) {
    return fill < 0 ? QBrush(Qt::NoBrush) : QBrush(grey(fill));
}

QFont bundled_font(bool bold) {
    static const auto family = [](bool of_bold) {
        const int id = QFontDatabase::addApplicationFont(QString::fromStdString(sheet::font_path(of_bold)));
        SETWRIGHT_ASSERT(id >= 0, "the bundled font is installed with the program");
        return QFontDatabase::applicationFontFamilies(id).constFirst();
    };
    static const QString plain_family = family(false), bold_family = family(true);
    QFont font(bold ? bold_family : plain_family);
    font.setPixelSize(text_pixels);
    font.setBold(bold);
    font.setStretch(QFont::SemiCondensed);
    font.setKerning(false);
    font.setHintingPreference(QFont::PreferNoHinting);
    return font;
}

void paint(QPainter& painter, const sheet::Page& page) {
    for (const sheet::Item& item : page.items) {
        switch (item.kind) {
            case sheet::Item::Kind::line: {
                QPolygonF polygon;
                for (const auto& p : item.line.points) polygon << QPointF(p.x(), page.height_mm - p.y());
                painter.setPen(pen_of(item.line.pen));
                painter.setBrush(brush_of(item.line.fill));
                if (item.line.closed)
                    painter.drawPolygon(polygon);
                else
                    painter.drawPolyline(polygon);
                break;
            }
            case sheet::Item::Kind::circle:
                painter.setPen(pen_of(item.circle.pen));
                painter.setBrush(brush_of(item.circle.fill));
                painter.drawEllipse(QPointF(item.circle.centre.x(), page.height_mm - item.circle.centre.y()),
                                    item.circle.radius_mm, item.circle.radius_mm);
                break;
            case sheet::Item::Kind::label: {
                const sheet::Label& label = item.label;
                const double width = sheet::text_width_mm(label.text, label.height_mm, label.bold);
                const double shift = label.align == sheet::Align::left     ? 0
                                     : label.align == sheet::Align::middle ? -width / 2
                                                                           : -width;
                painter.save();
                painter.translate(label.at.x(), page.height_mm - label.at.y());
                painter.rotate(-label.turn_deg);
                painter.translate(shift, 0);
                const double scale = label.height_mm * sheet::em_per_capital(label.bold) / text_pixels;
                painter.scale(scale, scale);
                painter.setFont(bundled_font(label.bold));
                painter.setPen(Qt::black);
                painter.drawText(QPointF(0, 0), QString::fromStdString(label.text));
                painter.restore();
                break;
            }
        }
    }
}

}  // namespace

base::Result<void> write_pdf(const std::vector<sheet::Page>& pages, const std::string& path, const std::string& title) {
    QBuffer buffer;
    buffer.open(QIODevice::WriteOnly);
    {
        QPdfWriter writer(&buffer);
        writer.setPdfVersion(QPagedPaintDevice::PdfVersion_A1b);
        writer.setResolution(dots_per_inch);
        writer.setTitle(QString::fromStdString(title));
        writer.setCreator(QStringLiteral("Setwright"));
        QPainter painter;
        for (const sheet::Page& page : pages) {
            const QPageSize size(QSizeF(page.width_mm, page.height_mm), QPageSize::Millimeter, {},
                                 QPageSize::ExactMatch);
            writer.setPageLayout(QPageLayout(size, QPageLayout::Portrait, QMarginsF()));
            if (!painter.isActive())
                painter.begin(&writer);
            else
                writer.newPage();
            painter.save();
            painter.scale(dots_per_inch / base::mm_per_inch, dots_per_inch / base::mm_per_inch);
            paint(painter, page);
            painter.restore();
        }
        painter.end();
    }
    return base::write_file(
        path, std::string_view(buffer.data().constData(), static_cast<std::size_t>(buffer.data().size())));
}

}  // namespace setwright::app
