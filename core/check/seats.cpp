#include <algorithm>

#include "core/check/report.h"
#include "core/setup/seating.h"

namespace setwright::check {

using setup::Host;

namespace {

/// Loose clamps, bars and magnets may go where there are no holes: they hold, or they lie against set faces.
bool may_sit_without_hole(const shop::Component& component) {
    switch (component.family) {
        case shop::Family::magnet:
        case shop::Family::long_bar:
        case shop::Family::down_clamp:
        case shop::Family::side_clamp:
        case shop::Family::swing_clamp:
        case shop::Family::bar_clamp:
        case shop::Family::c_clamp:
        case shop::Family::packer:
        case shop::Family::spacer:
        case shop::Family::comb:
            return true;
        case shop::Family::stop:
        case shop::Family::index_stop:
        case shop::Family::slotted_stop:
        case shop::Family::round_stop:
        case shop::Family::pull_back_stop:
        case shop::Family::rest:
        case shop::Family::v_block:
        case shop::Family::angle_plate:
        case shop::Family::wedge:
        case shop::Family::pin_carrier:
        case shop::Family::pin:
        case shop::Family::pusher:
        case shop::Family::clamping_bolt:
        case shop::Family::dowel:
            return false;
    }
    return false;
}

bool needs_tape(const setup::Setup& setup, const setup::Placement& placement) {
    const shop::Component* component = setup.find_component(placement.component);
    if (component == nullptr || placement.seat.host.kind == Host::Kind::placement) return false;
    // On the bare table nothing but a tape says where a loose part lies; against set faces it finds its place.
    const bool on_table = placement.seat.host.kind == Host::Kind::table;
    if (on_table ? setup::needs_hole(*component) : may_sit_without_hole(*component)) return false;
    const auto shape = shop::shape_of(*component, placement.seat.plate, placement.seat.hand, placement.seat.setting);
    return std::any_of(shape.faces.begin(), shape.faces.end(), [](const shop::LocatingFace& f) { return f.locates; });
}

}  // namespace

std::vector<Finding> check_seats(const setup::Setup& setup, const setup::Stage& stage) {
    std::vector<Finding> findings;
    const auto add = [&](const char* rule, Verdict verdict, base::Text text) -> Finding& {
        return add_finding(findings, stage.id, rule, verdict, std::move(text));
    };
    for (const setup::Placement& placement : stage.placements) {
        const auto block = std::vector<base::Text>{{"name.block", {{"no", std::int64_t{placement.no}}}}};
        if (const auto seat = setup::check_seat(setup, stage, placement); !seat) {
            const bool taken = seat.error().text.id == "seat.hole_taken";
            Finding& finding =
                add(taken ? "seat.hole_taken" : "seat.invalid", Verdict::fail,
                    {"seat.block_is_wrong", {{"block", block}, {"why", std::vector{seat.error().text}}}});
            finding.subjects = {placement.id};
            if (taken) finding.subjects.emplace_back(placement.seat.hole);
            if (const auto posed = setup::pose(setup, stage, placement)) finding.at_T = posed->X_TC.position();
        }
        if (needs_tape(setup, placement)) {
            add("seat.tape", Verdict::fail, {"seat.tape", {{"block", block}}}).subjects = {placement.id};
        }
    }
    if (findings.empty()) {
        Finding& finding = add("seat.valid", Verdict::pass,
                               {"seat.all_good", {{"n", static_cast<std::int64_t>(stage.placements.size())}}});
        finding.measured = static_cast<double>(stage.placements.size());
    }
    return findings;
}

}  // namespace setwright::check
