#include "app/print.h"

#include <gtest/gtest.h>

#include <QGuiApplication>
#include <QPrinter>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <string>

#include "core/base/child.h"

namespace {

using namespace setwright;
using sheet::Page;

/// Output of a program from poppler-utils.
std::string output_of(const std::string& program, const std::vector<std::string>& arguments) {
    const auto run = base::run_child("/usr/bin/" + program, arguments, std::chrono::seconds(60));
    EXPECT_TRUE(run.ok());
    return run ? run->output : "";
}

std::string pdf_of(const std::vector<Page>& pages) {
    const std::string path = (std::filesystem::temp_directory_path() / "setwright-print-test.pdf").string();
    const auto written = app::write_pdf(pages, path, "print test");
    EXPECT_TRUE(written.ok());
    return path;
}

std::vector<Page> two_pages() {
    Page upright, lying;
    upright.width_mm = 210;
    upright.height_mm = 297;
    upright.add(sheet::Line{{{30, 50}, {130, 50}}, sheet::Pen::thin, false, -1});
    upright.add(sheet::Label{{30, 60}, "K14 E 6 plate 100", 5, sheet::Align::left, false, 0});
    lying.width_mm = 297;
    lying.height_mm = 210;
    lying.add(sheet::Label{{30, 60}, "bold text", 5, sheet::Align::left, true, 0});
    return {upright, lying};
}

// A4 is 595.28 x 841.89 pt; the writer rounds page boxes to whole points.
TEST(Print, PagesHaveTheirOwnSizes) {
    const std::string info = output_of("pdfinfo", {"-f", "1", "-l", "2", pdf_of(two_pages())});
    EXPECT_NE(info.find("Pages:           2"), std::string::npos) << info;
    EXPECT_NE(info.find("595 x 842"), std::string::npos) << info;
    EXPECT_NE(info.find("842 x 595"), std::string::npos) << info;
}

TEST(Print, BundledFontIsEmbedded) {
    const std::string fonts = output_of("pdffonts", {pdf_of(two_pages())});
    EXPECT_NE(fonts.find("DejaVuSansCondensed"), std::string::npos) << fonts;
    EXPECT_NE(fonts.find("DejaVuSansCondensed-Bold"), std::string::npos) << fonts;
    // Columns "emb sub uni": both embedded.
    const std::size_t first = fonts.find(" yes no  yes ");
    ASSERT_NE(first, std::string::npos) << fonts;
    EXPECT_NE(fonts.find(" yes no  yes ", first + 1), std::string::npos) << fonts;
}

// Core lays text out with its own widths: what is painted must be as wide, within 1 %.
TEST(Print, TextIsAsWideAsMeasured) {
    const std::string boxes = output_of("pdftotext", {"-f", "1", "-l", "1", "-bbox", pdf_of(two_pages()), "-"});
    double from = 1e9, to = -1e9;
    for (std::size_t at = boxes.find("<word "); at != std::string::npos; at = boxes.find("<word ", at + 1)) {
        double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
        ASSERT_EQ(std::sscanf(boxes.c_str() + at, "<word xMin=\"%lf\" yMin=\"%lf\" xMax=\"%lf\" yMax=\"%lf\"", &x0, &y0,
                              &x1, &y1),
                  4);
        from = std::min(from, x0);
        to = std::max(to, x1);
    }
    const double measured = sheet::text_width_mm("K14 E 6 plate 100", 5, false) * 72 / 25.4;
    EXPECT_NEAR(to - from, measured, 0.01 * measured);
    EXPECT_NEAR(from, 30 * 72 / 25.4, 0.5);
}

// 100 mm are 283.465 pt.
TEST(Print, HundredMillimetresAreHundredMillimetres) {
    const std::string path = pdf_of(two_pages());
    const std::string text = output_of("pdftocairo", {"-svg", "-f", "1", "-l", "1", path, "-"});
    // The only stroked path of the page: M x y L x y in points or in the writer's units under a matrix.
    const std::size_t stroke = text.find("stroke-width");
    ASSERT_NE(stroke, std::string::npos);
    const std::size_t path_at = text.find(" d=\"M ", stroke);
    ASSERT_NE(path_at, std::string::npos);
    double x0 = 0, y0 = 0, x1 = 0, y1 = 0, scale = 1;
    ASSERT_EQ(std::sscanf(text.c_str() + path_at, " d=\"M %lf %lf L %lf %lf", &x0, &y0, &x1, &y1), 4);
    const std::size_t matrix = text.find("matrix(", path_at);
    if (matrix != std::string::npos && matrix < text.find("/>", path_at)) scale = std::stod(text.substr(matrix + 7));
    EXPECT_NEAR(std::hypot(x1 - x0, y1 - y0) * std::abs(scale), 100 * 72 / 25.4, 0.05);
}

// What a printer gets: each page on paper of its own size, and nothing scaled to fit.
TEST(Print, APrinterGetsTheSamePages) {
    const std::string path = (std::filesystem::temp_directory_path() / "setwright-printer-test.pdf").string();
    QPrinter printer(QPrinter::HighResolution);
    printer.setOutputFormat(QPrinter::PdfFormat);
    printer.setOutputFileName(QString::fromStdString(path));
    ASSERT_TRUE(app::print_pages(two_pages(), printer).ok());
    const std::string info = output_of("pdfinfo", {"-f", "1", "-l", "2", path});
    EXPECT_NE(info.find("Pages:           2"), std::string::npos) << info;
    EXPECT_NE(info.find("595 x 842"), std::string::npos) << info;
    EXPECT_NE(info.find("842 x 595"), std::string::npos) << info;
    for (const char* page : {"1", "2"})
        EXPECT_EQ(output_of("pdftotext", {"-f", page, "-l", page, path, "-"}),
                  output_of("pdftotext", {"-f", page, "-l", page, pdf_of(two_pages()), "-"}));
    // At 72 dots an inch the 100 mm line is 283 dots long.
    const std::string picture = output_of("pdftoppm", {"-r", "72", "-gray", "-f", "1", "-l", "1", path});
    const QImage image = QImage::fromData(QByteArray::fromStdString(picture), "PGM");
    ASSERT_FALSE(image.isNull());
    const int row = static_cast<int>((297 - 50) * 72 / 25.4);
    int dark = 0;
    for (int x = 0; x < image.width(); ++x)
        dark += std::min({qGray(image.pixel(x, row - 1)), qGray(image.pixel(x, row)), qGray(image.pixel(x, row + 1))}) <
                200;
    EXPECT_NEAR(dark, 100 * 72 / 25.4, 3);
}

TEST(Print, APictureOfAPageHasItsSizeAndItsInk) {
    const QImage image = app::picture(two_pages().front(), 4);
    EXPECT_EQ(image.size(), QSize(840, 1188));
    EXPECT_EQ(qGray(image.pixel(10, 10)), 255);
    // The line at y = 50, up from the lower edge.
    EXPECT_LT(qGray(image.pixel(80 * 4, (297 - 50) * 4)), 128);
}

TEST(Print, AnUnknownEndingIsABadInput) {
    const auto written = app::write_pages(two_pages(), "x.png", "x");
    ASSERT_FALSE(written.ok());
    EXPECT_EQ(written.error().kind, base::ErrorKind::bad_input);
}

TEST(Print, AFolderThatIsNotThereIsRefusedByThePrinter) {
    QPrinter printer(QPrinter::HighResolution);
    printer.setOutputFormat(QPrinter::PdfFormat);
    printer.setOutputFileName("/nowhere/at/all.pdf");
    EXPECT_FALSE(app::print_pages(two_pages(), printer).ok());
}

TEST(Print, FolderInTheWayIsABadInput) {
    const auto written = app::write_pdf(two_pages(), std::filesystem::temp_directory_path().string(), "x");
    ASSERT_FALSE(written.ok());
    EXPECT_EQ(written.error().kind, base::ErrorKind::bad_input);
}

}  // namespace

int main(int argc, char** argv) {
    qputenv("QT_QPA_PLATFORM", "offscreen");
    const QGuiApplication application(argc, argv);
    testing::InitGoogleTest(&argc, argv);
    return RUN_ALL_TESTS();
}
