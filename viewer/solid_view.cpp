#include "viewer/solid_view.h"

#include <QMouseEvent>
#include <QTimer>
#include <stdexcept>
#include <utility>

#include "viewer/solid_view_camera.h"
#include "viewer/solid_view_canvas.h"

namespace setwright::viewer {

struct SolidView::Impl {
    SolidCamera camera;
    Scene scene;
    Overlay overlay;
    Palette palette = Palette::light();
    std::unique_ptr<SolidCanvas> canvas;
    WId window = 0;
    QSize device_pixels;
    double pixel_ratio = 1;
    bool scene_stale = true, overlay_stale = true, palette_stale = true;
    /// How much of a new canvas has been seen, and how much may be.
    enum Beginning { nothing, canvas_open, ground_seen, bodies_seen, all };
    Beginning begun = nothing;
    /// One step of the beginning for each turn of the event loop, however often it paints in one.
    bool step_due = true;
    bool given_up = false;
    /// What fills the picture until the person moves the camera: kept filling it when the widget's size changes.
    bool fitted = true;
    space::Aabb fitted_to;
    bool seen_scene = false;
    space::Vec3 pivot = space::Vec3::Zero();

    space::Aabb everything() const {
        const shop::Table& table = scene.table;
        space::Aabb box = scene.box();
        if (table.cols > 0) {
            const space::Vec3 corner(-table.margin_west_mm, -table.margin_south_mm, -table.thickness_mm);
            box.add(corner);
            box.add(corner + space::Vec3(table.length_mm, table.width_mm, table.thickness_mm));
        }
        return box;
    }

    void refit() {
        const space::Aabb box = fitted_to.empty() ? everything() : fitted_to;
        if (!box.empty()) camera.fit(box);
    }

    void open_canvas(const SolidView& view) {
        const QSize pixels = (QSizeF(view.size()) * view.devicePixelRatioF()).toSize();
        if (canvas && (window != view.internalWinId() || pixel_ratio != view.devicePixelRatioF())) canvas.reset();
        if (!canvas) {
            if (!SolidCanvas::possible()) throw std::runtime_error("no OpenGL on this display");
            window = view.internalWinId();
            pixel_ratio = view.devicePixelRatioF();
            device_pixels = pixels;
            canvas = std::make_unique<SolidCanvas>(window, pixels, pixel_ratio);
            palette_stale = true;
            begun = nothing;
            step_due = true;
        }
        if (device_pixels != pixels) {
            device_pixels = pixels;
            canvas->resize(pixels);
        }
    }

    /// Brings the canvas up to what is to be seen; makes it where there is none.
    void bring_up(const SolidView& view) {
        open_canvas(view);
        if (palette_stale) canvas->set_palette(palette);
        if (palette_stale || scene_stale) canvas->show_scene(scene);
        // Selection and hidden items are drawn from the scene: they follow it.
        if (palette_stale || scene_stale || overlay_stale) canvas->show_overlay(scene, overlay);
        palette_stale = scene_stale = overlay_stale = false;
        begun = all;
    }

    /// OpenGL makes its programs when something is first drawn with them, in software for half a second together. A new
    /// canvas therefore begins bit by bit.
    void bring_up_some(const SolidView& view) {
        open_canvas(view);
        if (begun == all) return bring_up(view);
        if (!std::exchange(step_due, false)) return;
        begun = static_cast<Beginning>(begun + 1);
        if (begun == all) return bring_up(view);
        if (palette_stale) canvas->set_palette(palette);
        palette_stale = false;
        Scene some;
        if (begun == bodies_seen) {
            some.items = scene.items;
            for (auto& [id, item] : some.items) item.label.clear();
        }
        canvas->show_scene(some);
        scene_stale = overlay_stale = true;
    }

    /// The kernel and OpenGL may fail at any moment; then the view shows nothing more and says so once.
    template <class Work>
    void guarded(SolidView& view, const Work& work) {
        if (given_up) return;
        try {
            work();
        } catch (const std::exception& error) {
            given_up = true;
            canvas.reset();
            const QString reason = QString::fromUtf8(error.what());
            // Later: whoever hears it may delete the view, and we may be in its paint event.
            QTimer::singleShot(0, &view, [&view, reason] { Q_EMIT view.failed(reason); });
        }
    }
};

bool SolidView::available() {
    return SolidCanvas::possible();
}

SolidView::SolidView(QWidget* parent) : View(parent), impl_(std::make_unique<Impl>()) {
    // The kernel draws straight into the X11 window; Qt must neither paint there nor make windows of our ancestors.
    setAttribute(Qt::WA_DontCreateNativeAncestors);
    setAttribute(Qt::WA_NativeWindow);
    setAttribute(Qt::WA_PaintOnScreen);
    setAttribute(Qt::WA_NoSystemBackground);
    setAttribute(Qt::WA_OpaquePaintEvent);
    impl_->camera.look(Direction::corner);
}

// The canvas goes while its window still exists.
SolidView::~SolidView() {
    impl_->canvas.reset();
}

void SolidView::show_scene(const Scene& scene) {
    impl_->scene = scene;
    impl_->scene_stale = true;
    if (!impl_->seen_scene) {
        impl_->seen_scene = true;
        impl_->refit();
    }
    update();
}

void SolidView::show_overlay(const Overlay& overlay) {
    impl_->overlay = overlay;
    impl_->overlay_stale = true;
    update();
}

void SolidView::set_palette(const Palette& palette) {
    impl_->palette = palette;
    impl_->palette_stale = true;
    update();
}

void SolidView::look(Direction from) {
    impl_->camera.look(from);
    fit(impl_->fitted_to);
}

Direction SolidView::looking() const {
    return impl_->camera.looking();
}

void SolidView::fit(const space::Aabb& box_T) {
    impl_->fitted = true;
    impl_->fitted_to = box_T;
    impl_->refit();
    update();
    Q_EMIT camera_moved();
}

void SolidView::zoom(double factor, const QPointF& about) {
    impl_->camera.zoom(factor, about);
    impl_->fitted = false;
    update();
}

void SolidView::pan(const QPointF& by) {
    impl_->camera.pan(by);
    impl_->fitted = false;
    update();
}

void SolidView::turn(const QPointF& by) {
    impl_->camera.turn(by, impl_->pivot);
    impl_->fitted = false;
    update();
}

Ray SolidView::ray(const QPointF& at) const {
    const space::Aabb box = impl_->everything();
    const double before =
        box.empty() ? 1000 : box.size().norm() + (impl_->camera.centre() - box.centre()).norm() + 1000;
    return impl_->camera.ray(at, before);
}

QPointF SolidView::to_widget(const space::Vec3& point_T) const {
    return impl_->camera.to_widget(point_T);
}

double SolidView::mm_per_pixel() const {
    return impl_->camera.mm_per_pixel();
}

QImage SolidView::picture() const {
    QImage image;
    // Nothing on the screen yet, nothing to show.
    if (!impl_->canvas) return image;
    impl_->guarded(const_cast<SolidView&>(*this), [&] {
        impl_->bring_up(*this);
        image = impl_->canvas->picture(impl_->camera, font());
    });
    return image;
}

bool SolidView::event(QEvent* event) {
    switch (event->type()) {
        case QEvent::WinIdChange:
            // The old window is gone; the next paint opens the new one.
            impl_->canvas.reset();
            update();
            break;
        case QEvent::MouseButtonPress: {
            // What is under the pointer stays there while the view turns.
            const auto* press = static_cast<QMouseEvent*>(event);
            if (press->button() == Qt::LeftButton) break;
            const QPointF at = press->position();
            const Picked picked = pick(impl_->scene, ray(at));
            const space::Aabb box = impl_->scene.box();
            if (picked.kind != Picked::Kind::nothing)
                impl_->pivot = picked.point_T;
            else
                impl_->pivot = box.empty() ? impl_->camera.centre() : box.centre();
            break;
        }
        default:
            break;
    }
    return View::event(event);
}

void SolidView::paintEvent(QPaintEvent*) {
    impl_->guarded(*this, [&] {
        impl_->bring_up_some(*this);
        if (impl_->begun != Impl::canvas_open) impl_->canvas->draw(impl_->camera, font());
        // Not update(): the next paint would follow before the events that wait.
        if (impl_->begun != Impl::all)
            QTimer::singleShot(0, this, [this] {
                impl_->step_due = true;
                update();
            });
    });
}

void SolidView::resizeEvent(QResizeEvent* event) {
    View::resizeEvent(event);
    impl_->camera.resize(size());
    if (impl_->fitted) impl_->refit();
    update();
    Q_EMIT camera_moved();
}

void SolidView::showEvent(QShowEvent* event) {
    View::showEvent(event);
    update();
}

}  // namespace setwright::viewer
