#pragma once

#include <QIcon>
#include <QPixmap>
#include <QString>
#include <map>
#include <memory>
#include <string>

#include "core/shop/component.h"

namespace setwright::app {

/// The program's own drawings: resources/icons/NAME.svg, black lines, which take the colour of the text around them.
class Icons {
  public:
    explicit Icons(QColor ink) : ink_(std::make_shared<QColor>(ink)) {}
    /// Icons already given out follow when they are next painted; pictures are to be asked for again.
    void set_ink(QColor ink);

    /// Empty where there is no such drawing.
    QIcon operator()(const QString& name) const;
    /// A component as it stands, from its own body, seen from the south-east above: `pixels` wide and high on the
    /// screen, what moves in another tone.
    QPixmap picture(const shop::Component& component, int pixels, qreal device_pixel_ratio) const;

  private:
    std::shared_ptr<QColor> ink_;
    /// By component, its size in device pixels last.
    mutable std::map<std::string, QPixmap> pictures_;
};

}  // namespace setwright::app
