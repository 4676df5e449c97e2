#pragma once

#include <memory>
#include <optional>

#include "app/tools/seat_drag.h"

namespace setwright::app {

/// A component off the shelf: it hangs under the pointer, a click sets it and the next one is in hand.
class PlaceTool : public Tool {
    Q_OBJECT
  public:
    /// `like` gives the choices it starts with (turn, hand, plate, mark, packers): a duplicate.
    PlaceTool(Desk& desk, std::shared_ptr<const shop::Component> component, std::optional<setup::Seat> like = {});

    QString name() const override { return QStringLiteral("place"); }
    QString hint() const override;
    void press(const Pointer& pointer) override;
    void move(const Pointer& pointer) override;
    void release(const Pointer& pointer) override;
    void leave() override;
    bool key(const QKeyEvent& key) override;
    void reset() override;
    viewer::Overlay overlay() const override;

    /// Let go after a drag from the shelf: sets it where it is, and has done its work.
    void drop(const Pointer& pointer);
    const std::shared_ptr<const shop::Component>& component() const { return component_; }
    const SeatDrag* drag() const { return drag_.get(); }

  private:
    bool set(const Pointer& pointer);
    /// How many more of it than the shelf has would be used with one more.
    int short_with_one_more() const;

    std::shared_ptr<const shop::Component> component_;
    std::optional<setup::Seat> like_;
    std::unique_ptr<SeatDrag> drag_;
    /// Where the last one was set: the next one shows when the pointer goes on from there.
    std::optional<QPointF> set_at_;
    bool pressed_ = false;
};

}  // namespace setwright::app
