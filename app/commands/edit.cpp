#include "core/setup/edit.h"

#include <charconv>
#include <map>
#include <sstream>

#include "app/commands/job.h"
#include "core/base/file.h"
#include "core/setup/place.h"

namespace setwright::app {

namespace {

std::vector<std::string> split(const std::string& text, char at) {
    std::vector<std::string> parts;
    std::stringstream stream(text);
    for (std::string part; std::getline(stream, part, at);)
        if (!part.empty()) parts.push_back(part);
    return parts;
}

base::Result<space::Vec3> parse_point(const std::string& text, base::LengthUnit unit) {
    const std::vector<std::string> parts = split(text, ',');
    space::Vec3 point = space::Vec3::Zero();
    bool good = parts.size() == 3;
    for (std::size_t i = 0; good && i < 3; ++i) {
        const std::optional<double> length = base::parse_length(parts[i], unit);
        good = length.has_value();
        if (good) point[static_cast<Eigen::Index>(i)] = *length;
    }
    if (!good) return base::bad_input({"cli.bad_point", {{"text", text}}});
    return point;
}

std::optional<int> parse_number(const std::string& text) {
    int number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return number;
}

/// The job with every packer of the catalogue: a callout may name any of them, and place() and move() keep those that
/// the seat takes.
base::Result<setup::Setup> knowing_packers(const setup::Setup& setup) {
    const base::Result<shop::Catalogue> catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    if (!catalogue) return catalogue.error();
    return setup::with_packers(setup, *catalogue);
}

/// The definition that the job already holds, else the catalogue's.
base::Result<std::shared_ptr<const shop::Component>> find_component(const setup::Setup& setup, const std::string& id) {
    if (const auto known = setup.components.find(id); known != setup.components.end()) return known->second;
    const base::Result<shop::Catalogue> catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    if (!catalogue) return catalogue.error();
    if (auto component = catalogue->share(id)) return component;
    return base::bad_input({"cli.no_component", {{"component", id}}});
}

base::Text placed_text(const char* id, const setup::Setup& setup, setup::StageId stage, setup::PlacementId placement) {
    const setup::Stage& in = *setup.find_stage(stage);
    const setup::Placement& placed = *in.find(placement);
    return {id,
            {{"number", std::int64_t{placed.no}},
             {"component", placed.component},
             {"callout", setup::callout(setup, in, placed)}}};
}

base::Result<Edited> move_block(const setup::Setup& setup, setup::StageId stage, int number,
                                const std::string& callout) {
    const base::Result<setup::PlacementId> id = placement_id(setup, stage, number);
    if (!id) return id.error();
    const base::Result<setup::Setup> knowing = knowing_packers(setup);
    if (!knowing) return knowing.error();
    const shop::Component& component = *setup.find_component(setup.find_stage(stage)->find(*id)->component);
    const base::Result<setup::Seat> seat =
        setup::parse_callout(*knowing, *knowing->find_stage(stage), component, callout);
    if (!seat) return seat.error();
    base::Result<setup::Setup> moved = setup::move(*knowing, stage, *id, *seat);
    if (!moved) return moved.error();
    const base::Text done = placed_text("cli.moved", *moved, stage, *id);
    return Edited{std::move(*moved), done};
}

base::Result<Edited> hold_piece(const setup::Setup& setup, setup::StageId stage, const std::string& piece,
                                const std::string& value) {
    static const std::map<std::string, setup::HeldBy> ways{
        {"set-up", setup::HeldBy::set_up}, {"nested", setup::HeldBy::nested}, {"by-hand", setup::HeldBy::by_hand}};
    const base::Result<setup::PieceId> id = piece_id(setup, piece);
    if (!id) return id.error();
    const auto way = ways.find(value);
    if (way == ways.end()) return base::bad_input({"cli.bad_held_by", {{"value", value}}});
    base::Result<setup::Setup> held = setup::hold(setup, stage, *id, way->second);
    if (!held) return held.error();
    return Edited{std::move(*held), {"cli.held", {{"piece", piece}, {"way", value}}}};
}

/// "P1 3 P2": pieces by name, blocks by number, in the order in which they go on the table.
base::Result<Edited> order_steps(const setup::Setup& setup, setup::StageId stage, const std::string& value) {
    std::vector<setup::Step> steps;
    for (const std::string& name : split(value, ' ')) {
        setup::Step step;
        const std::optional<int> number = parse_number(name);
        if (number) {
            const base::Result<setup::PlacementId> block = placement_id(setup, stage, *number);
            if (!block) return block.error();
            step.kind = setup::StepKind::set;
            step.placements = {*block};
        } else {
            const base::Result<setup::PieceId> piece = piece_id(setup, name);
            if (!piece) return piece.error();
            step.kind = setup::StepKind::load;
            step.pieces = {*piece};
        }
        steps.push_back(std::move(step));
    }
    base::Result<setup::Setup> ordered = setup::set_order(setup, stage, std::move(steps));
    if (!ordered) return ordered.error();
    return Edited{std::move(*ordered), {"cli.ordered", {{"order", value}}}};
}

/// Plain text fields of the job by their name on the command line.
std::string* text_field(setup::Setup& setup, setup::StageId stage, const std::string& name) {
    if (name == "job") return &setup.title.job;
    if (name == "part") return &setup.title.part;
    if (name == "customer") return &setup.title.customer;
    if (name == "planner") return &setup.title.planner;
    if (name == "date") return &setup.title.date;
    if (name == "revision") return &setup.title.revision;
    if (name == "hand") return &setup.title.hand;
    if (name == "notes") return &setup.notes;
    if (name == "stage") return &setup.find_stage(stage)->name;
    return nullptr;
}

base::Result<Edited> set_units(const setup::Setup& setup, const std::string& value) {
    if (value != "mm" && value != "in") return base::bad_input({"cli.bad_units", {{"value", value}}});
    setup::Setup next = setup;
    next.display.unit.unit = value == "in" ? base::LengthUnit::inch : base::LengthUnit::mm;
    return Edited{std::move(next), {"cli.field_set", {{"what", std::string("units")}, {"value", value}}}};
}

}  // namespace

int lay(const Console& console, const LayOptions& options) {
    return edit_job(
        console, options.job, options.stage,
        [&](const setup::Setup& setup, setup::StageId stage) -> base::Result<Edited> {
            const base::Result<space::Vec3> corner = parse_point(options.at, setup.display.unit.unit);
            if (!corner) return corner.error();
            base::Result<setup::Setup> laid = setup::lay(setup, stage, options.down, options.turn_deg, *corner);
            if (!laid) return laid.error();
            return Edited{std::move(*laid), {"cli.laid", {{"side", options.down}, {"turn", options.turn_deg}}}};
        });
}

int place(const Console& console, const PlaceOptions& options) {
    return edit_job(console, options.job, options.stage,
                    [&](const setup::Setup& setup, setup::StageId stage) -> base::Result<Edited> {
                        const auto component = find_component(setup, options.component);
                        if (!component) return component.error();
                        const base::Result<setup::Setup> knowing = knowing_packers(setup);
                        if (!knowing) return knowing.error();
                        const base::Result<setup::Seat> seat =
                            setup::parse_callout(*knowing, *knowing->find_stage(stage), **component, options.callout);
                        if (!seat) return seat.error();
                        base::Result<setup::Placed> placed = setup::place(*knowing, stage, *component, *seat);
                        if (!placed) return placed.error();
                        const base::Text done = placed_text("cli.placed", placed->setup, stage, placed->id);
                        return Edited{std::move(placed->setup), done};
                    });
}

int remove(const Console& console, const RemoveOptions& options) {
    return edit_job(console, options.job, options.stage,
                    [&](const setup::Setup& setup, setup::StageId stage) -> base::Result<Edited> {
                        const base::Result<setup::PlacementId> id = placement_id(setup, stage, options.number);
                        if (!id) return id.error();
                        base::Result<setup::Setup> removed = setup::remove(setup, stage, *id, options.with_guests);
                        if (!removed) return removed.error();
                        return Edited{std::move(*removed), {"cli.removed", {{"number", std::int64_t{options.number}}}}};
                    });
}

int set(const Console& console, const SetOptions& options) {
    return edit_job(
        console, options.job, options.stage,
        [&](const setup::Setup& setup, setup::StageId stage) -> base::Result<Edited> {
            if (const std::optional<int> number = parse_number(options.what))
                return move_block(setup, stage, *number, options.value);
            if (options.what == "order") return order_steps(setup, stage, options.value);
            if (options.what == "units") return set_units(setup, options.value);
            if (options.what.starts_with("held:"))
                return hold_piece(setup, stage, options.what.substr(5), options.value);
            setup::Setup next = setup;
            std::string* field = text_field(next, stage, options.what);
            if (!field) return base::bad_input({"cli.no_field", {{"what", options.what}}});
            *field = options.value;
            return Edited{std::move(next), {"cli.field_set", {{"what", options.what}, {"value", options.value}}}};
        });
}

}  // namespace setwright::app
