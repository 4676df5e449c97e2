#include "core/space/solid.h"

#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRepCheck_Analyzer.hxx>
#include <BRepExtrema_DistShapeShape.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRep_Builder.hxx>
#include <BinTools.hxx>
#include <GProp_GProps.hxx>
#include <TopExp_Explorer.hxx>
#include <TopLoc_Location.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Compound.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Wire.hxx>
#include <cmath>
#include <gp_Ax2.hxx>
#include <gp_Pln.hxx>
#include <gp_Trsf.hxx>
#include <sstream>

#include "core/base/file.h"
#include "core/base/limits.h"
#include "core/space/occt.h"

namespace setwright::space {

namespace limits = base::limits;
using base::Result;

namespace {

/// Before the kernel's bytes: its reader trusts what it is given, so damage has to be seen first.
constexpr std::string_view bytes_mark = "setwright-brep 1\n";
constexpr std::size_t sum_size = 64;

gp_Pnt point_of(const Vec3& p) {
    return {p.x(), p.y(), p.z()};
}
Vec3 vec_of(const gp_Pnt& p) {
    return {p.X(), p.Y(), p.Z()};
}

Polygon2 without_repeats(const Polygon2& polygon) {
    Polygon2 kept;
    for (const Vec2& p : polygon)
        if (kept.empty() || (p - kept.back()).norm() > limits::coincident_mm) kept.push_back(p);
    while (kept.size() > 1 && (kept.front() - kept.back()).norm() <= limits::coincident_mm) kept.pop_back();
    return kept;
}

TopoDS_Wire wire_of(const Polygon2& polygon, double z_mm) {
    BRepBuilderAPI_MakePolygon wire;
    for (const Vec2& p : polygon) wire.Add(gp_Pnt(p.x(), p.y(), z_mm));
    wire.Close();
    return wire.Wire();
}

/// Boolean results are compounds; one solid in it is taken out.
TopoDS_Shape unwrapped(const TopoDS_Shape& shape) {
    TopExp_Explorer solids(shape, TopAbs_SOLID);
    if (!solids.More()) return {};
    const TopoDS_Shape first = solids.Current();
    solids.Next();
    return solids.More() ? shape : first;
}

Result<Brep> no_shape(const char* id) {
    return base::bad_input({id, {}});
}

}  // namespace

Brep brep_of(const TopoDS_Shape& shape) {
    return shape.IsNull() ? Brep() : Brep(std::make_shared<const Brep::Impl>(Brep::Impl{shape}));
}

gp_Trsf trsf_of(const Pose& X) {
    const Mat3& r = X.rotation();
    const Vec3& p = X.position();
    gp_Trsf motion;
    motion.SetValues(r(0, 0), r(0, 1), r(0, 2), p.x(), r(1, 0), r(1, 1), r(1, 2), p.y(), r(2, 0), r(2, 1), r(2, 2),
                     p.z());
    // Rounding in the rotation must not become a scale: located shapes refuse those.
    motion.SetScaleFactor(1);
    return motion;
}

TopoDS_Shape shape_of(const Brep& brep, const Pose& X) {
    if (brep.empty()) return {};
    const TopoDS_Shape& shape = brep.impl()->shape;
    return X == Pose{} ? shape : shape.Moved(TopLoc_Location(trsf_of(X)));
}

Brep Brep::box(const Vec3& min, const Vec3& max) {
    const Result<Brep> made =
        guard([&]() -> Result<Brep> { return brep_of(BRepPrimAPI_MakeBox(point_of(min), point_of(max)).Solid()); });
    return made ? *made : Brep();
}

Brep Brep::cylinder(const Vec3& from, const Vec3& to, double radius_mm) {
    if (!(radius_mm > 0)) return {};
    const Result<Brep> made = guard([&]() -> Result<Brep> {
        const Vec3 along = to - from;
        const gp_Ax2 axes(point_of(from), gp_Dir(along.x(), along.y(), along.z()));
        return brep_of(BRepPrimAPI_MakeCylinder(axes, radius_mm, along.norm()).Solid());
    });
    return made ? *made : Brep();
}

Result<Brep> Brep::prism(const Polygon2& outline, const std::vector<Polygon2>& holes, double z0_mm, double z1_mm,
                         const Pose& X) {
    return guard([&]() -> Result<Brep> {
        const Polygon2 corners = without_repeats(outline);
        if (!(area(corners) > 0) || !(z1_mm - z0_mm > limits::coincident_mm)) return no_shape("solid.prism_outline");
        BRepBuilderAPI_MakeFace face(gp_Pln(gp_Pnt(0, 0, z0_mm), gp::DZ()), wire_of(corners, z0_mm));
        for (const Polygon2& hole : holes) {
            const Polygon2 hole_corners = without_repeats(hole);
            if (!(area(hole_corners) < 0)) return no_shape("solid.prism_outline");
            face.Add(wire_of(hole_corners, z0_mm));
        }
        if (!face.IsDone() || !BRepCheck_Analyzer(face.Face()).IsValid()) return no_shape("solid.prism_outline");
        const TopoDS_Shape body = BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, z1_mm - z0_mm)).Shape();
        return brep_of(body).moved(X);
    });
}

Result<Brep> Brep::cut(const Brep& from, const Brep& what) {
    if (from.empty() || what.empty()) return from;
    return guard([&]() -> Result<Brep> {
        BRepAlgoAPI_Cut cut(from.impl()->shape, what.impl()->shape);
        if (!cut.IsDone() || cut.HasErrors()) return no_shape("solid.cut_failed");
        const TopoDS_Shape left = unwrapped(cut.Shape());
        if (left.IsNull()) return no_shape("solid.cut_leaves_nothing");
        return brep_of(left);
    });
}

Brep Brep::together(const std::vector<Brep>& parts) {
    TopoDS_Compound compound;
    BRep_Builder builder;
    builder.MakeCompound(compound);
    bool any = false;
    for (const Brep& part : parts) {
        if (part.empty()) continue;
        builder.Add(compound, part.impl()->shape);
        any = true;
    }
    return any ? brep_of(compound) : Brep();
}

Brep Brep::moved(const Pose& X) const {
    return brep_of(shape_of(*this, X));
}

Result<Brep> Brep::mirrored(const Vec3& normal) const {
    if (empty()) return Brep();
    return guard([&]() -> Result<Brep> {
        gp_Trsf mirror;
        mirror.SetMirror(gp_Ax2(gp::Origin(), gp_Dir(normal.x(), normal.y(), normal.z())));
        return brep_of(BRepBuilderAPI_Transform(impl_->shape, mirror, true).Shape());
    });
}

std::string Brep::bytes() const {
    if (empty()) return {};
    const Result<std::string> written = guard([&]() -> Result<std::string> {
        std::ostringstream stream(std::ios::binary);
        BinTools::Write(impl_->shape, stream, false, false, BinTools_FormatVersion_CURRENT);
        return stream.str();
    });
    return written ? std::string(bytes_mark) + base::sha256(*written) + *written : std::string();
}

Result<Brep> Brep::from_bytes(std::string_view bytes) {
    if (bytes.empty()) return Brep();
    if (bytes.size() < bytes_mark.size() + sum_size || !bytes.starts_with(bytes_mark))
        return no_shape("solid.bytes_damaged");
    const std::string_view sum = bytes.substr(bytes_mark.size(), sum_size);
    const std::string_view content = bytes.substr(bytes_mark.size() + sum_size);
    if (base::sha256(content) != sum) return no_shape("solid.bytes_damaged");
    return guard([&]() -> Result<Brep> {
        std::istringstream stream{std::string(content), std::ios::binary};
        TopoDS_Shape shape;
        BinTools::Read(shape, stream);
        if (shape.IsNull()) return no_shape("solid.bytes_damaged");
        return brep_of(shape);
    });
}

Solid moved(const Solid& solid, const Pose& X) {
    Solid result = solid;
    for (Vec3& p : result.mesh.points) p = X * p;
    result.box = result.mesh.box();
    result.centroid = X * solid.centroid;
    result.inertia = X.rotation() * solid.inertia * X.rotation().transpose();
    for (Edge& edge : result.edges)
        for (Vec3& p : edge.polyline) p = X * p;
    for (Face& face : result.faces) {
        face.surface.point = X * face.surface.point;
        face.surface.axis = X.turn(face.surface.axis);
        face.centroid = X * face.centroid;
        for (Loop& loop : face.loops)
            for (Vec3& p : loop.polyline) p = X * p;
        face.box = {};
        for (std::uint32_t i = 0; i < face.triangle_count; ++i)
            for (const std::uint32_t corner : result.mesh.triangles[face.first_triangle + i])
                face.box.add(result.mesh.points[corner]);
    }
    return result;
}

Result<ExactDistance> exact_distance(const Brep& a, const Pose& X_TA, const Brep& b, const Pose& X_TB) {
    if (a.empty() || b.empty()) return base::bad_input({"solid.empty", {}});
    return guard([&]() -> Result<ExactDistance> {
        const BRepExtrema_DistShapeShape pair(shape_of(a, X_TA), shape_of(b, X_TB));
        if (!pair.IsDone() || pair.NbSolution() == 0) return kernel_error("no distance found");
        return ExactDistance{pair.Value(), vec_of(pair.PointOnShape1(1)), vec_of(pair.PointOnShape2(1))};
    });
}

Result<double> common_volume(const Brep& a, const Pose& X_TA, const Brep& b, const Pose& X_TB) {
    if (a.empty() || b.empty()) return base::bad_input({"solid.empty", {}});
    return guard([&]() -> Result<double> {
        BRepAlgoAPI_Common common(shape_of(a, X_TA), shape_of(b, X_TB));
        if (!common.IsDone() || common.HasErrors()) return kernel_error("the common part could not be made");
        GProp_GProps volume;
        BRepGProp::VolumeProperties(common.Shape(), volume);
        return std::abs(volume.Mass());
    });
}

}  // namespace setwright::space
