#include "step_file.h"

#include <APIHeaderSection_MakeHeader.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRep_Builder.hxx>
#include <Interface_InterfaceModel.hxx>
#include <Interface_Static.hxx>
#include <Quantity_Color.hxx>
#include <STEPCAFControl_Controller.hxx>
#include <STEPCAFControl_Writer.hxx>
#include <STEPConstruct.hxx>
#include <STEPConstruct_Styles.hxx>
#include <StepRepr_RepresentationContext.hxx>
#include <StepRepr_RepresentationItem.hxx>
#include <StepVisual_Colour.hxx>
#include <StepVisual_MechanicalDesignGeometricPresentationRepresentation.hxx>
#include <StepVisual_PresentationStyleAssignment.hxx>
#include <StepVisual_StyledItem.hxx>
#include <TCollection_HAsciiString.hxx>
#include <TDF_Label.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <TopoDS_Compound.hxx>
#include <XCAFApp_Application.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>
#include <XSControl_WorkSession.hxx>
#include <stdexcept>

#include "solids.h"

namespace setwright::samples {
namespace {

void setName(const TDF_Label& label, const std::string& name) {
    TDataStd_Name::Set(label, TCollection_ExtendedString(name.c_str(), Standard_True));
}

Quantity_Color colourOf(const Product& product) {
    const auto& [r, g, b] = product.colour_rgb;
    return {r, g, b, Quantity_TOC_RGB};
}

/// Styles every product, in the model's order. The writer's own colour pass walks a map keyed by addresses, so the
/// bytes it writes change from run to run.
bool writeColours(const Handle(XSControl_WorkSession) & session, const WeldmentModel& model,
                  const std::vector<TDF_Label>& products) {
    for (std::size_t i = 0; i < products.size(); ++i) {
        const TopoDS_Shape shape = XCAFDoc_ShapeTool::GetShape(products[i]);
        STEPConstruct_Styles styles(session);
        const Handle(StepRepr_RepresentationItem) item = STEPConstruct::FindEntity(styles.FinderProcess(), shape);
        const Handle(StepRepr_RepresentationContext) context = styles.FindContext(shape);
        if (item.IsNull() || context.IsNull()) {
            return false;
        }
        const Handle(StepVisual_Colour) colour = STEPConstruct_Styles::EncodeColor(colourOf(model.products[i]));
        styles.AddStyle(item, styles.MakeColorPSA(item, colour, nullptr, nullptr, 0.0), nullptr);
        Handle(StepVisual_MechanicalDesignGeometricPresentationRepresentation) presentation;
        if (!styles.CreateMDGPR(context, presentation)) {
            return false;
        }
        session->Model()->AddWithRefs(presentation);
    }
    return true;
}

/// Returns the labels of the products, in the model's order.
std::vector<TDF_Label> fillAssembly(const WeldmentModel& model, const Handle(TDocStd_Document) & document) {
    const auto shapes = XCAFDoc_DocumentTool::ShapeTool(document->Main());

    const TDF_Label root = shapes->NewShape();
    setName(root, model.name);
    std::vector<TDF_Label> products;
    for (const Product& product : model.products) {
        const TDF_Label label = shapes->AddShape(solidOf(product.form), Standard_False);
        setName(label, product.name);
        products.push_back(label);
    }
    std::vector<TDF_Label> groups;
    for (std::size_t i = 0; i < model.sub_assemblies.size(); ++i) {
        const TDF_Label label = shapes->NewShape();
        setName(label, model.sub_assemblies[i].name);
        groups.push_back(label);
    }
    for (const Piece& piece : model.pieces) {
        TDF_Label parent = root;
        gp_Trsf motion = motionOf(piece.frame_M);
        if (piece.sub_assembly) {
            parent = groups[*piece.sub_assembly];
            motion = motionOf(model.sub_assemblies[*piece.sub_assembly].frame_M).Inverted() * motion;
        }
        setName(shapes->AddComponent(parent, products[piece.product], TopLoc_Location(motion)), piece.id);
    }
    // The groups enter the root last: a component refers to a finished assembly.
    for (std::size_t i = 0; i < groups.size(); ++i) {
        const gp_Trsf motion = motionOf(model.sub_assemblies[i].frame_M);
        setName(shapes->AddComponent(root, groups[i], TopLoc_Location(motion)), model.sub_assemblies[i].name);
    }
    shapes->UpdateAssemblies();
    return products;
}

void fillLump(const WeldmentModel& model, const Handle(TDocStd_Document) & document) {
    BRep_Builder builder;
    TopoDS_Compound lump;
    builder.MakeCompound(lump);
    for (const Piece& piece : model.pieces) {
        const TopoDS_Shape solid = solidOf(model.products[piece.product].form);
        builder.Add(lump, BRepBuilderAPI_Transform(solid, motionOf(piece.frame_M), Standard_True).Shape());
    }
    const auto shapes = XCAFDoc_DocumentTool::ShapeTool(document->Main());
    setName(shapes->AddShape(lump, Standard_False), model.name);
}

Handle(TCollection_HAsciiString) text(const std::string& s) {
    return new TCollection_HAsciiString(s.c_str());
}

void fixHeader(const Handle(StepData_StepModel) & step, const std::string& file_name) {
    APIHeaderSection_MakeHeader header(step);
    header.SetName(text(file_name));
    header.SetTimeStamp(text("2026-01-01T00:00:00"));
    header.SetAuthorValue(1, text("Setwright sample"));
    header.SetOrganizationValue(1, text(""));
    header.SetPreprocessorVersion(text("setwright-samples 1"));
    header.SetOriginatingSystem(text("setwright-samples 1"));
    header.SetAuthorisation(text(""));
    header.SetDescriptionValue(1, text("Setwright sample weldment"));
}

}  // namespace

void writeStepFile(const WeldmentModel& model, Layout layout, const std::filesystem::path& file) {
    STEPCAFControl_Controller::Init();
    Interface_Static::SetCVal("write.step.schema", "AP242DIS");
    Interface_Static::SetCVal("write.step.unit", "MM");
    // 0 keeps a compound as one product with several solids.
    Interface_Static::SetIVal("write.step.assembly", layout == Layout::Lump ? 0 : 2);

    const Handle(XCAFApp_Application) application = XCAFApp_Application::GetApplication();
    Handle(TDocStd_Document) document;
    application->NewDocument("BinXCAF", document);
    std::vector<TDF_Label> coloured;
    if (layout == Layout::Assembly) {
        coloured = fillAssembly(model, document);
    } else {
        fillLump(model, document);
    }

    STEPCAFControl_Writer writer;
    writer.SetNameMode(Standard_True);
    writer.SetColorMode(Standard_False);
    const bool transferred =
        writer.Transfer(document, STEPControl_AsIs) && writeColours(writer.ChangeWriter().WS(), model, coloured);
    if (transferred) {
        fixHeader(writer.ChangeWriter().Model(), file.filename().string());
    }
    const bool written = transferred && writer.Write(file.string().c_str()) == IFSelect_RetDone;
    application->Close(document);
    if (!written) {
        throw std::runtime_error("cannot write " + file.string());
    }
}

}  // namespace setwright::samples
