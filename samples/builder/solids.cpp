#include "solids.h"

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepCheck_Analyzer.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Wire.hxx>
#include <algorithm>
#include <cmath>
#include <gp_Ax2.hxx>
#include <gp_Circ.hxx>
#include <gp_Pln.hxx>
#include <numbers>
#include <stdexcept>

namespace setwright::samples {
namespace {

/// A rounded rectangle about the z axis in the plane z = z_mm, counter-clockwise seen from +z.
TopoDS_Wire roundedRectangle(double width_mm, double depth_mm, double radius_mm, double z_mm) {
    const double hx = width_mm / 2;
    const double hy = depth_mm / 2;
    const double r = radius_mm;
    constexpr double kQuarter = std::numbers::pi / 2;
    const auto line = [&](double x0, double y0, double x1, double y1) {
        return BRepBuilderAPI_MakeEdge(gp_Pnt(x0, y0, z_mm), gp_Pnt(x1, y1, z_mm)).Edge();
    };
    const auto corner = [&](double cx, double cy, int quarter) {
        const gp_Circ circle(gp_Ax2(gp_Pnt(cx, cy, z_mm), gp::DZ(), gp::DX()), r);
        return BRepBuilderAPI_MakeEdge(circle, quarter * kQuarter, (quarter + 1) * kQuarter).Edge();
    };
    BRepBuilderAPI_MakeWire wire;
    wire.Add(line(-hx + r, -hy, hx - r, -hy));
    wire.Add(corner(hx - r, -hy + r, 3));
    wire.Add(line(hx, -hy + r, hx, hy - r));
    wire.Add(corner(hx - r, hy - r, 0));
    wire.Add(line(hx - r, hy, -hx + r, hy));
    wire.Add(corner(-hx + r, hy - r, 1));
    wire.Add(line(-hx, hy - r, -hx, -hy + r));
    wire.Add(corner(-hx + r, -hy + r, 2));
    return wire.Wire();
}

TopoDS_Wire opening(TopoDS_Wire wire) {
    wire.Reverse();
    return wire;
}

/// `body` without everything on the outward side of the plane.
TopoDS_Shape cutByPlane(const TopoDS_Shape& body, const gp_Pnt& point, const gp_Dir& outward, double size_mm) {
    gp_Ax2 axes(point, outward);
    axes.SetLocation(
        point.Translated(gp_Vec(axes.XDirection()) * (-size_mm / 2) + gp_Vec(axes.YDirection()) * (-size_mm / 2)));
    BRepAlgoAPI_Cut cut(body, BRepPrimAPI_MakeBox(axes, size_mm, size_mm, size_mm).Shape());
    if (!cut.IsDone()) {
        throw std::runtime_error("a plane cut failed");
    }
    return cut.Shape();
}

TopoDS_Shape bodyOf(const Tube& t) {
    const double start_rad = t.start_lean_deg * std::numbers::pi / 180;
    const double end_rad = t.end_lean_deg * std::numbers::pi / 180;
    const double start_extra_mm = t.width_mm * std::abs(std::tan(start_rad));
    const double end_extra_mm = t.width_mm * std::abs(std::tan(end_rad));

    const double z0 = -start_extra_mm;
    const gp_Pln plane(gp_Pnt(0, 0, z0), gp::DZ());
    BRepBuilderAPI_MakeFace face(plane, roundedRectangle(t.width_mm, t.depth_mm, 2 * t.wall_mm, z0));
    face.Add(opening(roundedRectangle(t.width_mm - 2 * t.wall_mm, t.depth_mm - 2 * t.wall_mm, t.wall_mm, z0)));
    const double stock_mm = start_extra_mm + t.centre_length_mm + end_extra_mm;
    TopoDS_Shape body = BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, stock_mm)).Shape();

    const double tool_mm = 8 * std::max(t.width_mm, t.depth_mm);
    if (t.start_lean_deg != 0) {
        body = cutByPlane(body, gp::Origin(), gp_Dir(-std::sin(start_rad), 0, -std::cos(start_rad)), tool_mm);
    }
    if (t.end_lean_deg != 0) {
        body = cutByPlane(body, gp_Pnt(0, 0, t.centre_length_mm), gp_Dir(-std::sin(end_rad), 0, std::cos(end_rad)),
                          tool_mm);
    }
    return body;
}

TopoDS_Shape bodyOf(const Plate& p) {
    const gp_Pnt corners[] = {gp_Pnt(0, 0, 0), gp_Pnt(p.length_mm, 0, 0), gp_Pnt(p.length_mm, p.width_mm, 0),
                              gp_Pnt(0, p.width_mm, 0)};
    BRepBuilderAPI_MakeWire outline;
    for (std::size_t i = 0; i < 4; ++i) {
        outline.Add(BRepBuilderAPI_MakeEdge(corners[i], corners[(i + 1) % 4]).Edge());
    }
    BRepBuilderAPI_MakeFace face(gp_Pln(gp::Origin(), gp::DZ()), outline.Wire());
    for (const Hole& hole : p.holes) {
        const gp_Circ circle(gp_Ax2(gp_Pnt(hole.x_mm, hole.y_mm, 0), gp::DZ(), gp::DX()), hole.diameter_mm / 2);
        face.Add(opening(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(circle).Edge()).Wire()));
    }
    return BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, p.thickness_mm)).Shape();
}

/// A boolean cut answers with a compound; a part in the file must be one plain solid.
TopoDS_Shape onlySolid(const TopoDS_Shape& body) {
    TopExp_Explorer solids(body, TopAbs_SOLID);
    if (!solids.More()) {
        throw std::runtime_error("a form gave no solid");
    }
    const TopoDS_Shape solid = solids.Current();
    solids.Next();
    if (solids.More() || !BRepCheck_Analyzer(solid).IsValid()) {
        throw std::runtime_error("a form gave several solids or an invalid one");
    }
    return solid;
}

}  // namespace

TopoDS_Shape solidOf(const Form& form) {
    return onlySolid(std::visit([](const auto& f) { return bodyOf(f); }, form));
}

gp_Trsf motionOf(const Frame& frame) {
    const auto& [ox, oy, oz] = frame.origin_mm;
    const auto& [zx, zy, zz] = frame.z_axis;
    const auto& [xx, xy, xz] = frame.x_axis;
    gp_Trsf motion;
    motion.SetDisplacement(gp_Ax3(), gp_Ax3(gp_Pnt(ox, oy, oz), gp_Dir(zx, zy, zz), gp_Dir(xx, xy, xz)));
    return motion;
}

}  // namespace setwright::samples
