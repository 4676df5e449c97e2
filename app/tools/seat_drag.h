#pragma once

#include <memory>
#include <optional>
#include <set>

#include "app/tools/tool.h"
#include "core/check/probe.h"
#include "core/setup/neighbour.h"

namespace setwright::app {

/// What a key asks of a seat: turn, other hand, setting, plate, packers, hole by hole.
struct SeatChange {
    /// None where there is none in this direction; `none` then says so.
    std::optional<setup::Seat> seat;
    /// Names the edit in Undo.
    base::Text label;
    base::Text none;
    /// Holes asked for, 0 and 0 for any other change.
    int columns = 0, rows = 0;
};
/// `what` is the name of the thing in the label: "block 7". None where the key is none of these.
std::optional<SeatChange> change_asked(const QKeyEvent& key, const setup::Setup& setup, const setup::Stage& stage,
                                       const shop::Component& component, const setup::Seat& seat, PlacementId self,
                                       const base::Text& what);

/// "block 7", "piece P3", "the table": as a fitter calls what a check names.
base::Text thing(const setup::Setup& setup, const check::Subject& subject);
/// Broken into lines of at most `columns` characters, for notes over the view.
QString in_lines(const QString& text, int columns);

/// One component on its way, with its guests: from where it stands or off the shelf. Shows and tries out every seat
/// that the pointer or a key gives it; the session has its committed job back when this ends.
class SeatDrag {
  public:
    /// Moves a placement of the stage, held where `grabbed` is.
    SeatDrag(Desk& desk, PlacementId placement, const Pointer& grabbed);
    /// A new one; `like` gives its choices (turn, plate, …).
    SeatDrag(Desk& desk, std::shared_ptr<const shop::Component> component, std::optional<setup::Seat> like);
    ~SeatDrag();
    SeatDrag(const SeatDrag&) = delete;
    SeatDrag& operator=(const SeatDrag&) = delete;

    /// True where it came to another seat.
    bool follow(const Pointer& pointer);
    /// True where the key was one of a seat's.
    bool key(const QKeyEvent& key);

    /// None before the pointer was over anything that can carry it.
    const std::optional<setup::Seat>& seat() const { return seat_; }
    const check::Probed& probed() const { return probed_; }
    /// False as long as it is where it was taken up.
    bool moved() const { return seat_ != start_; }
    /// The edit that sets it there, or why it cannot be.
    base::Result<setup::Setup> result() const;

    viewer::Overlay overlay() const;
    bool passes(const viewer::ItemId& item) const;

  private:
    struct Ghost {
        std::shared_ptr<const viewer::Shape> shape;
        space::Pose X_TS;
    };

    const setup::Stage& stage() const { return *knowing_->find_stage(stage_); }
    /// The stage with nothing on it but what carries `host`: holes that others use are shown as taken, not skipped.
    setup::Stage bare_stage(const setup::Host& host) const;
    std::optional<setup::Host> host_under(const Pointer& pointer) const;
    std::optional<setup::Seat> seat_under(const Pointer& pointer) const;
    space::Vec3 point_under(const Pointer& pointer, const setup::Host& host) const;
    bool step(const setup::Seat& seat);
    QString note() const;

    Desk& desk_;
    std::shared_ptr<const setup::Setup> knowing_;
    StageId stage_;
    PlacementId self_;
    std::shared_ptr<const shop::Component> component_;
    check::Probe probe_;
    std::set<PlacementId> moving_;
    base::Text what_;
    std::optional<setup::Seat> start_, like_, seat_;
    check::Probed probed_;
    /// Where it was last seen to stand: a seat that is none has no place of its own.
    std::vector<Ghost> ghosts_;
    space::Vec3 at_T_ = space::Vec3::Zero();
    space::Vec3 top_T_ = space::Vec3::Zero();
    /// From the pointer to the datum hole, on the host where it was grabbed.
    space::Vec3 grip_T_ = space::Vec3::Zero();
    std::optional<space::Vec3> pointer_T_;
    bool tried_ = false;
};

}  // namespace setwright::app
