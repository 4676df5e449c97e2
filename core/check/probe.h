#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/check/clearance.h"

namespace setwright::check {

/// What a component meets in one seat, for a drag: who is nearest, what it touches, why it may not stand there.
struct Probed {
    /// Where it stands; none where the seat is no seat, `why` then says so.
    std::optional<setup::Posed> posed;
    /// Those that stand on it, as they come along.
    std::vector<setup::Posed> guests;
    std::string callout;
    /// Nearest thing to it or its guests that it does not touch on purpose; none beyond limits::clearance_horizon_mm.
    /// One that is nearer than allowed goes before those that are not; where it is blocked by a thing, that one.
    std::optional<Clearance> nearest;
    /// Smallest distance allowed to that thing; 0 to other placements and the table, which it may touch.
    double limit_mm = 0;
    /// Locating faces and pads that meet a piece.
    std::vector<Contact> contacts;
    /// True where it runs into something, or a hole it needs is taken or not there.
    bool blocked = false;
    /// Who and why, where blocked; else what could not be worked out, if anything.
    base::Text why;
};

/// One placement being moved, or a new one being set: everything that does not move is prepared once, each step then
/// answers in well under a frame. Same verdicts as check_clearance(): tests/core/check/probe_test.cpp. Usable from one
/// thread at a time.
class Probe {
  public:
    /// `self`: the placement that moves with its guests; none for a component off the shelf.
    Probe(std::shared_ptr<const setup::Setup> setup, StageId stage, std::shared_ptr<const shop::Component> component,
          PlacementId self = {});
    ~Probe();
    Probe(const Probe&) = delete;
    Probe& operator=(const Probe&) = delete;

    Probed at(const setup::Seat& seat) const;

  private:
    struct Impl;
    std::unique_ptr<const Impl> impl_;
};

}  // namespace setwright::check
