#include "core/sheet/drawing.h"

#include <ft2build.h>
#include FT_FREETYPE_H

#include <map>
#include <memory>
#include <mutex>

#include "core/base/bug.h"
#include "core/base/file.h"

namespace setwright::sheet {

namespace {

/// Advance widths of one bundled face in font units, measured once.
class Font {
  public:
    explicit Font(bool bold) {
        const std::string path = font_path(bold);
        SETWRIGHT_ASSERT(FT_Init_FreeType(&library_) == 0, "FreeType starts");
        SETWRIGHT_ASSERT(FT_New_Face(library_, path.c_str(), 0, &face_) == 0,
                         "the bundled font is installed with the program");
        // The font's own table leaves the capital height open: an H is one capital high.
        SETWRIGHT_ASSERT(FT_Load_Char(face_, 'H', FT_LOAD_NO_SCALE) == 0 && face_->glyph->metrics.horiBearingY > 0,
                         "the bundled font has an H");
        capital_ = static_cast<double>(face_->glyph->metrics.horiBearingY);
    }
    Font(const Font&) = delete;
    Font& operator=(const Font&) = delete;
    ~Font() {
        FT_Done_Face(face_);
        FT_Done_FreeType(library_);
    }

    /// In capital heights.
    double advance(char32_t character) {
        const std::lock_guard lock(mutex_);
        const auto found = advances_.find(character);
        if (found != advances_.end()) return found->second;
        double width = 0;
        if (FT_Load_Char(face_, character, FT_LOAD_NO_SCALE) == 0)
            width = static_cast<double>(face_->glyph->metrics.horiAdvance) / capital_;
        advances_.emplace(character, width);
        return width;
    }
    double em() const { return static_cast<double>(face_->units_per_EM) / capital_; }

  private:
    FT_Library library_ = nullptr;
    FT_Face face_ = nullptr;
    double capital_ = 1;
    std::mutex mutex_;
    std::map<char32_t, double> advances_;
};

Font& font(bool bold) {
    static Font plain_font(false);
    static Font bold_font(true);
    return bold ? bold_font : plain_font;
}

/// Next character of UTF-8; a damaged byte counts as one character.
char32_t next(const std::string& text, std::size_t& at) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    const unsigned char lead = byte(at++);
    const int more = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : 0;
    if (more == 0) return lead;
    char32_t character = lead & (0x3Fu >> more);
    for (int i = 0; i < more && at < text.size() && (byte(at) & 0xC0u) == 0x80u; ++i)
        character = (character << 6) | (byte(at++) & 0x3Fu);
    return character;
}

}  // namespace

std::string font_path(bool bold) {
    return base::resource_dir() + (bold ? "/font/DejaVuSansCondensed-Bold.ttf" : "/font/DejaVuSansCondensed.ttf");
}

double em_per_capital(bool bold) {
    return font(bold).em();
}

double pen_width_mm(Pen pen) {
    switch (pen) {
        case Pen::outline:
            return 0.5;
        case Pen::thin:
        case Pen::hidden:
        case Pen::centre:
        case Pen::ghost:
        case Pen::balloon:
            return 0.25;
        case Pen::hole:
            return 0.13;
        case Pen::frame:
            return 0.7;
        case Pen::none:
            return 0;
    }
    return 0.25;
}

std::vector<double> pen_dashes_mm(Pen pen) {
    switch (pen) {
        case Pen::hidden:
            return {3, 0.75};
        case Pen::centre:
            return {6, 0.75, 0.13, 0.75};
        case Pen::outline:
        case Pen::thin:
        case Pen::ghost:
        case Pen::balloon:
        case Pen::hole:
        case Pen::frame:
        case Pen::none:
            return {};
    }
    return {};
}

double pen_grey(Pen pen) {
    switch (pen) {
        case Pen::ghost:
            return 0.55;
        case Pen::hole:
            return 0.7;
        case Pen::outline:
        case Pen::thin:
        case Pen::hidden:
        case Pen::centre:
        case Pen::balloon:
        case Pen::frame:
        case Pen::none:
            return 1;
    }
    return 1;
}

double text_width_mm(const std::string& utf8, double height_mm, bool bold) {
    double width = 0;
    for (std::size_t at = 0; at < utf8.size();) width += font(bold).advance(next(utf8, at));
    return width * height_mm;
}

std::vector<std::string> wrap(const std::string& utf8, double height_mm, bool bold, double width_mm) {
    std::vector<std::string> lines;
    std::string line;
    std::size_t at = 0;
    while (at < utf8.size()) {
        const std::size_t space = std::min(utf8.find(' ', at), utf8.size());
        const std::string word = utf8.substr(at, space - at);
        at = space + 1;
        if (word.empty()) continue;
        const std::string longer = line.empty() ? word : line + ' ' + word;
        if (!line.empty() && text_width_mm(longer, height_mm, bold) > width_mm) {
            lines.push_back(line);
            line = word;
        } else {
            line = longer;
        }
    }
    if (!line.empty()) lines.push_back(line);
    return lines;
}

}  // namespace setwright::sheet
