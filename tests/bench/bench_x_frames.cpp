#include <QApplication>
#include <QTest>
#include <algorithm>
#include <cstdio>
#include <ctime>
#include <vector>

#include "core/setup/job_file.h"
#include "tests/bench/figure.h"
#include "viewer/plan_view.h"
#include "viewer/solid_view.h"

/// How long a frame of either view takes. Medians of the processor time of all threads: software OpenGL draws on as
/// many as there are, so that the clock on the wall shows no more than this where nothing else runs.

namespace {

using namespace setwright;
using space::Pose;
using space::Vec3;

double processor_ms() {
    timespec now{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) * 1e3 + static_cast<double>(now.tv_nsec) * 1e-6;
}

template <class Change>
double median_ms(viewer::View& view, int frames, const Change& change) {
    std::vector<double> ms;
    for (int i = 0; i < frames; ++i) {
        const double start = processor_ms();
        change(i);
        view.repaint();
        ms.push_back(processor_ms() - start);
        QApplication::processEvents();
    }
    std::nth_element(ms.begin(), ms.begin() + static_cast<std::ptrdiff_t>(ms.size() / 2), ms.end());
    return ms[ms.size() / 2];
}

void open(viewer::View& view, const viewer::Scene& scene) {
    view.resize(1114, 800);
    view.set_palette(viewer::Palette::light());
    view.show_scene(scene);
    view.show();
    (void)QTest::qWaitForWindowExposed(&view);
    QTest::qWait(100);
}

/// What a drag shows: the ghost on its way, the clearance, a contact, the callout.
viewer::Overlay dragged(const viewer::Scene& scene, int step) {
    viewer::Overlay overlay;
    for (const auto& [id, item] : scene.items) {
        if (!std::holds_alternative<setup::PlacementId>(id)) continue;
        const Pose X_TS = Pose::move(5.0 * (step % 40), 0, 0) * item.X_TS;
        const Vec3 at = item.shape->box.moved(X_TS).centre();
        overlay.hidden.insert(id);
        overlay.selected.insert(id);
        overlay.ghosts.push_back({item.shape, X_TS, viewer::Tone::good});
        overlay.measures.push_back({at, at + Vec3(0, 80, 0), std::to_string(step % 40) + ".0 mm", viewer::Tone::plain});
        overlay.touches.push_back({at, Vec3::UnitX(), {}, viewer::Tone::good});
        overlay.notes.push_back({at, "K" + std::to_string(step % 40 + 1) + " E 6 · plate 100", viewer::Tone::plain});
        break;
    }
    return overlay;
}

template <class Kind>
void measure(const std::string& name, const viewer::Scene& scene, int frames, double full_most, double drag_most) {
    std::string against = "empty frame ";
    {
        Kind empty;
        open(empty, {});
        char ms[16];
        std::snprintf(ms, sizeof ms, "%.1f ms", median_ms(empty, frames, [](int) {}));
        against = (name == "solid" ? "llvmpipe, " : "raster, ") + against + ms;
    }
    Kind view;
    open(view, scene);
    const QPointF middle(557, 400);
    const double full = median_ms(view, frames, [&](int i) { view.zoom(i % 2 ? 1.02 : 1 / 1.02, middle); });
    bench::say_at_most("frames." + name + ".full", full, "ms", full_most, against);
    const double drag = median_ms(view, frames, [&](int i) { view.show_overlay(dragged(scene, i)); });
    bench::say_at_most("frames." + name + ".drag", drag, "ms", drag_most, against);
}

/// A pointer over a full table.
void measure_pick(const viewer::Scene& scene) {
    viewer::Scene full = scene;
    std::uint32_t id = 10000;
    while (full.items.size() < 100)
        for (const auto& [old, item] : scene.items) {
            viewer::Item copy = item;
            copy.X_TS = Pose::move(0, 0, 0.1 * static_cast<double>(full.items.size())) * item.X_TS;
            if (std::holds_alternative<setup::PieceId>(old))
                full.items[setup::PieceId{id++}] = copy;
            else
                full.items[setup::PlacementId{id++}] = copy;
        }
    int count = 0, hits = 0;
    const double start = processor_ms();
    for (double x = 0; x < 2000; x += 50)
        for (double y = 0; y < 1000; y += 50, ++count)
            hits += viewer::pick(full, {Vec3(x, y, 5000), -Vec3::UnitZ()}, 5).kind == viewer::Picked::Kind::item;
    bench::say_at_most("frames.pick", (processor_ms() - start) / count, "ms", 1,
                       "mean of " + std::to_string(count) + " pointers over " + std::to_string(full.items.size()) +
                           " bodies, " + std::to_string(hits) + " on one");
}

}  // namespace

int main(int argc, char** argv) {
    // One kind of OpenGL for the figures, whatever the machine has.
    qputenv("LIBGL_ALWAYS_SOFTWARE", "1");
    QApplication application(argc, argv);
    const int frames = bench::is_quick(argc, argv) ? 5 : 120;
    const auto job = setup::open_job(SETWRIGHT_SAMPLES_DIR "/D1.setwright");
    if (!job.ok()) {
        std::cerr << "bench_x_frames: D1.setwright cannot be opened\n";
        return 1;
    }
    viewer::ShapeBook shapes;
    const viewer::Scene scene = make_scene(job->setup, job->setup.stages.front().id, shapes);
    // Targets: 20 frames a second in 3-D, 30 while dragging, 60 for what moves over the plan.
    if (viewer::SolidView::available()) measure<viewer::SolidView>("solid", scene, frames, 50, 33);
    measure<viewer::PlanView>("plan", scene, frames, 50, 16);
    measure_pick(scene);
    return 0;
}
