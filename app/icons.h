#pragma once

#include <QIcon>
#include <QPixmap>
#include <QString>

#include "core/shop/component.h"

namespace setwright::app {

/// The program's own drawings: resources/icons/NAME.svg, black lines, which take the colour of the text around them.
class Icons {
  public:
    explicit Icons(QColor ink) : ink_(ink) {}
    void set_ink(QColor ink) { ink_ = ink; }

    QIcon operator()(const QString& name) const;
    /// A component as it stands, from its own body, seen from the south-east above.
    QPixmap picture(const shop::Component& component, int pixels, qreal device_pixel_ratio) const;

  private:
    QColor ink_;
};

}  // namespace setwright::app
