#pragma once

#include <QImage>
#include <string>
#include <vector>

#include "core/base/result.h"
#include "core/setup/setup.h"
#include "core/sheet/drawing.h"

class QPainter;
class QPrinter;

namespace setwright::app {

/// Reads the bundled font. To be called on the GUI thread before another thread paints.
void load_page_fonts();

/// Paints a page with its upper left corner at the painter's origin, one unit a millimetre, y down: screen, printer and
/// PDF alike. Needs a QGuiApplication (the offscreen platform is enough). Usable on any thread.
void paint(QPainter& painter, const sheet::Page& page);
/// White paper with the page on it.
QImage picture(const sheet::Page& page, double pixels_per_mm);

/// How the document is called: the job's name, else the model's file.
std::string document_title(const setup::Setup& setup);

/// Writes the pages as one PDF in true size, font embedded, whole or not at all. Page boxes are rounded to whole points
/// (at most 0.18 mm); the drawing's scale is not.
base::Result<void> write_pdf(const std::vector<sheet::Page>& pages, const std::string& path, const std::string& title);

/// The files of NAME.svg, one a page: NAME-01.svg and so on.
std::vector<std::string> page_files(const std::string& path, std::size_t pages);

/// Writes the pages as `path` says by its ending: .pdf one file, .svg page_files(). SVG needs
/// no QGuiApplication. Gives the files written.
base::Result<std::vector<std::string>> write_pages(const std::vector<sheet::Page>& pages, const std::string& path,
                                                   const std::string& title);

/// In true size, each page on paper of its own size; the printer's margins stay white.
base::Result<void> print_pages(const std::vector<sheet::Page>& pages, QPrinter& printer);

}  // namespace setwright::app
