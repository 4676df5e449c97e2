#include "viewer/solid_view_canvas.h"

#include <QGuiApplication>
#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

#include <Aspect_DisplayConnection.hxx>
#include <Aspect_NeutralWindow.hxx>
#include <Graphic3d_ArrayOfSegments.hxx>
#include <Graphic3d_ArrayOfTriangles.hxx>
#include <Graphic3d_AspectFillArea3d.hxx>
#include <Graphic3d_AspectLine3d.hxx>
#include <Graphic3d_Group.hxx>
#include <Graphic3d_Structure.hxx>
#include <Graphic3d_StructureManager.hxx>
#include <Graphic3d_Texture2Dmanual.hxx>
#include <Graphic3d_TextureParams.hxx>
#include <Image_PixMap.hxx>
#include <OpenGl_Context.hxx>
#include <OpenGl_GraphicDriver.hxx>
#include <Standard_Failure.hxx>
#include <TColStd_IndexedDataMapOfStringString.hxx>
#include <TopLoc_Datum3D.hxx>
#include <V3d_AmbientLight.hxx>
#include <V3d_DirectionalLight.hxx>
#include <V3d_View.hxx>
#include <V3d_Viewer.hxx>
#include <gp_Trsf.hxx>

// Last, and its macros away: they are words of Qt.
#include <X11/Xlib.h>
#undef Bool
#undef None
#undef Status
#undef Unsorted

namespace setwright::viewer {

namespace {

template <class T>
using Held = opencascade::handle<T>;
using space::Vec3;

/// The kernel's failures are no std::exception.
template <class Work>
auto guarded(const Work& work) {
    try {
        return work();
    } catch (const Standard_Failure& failure) {
        const char* message = failure.GetMessageString();
        throw std::runtime_error(message && *message ? message : failure.DynamicType()->Name());
    }
}

/// X errors end a program unless somebody takes them; while this lives they are counted instead.
class XErrors {
  public:
    XErrors() : before_(XSetErrorHandler(&XErrors::take)) { count_ = 0; }
    ~XErrors() { XSetErrorHandler(before_); }
    XErrors(const XErrors&) = delete;
    XErrors& operator=(const XErrors&) = delete;
    int count() const { return count_; }

  private:
    static int take(Display*, XErrorEvent*) { return ++count_; }
    XErrorHandler before_;
    static inline int count_ = 0;
};

gp_Pnt point(const Vec3& p) {
    return {p.x(), p.y(), p.z()};
}
gp_Dir direction(const Vec3& d) {
    return {d.x(), d.y(), d.z()};
}

Quantity_Color colour(const QColor& c) {
    return {c.redF(), c.greenF(), c.blueF(), Quantity_TOC_sRGB};
}

Held<TopLoc_Datum3D> datum(const space::Pose& X) {
    const space::Mat3& R = X.rotation();
    const Vec3& p = X.position();
    gp_Trsf moved;
    moved.SetValues(R(0, 0), R(0, 1), R(0, 2), p.x(), R(1, 0), R(1, 1), R(1, 2), p.y(), R(2, 0), R(2, 1), R(2, 2),
                    p.z());
    return new TopLoc_Datum3D(moved);
}

Held<Graphic3d_AspectFillArea3d> fill(const QColor& c, double opacity, bool lit) {
    Held<Graphic3d_AspectFillArea3d> aspect = new Graphic3d_AspectFillArea3d();
    Graphic3d_MaterialAspect material(Graphic3d_NOM_UserDefined);
    material.SetMaterialType(Graphic3d_MATERIAL_PHYSIC);
    material.SetAmbientColor(colour(c));
    material.SetDiffuseColor(colour(c));
    material.SetSpecularColor(Quantity_NOC_BLACK);
    material.SetEmissiveColor(Quantity_NOC_BLACK);
    material.SetTransparency(static_cast<float>(1 - opacity));
    aspect->SetInteriorStyle(Aspect_IS_SOLID);
    aspect->SetFrontMaterial(material);
    aspect->SetBackMaterial(material);
    aspect->SetInteriorColor(Quantity_ColorRGBA(colour(c), static_cast<float>(opacity)));
    aspect->SetShadingModel(lit ? Graphic3d_TOSM_VERTEX : Graphic3d_TOSM_UNLIT);
    aspect->SetAlphaMode(opacity < 1 ? Graphic3d_AlphaMode_Blend : Graphic3d_AlphaMode_Opaque);
    return aspect;
}

Held<Graphic3d_AspectLine3d> line(const QColor& c, double width, bool dashed = false) {
    return new Graphic3d_AspectLine3d(colour(c), dashed ? Aspect_TOL_DASH : Aspect_TOL_SOLID, width);
}

/// Corners within this of each other are one, mm; faces that turn by less than this there are one smooth surface.
constexpr double same_corner_mm = 1e-4;
const double smooth_cosine = std::cos(50.0 / 180 * M_PI);

/// Flat where a face is flat, rounded within curved faces.
Held<Graphic3d_ArrayOfTriangles> triangles(const Shape& shape) {
    const space::Mesh& mesh = shape.mesh;
    using Corner = std::array<long, 4>;
    const auto corner = [&](std::size_t triangle, int k) -> Corner {
        const Vec3 p = mesh.points[mesh.triangles[triangle][static_cast<std::size_t>(k)]] / same_corner_mm;
        return {triangle < shape.face.size() ? shape.face[triangle] : -1, std::lround(p.x()), std::lround(p.y()),
                std::lround(p.z())};
    };
    std::vector<Vec3> normals;
    std::map<Corner, std::vector<Vec3>> meeting;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const auto& [a, b, c] = mesh.triangles[t];
        normals.push_back((mesh.points[b] - mesh.points[a]).cross(mesh.points[c] - mesh.points[a]));
        for (int k = 0; k < 3; ++k) meeting[corner(t, k)].push_back(normals.back());
    }
    Held<Graphic3d_ArrayOfTriangles> array =
        new Graphic3d_ArrayOfTriangles(static_cast<int>(3 * mesh.triangles.size()), 0, true);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Vec3 own = normals[t].normalized();
        for (int k = 0; k < 3; ++k) {
            Vec3 sum = Vec3::Zero();
            for (const Vec3& other : meeting[corner(t, k)])
                if (other.dot(own) > smooth_cosine * other.norm()) sum += other;
            if (sum.norm() == 0) sum = Vec3::UnitZ();
            array->AddVertex(point(mesh.points[mesh.triangles[t][static_cast<std::size_t>(k)]]),
                             direction(sum.normalized()));
        }
    }
    return array;
}

Held<Graphic3d_ArrayOfSegments> segments(const std::vector<std::vector<Vec3>>& lines) {
    std::size_t count = 0;
    for (const auto& one : lines) count += one.empty() ? 0 : one.size() - 1;
    if (count == 0) return {};
    Held<Graphic3d_ArrayOfSegments> array = new Graphic3d_ArrayOfSegments(static_cast<int>(2 * count));
    for (const auto& one : lines)
        for (std::size_t i = 1; i < one.size(); ++i) {
            array->AddVertex(point(one[i - 1]));
            array->AddVertex(point(one[i]));
        }
    return array;
}

/// The triangles of one face, and its outline as edges that only one of them has.
Shape face_of(const Shape& shape, int face) {
    Shape only;
    only.mesh.points = shape.mesh.points;
    std::map<std::array<std::array<long, 3>, 2>, std::pair<int, std::vector<Vec3>>> sides;
    const auto key = [&](const Vec3& p) {
        return std::array<long, 3>{std::lround(p.x() / same_corner_mm), std::lround(p.y() / same_corner_mm),
                                   std::lround(p.z() / same_corner_mm)};
    };
    for (std::size_t t = 0; t < shape.mesh.triangles.size() && t < shape.face.size(); ++t) {
        if (shape.face[t] != face) continue;
        only.mesh.triangles.push_back(shape.mesh.triangles[t]);
        only.face.push_back(face);
        for (std::size_t k = 0; k < 3; ++k) {
            const Vec3& a = shape.mesh.points[shape.mesh.triangles[t][k]];
            const Vec3& b = shape.mesh.points[shape.mesh.triangles[t][(k + 1) % 3]];
            auto ends = std::array{key(a), key(b)};
            if (ends[1] < ends[0]) std::swap(ends[0], ends[1]);
            auto& [count, side] = sides[ends];
            ++count;
            side = {a, b};
        }
    }
    for (const auto& [ends, side] : sides)
        if (side.first == 1) only.edges.push_back(side.second);
    return only;
}

enum class Look {
    piece,
    by_hand,
    placement,
    locked,
    selected,
    hovered,
    face,
    ghost_plain,
    ghost_good,
    ghost_warn,
    ghost_bad
};

struct Style {
    QColor fill;
    double opacity;
    bool lit;
    QColor edge;
    double width;
    bool dashed = false;
    /// Round bodies have no edge where they end for the eye: the kernel draws one. Not on ghosts, it fills them.
    bool outlined = true;
};

Style style_of(Look look, const Palette& palette) {
    const auto ghost = [&](Tone tone) -> Style {
        return {colour_of(palette, tone), 0.45, true, colour_of(palette, tone), 2, tone == Tone::bad, false};
    };
    switch (look) {
        case Look::piece:
            return {palette.piece, 1, true, palette.piece_edge, 1};
        case Look::by_hand:
            return {palette.piece_by_hand, 1, true, palette.piece_edge, 1, true};
        case Look::placement:
            return {palette.placement, 1, true, palette.placement_edge, 1};
        case Look::locked:
            return {palette.locked, 1, true, palette.placement_edge, 1};
        case Look::selected:
            return {palette.selected, 0.3, false, palette.selected, 3};
        case Look::hovered:
            return {palette.hovered, 0.18, false, palette.hovered, 2};
        case Look::face:
            return {palette.selected, 0.55, false, palette.selected, 4, false, false};
        case Look::ghost_plain:
            return ghost(Tone::plain);
        case Look::ghost_good:
            return ghost(Tone::good);
        case Look::ghost_warn:
            return ghost(Tone::warn);
        case Look::ghost_bad:
            return ghost(Tone::bad);
    }
    return {palette.piece, 1, true, palette.piece_edge, 1};
}

Look ghost_look(Tone tone) {
    switch (tone) {
        case Tone::plain:
            return Look::ghost_plain;
        case Tone::good:
            return Look::ghost_good;
        case Tone::warn:
            return Look::ghost_warn;
        case Tone::bad:
            return Look::ghost_bad;
    }
    return Look::ghost_plain;
}

Look item_look(const ItemId& id, const Item& item) {
    if (std::holds_alternative<PieceId>(id)) return item.set_apart ? Look::by_hand : Look::piece;
    return item.set_apart ? Look::locked : Look::placement;
}

/// A body as the kernel has it, once for all that look alike; never on display itself.
struct Master {
    std::shared_ptr<const Shape> shape;
    Look look;
    Held<Graphic3d_Structure> structure;
};

/// One standing of a master.
class Instance {
  public:
    Instance(const Held<Graphic3d_StructureManager>& manager, std::shared_ptr<const Master> master,
             const space::Pose& X_TS)
        : master_(std::move(master)), structure_(new Graphic3d_Structure(manager, master_->structure)) {
        move(X_TS);
        structure_->Display();
    }
    ~Instance() {
        if (!structure_.IsNull()) structure_->Erase();
    }
    Instance(Instance&& other) noexcept = default;
    Instance& operator=(Instance&& other) noexcept {
        std::swap(master_, other.master_);
        std::swap(structure_, other.structure_);
        std::swap(X_TS_, other.X_TS_);
        return *this;
    }

    const Master& master() const { return *master_; }
    void move(const space::Pose& X_TS) {
        if (X_TS_ && *X_TS_ == X_TS) return;
        X_TS_ = X_TS;
        structure_->SetTransformation(datum(X_TS));
    }
    void set_visible(bool visible) {
        if (structure_->IsVisible() != visible) structure_->SetVisible(visible);
    }

  private:
    std::shared_ptr<const Master> master_;
    Held<Graphic3d_Structure> structure_;
    std::optional<space::Pose> X_TS_;
};

/// Lines and little bodies that lie over the scene, gathered by how they look.
class Strokes {
  public:
    void line_between(const Vec3& a, const Vec3& b, const QColor& colour, double width, bool dashed = false) {
        lines_[{colour.rgba(), width, dashed}].push_back({a, b});
    }
    void polyline(const std::vector<Vec3>& points, const QColor& colour, double width, bool dashed = false) {
        lines_[{colour.rgba(), width, dashed}].push_back(points);
    }
    void ring(const Vec3& at, const Vec3& axis, double radius_mm, const QColor& colour, double width) {
        const auto [u, v] = across(axis);
        std::vector<Vec3> points;
        for (int i = 0; i <= 48; ++i) {
            const double a = 2 * M_PI * i / 48;
            points.push_back(at + (u * std::cos(a) + v * std::sin(a)) * radius_mm);
        }
        polyline(points, colour, width);
    }
    /// Flat and unlit.
    void fan(const std::vector<Vec3>& outline, const QColor& colour, double opacity) {
        auto& mesh = flat_[{colour.rgba(), opacity}];
        for (std::size_t i = 2; i < outline.size(); ++i)
            mesh.insert(mesh.end(), {outline[0], outline[i - 1], outline[i]});
    }
    void disc(const Vec3& at, const Vec3& axis, double radius_mm, const QColor& colour, double opacity) {
        const auto [u, v] = across(axis);
        std::vector<Vec3> points;
        for (int i = 0; i < 24; ++i) {
            const double a = 2 * M_PI * i / 24;
            points.push_back(at + (u * std::cos(a) + v * std::sin(a)) * radius_mm);
        }
        fan(points, colour, opacity);
    }
    /// Lit. `to_radius_mm` 0 makes a point.
    void cone(const Vec3& from, const Vec3& to, double radius_mm, double to_radius_mm, const QColor& colour) {
        const Vec3 axis = (to - from).normalized();
        const auto [u, v] = across(axis);
        auto& mesh = lit_[colour.rgba()];
        constexpr int sides = 14;
        const double slope = (radius_mm - to_radius_mm) / (to - from).norm();
        for (int i = 0; i < sides; ++i) {
            const double a = 2 * M_PI * i / sides, b = 2 * M_PI * (i + 1) / sides;
            const Vec3 da = u * std::cos(a) + v * std::sin(a), db = u * std::cos(b) + v * std::sin(b);
            const Vec3 na = (da + axis * slope).normalized(), nb = (db + axis * slope).normalized();
            const auto add = [&](const Vec3& p, const Vec3& n) { mesh.push_back({p, n}); };
            add(from + da * radius_mm, na);
            add(from + db * radius_mm, nb);
            add(to + da * to_radius_mm, na);
            if (to_radius_mm > 0) {
                add(to + da * to_radius_mm, na);
                add(from + db * radius_mm, nb);
                add(to + db * to_radius_mm, nb);
            }
            add(from, -axis);
            add(from + db * radius_mm, -axis);
            add(from + da * radius_mm, -axis);
        }
    }

    void write(const Held<Graphic3d_Structure>& structure, double pixel_ratio) const {
        for (const auto& [key, mesh] : flat_) {
            Held<Graphic3d_ArrayOfTriangles> array = new Graphic3d_ArrayOfTriangles(static_cast<int>(mesh.size()));
            for (const Vec3& p : mesh) array->AddVertex(point(p));
            const Held<Graphic3d_Group> group = structure->NewGroup();
            const auto aspect = fill(QColor::fromRgba(key.first), key.second, false);
            aspect->SetFaceCulling(Graphic3d_TypeOfBackfacingModel_DoubleSided);
            group->SetGroupPrimitivesAspect(aspect);
            group->AddPrimitiveArray(array);
        }
        for (const auto& [rgba, mesh] : lit_) {
            Held<Graphic3d_ArrayOfTriangles> array =
                new Graphic3d_ArrayOfTriangles(static_cast<int>(mesh.size()), 0, true);
            for (const auto& [p, n] : mesh) array->AddVertex(point(p), direction(n));
            const Held<Graphic3d_Group> group = structure->NewGroup();
            group->SetGroupPrimitivesAspect(fill(QColor::fromRgba(rgba), 1, true));
            group->AddPrimitiveArray(array);
        }
        for (const auto& [key, lines] : lines_) {
            const Held<Graphic3d_ArrayOfSegments> array = segments(lines);
            if (array.IsNull()) continue;
            const auto& [rgba, width, dashed] = key;
            const Held<Graphic3d_Group> group = structure->NewGroup();
            group->SetGroupPrimitivesAspect(line(QColor::fromRgba(rgba), width * pixel_ratio, dashed));
            group->AddPrimitiveArray(array);
        }
    }

    static std::pair<Vec3, Vec3> across(const Vec3& axis) {
        const Vec3 u = axis.unitOrthogonal();
        return {u, axis.cross(u)};
    }

  private:
    std::map<std::tuple<QRgb, double, bool>, std::vector<std::vector<Vec3>>> lines_;
    std::map<std::pair<QRgb, double>, std::vector<Vec3>> flat_;
    std::map<QRgb, std::vector<std::pair<Vec3, Vec3>>> lit_;
};

Held<Image_PixMap> pixmap(const QImage& image) {
    Held<Image_PixMap> pixels = new Image_PixMap();
    pixels->InitTrash(Image_Format_RGBA, static_cast<Standard_Size>(image.width()),
                      static_cast<Standard_Size>(image.height()));
    // Row 0 is texture coordinate 0: no turning over, neither here nor there.
    pixels->SetTopDown(false);
    for (int y = 0; y < image.height(); ++y)
        std::copy_n(image.constScanLine(y), 4 * image.width(),
                    pixels->ChangeData() + static_cast<Standard_Size>(y) * pixels->SizeRowBytes());
    return pixels;
}

/// Labels of one origin: their drawing on a texture, and where they stand now.
struct LabelLayer {
    std::vector<SolidLabel> labels;
    /// Letters and numbers of the table; where they stand follows the camera.
    std::vector<SolidLabel> edges;
    SolidLabelSheet sheet;
    Held<Graphic3d_AspectFillArea3d> aspect;
    Held<Graphic3d_Structure> structure;
    bool stale = true;
};

}  // namespace

struct SolidCanvas::Impl {
    Held<Aspect_DisplayConnection> display;
    Held<OpenGl_GraphicDriver> driver;
    Held<V3d_Viewer> viewer;
    Held<V3d_View> view;
    Held<Aspect_NeutralWindow> window;
    double pixel_ratio = 1;
    Graphic3d_ZLayerId over = Graphic3d_ZLayerId_Top, words = Graphic3d_ZLayerId_TopOSD;

    Palette palette;
    std::optional<shop::Table> table;
    std::optional<Held<Graphic3d_Structure>> table_top, table_under;
    std::map<std::pair<const Shape*, Look>, std::weak_ptr<const Master>> masters;
    std::map<ItemId, Instance> items;
    std::vector<Instance> ghosts, marks;
    Overlay overlay;
    /// Whose face is marked.
    std::shared_ptr<const Shape> face_body;
    Held<Graphic3d_Structure> strokes;
    LabelLayer scene_labels, overlay_labels;
    space::Aabb reach;
    std::optional<SolidCamera> drawn_from;
    QFont drawn_font;
    bool overlay_stale = true;

    ~Impl();
    void open(WId id, const QSize& device_pixels);
    void clear();
    std::shared_ptr<const Master> master(const std::shared_ptr<const Shape>& shape, Look look);
    Held<Graphic3d_Structure> structure(Graphic3d_ZLayerId layer);
    void show_table(const shop::Table& wanted);
    void label_scene(const Scene& scene);
    void label_overlay();
    void write_strokes(const SolidCamera& camera);
    void write_labels(LabelLayer& layer, const SolidCamera& camera, std::vector<QRectF>& taken);
    void refresh(const SolidCamera& camera, const QFont& font);

    struct Wanted {
        std::shared_ptr<const Shape> shape;
        Look look;
        space::Pose X_TS;
    };
    void match(std::vector<Instance>& have, const std::vector<Wanted>& wanted);
};

SolidCanvas::Impl::~Impl() {
    // Structures before the view, the view before the viewer and its driver; the display closes last.
    try {
        const XErrors errors;
        clear();
        strokes.Nullify();
        scene_labels = {};
        overlay_labels = {};
        if (!view.IsNull()) view->Remove();
        view.Nullify();
        window.Nullify();
        viewer.Nullify();
        driver.Nullify();
        display.Nullify();
    } catch (const Standard_Failure&) {
        // The window is going away; nobody can do better than let go.
    }
}

void SolidCanvas::Impl::open(WId id, const QSize& device_pixels) {
    const XErrors errors;
    display = new Aspect_DisplayConnection();
    driver = new OpenGl_GraphicDriver(display, false);
    // Straight into the window: a frame of software OpenGL takes 10 ms less than by way of a buffer of its own.
    driver->ChangeOptions().useSystemBuffer = true;
    if (!driver->InitContext()) throw std::runtime_error("no OpenGL on this display");
    viewer = new V3d_Viewer(driver);
    viewer->SetDefaultShadingModel(Graphic3d_TOSM_VERTEX);
    view = viewer->CreateView();
    view->SetImmediateUpdate(false);
    view->SetAutoZFitMode(false);
    window = new Aspect_NeutralWindow();
    window->SetNativeHandle(id);
    window->SetSize(device_pixels.width(), device_pixels.height());
    view->SetWindow(window);
    XSync(reinterpret_cast<Display*>(display->GetDisplayAspect()), 0);
    if (errors.count() > 0) throw std::runtime_error("the window does not take OpenGL");

    TColStd_IndexedDataMapOfStringString about;
    view->DiagnosticInformation(about, Graphic3d_DiagnosticInfo_Device);
    const TCollection_AsciiString* renderer = about.Seek("GLdevice");
    const QString device = renderer ? QString::fromUtf8(renderer->ToCString()).toLower() : QString();
    const bool software = device.contains("llvmpipe") || device.contains("softpipe") || device.contains("swrast");
    // Smooth lines cost software OpenGL three frames in four; waiting for a beam it does not have, one more.
    view->ChangeRenderingParams().NbMsaaSamples = software ? 0 : 4;
    if (software && !driver->GetSharedContext().IsNull()) driver->GetSharedContext()->SetSwapInterval(0);
    view->ChangeRenderingParams().FrustumCullingState = Graphic3d_RenderingParams::FrustumCulling_Off;

    // Colours are shares of the light, linear. Tops get all of it; then come the south, the east and west, the north.
    const auto share = [](double part) { return Quantity_Color(part, part, part, Quantity_TOC_RGB); };
    const auto shine = [&](const Held<V3d_Light>& light) {
        viewer->AddLight(light);
        viewer->SetLightOn(light);
    };
    shine(new V3d_AmbientLight(share(0.42)));
    shine(new V3d_DirectionalLight(direction(Vec3(-0.2, 0.5, -0.84)), share(0.54)));
    shine(new V3d_DirectionalLight(direction(Vec3(0.9, -0.4, -0.1)), share(0.12)));

    Graphic3d_ZLayerSettings settings;
    settings.SetImmediate(false);
    settings.SetClearDepth(true);
    viewer->AddZLayer(over, settings);
    settings.SetClearDepth(false);
    settings.SetEnableDepthTest(false);
    settings.SetEnableDepthWrite(false);
    viewer->AddZLayer(words, settings);

    strokes = structure(over);
    scene_labels.structure = structure(words);
    overlay_labels.structure = structure(words);
    for (LabelLayer* layer : {&scene_labels, &overlay_labels})
        layer->structure->SetTransformPersistence(
            new Graphic3d_TransformPers(Graphic3d_TMF_2d, Aspect_TOTP_LEFT_LOWER));
    // Later labels are drawn over earlier ones.
    overlay_labels.structure->SetDisplayPriority(7);
}

Held<Graphic3d_Structure> SolidCanvas::Impl::structure(Graphic3d_ZLayerId layer) {
    Held<Graphic3d_Structure> made = new Graphic3d_Structure(viewer->StructureManager());
    made->SetZLayer(layer);
    made->Display();
    return made;
}

void SolidCanvas::Impl::clear() {
    ghosts.clear();
    marks.clear();
    items.clear();
    masters.clear();
    for (auto* side : {&table_top, &table_under}) {
        if (*side) (**side)->Erase();
        side->reset();
    }
    table.reset();
    for (const auto& one : {strokes, scene_labels.structure, overlay_labels.structure})
        if (!one.IsNull()) one->Clear();
    for (LabelLayer* layer : {&scene_labels, &overlay_labels}) {
        layer->labels.clear();
        layer->edges.clear();
        layer->sheet = {};
        layer->aspect.Nullify();
        layer->stale = true;
    }
    overlay_stale = true;
    drawn_from.reset();
}

std::shared_ptr<const Master> SolidCanvas::Impl::master(const std::shared_ptr<const Shape>& shape, Look look) {
    std::weak_ptr<const Master>& known = masters[{shape.get(), look}];
    if (auto one = known.lock()) return one;
    const Style style = style_of(look, palette);
    auto made = std::make_shared<Master>();
    made->shape = shape;
    made->look = look;
    made->structure = new Graphic3d_Structure(viewer->StructureManager());
    if (!shape->mesh.triangles.empty()) {
        const Held<Graphic3d_Group> group = made->structure->NewGroup();
        const auto aspect = fill(style.fill, style.opacity, style.lit);
        aspect->SetFaceCulling(Graphic3d_TypeOfBackfacingModel_BackCulled);
        aspect->SetDrawSilhouette(style.outlined);
        aspect->SetEdgeColor(colour(style.edge));
        aspect->SetEdgeWidth(style.width * pixel_ratio);
        group->SetGroupPrimitivesAspect(aspect);
        group->AddPrimitiveArray(triangles(*shape));
    }
    if (const auto edges = segments(shape->edges); !edges.IsNull()) {
        const Held<Graphic3d_Group> group = made->structure->NewGroup();
        group->SetGroupPrimitivesAspect(line(style.edge, style.width * pixel_ratio, style.dashed));
        group->AddPrimitiveArray(edges);
    }
    known = made;
    return made;
}

void SolidCanvas::Impl::match(std::vector<Instance>& have, const std::vector<Wanted>& wanted) {
    std::vector<Instance> next;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
        const Wanted& one = wanted[i];
        if (i < have.size() && have[i].master().shape == one.shape && have[i].master().look == one.look) {
            next.push_back(std::move(have[i]));
            next.back().move(one.X_TS);
        } else {
            next.emplace_back(viewer->StructureManager(), master(one.shape, one.look), one.X_TS);
        }
    }
    have = std::move(next);
}

void SolidCanvas::Impl::show_table(const shop::Table& wanted) {
    if (table && *table == wanted) return;
    for (auto* side : {&table_top, &table_under})
        if (*side) {
            (**side)->Erase();
            side->reset();
        }
    table = wanted;
    scene_labels.edges = edge_labels(wanted);
    scene_labels.stale = true;
    // No job, no table.
    if (wanted.cols <= 0 || wanted.rows <= 0 || wanted.pitch_x_mm <= 0 || wanted.pitch_y_mm <= 0) return;
    table_top = structure(Graphic3d_ZLayerId_Default);
    table_under = structure(Graphic3d_ZLayerId_Default);
    const double x0 = -wanted.margin_west_mm, y0 = -wanted.margin_south_mm;
    const double x1 = x0 + wanted.length_mm, y1 = y0 + wanted.width_mm, z1 = -wanted.thickness_mm;

    // One cell of the grid, repeated: the cost of a quad whatever the number of holes.
    constexpr int cell_px = 256;
    QImage cell(cell_px, cell_px, QImage::Format_RGBA8888);
    cell.fill(palette.table);
    QPainter painter(&cell);
    painter.setRenderHint(QPainter::Antialiasing);
    painter.setPen(QPen(palette.table_edge, cell_px * 0.012));
    painter.setBrush(palette.hole);
    painter.drawEllipse(QPointF(cell_px / 2.0, cell_px / 2.0), cell_px * wanted.hole_mm / wanted.pitch_x_mm / 2,
                        cell_px * wanted.hole_mm / wanted.pitch_y_mm / 2);
    painter.end();
    Held<Graphic3d_Texture2D> texture = new Graphic3d_Texture2Dmanual(pixmap(cell));
    texture->SetMipMaps(true);
    texture->EnableRepeat();
    texture->GetParams()->SetFilter(Graphic3d_TOTF_TRILINEAR);
    texture->DisableModulate();

    const double gx0 = std::max(x0, -wanted.pitch_x_mm / 2), gy0 = std::max(y0, -wanted.pitch_y_mm / 2);
    const double gx1 = std::min(x1, (wanted.cols - 0.5) * wanted.pitch_x_mm);
    const double gy1 = std::min(y1, (wanted.rows - 0.5) * wanted.pitch_y_mm);
    const auto top = fill(palette.table, 1, false);
    top->SetTextureMap(texture);
    top->SetTextureMapOn();
    top->SetFaceCulling(Graphic3d_TypeOfBackfacingModel_BackCulled);
    const auto plain = fill(palette.table, 1, false);
    plain->SetFaceCulling(Graphic3d_TypeOfBackfacingModel_BackCulled);
    const auto rim = fill(palette.table_edge, 1, true);
    rim->SetFaceCulling(Graphic3d_TypeOfBackfacingModel_BackCulled);

    const auto quads = [&](const Held<Graphic3d_Structure>& into, const Held<Graphic3d_AspectFillArea3d>& aspect,
                           const std::vector<std::array<Vec3, 4>>& corners) {
        Held<Graphic3d_ArrayOfTriangles> array = new Graphic3d_ArrayOfTriangles(static_cast<int>(6 * corners.size()), 0,
                                                                                true, false, aspect->ToMapTexture());
        for (const auto& q : corners) {
            const Vec3 normal = (q[1] - q[0]).cross(q[2] - q[0]).normalized();
            for (const std::size_t k : {0u, 1u, 2u, 0u, 2u, 3u}) {
                if (aspect->ToMapTexture())
                    array->AddVertex(point(q[k]), direction(normal),
                                     gp_Pnt2d(q[k].x() / wanted.pitch_x_mm + 0.5, q[k].y() / wanted.pitch_y_mm + 0.5));
                else
                    array->AddVertex(point(q[k]), direction(normal));
            }
        }
        const Held<Graphic3d_Group> group = into->NewGroup();
        group->SetGroupPrimitivesAspect(aspect);
        group->AddPrimitiveArray(array);
    };
    const auto flat = [](double ax, double ay, double bx, double by) -> std::array<Vec3, 4> {
        return {Vec3(ax, ay, 0), Vec3(bx, ay, 0), Vec3(bx, by, 0), Vec3(ax, by, 0)};
    };
    quads(*table_top, top, {flat(gx0, gy0, gx1, gy1)});
    std::vector<std::array<Vec3, 4>> margins;
    if (gy0 > y0) margins.push_back(flat(x0, y0, x1, gy0));
    if (gy1 < y1) margins.push_back(flat(x0, gy1, x1, y1));
    if (gx0 > x0) margins.push_back(flat(x0, gy0, gx0, gy1));
    if (gx1 < x1) margins.push_back(flat(gx1, gy0, x1, gy1));
    if (!margins.empty()) quads(*table_top, plain, margins);
    const auto side = [&](double ax, double ay, double bx, double by) -> std::array<Vec3, 4> {
        return {Vec3(ax, ay, z1), Vec3(bx, by, z1), Vec3(bx, by, 0), Vec3(ax, ay, 0)};
    };
    quads(*table_top, rim, {side(x0, y0, x1, y0), side(x1, y0, x1, y1), side(x1, y1, x0, y1), side(x0, y1, x0, y0)});

    Strokes marked;
    for (const shop::Hole& hole : wanted.blocked) {
        const Vec3 at(hole.col * wanted.pitch_x_mm, hole.row * wanted.pitch_y_mm, 0);
        const double r = wanted.hole_mm / 2;
        marked.disc(at, Vec3::UnitZ(), r, palette.hole_blocked, 1);
        marked.line_between(at + Vec3(-r, -r, 0), at + Vec3(r, r, 0), palette.hole_blocked, 2);
        marked.line_between(at + Vec3(-r, r, 0), at + Vec3(r, -r, 0), palette.hole_blocked, 2);
    }
    marked.write(*table_top, pixel_ratio);
    // From underneath the plate would hide everything: only its outline is drawn then.
    Strokes outline;
    outline.polyline({Vec3(x0, y0, 0), Vec3(x1, y0, 0), Vec3(x1, y1, 0), Vec3(x0, y1, 0), Vec3(x0, y0, 0)},
                     palette.table_edge, 1);
    outline.write(*table_under, pixel_ratio);
}

void SolidCanvas::Impl::label_scene(const Scene& scene) {
    std::vector<SolidLabel> labels;
    for (const auto& [id, item] : scene.items) {
        if (item.label.empty() || !item.shape) continue;
        const bool piece = std::holds_alternative<PieceId>(id);
        if (overlay.hidden.contains(id)) continue;
        const space::Aabb box = item.shape->box.moved(item.X_TS);
        if (box.empty()) continue;
        Vec3 at = box.centre();
        if (!piece) at.z() = box.max.z();
        labels.push_back({piece ? SolidLabel::Kind::name : SolidLabel::Kind::number, at,
                          QString::fromStdString(item.label), Tone::plain, Vec3::Zero()});
    }
    if (labels == scene_labels.labels) return;
    scene_labels.labels = std::move(labels);
    scene_labels.stale = true;
}

void SolidCanvas::Impl::label_overlay() {
    using Kind = SolidLabel::Kind;
    std::vector<SolidLabel> labels;
    const auto add = [&](Kind kind, const Vec3& at, const std::string& text, Tone tone, const Vec3& along) {
        labels.push_back({kind, at, QString::fromStdString(text), tone, along});
    };
    for (const auto& spot : overlay.spots) add(Kind::spot, spot.at, spot.text, spot.tone, Vec3::Zero());
    for (const auto& note : overlay.notes)
        if (!note.text.empty()) add(Kind::note, note.at, note.text, note.tone, Vec3::Zero());
    for (const auto& measure : overlay.measures)
        if (!measure.text.empty())
            add(Kind::measure, (measure.from + measure.to) / 2, measure.text, measure.tone, measure.to - measure.from);
    if (labels == overlay_labels.labels) return;
    overlay_labels.labels = std::move(labels);
    overlay_labels.stale = true;
}

void SolidCanvas::Impl::write_strokes(const SolidCamera& camera) {
    strokes->Clear();
    const double px = camera.mm_per_pixel();
    Strokes made;
    for (const auto& one : overlay.lines) made.polyline(one, palette.plain, 3);
    for (const auto& measure : overlay.measures) {
        const QColor c = colour_of(palette, measure.tone);
        const bool dashed = measure.tone == Tone::bad;
        made.line_between(measure.from, measure.to, c, 2, dashed);
        const Vec3 across = camera.back().cross(measure.to - measure.from);
        if (across.norm() < 1e-9) continue;
        const Vec3 tick = across.normalized() * 6 * px;
        for (const Vec3& end : {measure.from, measure.to}) made.line_between(end - tick, end + tick, c, 2);
    }
    for (const auto& touch : overlay.touches) {
        const QColor c = colour_of(palette, touch.tone);
        const Vec3 axis = touch.normal.norm() > 0 ? touch.normal.normalized() : Vec3(Vec3::UnitZ());
        if (touch.patch.size() > 2) {
            made.fan(touch.patch, c, 0.45);
            std::vector<Vec3> outline = touch.patch;
            outline.push_back(outline.front());
            made.polyline(outline, c, 2);
        }
        // A disc on the face is a line when the face is seen edge-on: then it turns half-way to the eye.
        const Vec3 shown = std::abs(axis.dot(camera.back())) < 0.35
                               ? (axis * (axis.dot(camera.back()) < 0 ? -1 : 1) + camera.back()).normalized()
                               : axis;
        const double r = 6 * px;
        made.disc(touch.at, shown, r, c, touch.tone == Tone::bad ? 0.35 : 1);
        made.ring(touch.at, shown, r, palette.ground, 1);
        made.ring(touch.at, shown, r + px, c, 2);
        if (touch.tone == Tone::bad) {
            const auto [u, v] = Strokes::across(shown);
            for (const Vec3& arm : {Vec3(u + v), Vec3(u - v)})
                made.line_between(touch.at - arm * r, touch.at + arm * r, c, 2);
        }
    }
    for (const auto& motion : overlay.motions) {
        if (motion.axis.norm() == 0) continue;
        const Vec3 axis = motion.axis.normalized();
        const QColor& c = palette.warn;
        if (!motion.turns) {
            for (const double way : {-1.0, 1.0}) {
                made.cone(motion.at, motion.at + axis * way * 38 * px, 2.2 * px, 2.2 * px, c);
                made.cone(motion.at + axis * way * 34 * px, motion.at + axis * way * 54 * px, 7.5 * px, 0, c);
            }
            continue;
        }
        const auto [u, v] = Strokes::across(axis);
        const auto on_arc = [&](double deg) -> Vec3 {
            return motion.at + (u * std::cos(deg / 180 * M_PI) + v * std::sin(deg / 180 * M_PI)) * 32 * px;
        };
        for (int deg = 20; deg < 280; deg += 10) made.cone(on_arc(deg), on_arc(deg + 10.5), 2.2 * px, 2.2 * px, c);
        for (const double way : {-1.0, 1.0}) {
            const double end = way < 0 ? 24 : 276;
            const Vec3 ahead = (on_arc(end + way * 12) - on_arc(end)).normalized();
            made.cone(on_arc(end), on_arc(end) + ahead * 18 * px, 7.5 * px, 0, c);
        }
        made.line_between(motion.at - axis * 26 * px, motion.at + axis * 26 * px, c, 1, true);
    }
    if (overlay.hole && table) {
        const Vec3 at(overlay.hole->col * table->pitch_x_mm, overlay.hole->row * table->pitch_y_mm, 0);
        made.ring(at, Vec3::UnitZ(), std::max(table->hole_mm / 2, 4 * px), palette.selected, 3);
        made.ring(at, Vec3::UnitZ(), std::max(table->hole_mm / 2, 4 * px) + 4 * px, palette.selected, 1);
    }
    made.write(strokes, pixel_ratio);
}

void SolidCanvas::Impl::write_labels(LabelLayer& layer, const SolidCamera& camera, std::vector<QRectF>& taken) {
    std::vector<SolidLabel> labels = layer.labels;
    if (table) stand_edge_labels(layer.edges, *table, camera);
    labels.insert(labels.end(), layer.edges.begin(), layer.edges.end());
    layer.structure->Clear();
    if (labels.empty()) return;
    if (layer.stale || layer.aspect.IsNull()) {
        layer.sheet = draw_labels(labels, palette, drawn_font, pixel_ratio);
        Held<Graphic3d_Texture2D> texture = new Graphic3d_Texture2Dmanual(pixmap(layer.sheet.image));
        texture->GetParams()->SetFilter(Graphic3d_TOTF_NEAREST);
        texture->DisableModulate();
        layer.aspect = fill(Qt::white, 0.999, false);
        layer.aspect->SetTextureMap(texture);
        layer.aspect->SetTextureMapOn();
        layer.aspect->SetFaceCulling(Graphic3d_TypeOfBackfacingModel_DoubleSided);
        layer.stale = false;
    }
    const std::vector<SolidLabelSpot> spots = place_labels(labels, layer.sheet, camera, taken);
    if (spots.empty()) return;
    const double high = camera.pixels().height() * pixel_ratio;
    Held<Graphic3d_ArrayOfTriangles> array =
        new Graphic3d_ArrayOfTriangles(static_cast<int>(6 * spots.size()), 0, false, false, true);
    std::vector<std::vector<Vec3>> leaders;
    for (const SolidLabelSpot& spot : spots) {
        const QRect& cut = layer.sheet.cuts[spot.label];
        // On whole pixels, or the letters blur.
        const double x = std::round(spot.at.left() * pixel_ratio), y = std::round(high - spot.at.top() * pixel_ratio);
        const QSizeF sheet = layer.sheet.image.size();
        const auto corner = [&](int right, int down) {
            array->AddVertex(gp_Pnt(x + right * cut.width(), y - down * cut.height(), 0),
                             gp_Pnt2d((cut.left() + right * cut.width()) / sheet.width(),
                                      (cut.top() + down * cut.height()) / sheet.height()));
        };
        corner(0, 0), corner(0, 1), corner(1, 1);
        corner(0, 0), corner(1, 1), corner(1, 0);
        if (spot.leader)
            leaders.push_back({Vec3(spot.leader->x1() * pixel_ratio, high - spot.leader->y1() * pixel_ratio, 0),
                               Vec3(spot.leader->x2() * pixel_ratio, high - spot.leader->y2() * pixel_ratio, 0)});
    }
    if (const auto lines = segments(leaders); !lines.IsNull()) {
        const Held<Graphic3d_Group> group = layer.structure->NewGroup();
        group->SetGroupPrimitivesAspect(line(palette.label, 1 * pixel_ratio));
        group->AddPrimitiveArray(lines);
    }
    const Held<Graphic3d_Group> group = layer.structure->NewGroup();
    group->SetGroupPrimitivesAspect(layer.aspect);
    group->AddPrimitiveArray(array);
}

void SolidCanvas::Impl::refresh(const SolidCamera& camera, const QFont& font) {
    if (drawn_font != font) {
        drawn_font = font;
        scene_labels.stale = overlay_labels.stale = true;
    }
    const bool moved = !drawn_from || !(*drawn_from == camera);
    if (moved) {
        const double away =
            reach.empty() ? 1000 : reach.size().norm() + (camera.centre() - reach.centre()).norm() + 100;
        const Held<Graphic3d_Camera>& eye = view->Camera();
        eye->SetProjectionType(Graphic3d_Camera::Projection_Orthographic);
        eye->SetUp(direction(camera.up()));
        eye->SetEyeAndCenter(point(camera.centre() + camera.back() * away), point(camera.centre()));
        eye->SetUp(direction(camera.up()));
        const double wide = camera.pixels().width(), high = camera.pixels().height();
        eye->SetAspect(wide / high);
        eye->SetScale(camera.mm_per_pixel() * std::min(wide, high));
        eye->SetZRange(away * 0.001, away * 2);
        if (table_top) (*table_top)->SetVisible(camera.back().z() >= -1e-9);
    }
    if (moved || overlay_stale) write_strokes(camera);
    if (moved || scene_labels.stale || overlay_labels.stale) {
        std::vector<QRectF> taken;
        write_labels(overlay_labels, camera, taken);
        write_labels(scene_labels, camera, taken);
    }
    overlay_stale = false;
    drawn_from = camera;
}

bool SolidCanvas::possible() {
    if (QGuiApplication::platformName() != "xcb") return false;
    Display* display = XOpenDisplay(nullptr);
    if (!display) return false;
    int opcode = 0, event = 0, error = 0;
    const bool glx = XQueryExtension(display, "GLX", &opcode, &event, &error) != 0;
    XCloseDisplay(display);
    return glx;
}

SolidCanvas::SolidCanvas(WId window, const QSize& device_pixels, double pixel_ratio) : impl_(std::make_unique<Impl>()) {
    impl_->pixel_ratio = pixel_ratio;
    guarded([&] { impl_->open(window, device_pixels); });
}

SolidCanvas::~SolidCanvas() = default;

void SolidCanvas::set_palette(const Palette& palette) {
    guarded([&] {
        impl_->clear();
        impl_->palette = palette;
        impl_->overlay = {};
        impl_->view->SetBackgroundColor(colour(palette.ground));
    });
}

void SolidCanvas::show_scene(const Scene& scene) {
    guarded([&] {
        impl_->show_table(scene.table);
        std::erase_if(impl_->items, [&](const auto& shown) { return !scene.items.contains(shown.first); });
        for (const auto& [id, item] : scene.items) {
            if (!item.shape) continue;
            const Look look = item_look(id, item);
            const auto shown = impl_->items.find(id);
            if (shown != impl_->items.end() && shown->second.master().shape == item.shape &&
                shown->second.master().look == look) {
                shown->second.move(item.X_TS);
                continue;
            }
            if (shown != impl_->items.end()) impl_->items.erase(shown);
            const auto [made, added] = impl_->items.try_emplace(id, impl_->viewer->StructureManager(),
                                                                impl_->master(item.shape, look), item.X_TS);
            made->second.set_visible(!impl_->overlay.hidden.contains(id));
        }
        std::erase_if(impl_->masters, [](const auto& known) { return known.second.expired(); });
        impl_->reach = scene.box();
        impl_->reach.add(Vec3(-scene.table.margin_west_mm, -scene.table.margin_south_mm, -scene.table.thickness_mm));
        impl_->reach.add(Vec3(scene.table.length_mm, scene.table.width_mm, 0));
        impl_->drawn_from.reset();
        impl_->label_scene(scene);
    });
}

void SolidCanvas::show_overlay(const Scene& scene, const Overlay& overlay) {
    guarded([&] {
        const bool hidden_same = impl_->overlay.hidden == overlay.hidden;
        const auto face_before = impl_->overlay.face;
        const auto body_before = impl_->face_body;
        impl_->overlay = overlay;
        std::vector<Impl::Wanted> ghosts;
        for (const auto& ghost : overlay.ghosts)
            if (ghost.shape) ghosts.push_back({ghost.shape, ghost_look(ghost.tone), ghost.X_TS});
        impl_->match(impl_->ghosts, ghosts);

        std::vector<Impl::Wanted> marks;
        const auto mark = [&](const ItemId& id, Look look) {
            const auto item = scene.items.find(id);
            if (item == scene.items.end() || !item->second.shape || overlay.hidden.contains(id)) return;
            marks.push_back({item->second.shape, look, item->second.X_TS});
        };
        for (const ItemId& id : overlay.selected) mark(id, Look::selected);
        if (overlay.hovered && !overlay.selected.contains(*overlay.hovered)) mark(*overlay.hovered, Look::hovered);
        if (overlay.face) {
            const auto item = scene.items.find(overlay.face->first);
            if (item != scene.items.end() && item->second.shape) {
                // The same face of the same body keeps its drawing.
                const bool kept = face_before == overlay.face && body_before == item->second.shape &&
                                  !impl_->marks.empty() && impl_->marks.back().master().look == Look::face;
                marks.push_back({kept ? impl_->marks.back().master().shape
                                      : std::make_shared<Shape>(face_of(*item->second.shape, overlay.face->second)),
                                 Look::face, item->second.X_TS});
                impl_->face_body = item->second.shape;
            }
        }
        impl_->match(impl_->marks, marks);
        if (!hidden_same) {
            for (auto& [id, item] : impl_->items) item.set_visible(!overlay.hidden.contains(id));
            impl_->label_scene(scene);
        }
        std::erase_if(impl_->masters, [](const auto& known) { return known.second.expired(); });
        impl_->label_overlay();
        impl_->overlay_stale = true;
    });
}

void SolidCanvas::resize(const QSize& device_pixels) {
    guarded([&] {
        impl_->window->SetSize(device_pixels.width(), device_pixels.height());
        impl_->view->MustBeResized();
        impl_->drawn_from.reset();
    });
}

void SolidCanvas::draw(const SolidCamera& camera, const QFont& font) {
    guarded([&] {
        const XErrors errors;
        impl_->refresh(camera, font);
        impl_->view->Redraw();
    });
}

QImage SolidCanvas::picture(const SolidCamera& camera, const QFont& font) {
    return guarded([&] {
        const XErrors errors;
        impl_->refresh(camera, font);
        int wide = 0, high = 0;
        impl_->window->Size(wide, high);
        Image_PixMap pixels;
        pixels.InitZero(Image_Format_RGB, static_cast<Standard_Size>(wide), static_cast<Standard_Size>(high));
        if (!impl_->view->ToPixMap(pixels, wide, high)) return QImage();
        QImage image(wide, high, QImage::Format_RGB888);
        for (int y = 0; y < high; ++y)
            std::copy_n(pixels.Row(static_cast<Standard_Size>(y)), 3 * wide, image.scanLine(y));
        image.setDevicePixelRatio(impl_->pixel_ratio);
        return image;
    });
}

}  // namespace setwright::viewer
