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
#include <QPrinter>
#include <cmath>
#include <cstdio>
#include <filesystem>

#include "core/base/file.h"
#include "core/sheet/svg.h"

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

QPageLayout layout_of(const sheet::Page& page) {
    const QPageSize size(QSizeF(page.width_mm, page.height_mm), QPageSize::Millimeter, {}, QPageSize::ExactMatch);
    return {size, QPageLayout::Portrait, QMarginsF()};
}

}  // namespace

void load_page_fonts() {
    bundled_font(false);
    bundled_font(true);
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

QImage picture(const sheet::Page& page, double pixels_per_mm) {
    QImage image(static_cast<int>(std::lround(page.width_mm * pixels_per_mm)),
                 static_cast<int>(std::lround(page.height_mm * pixels_per_mm)), QImage::Format_RGB32);
    image.fill(Qt::white);
    QPainter painter(&image);
    painter.setRenderHints(QPainter::Antialiasing | QPainter::TextAntialiasing);
    painter.scale(pixels_per_mm, pixels_per_mm);
    paint(painter, page);
    return image;
}

std::string document_title(const setup::Setup& setup) {
    if (!setup.title.job.empty() || setup.weldments.empty()) return setup.title.job;
    return setup.weldments.front().file_name;
}

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
            writer.setPageLayout(layout_of(page));
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

std::vector<std::string> page_files(const std::string& path, std::size_t pages) {
    const std::filesystem::path out(path);
    std::vector<std::string> files;
    for (std::size_t i = 0; i < pages; ++i) {
        char number[32];
        std::snprintf(number, sizeof number, "-%02zu", i + 1);
        files.push_back((out.parent_path() / (out.stem().string() + number + out.extension().string())).string());
    }
    return files;
}

base::Result<std::vector<std::string>> write_pages(const std::vector<sheet::Page>& pages, const std::string& path,
                                                   const std::string& title) {
    const std::string ending = std::filesystem::path(path).extension().string();
    if (ending == ".pdf") {
        if (const base::Result<void> written = write_pdf(pages, path, title); !written) return written.error();
        return std::vector{path};
    }
    if (ending != ".svg") return base::bad_input({"cli.unknown_pages", {{"file", path}}});
    const std::vector<std::string> files = page_files(path, pages.size());
    for (std::size_t i = 0; i < pages.size(); ++i)
        if (const base::Result<void> written = base::write_file(files[i], sheet::svg(pages[i])); !written)
            return written.error();
    return files;
}

base::Result<void> print_pages(const std::vector<sheet::Page>& pages, QPrinter& printer) {
    const base::Error failed = base::bad_input({"drawing.print_failed", {}});
    printer.setFullPage(true);
    QPainter painter;
    for (const sheet::Page& page : pages) {
        printer.setPageLayout(layout_of(page));
        if (!(painter.isActive() ? printer.newPage() : painter.begin(&printer))) return failed;
        painter.save();
        const double dots_per_mm = printer.resolution() / base::mm_per_inch;
        painter.scale(dots_per_mm, dots_per_mm);
        paint(painter, page);
        painter.restore();
    }
    if (!painter.end() || printer.printerState() == QPrinter::Error) return failed;
    return {};
}

}  // namespace setwright::app
