#include "app/icons.h"

#include <QApplication>
#include <QFile>
#include <QIconEngine>
#include <QPainter>
#include <QPalette>
#include <QSvgRenderer>
#include <cmath>
#include <limits>

#include "core/base/file.h"

namespace setwright::app {

namespace {

using space::Vec3;

constexpr double disabled_opacity = 0.4;

/// Draws the lines in the ink of the moment, at whatever size and scale is asked for.
class InkEngine : public QIconEngine {
  public:
    InkEngine(QByteArray svg, std::shared_ptr<const QColor> ink) : svg_(std::move(svg)), ink_(std::move(ink)) {}

    void paint(QPainter* painter, const QRect& rect, QIcon::Mode mode, QIcon::State) override {
        const QColor ink = mode == QIcon::Selected ? QApplication::palette().color(QPalette::HighlightedText) : *ink_;
        QByteArray coloured = svg_;
        const QByteArray name = ink.name().toLatin1();
        coloured.replace("currentColor", name);
        // The whole word only: "#000" also begins "#000080".
        coloured.replace("\"#000000\"", '"' + name + '"').replace("\"#000\"", '"' + name + '"');
        QSvgRenderer renderer(coloured);
        renderer.setAspectRatioMode(Qt::KeepAspectRatio);
        painter->save();
        if (mode == QIcon::Disabled) painter->setOpacity(painter->opacity() * disabled_opacity);
        renderer.render(painter, rect);
        painter->restore();
    }
    QPixmap pixmap(const QSize& size, QIcon::Mode mode, QIcon::State state) override {
        QPixmap pixmap(size);
        pixmap.fill(Qt::transparent);
        QPainter painter(&pixmap);
        painter.setRenderHint(QPainter::Antialiasing);
        paint(&painter, QRect(QPoint(0, 0), size), mode, state);
        return pixmap;
    }
    QIconEngine* clone() const override { return new InkEngine(*this); }

  private:
    QByteArray svg_;
    std::shared_ptr<const QColor> ink_;
};

/// One point of the picture while it is drawn: how near, and what of.
struct Dot {
    double depth = -std::numeric_limits<double>::infinity();
    Vec3 normal = Vec3::Zero();
    bool moving = false;
};

/// Depth buffer of a square picture, seen along an isometric line from the south-east above.
class Shot {
  public:
    Shot(int side, const space::Aabb& box) : side_(side), dots_(static_cast<std::size_t>(side) * side) {
        toward_ = Vec3(1, -1, 0.9).normalized();
        right_ = Vec3::UnitZ().cross(toward_).normalized();
        up_ = toward_.cross(right_);
        space::Aabb seen;
        for (int corner = 0; corner < 8; ++corner)
            seen.add(turned({(corner & 1 ? box.max : box.min).x(), (corner & 2 ? box.max : box.min).y(),
                             (corner & 4 ? box.max : box.min).z()}));
        const double extent = std::max(seen.size().x(), seen.size().y());
        scale_ = extent > 0 ? (side - 2 * margin()) / extent : 1;
        centre_ = seen.centre();
    }

    void add(const space::Mesh& mesh, bool moving) {
        for (const auto& triangle : mesh.triangles) {
            const Vec3 &a = mesh.points[triangle[0]], &b = mesh.points[triangle[1]], &c = mesh.points[triangle[2]];
            const Vec3 normal = (b - a).cross(c - a);
            if (normal.norm() == 0 || normal.dot(toward_) <= 0) continue;
            fill(pixel(a), pixel(b), pixel(c), normal.normalized(), moving);
        }
    }

    QImage image(const QColor& ink) const {
        const bool dark_ground = ink.lightness() > 127;
        const QColor body = dark_ground ? QColor(0x9d, 0xab, 0xb8) : QColor(0xc3, 0xcd, 0xd6);
        const QColor arm = dark_ground ? QColor(0xd9, 0xa5, 0x5f) : QColor(0xe8, 0xb8, 0x74);
        QImage image(side_, side_, QImage::Format_ARGB32_Premultiplied);
        image.fill(Qt::transparent);
        for (int y = 0; y < side_; ++y) {
            for (int x = 0; x < side_; ++x) {
                const Dot& dot = at(x, y);
                if (is_edge(x, y)) {
                    image.setPixelColor(x, y, ink);
                    continue;
                }
                if (std::isinf(dot.depth)) continue;
                const double light = 0.55 + 0.45 * std::max(0.0, dot.normal.dot(Vec3(0.15, -0.55, 0.82)));
                const QColor tone = dot.moving ? arm : body;
                image.setPixelColor(
                    x, y,
                    QColor::fromRgbF(static_cast<float>(tone.redF() * light), static_cast<float>(tone.greenF() * light),
                                     static_cast<float>(tone.blueF() * light)));
            }
        }
        return image;
    }

  private:
    int margin() const { return side_ / 16; }
    Vec3 turned(const Vec3& p) const { return {right_.dot(p), up_.dot(p), toward_.dot(p)}; }
    Vec3 pixel(const Vec3& p) const {
        const Vec3 t = turned(p) - centre_;
        return {side_ / 2.0 + t.x() * scale_, side_ / 2.0 - t.y() * scale_, t.z() * scale_};
    }
    const Dot& at(int x, int y) const { return dots_[static_cast<std::size_t>(y) * side_ + x]; }

    void fill(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& normal, bool moving) {
        const auto cross = [](const Vec3& o, const Vec3& p, double x, double y) {
            return (p.x() - o.x()) * (y - o.y()) - (p.y() - o.y()) * (x - o.x());
        };
        const double whole = cross(a, b, c.x(), c.y());
        if (whole == 0) return;
        const auto clamp = [&](double v) { return std::clamp(static_cast<int>(std::floor(v)), 0, side_ - 1); };
        const int x0 = clamp(std::min({a.x(), b.x(), c.x()})), x1 = clamp(std::max({a.x(), b.x(), c.x()}));
        const int y0 = clamp(std::min({a.y(), b.y(), c.y()})), y1 = clamp(std::max({a.y(), b.y(), c.y()}));
        for (int y = y0; y <= y1; ++y) {
            for (int x = x0; x <= x1; ++x) {
                const double u = cross(b, c, x + 0.5, y + 0.5) / whole, v = cross(c, a, x + 0.5, y + 0.5) / whole;
                const double w = 1 - u - v;
                if (u < 0 || v < 0 || w < 0) continue;
                const double depth = u * a.z() + v * b.z() + w * c.z();
                Dot& dot = dots_[static_cast<std::size_t>(y) * side_ + x];
                if (depth <= dot.depth) continue;
                dot = {depth, normal, moving};
            }
        }
    }

    /// Where the outline, a step or a sharp corner runs between this dot and those around it.
    bool is_edge(int x, int y) const {
        const Dot& here = at(x, y);
        const int reach = std::max(1, side_ / 96);
        const double step = side_ / 32.0;
        for (const auto& [dx, dy] :
             {std::pair{reach, 0}, std::pair{0, reach}, std::pair{-reach, 0}, std::pair{0, -reach}}) {
            const int nx = x + dx, ny = y + dy;
            if (nx < 0 || ny < 0 || nx >= side_ || ny >= side_) continue;
            const Dot& there = at(nx, ny);
            if (std::isinf(here.depth) != std::isinf(there.depth)) return true;
            if (std::isinf(here.depth)) continue;
            // Facets of a round part meet at 15 degrees.
            if (here.normal.dot(there.normal) < 0.9) return true;
            if (here.moving != there.moving) return true;
            const double slope = std::abs(here.normal.dot(toward_));
            if (here.depth - there.depth > step / std::max(slope, 0.2)) return true;
        }
        return false;
    }

    int side_;
    std::vector<Dot> dots_;
    Vec3 toward_, right_, up_, centre_;
    double scale_ = 1;
};

}  // namespace

void Icons::set_ink(QColor ink) {
    *ink_ = ink;
    pictures_.clear();
}

QIcon Icons::operator()(const QString& name) const {
    QFile file(QString::fromStdString(base::resource_dir()) + "/icons/" + name + ".svg");
    if (name.isEmpty() || !file.open(QIODevice::ReadOnly)) return {};
    return QIcon(new InkEngine(file.readAll(), ink_));
}

QPixmap Icons::picture(const shop::Component& component, int pixels, qreal device_pixel_ratio) const {
    const int side = std::max(1, static_cast<int>(std::lround(pixels * device_pixel_ratio)));
    const std::string key = component.id + ' ' + std::to_string(side);
    if (const auto known = pictures_.find(key); known != pictures_.end()) {
        QPixmap pixmap = known->second;
        pixmap.setDevicePixelRatio(device_pixel_ratio);
        return pixmap;
    }
    const std::string plate = component.plates.empty() ? std::string() : component.plates.front().id;
    const int setting = component.setting ? std::clamp(0, component.setting->first, component.setting->last) : 0;
    const shop::ComponentShape shape =
        shop::shape_of(component, plate, component.handed ? shop::Hand::right : shop::Hand::none, setting);
    const space::Mesh fixed = shop::mesh_of(shape.fixed), moving = shop::mesh_of(shape.moving);
    QPixmap pixmap(side, side);
    pixmap.fill(Qt::transparent);
    if (!fixed.empty() || !moving.empty()) {
        space::Aabb box = fixed.box();
        box.add(moving.box());
        // Three times as fine as the screen, so that the lines come out smooth.
        Shot shot(3 * side, box);
        shot.add(fixed, false);
        shot.add(moving, true);
        pixmap =
            QPixmap::fromImage(shot.image(*ink_).scaled(side, side, Qt::IgnoreAspectRatio, Qt::SmoothTransformation));
    }
    pixmap.setDevicePixelRatio(device_pixel_ratio);
    pictures_[key] = pixmap;
    return pixmap;
}

}  // namespace setwright::app
