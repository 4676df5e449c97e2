#include <fcl/geometry/bvh/BVH_model.h>
#include <fcl/narrowphase/distance.h>

#include "core/check/probe.h"
#include "tests/bench/figure.h"
#include "tests/bench/full_table.h"

/// One step of a drag on a full table: check::Probe against all distances by FCL and by the CAD kernel.
namespace setwright::bench {
namespace {

using Model = fcl::BVHModel<fcl::OBBRSSd>;

std::shared_ptr<Model> model_of(const space::Mesh& mesh) {
    auto model = std::make_shared<Model>();
    std::vector<fcl::Triangle> triangles;
    for (const auto& t : mesh.triangles) triangles.emplace_back(t[0], t[1], t[2]);
    const std::vector<fcl::Vector3d> points(mesh.points.begin(), mesh.points.end());
    model->beginModel(static_cast<int>(triangles.size()), static_cast<int>(points.size()));
    model->addSubModel(points, triangles);
    model->endModel();
    return model;
}

/// A body as FCL and as the kernel know it, where it stands.
struct Body {
    std::shared_ptr<Model> model;
    space::Brep brep;
    space::Pose X_T;
};

std::vector<Body> bodies_of(const setup::Posed& posed) {
    std::vector<Body> out;
    for (const auto* parts : {&posed.fixed, &posed.moving})
        if (!parts->empty()) out.push_back({model_of(shop::mesh_of(*parts)), shop::brep_of(*parts), posed.X_TC});
    return out;
}

fcl::Transform3d fcl_pose(const space::Pose& X) {
    fcl::Transform3d out = fcl::Transform3d::Identity();
    out.linear() = X.rotation();
    out.translation() = X.position();
    return out;
}

struct Drag {
    double mean_ms = 0, slowest_ms = 0;
    int blocked = 0;
    /// Where it stood and its guests with it, step by step.
    std::vector<std::vector<setup::Posed>> stood;
};

Drag drag(const check::Probe& probe, const std::vector<setup::Seat>& path) {
    Drag out;
    for (const setup::Seat& seat : path) {
        const double start = thread_seconds();
        check::Probed probed = probe.at(seat);
        const double ms = (thread_seconds() - start) * 1e3;
        out.mean_ms += ms / static_cast<double>(path.size());
        out.slowest_ms = std::max(out.slowest_ms, ms);
        out.blocked += probed.blocked;
        if (!probed.posed) continue;
        out.stood.push_back({*probed.posed});
        out.stood.back().insert(out.stood.back().end(), probed.guests.begin(), probed.guests.end());
    }
    return out;
}

struct Mover {
    const char* name;
    setup::PlacementId id;
    std::array<int, 2> turn;
};

void measure(const FullTable& table, const Mover& mover, bool quick) {
    const auto setup = std::make_shared<const setup::Setup>(table.setup);
    const setup::Placement& placement = *table.stage().find(mover.id);
    const std::string name = std::string("drag_") + mover.name;
    const check::Probe probe(setup, table.stage().id, setup->components.at(placement.component), mover.id);
    std::vector<setup::Seat> path = path_of(placement.seat, mover.turn);
    if (quick) path.resize(10);
    const Drag drag = bench::drag(probe, path);
    say_at_most(
        name, drag.mean_ms, "ms", 2,
        "mean of " + std::to_string(path.size()) + " seats, " + std::to_string(drag.blocked) + " of them blocked");
    say_at_most(name + "_slowest", drag.slowest_ms, "ms", 2, "the slowest of these seats");

    // Everything that does not come along.
    std::vector<Body> still;
    for (const weldment::Piece& piece : setup->weldments[0].model->pieces)
        still.push_back({model_of(piece.solid->mesh), piece.brep, piece.X_MP});
    std::vector<setup::PlacementId> group;
    for (const setup::Posed& posed : drag.stood.front()) group.push_back(posed.id);
    for (const setup::Placement& other : table.stage().placements) {
        if (std::find(group.begin(), group.end(), other.id) != group.end()) continue;
        for (Body& body : bodies_of(*setup::pose(*setup, table.stage(), other))) still.push_back(std::move(body));
    }
    std::vector<std::vector<Body>> moved;
    for (const setup::Posed& posed : drag.stood.front()) moved.push_back(bodies_of(posed));

    long pairs = 0;
    const double start = thread_seconds();
    for (const auto& stood : drag.stood) {
        for (std::size_t i = 0; i < stood.size(); ++i) {
            for (const Body& body : moved[i]) {
                for (const Body& other : still) {
                    fcl::DistanceResultd result;
                    fcl::distance(body.model.get(), fcl_pose(stood[i].X_TC), other.model.get(), fcl_pose(other.X_T),
                                  fcl::DistanceRequestd(true), result);
                    ++pairs;
                }
            }
        }
    }
    const double fcl_ms = (thread_seconds() - start) * 1e3 / static_cast<double>(drag.stood.size());
    const double pairs_a_step = static_cast<double>(pairs) / static_cast<double>(drag.stood.size());
    const auto whole = [](double value) { return std::to_string(std::lround(value)); };
    say_at_least(name + "_vs_fcl", fcl_ms / drag.mean_ms, "times", 20,
                 "FCL distance without a bound, the same " + whole(pairs_a_step) + " pairs of bodies a step, " +
                     nlohmann::json(bench::rounded(fcl_ms)).dump() + " ms");

    // The kernel is too slow for all of them: a sample spread over steps and bodies, scaled by the number of pairs.
    const int sample = quick ? 2 : 40;
    const double exact_start = thread_seconds();
    for (int k = 0; k < sample; ++k) {
        const auto& stood =
            drag.stood[static_cast<std::size_t>(k) * drag.stood.size() / static_cast<std::size_t>(sample)];
        const std::size_t i = static_cast<std::size_t>(k) % stood.size();
        const Body& body = moved[i][static_cast<std::size_t>(k) % moved[i].size()];
        const Body& other = still[static_cast<std::size_t>(k * 7) % still.size()];
        const auto exact = space::exact_distance(body.brep, stood[i].X_TC, other.brep, other.X_T);
        SETWRIGHT_ASSERT(exact.ok(), "the kernel measures what it made");
    }
    const double exact_ms = (thread_seconds() - exact_start) * 1e3 / sample;
    say_at_least(name + "_vs_exact", exact_ms * pairs_a_step / drag.mean_ms, "times", 200,
                 "the CAD kernel's exact distance, " + whole(exact_ms) + " ms a pair over " + std::to_string(sample) +
                     " of these pairs, times " + whole(pairs_a_step) + " pairs a step");
}

/// What a drag costs before its first step; no drag may stop the window for a tenth of a second.
void measure_start(const FullTable& table) {
    const auto setup = std::make_shared<const setup::Setup>(table.setup);
    for (const char* name : {"drag_start_first", "drag_start"}) {
        const double start = thread_seconds();
        const check::Probe probe(setup, table.stage().id, table.catalogue.share("m50-index-stop"));
        say_at_most(name, (thread_seconds() - start) * 1e3, "ms", 100,
                    name == std::string("drag_start") ? "the pieces known from a check or a drag before"
                                                      : "a job just opened, before its first check is done");
    }
}

}  // namespace
}  // namespace setwright::bench

int main(int argc, char** argv) {
    using namespace setwright::bench;
    const bool quick = is_quick(argc, argv);
    const FullTable table = full_table(SETWRIGHT_RESOURCES_DIR);
    measure_start(table);
    measure(table, {"step", table.stop, {1, 0}}, quick);
    measure(table, {"clamp", table.clamp, {0, -1}}, quick);
    measure(table, {"guests", table.carrier, {1, 0}}, quick);
    return 0;
}
