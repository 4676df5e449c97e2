#include "app/theme.h"

#include <QStyleFactory>

namespace setwright::app {

namespace {

QPalette light_palette() {
    QPalette p;
    const QColor ink(0x1d, 0x23, 0x28), paper(0xff, 0xff, 0xff), panel(0xf1, 0xee, 0xe8), grey(0x6b, 0x70, 0x74);
    p.setColor(QPalette::Window, panel);
    p.setColor(QPalette::WindowText, ink);
    p.setColor(QPalette::Base, paper);
    p.setColor(QPalette::AlternateBase, QColor(0xf7, 0xf5, 0xf1));
    p.setColor(QPalette::Text, ink);
    p.setColor(QPalette::PlaceholderText, grey);
    p.setColor(QPalette::Button, QColor(0xe6, 0xe2, 0xda));
    p.setColor(QPalette::ButtonText, ink);
    p.setColor(QPalette::BrightText, paper);
    p.setColor(QPalette::ToolTipBase, QColor(0xff, 0xfb, 0xe8));
    p.setColor(QPalette::ToolTipText, ink);
    p.setColor(QPalette::Highlight, QColor(0x00, 0x72, 0xb2));
    p.setColor(QPalette::HighlightedText, paper);
    p.setColor(QPalette::Link, QColor(0x00, 0x5a, 0x8e));
    p.setColor(QPalette::Mid, QColor(0xc4, 0xbf, 0xb6));
    for (const QPalette::ColorRole role : {QPalette::WindowText, QPalette::Text, QPalette::ButtonText})
        p.setColor(QPalette::Disabled, role, QColor(0x8c, 0x90, 0x92));
    return p;
}

QPalette dark_palette() {
    QPalette p;
    const QColor ink(0xe6, 0xe4, 0xdf), panel(0x26, 0x2b, 0x2f), base(0x1c, 0x20, 0x23), grey(0x96, 0x9b, 0x9f);
    p.setColor(QPalette::Window, panel);
    p.setColor(QPalette::WindowText, ink);
    p.setColor(QPalette::Base, base);
    p.setColor(QPalette::AlternateBase, QColor(0x21, 0x26, 0x2a));
    p.setColor(QPalette::Text, ink);
    p.setColor(QPalette::PlaceholderText, grey);
    p.setColor(QPalette::Button, QColor(0x36, 0x3c, 0x41));
    p.setColor(QPalette::ButtonText, ink);
    p.setColor(QPalette::BrightText, QColor(0xff, 0xff, 0xff));
    p.setColor(QPalette::ToolTipBase, QColor(0x3a, 0x40, 0x45));
    p.setColor(QPalette::ToolTipText, ink);
    p.setColor(QPalette::Highlight, QColor(0x2b, 0x7d, 0xb5));
    p.setColor(QPalette::HighlightedText, QColor(0xff, 0xff, 0xff));
    p.setColor(QPalette::Link, QColor(0x7c, 0xc4, 0xee));
    p.setColor(QPalette::Light, QColor(0x4a, 0x51, 0x57));
    p.setColor(QPalette::Midlight, QColor(0x40, 0x47, 0x4c));
    p.setColor(QPalette::Mid, QColor(0x4e, 0x55, 0x5a));
    p.setColor(QPalette::Dark, QColor(0x16, 0x19, 0x1b));
    p.setColor(QPalette::Shadow, QColor(0x0e, 0x10, 0x11));
    for (const QPalette::ColorRole role : {QPalette::WindowText, QPalette::Text, QPalette::ButtonText})
        p.setColor(QPalette::Disabled, role, QColor(0x7a, 0x80, 0x84));
    return p;
}

}  // namespace

Theme system_theme() {
    return QApplication::palette().color(QPalette::Window).lightness() < 128 ? Theme::dark : Theme::light;
}

void use(QApplication& application, Theme theme) {
    application.setStyle(QStyleFactory::create("Fusion"));
    application.setPalette(theme == Theme::dark ? dark_palette() : light_palette());
}

const viewer::Palette& view_palette(Theme theme) {
    static const viewer::Palette light = viewer::Palette::light(), dark = viewer::Palette::dark();
    return theme == Theme::dark ? dark : light;
}

QColor colour_of(Theme theme, check::Verdict verdict) {
    const viewer::Palette& palette = view_palette(theme);
    switch (verdict) {
        case check::Verdict::pass:
            return palette.good;
        case check::Verdict::warn:
            return palette.warn;
        case check::Verdict::fail:
            return palette.bad;
        case check::Verdict::not_run:
        case check::Verdict::cancelled:
            return palette.plain;
    }
    return palette.plain;
}

QString icon_of(check::Verdict verdict) {
    switch (verdict) {
        case check::Verdict::pass:
            return "pass";
        case check::Verdict::warn:
            return "warn";
        case check::Verdict::fail:
            return "fail";
        case check::Verdict::not_run:
            return "not-run";
        case check::Verdict::cancelled:
            return "cancelled";
    }
    return {};
}

}  // namespace setwright::app
