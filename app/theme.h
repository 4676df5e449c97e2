#pragma once

#include <QApplication>

#include "core/check/finding.h"
#include "viewer/view.h"

namespace setwright::app {

/// Light and dark. Colours are after Okabe and Ito's set for colour-blind eyes (Color Universal Design, 2008); each
/// verdict has a sign of its own as well.
enum class Theme { light, dark };

/// The system's choice, by its palette.
Theme system_theme();
void use(QApplication& application, Theme theme);
const viewer::Palette& view_palette(Theme theme);
QColor colour_of(Theme theme, check::Verdict verdict);
/// Icon of a verdict: "pass", "warn", "fail", "not-run", "cancelled".
QString icon_of(check::Verdict verdict);

}  // namespace setwright::app
