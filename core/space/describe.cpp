#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepBuilderAPI_Copy.hxx>
#include <BRepCheck_Analyzer.hxx>
#include <BRepGProp.hxx>
#include <BRepMesh_IncrementalMesh.hxx>
#include <BRepTools.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <BRep_Tool.hxx>
#include <GCPnts_AbscissaPoint.hxx>
#include <GProp_GProps.hxx>
#include <Geom2d_Curve.hxx>
#include <Poly_PolygonOnTriangulation.hxx>
#include <Poly_Triangulation.hxx>
#include <Precision.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Wire.hxx>
#include <algorithm>
#include <bit>
#include <cmath>
#include <gp_Cone.hxx>
#include <gp_Cylinder.hxx>
#include <gp_Pln.hxx>
#include <gp_Sphere.hxx>
#include <gp_Torus.hxx>
#include <unordered_map>

#include "core/base/limits.h"
#include "core/space/occt.h"

namespace setwright::space {

namespace limits = base::limits;
using base::Result;

namespace {

Vec3 vec_of(const gp_Pnt& p) {
    return {p.X(), p.Y(), p.Z()};
}
Vec3 vec_of(const gp_Vec& v) {
    return {v.X(), v.Y(), v.Z()};
}
Vec3 vec_of(const gp_Dir& d) {
    return {d.X(), d.Y(), d.Z()};
}

/// Unit normal out of the material; none at a pole.
std::optional<Vec3> outward_normal(const BRepAdaptor_Surface& surface, double u, double v, bool reversed) {
    gp_Pnt p;
    gp_Vec along_u, along_v;
    surface.D1(u, v, p, along_u, along_v);
    const Vec3 normal = vec_of(along_u).cross(vec_of(along_v));
    const double size = normal.norm();
    if (!(size > 1e-12 * (along_u.SquareMagnitude() + along_v.SquareMagnitude())) || !(size > 0)) return {};
    return Vec3(normal / (reversed ? -size : size));
}

struct Sample {
    Vec3 point;
    Vec3 normal;
};

/// Merges equal points: the mesher gives both faces of an edge the very same ones.
class MeshBuilder {
  public:
    explicit MeshBuilder(Mesh& mesh) : mesh_(mesh) {}
    std::uint32_t index(const Vec3& p) {
        const auto [found, fresh] =
            seen_.try_emplace({p.x(), p.y(), p.z()}, static_cast<std::uint32_t>(mesh_.points.size()));
        if (fresh) mesh_.points.push_back(p);
        return found->second;
    }

  private:
    struct Hash {
        std::size_t operator()(const std::array<double, 3>& p) const {
            std::size_t h = 0;
            // + 0.0: the two zeros are equal and must not differ here.
            for (const double x : p)
                h = (h ^ std::bit_cast<std::uint64_t>(x + 0.0)) * 0x9E3779B97F4A7C15u, h ^= h >> 29;
            return h;
        }
    };
    Mesh& mesh_;
    std::unordered_map<std::array<double, 3>, std::uint32_t, Hash> seen_;
};

std::optional<Surface> as_plane(const std::vector<Sample>& samples) {
    Vec3 centre = Vec3::Zero(), normal = Vec3::Zero();
    for (const Sample& s : samples) {
        centre += s.point;
        normal += s.normal;
    }
    centre /= static_cast<double>(samples.size());
    Mat3 spread = Mat3::Zero();
    for (const Sample& s : samples) spread += (s.point - centre) * (s.point - centre).transpose();
    const Eigen::SelfAdjointEigenSolver<Mat3> axes(spread);
    Surface plane;
    plane.kind = SurfaceKind::plane;
    plane.point = centre;
    plane.axis = axes.eigenvectors().col(0).normalized();
    if (plane.axis.dot(normal) < 0) plane.axis = -plane.axis;
    for (const Sample& s : samples)
        plane.residual_mm = std::max(plane.residual_mm, std::abs(plane.axis.dot(s.point - centre)));
    if (plane.residual_mm > limits::exact_face_mm) return {};
    return plane;
}

/// Normals of a cylinder lie in one plane; the circle in it is fitted by least squares.
std::optional<Surface> as_cylinder(const std::vector<Sample>& samples) {
    Mat3 spread = Mat3::Zero();
    Vec3 centre = Vec3::Zero();
    for (const Sample& s : samples) {
        spread += s.normal * s.normal.transpose();
        centre += s.point;
    }
    centre /= static_cast<double>(samples.size());
    const Eigen::SelfAdjointEigenSolver<Mat3> axes(spread);
    const Vec3 axis = axes.eigenvectors().col(0).normalized();
    const Vec3 x = axis.unitOrthogonal();
    const Vec3 y = axis.cross(x);
    // x^2 + y^2 = 2 a x + 2 b y + c, about the mean point.
    Mat3 normal_matrix = Mat3::Zero();
    Vec3 right = Vec3::Zero();
    for (const Sample& s : samples) {
        const Vec3 row((s.point - centre).dot(x), (s.point - centre).dot(y), 0.5);
        normal_matrix += row * row.transpose();
        right += row * (row.x() * row.x() + row.y() * row.y()) / 2;
    }
    const Vec3 fit = normal_matrix.ldlt().solve(right);
    const double radius2 = fit.x() * fit.x() + fit.y() * fit.y() + fit.z();
    if (!fit.allFinite() || !(radius2 > 0)) return {};
    Surface cylinder;
    cylinder.kind = SurfaceKind::cylinder;
    cylinder.axis = axis;
    cylinder.point = centre + fit.x() * x + fit.y() * y;
    cylinder.radius_mm = std::sqrt(radius2);
    double outward = 0;
    for (const Sample& s : samples) {
        const Vec3 from_axis = (s.point - cylinder.point) - (s.point - cylinder.point).dot(axis) * axis;
        cylinder.residual_mm = std::max(cylinder.residual_mm, std::abs(from_axis.norm() - cylinder.radius_mm));
        outward += from_axis.dot(s.normal);
    }
    cylinder.outside = outward > 0;
    if (cylinder.residual_mm > limits::exact_face_mm) return {};
    return cylinder;
}

/// Points of the face with normals: its mesh corners and the middles of its triangles.
std::vector<Sample> samples_of(const BRepAdaptor_Surface& surface, const Handle(Poly_Triangulation) & mesh,
                               bool reversed) {
    std::vector<Sample> samples;
    if (mesh.IsNull() || !mesh->HasUVNodes()) return samples;
    const auto add = [&](const gp_XY& uv) {
        if (const auto normal = outward_normal(surface, uv.X(), uv.Y(), reversed))
            samples.push_back({vec_of(surface.Value(uv.X(), uv.Y())), *normal});
    };
    for (int i = 1; i <= mesh->NbNodes(); ++i) add(mesh->UVNode(i).XY());
    for (int i = 1; i <= mesh->NbTriangles(); ++i) {
        int a = 0, b = 0, c = 0;
        mesh->Triangle(i).Get(a, b, c);
        add((mesh->UVNode(a).XY() + mesh->UVNode(b).XY() + mesh->UVNode(c).XY()) / 3);
    }
    return samples;
}

Surface surface_of(const BRepAdaptor_Surface& adaptor, const Handle(Poly_Triangulation) & mesh, bool reversed) {
    Surface surface;
    const double u = (adaptor.FirstUParameter() + adaptor.LastUParameter()) / 2;
    const double v = (adaptor.FirstVParameter() + adaptor.LastVParameter()) / 2;
    const auto middle_normal = [&] {
        const auto normal = outward_normal(adaptor, u, v, reversed);
        return normal ? *normal
                      : outward_normal(adaptor, u, 0.7 * adaptor.FirstVParameter() + 0.3 * adaptor.LastVParameter(),
                                       reversed)
                            .value_or(Vec3::Zero());
    };
    const Vec3 middle = vec_of(adaptor.Value(u, v));
    switch (adaptor.GetType()) {
        case GeomAbs_Plane: {
            surface.kind = SurfaceKind::plane;
            surface.point = vec_of(adaptor.Plane().Location());
            const Vec3 normal = vec_of(adaptor.Plane().Axis().Direction());
            surface.axis = normal.dot(*outward_normal(adaptor, 0, 0, reversed)) < 0 ? Vec3(-normal) : normal;
            return surface;
        }
        case GeomAbs_Cylinder: {
            surface.kind = SurfaceKind::cylinder;
            surface.point = vec_of(adaptor.Cylinder().Location());
            surface.axis = vec_of(adaptor.Cylinder().Axis().Direction());
            surface.radius_mm = adaptor.Cylinder().Radius();
            const Vec3 from_point = middle - surface.point;
            surface.outside = middle_normal().dot(from_point - from_point.dot(surface.axis) * surface.axis) > 0;
            return surface;
        }
        case GeomAbs_Cone: {
            surface.kind = SurfaceKind::cone;
            surface.point = vec_of(adaptor.Cone().Location());
            surface.axis = vec_of(adaptor.Cone().Axis().Direction()) * (adaptor.Cone().SemiAngle() < 0 ? -1 : 1);
            surface.radius_mm = adaptor.Cone().RefRadius();
            surface.half_angle_deg = base::Angle::rad(std::abs(adaptor.Cone().SemiAngle())).deg();
            const Vec3 from_point = middle - surface.point;
            surface.outside = middle_normal().dot(from_point - from_point.dot(surface.axis) * surface.axis) > 0;
            return surface;
        }
        case GeomAbs_Sphere:
            surface.kind = SurfaceKind::sphere;
            surface.point = vec_of(adaptor.Sphere().Location());
            surface.axis = vec_of(adaptor.Sphere().Position().Direction());
            surface.radius_mm = adaptor.Sphere().Radius();
            surface.outside = middle_normal().dot(middle - surface.point) > 0;
            return surface;
        case GeomAbs_Torus: {
            surface.kind = SurfaceKind::torus;
            surface.point = vec_of(adaptor.Torus().Location());
            surface.axis = vec_of(adaptor.Torus().Axis().Direction());
            surface.radius_mm = adaptor.Torus().MajorRadius();
            surface.minor_radius_mm = adaptor.Torus().MinorRadius();
            const Vec3 from_point = middle - surface.point;
            const Vec3 flat = from_point - from_point.dot(surface.axis) * surface.axis;
            surface.outside = middle_normal().dot(from_point - flat.normalized() * surface.radius_mm) > 0;
            return surface;
        }
        case GeomAbs_BezierSurface:
        case GeomAbs_BSplineSurface:
            surface.kind = SurfaceKind::spline;
            break;
        case GeomAbs_SurfaceOfRevolution:
        case GeomAbs_SurfaceOfExtrusion:
        case GeomAbs_OffsetSurface:
        case GeomAbs_OtherSurface:
            surface.kind = SurfaceKind::other;
            break;
    }
    const std::vector<Sample> samples = samples_of(adaptor, mesh, reversed);
    if (samples.size() >= 3) {
        if (const auto plane = as_plane(samples)) return *plane;
        if (const auto cylinder = as_cylinder(samples)) return *cylinder;
    }
    surface.point = middle;
    return surface;
}

/// One use of an edge by a face, turned so that the material is on the left seen from outside.
struct Use {
    int face = -1;
    TopoDS_Edge edge;
    bool forward = true;
};

class Describer {
  public:
    explicit Describer(TopoDS_Shape shape) : shape_(std::move(shape)), builder_(solid_.mesh) {}
    Describer(const Describer&) = delete;
    Describer& operator=(const Describer&) = delete;

    Result<Solid> describe() {
        for (TopExp_Explorer faces(shape_, TopAbs_FACE); faces.More(); faces.Next())
            faces_.push_back(TopoDS::Face(faces.Current()));
        if (faces_.empty()) return base::bad_input({"solid.no_faces", {}});
        TopTools_IndexedMapOfShape all_edges;
        TopExp::MapShapes(shape_, TopAbs_EDGE, all_edges);
        for (int i = 1; i <= all_edges.Extent(); ++i)
            if (!BRep_Tool::Degenerated(TopoDS::Edge(all_edges(i)))) edges_.Add(all_edges(i));
        uses_.resize(static_cast<std::size_t>(edges_.Extent()));
        solid_.edges.resize(uses_.size());
        for (std::size_t i = 0; i < faces_.size(); ++i) add_face(static_cast<int>(i));
        for (std::size_t i = 0; i < uses_.size(); ++i) finish_edge(i);
        add_properties();
        return std::move(solid_);
    }

  private:
    void add_face(int index) {
        const TopoDS_Face& face = faces_[static_cast<std::size_t>(index)];
        const bool reversed = face.Orientation() == TopAbs_REVERSED;
        TopLoc_Location place;
        const Handle(Poly_Triangulation) mesh = BRep_Tool::Triangulation(face, place);
        Face out;
        out.first_triangle = static_cast<std::uint32_t>(solid_.mesh.triangles.size());
        std::vector<std::uint32_t> nodes;
        if (!mesh.IsNull()) {
            for (int i = 1; i <= mesh->NbNodes(); ++i) {
                const Vec3 p = vec_of(mesh->Node(i).Transformed(place.Transformation()));
                out.box.add(p);
                nodes.push_back(builder_.index(p));
            }
            for (int i = 1; i <= mesh->NbTriangles(); ++i) {
                int a = 0, b = 0, c = 0;
                mesh->Triangle(i).Get(a, b, c);
                if (reversed) std::swap(b, c);
                const std::array<std::uint32_t, 3> t{nodes[static_cast<std::size_t>(a) - 1],
                                                     nodes[static_cast<std::size_t>(b) - 1],
                                                     nodes[static_cast<std::size_t>(c) - 1]};
                if (t[0] != t[1] && t[1] != t[2] && t[2] != t[0]) solid_.mesh.triangles.push_back(t);
            }
        }
        out.triangle_count = static_cast<std::uint32_t>(solid_.mesh.triangles.size()) - out.first_triangle;
        const BRepAdaptor_Surface surface(face);
        out.surface = surface_of(surface, mesh, reversed);
        const bool analytic = surface.GetType() <= GeomAbs_Torus;
        all_analytic_ = all_analytic_ && analytic;
        GProp_GProps area;
        if (analytic)
            BRepGProp::SurfaceProperties(face, area);
        else
            BRepGProp::SurfaceProperties(face, area, spline_accuracy);
        out.area_mm2 = std::abs(area.Mass());
        out.centroid = vec_of(area.CentreOfMass());
        add_loops(index, out);
        solid_.faces.push_back(std::move(out));
    }

    void add_loops(int index, Face& out) {
        const TopoDS_Face& face = faces_[static_cast<std::size_t>(index)];
        const bool reversed = face.Orientation() == TopAbs_REVERSED;
        const TopoDS_Face forward = TopoDS::Face(face.Oriented(TopAbs_FORWARD));
        const TopoDS_Wire outer = BRepTools::OuterWire(forward);
        for (TopExp_Explorer wires(forward, TopAbs_WIRE); wires.More(); wires.Next()) {
            const TopoDS_Wire wire = TopoDS::Wire(wires.Current());
            std::vector<TopoDS_Edge> edges;
            for (BRepTools_WireExplorer walk(wire, forward); walk.More(); walk.Next()) edges.push_back(walk.Current());
            std::vector<TopoDS_Edge> plain;
            for (TopExp_Explorer all(wire, TopAbs_EDGE); all.More(); all.Next())
                plain.push_back(TopoDS::Edge(all.Current()));
            // The walk stops at a gap of a bad wire: no edge may go missing.
            if (edges.size() != plain.size()) edges = plain;
            if (reversed) {
                std::reverse(edges.begin(), edges.end());
                for (TopoDS_Edge& edge : edges) edge.Reverse();
            }
            Loop loop;
            loop.outer = wire.IsSame(outer);
            for (const TopoDS_Edge& edge : edges) {
                const int number = edges_.FindIndex(edge);
                if (number == 0) continue;
                const auto e = static_cast<std::size_t>(number) - 1;
                // Seen from the forward face, so that the right one of a seam's two curves is taken.
                const TopoDS_Edge on_face = reversed ? TopoDS::Edge(edge.Reversed()) : edge;
                const bool along = edge.Orientation() != TopAbs_REVERSED;
                uses_[e].push_back({index, on_face, along});
                if (solid_.edges[e].polyline.empty()) solid_.edges[e] = edge_of(TopoDS::Edge(edges_(number)), forward);
                loop.edges.push_back(static_cast<std::uint32_t>(e));
                const std::vector<Vec3>& line = solid_.edges[e].polyline;
                if (along)
                    loop.polyline.insert(loop.polyline.end(), line.begin(), line.end() - 1);
                else
                    loop.polyline.insert(loop.polyline.end(), line.rbegin(), line.rend() - 1);
            }
            if (!loop.edges.empty()) out.loops.push_back(std::move(loop));
        }
    }

    static Edge edge_of(const TopoDS_Edge& shape, const TopoDS_Face& face) {
        Edge edge;
        const BRepAdaptor_Curve curve(TopoDS::Edge(shape.Oriented(TopAbs_FORWARD)));
        const double first = curve.FirstParameter(), last = curve.LastParameter();
        edge.length_mm = GCPnts_AbscissaPoint::Length(curve);
        const Vec3 from = vec_of(curve.Value(first)), to = vec_of(curve.Value(last));
        switch (curve.GetType()) {
            case GeomAbs_Line:
                edge.kind = CurveKind::line;
                break;
            case GeomAbs_Circle:
                edge.kind = CurveKind::circle;
                break;
            default: {
                // A spline may be a straight line.
                constexpr int steps = 16;
                const Vec3 along = (to - from).normalized();
                double off = 0;
                for (int i = 1; i < steps; ++i) {
                    const Vec3 d = vec_of(curve.Value(first + (last - first) * i / steps)) - from;
                    off = std::max(off, (d - d.dot(along) * along).norm());
                }
                const bool straight = (to - from).norm() > limits::coincident_mm && off <= limits::coincident_mm;
                edge.kind = straight ? CurveKind::line : CurveKind::other;
            }
        }
        if (edge.kind == CurveKind::line) {
            edge.polyline = {from, to};
            return edge;
        }
        TopLoc_Location place;
        const Handle(Poly_Triangulation) mesh = BRep_Tool::Triangulation(face, place);
        if (!mesh.IsNull()) {
            const Handle(Poly_PolygonOnTriangulation) nodes = BRep_Tool::PolygonOnTriangulation(shape, mesh, place);
            if (!nodes.IsNull())
                for (int i = 1; i <= nodes->NbNodes(); ++i)
                    edge.polyline.push_back(vec_of(mesh->Node(nodes->Node(i)).Transformed(place.Transformation())));
        }
        if (edge.polyline.size() < 2) {
            // A face that could not be meshed still shows its edges.
            constexpr int steps = 24;
            edge.polyline.clear();
            for (int i = 0; i <= steps; ++i)
                edge.polyline.push_back(vec_of(curve.Value(first + (last - first) * i / steps)));
        }
        return edge;
    }

    void finish_edge(std::size_t index) {
        Edge& edge = solid_.edges[index];
        const std::vector<Use>& uses = uses_[index];
        if (uses.empty()) return;
        edge.face_a = uses[0].face;
        if (uses.size() < 2) return;
        edge.face_b = uses[1].face;
        edge.convexity = convexity(TopoDS::Edge(edges_(static_cast<int>(index) + 1)), uses[0], uses[1]);
    }

    std::optional<Vec3> normal_at(const Use& use, double share) const {
        const TopoDS_Face& face = faces_[static_cast<std::size_t>(use.face)];
        double first = 0, last = 0;
        const Handle(Geom2d_Curve) curve =
            BRep_Tool::CurveOnSurface(use.edge, TopoDS::Face(face.Oriented(TopAbs_FORWARD)), first, last);
        if (curve.IsNull()) return {};
        const gp_Pnt2d uv = curve->Value(first + (last - first) * share);
        return outward_normal(BRepAdaptor_Surface(face, false), uv.X(), uv.Y(), face.Orientation() == TopAbs_REVERSED);
    }

    Convexity convexity(const TopoDS_Edge& edge, const Use& a, const Use& b) const {
        const BRepAdaptor_Curve curve(TopoDS::Edge(edge.Oriented(TopAbs_FORWARD)));
        // Off the middle where a pole or a cusp lies there.
        for (const double share : {0.5, 0.37, 0.61, 0.13}) {
            gp_Pnt p;
            gp_Vec tangent;
            curve.D1(curve.FirstParameter() + (curve.LastParameter() - curve.FirstParameter()) * share, p, tangent);
            const auto n_a = normal_at(a, share), n_b = normal_at(b, share);
            if (!n_a || !n_b || tangent.SquareMagnitude() == 0) continue;
            const Vec3 along = vec_of(tangent).normalized() * (a.forward ? 1 : -1);
            const double bend = along.dot(n_a->cross(*n_b));
            if (std::abs(std::atan2(bend, n_a->dot(*n_b))) < base::Angle::deg(limits::smooth_edge_deg).rad())
                return Convexity::smooth;
            return bend > 0 ? Convexity::convex : Convexity::concave;
        }
        return Convexity::smooth;
    }

    void add_properties() {
        GProp_GProps volume, area;
        if (all_analytic_) {
            BRepGProp::VolumeProperties(shape_, volume);
            BRepGProp::SurfaceProperties(shape_, area);
        } else {
            BRepGProp::VolumeProperties(shape_, volume, spline_accuracy);
            BRepGProp::SurfaceProperties(shape_, area, spline_accuracy);
        }
        solid_.box = solid_.mesh.box();
        solid_.volume_mm3 = volume.Mass();
        solid_.area_mm2 = area.Mass();
        solid_.centroid = vec_of(volume.CentreOfMass());
        const gp_Mat inertia = volume.MatrixOfInertia();
        for (int row = 0; row < 3; ++row)
            for (int column = 0; column < 3; ++column) solid_.inertia(row, column) = inertia(row + 1, column + 1);
        // An inside-out boundary passes the kernel's check, but encloses less than nothing.
        solid_.valid = BRepCheck_Analyzer(shape_).IsValid() && solid_.volume_mm3 > 0;
    }

    /// Relative. The kernel's plain integration is exact on planes, cylinders and the like, but 1 % off on splines.
    static constexpr double spline_accuracy = 1e-6;

    TopoDS_Shape shape_;
    bool all_analytic_ = true;
    Solid solid_;
    MeshBuilder builder_;
    std::vector<TopoDS_Face> faces_;
    TopTools_IndexedMapOfShape edges_;
    std::vector<std::vector<Use>> uses_;
};

}  // namespace

Result<Solid> describe(const Brep& brep) {
    if (brep.empty()) return base::bad_input({"solid.empty", {}});
    return guard([&]() -> Result<Solid> {
        // The mesher writes into the shape it is given; ours are shared between threads.
        const TopoDS_Shape own = BRepBuilderAPI_Copy(brep.impl()->shape, false, false).Shape();
        BRepMesh_IncrementalMesh(own, limits::mesh_deflection_mm, false, limits::mesh_angle_rad, false);
        return Describer(own).describe();
    });
}

}  // namespace setwright::space
