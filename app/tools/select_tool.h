#pragma once

#include <memory>
#include <optional>

#include "app/tools/seat_drag.h"

namespace setwright::app {

/// The tool in hand when no other is: selects, drags blocks from seat to seat, changes the selected block by keys.
class SelectTool : public Tool {
    Q_OBJECT
  public:
    explicit SelectTool(Desk& desk) : Tool(desk) {}

    QString name() const override { return QStringLiteral("select"); }
    QString hint() const override;
    void press(const Pointer& pointer) override;
    void move(const Pointer& pointer) override;
    void release(const Pointer& pointer) override;
    void double_click(const Pointer& pointer) override;
    void leave() override;
    bool key(const QKeyEvent& key) override;
    void reset() override;
    viewer::Overlay overlay() const override;
    bool passes(const viewer::ItemId& item) const override;

    /// Null where nothing is being dragged.
    const SeatDrag* drag() const { return drag_.get(); }

  Q_SIGNALS:
    /// The callout of the selected block is to be typed.
    void wants_callout();

  private:
    std::optional<PlacementId> only_block() const;
    bool change(const QKeyEvent& key, PlacementId block);
    void remove();

    std::optional<Pointer> pressed_;
    std::optional<viewer::ItemId> hovered_;
    std::unique_ptr<SeatDrag> drag_;
};

}  // namespace setwright::app
