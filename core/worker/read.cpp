#include "core/worker/read.h"

// The kernel's macro for turning signals into exceptions does nothing without this; its cmake file sets it in one
// build type only.
#ifndef OCC_CONVERT_SIGNALS
#define OCC_CONVERT_SIGNALS
#endif

#include <BRepBuilderAPI_Transform.hxx>
#include <IFSelect_ReturnStatus.hxx>
#include <Interface_InterfaceModel.hxx>
#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <NCollection_DataMap.hxx>
#include <Quantity_Color.hxx>
#include <STEPCAFControl_Reader.hxx>
#include <ShapeFix_Shape.hxx>
#include <Standard_ErrorHandler.hxx>
#include <StepData_StepModel.hxx>
#include <StepGeom_CartesianTransformationOperator3d.hxx>
#include <StepGeom_Direction.hxx>
#include <StepRepr_MappedItem.hxx>
#include <StepRepr_Representation.hxx>
#include <StepRepr_RepresentationMap.hxx>
#include <StepShape_SolidModel.hxx>
#include <StepToGeom.hxx>
#include <TDF_Label.hxx>
#include <TDF_LabelSequence.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <TopExp_Explorer.hxx>
#include <TopLoc_Location.hxx>
#include <TopTools_ShapeMapHasher.hxx>
#include <TransferBRep.hxx>
#include <Transfer_TransientProcess.hxx>
#include <XCAFApp_Application.hxx>
#include <XCAFDoc_ColorTool.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>
#include <XSControl_TransferReader.hxx>
#include <XSControl_WorkSession.hxx>
#include <algorithm>
#include <cmath>
#include <gp_Ax2.hxx>
#include <gp_Trsf.hxx>
#include <map>
#include <unordered_map>

#include "core/base/file.h"
#include "core/space/occt.h"
#include "core/worker/step_text.h"

namespace setwright::worker {

using base::Result;
using space::Bodies;
using space::Body;
using space::Brep;
using space::Mat3;
using space::Pose;
using space::Solid;
using space::Vec3;

namespace {

using Colour = std::optional<std::array<float, 3>>;

/// Like space::guard, but crashes inside the kernel become errors too.
template <class Work>
auto survive(Work&& work) -> decltype(work()) {
    try {
        OCC_CATCH_SIGNALS
        return space::guard(std::forward<Work>(work));
    } catch (const Standard_Failure& failure) {
        return space::kernel_error(failure.GetMessageString());
    }
}

/// "NAUO12", "12": numbers that a system gave its placements, not names.
bool is_counted_name(std::string_view name) {
    if (name.starts_with("NAUO")) name.remove_prefix(4);
    return std::all_of(name.begin(), name.end(), [](char c) { return c >= '0' && c <= '9'; });
}

std::string name_of(const TDF_Label& label) {
    Handle(TDataStd_Name) attribute;
    if (!label.FindAttribute(TDataStd_Name::GetID(), attribute)) return {};
    const TCollection_ExtendedString& text = attribute->Get();
    std::string name(static_cast<std::size_t>(text.LengthOfCString()) + 1, '\0');
    char* to = name.data();
    name.resize(static_cast<std::size_t>(text.ToUTF8CString(to)));
    // What the reader writes where the file has no name.
    if (name.starts_with("=>[") || name == "SOLID" || name == "COMPOUND") return {};
    return name;
}

bool finite(const Solid& solid) {
    const auto all = [](const std::vector<Vec3>& points) {
        return std::all_of(points.begin(), points.end(), [](const Vec3& p) { return p.allFinite(); });
    };
    return all(solid.mesh.points) && std::isfinite(solid.volume_mm3) && std::isfinite(solid.area_mm2) &&
           solid.centroid.allFinite() && solid.inertia.allFinite() &&
           std::all_of(solid.edges.begin(), solid.edges.end(),
                       [&](const space::Edge& e) { return std::isfinite(e.length_mm) && all(e.polyline); }) &&
           std::all_of(solid.faces.begin(), solid.faces.end(), [&](const space::Face& f) {
               const space::Surface& s = f.surface;
               return s.point.allFinite() && s.axis.allFinite() &&
                      std::isfinite(s.radius_mm + s.minor_radius_mm + s.half_angle_deg) &&
                      std::isfinite(s.residual_mm + f.area_mm2) && f.centroid.allFinite() &&
                      std::all_of(f.loops.begin(), f.loops.end(),
                                  [&](const space::Loop& l) { return all(l.polyline); });
           });
}

std::optional<Vec3> direction_of(const Handle(StepGeom_Direction) & direction) {
    if (direction.IsNull() || direction->NbDirectionRatios() < 3) return {};
    return Vec3(direction->DirectionRatiosValue(1), direction->DirectionRatiosValue(2),
                direction->DirectionRatiosValue(3));
}

/// True for a copy through a mirror. The kernel takes only two of the three axes and turns the copy instead.
bool is_mirror(const Handle(StepGeom_CartesianTransformationOperator3d) & operation) {
    if (!operation->HasAxis1() || !operation->HasAxis2() || !operation->HasAxis3()) return false;
    const auto x = direction_of(operation->Axis1()), y = direction_of(operation->Axis2()),
               z = direction_of(operation->Axis3());
    return x && y && z && x->cross(*y).dot(*z) < 0;
}

/// A placement taken apart: what is left after the rigid pose has to go into the shape itself.
struct Placement {
    Pose X;
    bool mirrored = false;
    double scale = 1;
};

std::optional<Placement> placement_of(const gp_Trsf& motion) {
    Mat3 linear;
    Vec3 position;
    for (int row = 0; row < 3; ++row) {
        for (int column = 0; column < 3; ++column) linear(row, column) = motion.Value(row + 1, column + 1);
        position[row] = motion.Value(row + 1, 4);
    }
    const double determinant = linear.determinant();
    if (!linear.allFinite() || !position.allFinite() || determinant == 0) return {};
    Placement placement;
    placement.scale = std::cbrt(std::abs(determinant));
    // Rounding of a rotation is no scale.
    if (std::abs(placement.scale - 1) < 1e-9) placement.scale = 1;
    linear /= placement.scale;
    placement.mirrored = determinant < 0;
    if (placement.mirrored) linear.col(0) = -linear.col(0);
    std::array<double, 16> numbers = Pose(linear, position).row_major();
    const std::optional<Pose> rigid = Pose::from_row_major(numbers);
    if (!rigid) return {};
    placement.X = *rigid;
    return placement;
}

class Importer {
  public:
    explicit Importer(StepText text) : text_(std::move(text)) {}

    Result<Bodies> import(const std::string& path) {
        const Handle(XCAFApp_Application) application = XCAFApp_Application::GetApplication();
        Handle(TDocStd_Document) document;
        application->NewDocument("MDTV-XCAF", document);
        STEPCAFControl_Reader reader;
        const auto unreadable = [&] { return base::bad_input({"import.unreadable", {{"path", path}}}); };
        const Result<bool> transferred = survive([&]() -> Result<bool> {
            if (reader.ReadFile(path.c_str()) != IFSelect_RetDone) return unreadable();
            return bool(reader.Transfer(document));
        });
        if (!transferred) return unreadable();
        if (!*transferred && text_.solids.empty()) return no_bodies(path);

        map_entities(reader);
        shapes_ = XCAFDoc_DocumentTool::ShapeTool(document->Main());
        colours_ = XCAFDoc_DocumentTool::ColorTool(document->Main());
        TDF_LabelSequence roots;
        shapes_->GetFreeShapes(roots);
        for (const TDF_Label& root : roots) walk(root, gp_Trsf(), {}, {}, 0);
        count_lost();
        if (bodies_.bodies.empty()) return no_bodies(path);
        add_remarks();
        return std::move(bodies_);
    }

  private:
    /// The kernel's shape of a solid, and how it was asked for.
    struct Key {
        const TopoDS_TShape* shape;
        bool reversed;
        bool mirrored;
        double scale;
        auto operator<=>(const Key&) const = default;
    };
    struct Known {
        /// Index into the bodies' solids; none where the shape is no use.
        std::optional<std::uint32_t> solid;
    };

    void map_entities(const STEPCAFControl_Reader& reader) {
        const Handle(XSControl_WorkSession) session = reader.Reader().WS();
        const Handle(StepData_StepModel) model = Handle(StepData_StepModel)::DownCast(session->Model());
        if (model.IsNull() || session->TransferReader().IsNull()) return;
        const Handle(Transfer_TransientProcess) process = session->TransferReader()->TransientProcess();
        if (process.IsNull()) return;
        for (int i = 1; i <= model->NbEntities(); ++i) {
            const Handle(Standard_Transient) entity = model->Value(i);
            if (const auto copy = Handle(StepRepr_MappedItem)::DownCast(entity); !copy.IsNull())
                map_mirror(copy, process);
            if (entity.IsNull() || !entity->IsKind(STANDARD_TYPE(StepShape_SolidModel))) continue;
            for (TopExp_Explorer solid(TransferBRep::ShapeResult(process, entity), TopAbs_SOLID); solid.More();
                 solid.Next())
                entity_of_[solid.Current().TShape().get()] = model->IdentLabel(entity);
        }
    }

    void map_mirror(const Handle(StepRepr_MappedItem) & copy, const Handle(Transfer_TransientProcess) & process) {
        const auto operation = Handle(StepGeom_CartesianTransformationOperator3d)::DownCast(copy->MappingTarget());
        if (operation.IsNull() || !is_mirror(operation)) return;
        gp_Trsf taken, other_hand;
        if (!StepToGeom::MakeTransformation3d(operation, taken)) return;
        // The kernel made the axes right-handed by turning the second one round.
        other_hand.SetMirror(gp_Ax2(gp::Origin(), gp::DY()));
        const gp_Trsf mend = taken * other_hand * taken.Inverted();
        // The copy becomes a component of its own, or stays a solid in a part.
        const TopoDS_Shape whole = TransferBRep::ShapeResult(process, copy);
        ++mirror_copies_;
        if (whole.IsNull()) return;
        mirrors_.Bind(whole, mend);
        for (TopExp_Explorer solid(whole, TopAbs_SOLID); solid.More(); solid.Next())
            mirrors_.Bind(solid.Current(), mend);
    }

    void walk(const TDF_Label& label, const gp_Trsf& motion, std::vector<std::string> path, Colour colour, int depth) {
        // Deeper than any assembly; a circle of placements would never end.
        constexpr int deepest = 100;
        if (depth > deepest) return;
        TDF_Label part = label;
        gp_Trsf here = motion;
        std::string name = name_of(label);
        if (!colour) colour = colour_of(label);
        if (XCAFDoc_ShapeTool::IsReference(label)) {
            if (const gp_Trsf* const mirror = mirrors_.Seek(XCAFDoc_ShapeTool::GetShape(label))) here.Multiply(*mirror);
            here.Multiply(XCAFDoc_ShapeTool::GetLocation(label).Transformation());
            XCAFDoc_ShapeTool::GetReferredShape(label, part);
            // The placement's own name tells instances of one part apart ("A1", "A2"); many systems write a count
            // there.
            if (is_counted_name(name)) name = name_of(part);
        }
        if (!name.empty()) path.push_back(name);
        if (!XCAFDoc_ShapeTool::IsAssembly(part)) {
            add_leaf(part, here, path, name, colour ? colour : colour_of(part));
            return;
        }
        TDF_LabelSequence components;
        XCAFDoc_ShapeTool::GetComponents(part, components);
        for (const TDF_Label& component : components) walk(component, here, path, colour, depth + 1);
    }

    void add_leaf(const TDF_Label& label, const gp_Trsf& motion, const std::vector<std::string>& path,
                  const std::string& name, const Colour& colour) {
        const TopoDS_Shape shape = XCAFDoc_ShapeTool::GetShape(label);
        if (shape.IsNull()) return;
        for (TopExp_Explorer loose(shape, TopAbs_FACE, TopAbs_SOLID); loose.More(); loose.Next()) ++bodies_.loose_faces;
        std::vector<TopoDS_Shape> solids;
        for (TopExp_Explorer solid(shape, TopAbs_SOLID); solid.More(); solid.Next()) solids.push_back(solid.Current());
        const bool has_parts_of_its_own = solids.size() > 1;
        for (std::size_t i = 0; i < solids.size(); ++i) {
            Body body;
            body.path = path;
            body.name = name;
            if (has_parts_of_its_own) body.name += (name.empty() ? "" : "/") + std::to_string(i + 1);
            body.colour = colour;
            if (!body.colour && has_parts_of_its_own) body.colour = sub_shape_colour(label, solids[i]);
            add_body(std::move(body), solids[i], motion);
        }
        if (solids.size() == 1 && !colour && !bodies_.bodies.empty()) {
            Body& last = bodies_.bodies.back();
            if (!last.colour) last.colour = sub_shape_colour(label, solids[0]);
        }
    }

    Colour colour_of(const TDF_Label& label) const {
        Quantity_Color colour;
        for (const XCAFDoc_ColorType kind : {XCAFDoc_ColorSurf, XCAFDoc_ColorGen})
            if (colours_->GetColor(label, kind, colour))
                return std::array{static_cast<float>(colour.Red()), static_cast<float>(colour.Green()),
                                  static_cast<float>(colour.Blue())};
        return {};
    }

    Colour sub_shape_colour(const TDF_Label& label, const TopoDS_Shape& solid) const {
        TDF_Label sub;
        if (shapes_->FindSubShape(label, solid, sub)) return colour_of(sub);
        return {};
    }

    void add_body(Body body, const TopoDS_Shape& solid, const gp_Trsf& motion) {
        const gp_Trsf* const mirror = mirrors_.Seek(solid);
        const gp_Trsf whole = (mirror ? motion * *mirror : motion) * solid.Location().Transformation();
        const std::optional<Placement> placement = placement_of(whole);
        if (!placement) return;
        const Key key{solid.TShape().get(), solid.Orientation() == TopAbs_REVERSED, placement->mirrored,
                      placement->scale};
        auto known = known_.find(key);
        if (known == known_.end()) known = known_.emplace(key, Known{add_solid(solid, key, body.name)}).first;
        if (!known->second.solid) return;
        body.solid = *known->second.solid;
        body.X_MD = placement->X;
        body.mirrored = placement->mirrored;
        const auto entity = entity_of_.find(solid.TShape().get());
        ++read_[entity == entity_of_.end() ? 0 : entity->second];
        bodies_.bodies.push_back(std::move(body));
    }

    std::optional<std::uint32_t> add_solid(const TopoDS_Shape& placed, const Key& key, const std::string& name) {
        struct Made {
            Brep brep;
            Solid solid;
        };
        const auto made = [](const TopoDS_Shape& shape) -> Result<Made> {
            const Brep brep = space::brep_of(shape);
            Result<Solid> solid = space::describe(brep);
            if (!solid) return solid.error();
            return Made{brep, std::move(*solid)};
        };
        Result<Made> result = survive([&]() -> Result<Made> {
            TopoDS_Shape shape = placed.Located(TopLoc_Location());
            if (key.mirrored || key.scale != 1) {
                gp_Trsf own, scale;
                if (key.mirrored) own.SetMirror(gp_Ax2(gp::Origin(), gp::DX()));
                scale.SetScale(gp::Origin(), key.scale);
                own.PreMultiply(scale);
                shape = BRepBuilderAPI_Transform(shape, own, true).Shape();
            }
            Result<Made> first = made(shape);
            if (first && first->solid.volume_mm3 < 0) first = made(shape.Reversed());
            return first;
        });
        if (result && !result->solid.valid) {
            // The reader heals by itself; this second look only where the kernel still finds fault.
            const Result<Made> healed = survive([&]() -> Result<Made> {
                ShapeFix_Shape fix(result->brep.impl()->shape);
                fix.Perform();
                TopExp_Explorer solids(fix.Shape(), TopAbs_SOLID);
                if (!solids.More()) return base::bad_input({"solid.empty", {}});
                const TopoDS_Shape only = solids.Current();
                solids.Next();
                return solids.More() ? Result<Made>(base::bad_input({"solid.empty", {}})) : made(only);
            });
            const bool better = healed && healed->solid.valid && finite(healed->solid);
            if (better) result = *healed;
            remark(better ? "import.healed" : "import.not_closed", name);
        }
        if (!result || result->solid.mesh.empty() || !finite(result->solid)) return {};
        bodies_.solids.push_back(std::make_shared<const Solid>(std::move(result->solid)));
        bodies_.breps.push_back(result->brep);
        return static_cast<std::uint32_t>(bodies_.solids.size() - 1);
    }

    void remark(const char* id, const std::string& name) { bodies_.remarks.push_back({id, {{"name", name}}}); }

    /// Sets what was read against what the text defines. Bodies of unknown origin fill the gaps in the file's order.
    void count_lost() {
        bodies_.file_unit = text_.unit;
        bodies_.schema = text_.schema;
        int unknown = read_.count(0) ? read_[0] : 0;
        std::vector<int> missing;
        for (const SolidInText& solid : text_.solids) {
            const int read = solid.entity ? read_[static_cast<int>(solid.entity)] : 0;
            bodies_.solids_in_text += solid.instances;
            missing.push_back(std::max(0, solid.instances - read));
        }
        for (int& gap : missing) {
            const int filled = std::min(gap, unknown);
            gap -= filled;
            unknown -= filled;
        }
        for (std::size_t i = 0; i < missing.size(); ++i)
            bodies_.lost.insert(bodies_.lost.end(), static_cast<std::size_t>(missing[i]), text_.solids[i].name);
    }

    void add_remarks() {
        const auto counted = [&](const char* id, int count) {
            if (count > 0) bodies_.remarks.push_back({id, {{"count", std::int64_t{count}}}});
        };
        counted("import.broken_placements", text_.broken_placements);
        counted("import.triangles_only", text_.solids.empty() ? text_.tessellated_solids : 0);
        const auto mirrored =
            std::count_if(bodies_.bodies.begin(), bodies_.bodies.end(), [](const Body& b) { return b.mirrored; });
        counted("import.mirror_unsure", std::max(0, mirror_copies_ - static_cast<int>(mirrored)));
        if (text_.mixed_units) bodies_.remarks.push_back({"import.mixed_units", {}});
    }

    base::Error no_bodies(const std::string& path) const {
        const auto fault = [&](const char* id, int count) {
            return base::bad_input({id, {{"path", path}, {"count", std::int64_t{count}}}});
        };
        if (!text_.solids.empty()) return fault("import.all_lost", static_cast<int>(text_.solids.size()));
        if (text_.tessellated_solids > 0) return fault("import.only_triangles", text_.tessellated_solids);
        if (bodies_.loose_faces > 0) return fault("import.only_surfaces", bodies_.loose_faces);
        return base::bad_input({"import.no_solids", {{"path", path}}});
    }

    StepText text_;
    Bodies bodies_;
    Handle(XCAFDoc_ShapeTool) shapes_;
    Handle(XCAFDoc_ColorTool) colours_;
    std::unordered_map<const TopoDS_TShape*, int> entity_of_;
    std::map<Key, Known> known_;
    /// What is to be done to shapes that the kernel turned where the file mirrors them.
    NCollection_DataMap<TopoDS_Shape, gp_Trsf, TopTools_ShapeMapHasher> mirrors_;
    int mirror_copies_ = 0;
    /// Bodies by the number of the entity they came from, 0 where that is unknown.
    std::map<int, int> read_;
};

}  // namespace

Result<Bodies> read(const std::string& path) {
    Result<StepText> text = [&]() -> Result<StepText> {
        const Result<std::string> content = base::read_file(path);
        if (!content) return content.error();
        return scan_step(*content, path);
    }();
    if (!text) return text.error();
    // Its messages go to standard output, where the answer goes.
    Message::DefaultMessenger()->ChangePrinters().Clear();
    return Importer(std::move(*text)).import(path);
}

}  // namespace setwright::worker
