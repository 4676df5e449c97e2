// The sample weldments, committed and rebuilt, against facts worked out by hand in samples/expected.

#include <BRepAlgoAPI_Common.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRepCheck_Analyzer.hxx>
#include <BRepExtrema_DistShapeShape.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRep_Tool.hxx>
#include <Bnd_Box.hxx>
#include <GProp_GProps.hxx>
#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <Quantity_Color.hxx>
#include <STEPCAFControl_Reader.hxx>
#include <TDF_LabelSequence.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <XCAFApp_Application.hxx>
#include <XCAFDoc_ColorTool.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <nlohmann/json.hpp>
#include <numbers>
#include <ostream>
#include <set>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr double kVolumeRelative = 1e-6;  // what a STEP file's 15 digits and the volume integral leave
constexpr double kBox_mm = 0.001;         // the project's coincidence limit
constexpr double kOverlap_mm3 = 1e-3;
constexpr double kTouch_mm = 1e-6;
constexpr double kApart_mm = 1.0;  // the closest pair that is not joined stands well clear

/// A piece as read: its solid in M.
struct ReadPiece {
    std::string product;
    std::string sub_assembly;  ///< empty directly under the root
    bool coloured{};
    bool turned_or_moved{};  ///< its sub-assembly stands away from the root's frame
    TopoDS_Shape solid;
};

struct ReadFile {
    std::string root;
    bool is_assembly{};
    int root_count{};
    std::set<std::string> products;
    std::map<std::string, ReadPiece> pieces;  ///< by instance name; empty for a lump
    std::vector<TopoDS_Shape> solids;
};

std::string nameOf(const TDF_Label& label) {
    Handle(TDataStd_Name) name;
    if (!label.FindAttribute(TDataStd_Name::GetID(), name)) {
        return {};
    }
    std::string text(static_cast<std::size_t>(name->Get().LengthOfCString()), '\0');
    char* buffer = text.data();
    name->Get().ToUTF8CString(buffer);
    return text;
}

void collect(const TDF_Label& assembly, const TopLoc_Location& above, const std::string& group,
             const Handle(XCAFDoc_ColorTool) & colours, ReadFile& out) {
    TDF_LabelSequence components;
    XCAFDoc_ShapeTool::GetComponents(assembly, components);
    for (const TDF_Label& component : components) {
        TDF_Label referred;
        ASSERT_TRUE(XCAFDoc_ShapeTool::GetReferredShape(component, referred));
        const TopLoc_Location here = above * XCAFDoc_ShapeTool::GetLocation(component);
        if (XCAFDoc_ShapeTool::IsAssembly(referred)) {
            collect(referred, here, nameOf(component), colours, out);
            continue;
        }
        Quantity_Color colour;
        ReadPiece piece;
        piece.product = nameOf(referred);
        piece.sub_assembly = group;
        piece.coloured = colours->GetColor(referred, XCAFDoc_ColorSurf, colour);
        piece.turned_or_moved = !above.IsIdentity();
        piece.solid = XCAFDoc_ShapeTool::GetShape(referred).Located(here);
        out.products.insert(piece.product);
        EXPECT_TRUE(out.pieces.emplace(nameOf(component), piece).second) << "two pieces named " << nameOf(component);
    }
}

ReadFile read(const fs::path& file) {
    Message::DefaultMessenger()->ChangePrinters().Clear();
    ReadFile out;
    Handle(TDocStd_Document) document;
    XCAFApp_Application::GetApplication()->NewDocument("BinXCAF", document);
    STEPCAFControl_Reader reader;
    reader.SetNameMode(Standard_True);
    reader.SetColorMode(Standard_True);
    if (reader.ReadFile(file.string().c_str()) != IFSelect_RetDone || !reader.Transfer(document)) {
        ADD_FAILURE() << "cannot read " << file;
        return out;
    }
    const auto shapes = XCAFDoc_DocumentTool::ShapeTool(document->Main());
    const auto colours = XCAFDoc_DocumentTool::ColorTool(document->Main());
    TDF_LabelSequence roots;
    shapes->GetFreeShapes(roots);
    out.root_count = roots.Length();
    if (roots.IsEmpty()) {
        ADD_FAILURE() << file << " holds no shape";
        return out;
    }
    out.root = nameOf(roots.First());
    out.is_assembly = XCAFDoc_ShapeTool::IsAssembly(roots.First());
    if (out.is_assembly) {
        collect(roots.First(), TopLoc_Location(), "", colours, out);
    }
    for (TopExp_Explorer e(XCAFDoc_ShapeTool::GetShape(roots.First()), TopAbs_SOLID); e.More(); e.Next()) {
        out.solids.push_back(e.Current());
    }
    return out;
}

json expectedFacts(const std::string& key) {
    std::ifstream in(fs::path(SETWRIGHT_SAMPLES_DIR) / "expected" / (key + ".json"));
    return json::parse(in);
}

double volumeOf(const TopoDS_Shape& shape) {
    GProp_GProps properties;
    BRepGProp::VolumeProperties(shape, properties);
    return properties.Mass();
}

std::array<double, 6> boxOf(const TopoDS_Shape& shape) {
    Bnd_Box box;
    BRepBndLib::AddOptimal(shape, box, Standard_False, Standard_False);
    box.SetGap(0);
    std::array<double, 6> limits{};
    box.Get(limits[0], limits[1], limits[2], limits[3], limits[4], limits[5]);
    return limits;
}

std::array<double, 6> boxOf(const json& facts) {
    const json& lo = facts.at("min");
    const json& hi = facts.at("max");
    return {lo[0], lo[1], lo[2], hi[0], hi[1], hi[2]};
}

bool sameBox(const std::array<double, 6>& a, const std::array<double, 6>& b) {
    for (std::size_t i = 0; i < 6; ++i) {
        if (std::abs(a[i] - b[i]) > kBox_mm) {
            return false;
        }
    }
    return true;
}

std::string print(const std::array<double, 6>& box) {
    return json(box).dump();
}

double overlapOf(const TopoDS_Shape& a, const TopoDS_Shape& b) {
    BRepAlgoAPI_Common common(a, b);
    EXPECT_TRUE(common.IsDone());
    return volumeOf(common.Shape());
}

double distanceOf(const TopoDS_Shape& a, const TopoDS_Shape& b) {
    BRepExtrema_DistShapeShape distance(a, b);
    EXPECT_TRUE(distance.IsDone());
    return distance.Value();
}

TopoDS_Shape shifted(const TopoDS_Shape& shape, const gp_Vec& by_mm) {
    gp_Trsf motion;
    motion.SetTranslation(by_mm);
    return BRepBuilderAPI_Transform(shape, motion, Standard_True).Shape();
}

std::vector<gp_Pnt> cornersOf(const TopoDS_Shape& shape) {
    std::vector<gp_Pnt> points;
    for (TopExp_Explorer e(shape, TopAbs_VERTEX); e.More(); e.Next()) {
        points.push_back(BRep_Tool::Pnt(TopoDS::Vertex(e.Current())));
    }
    return points;
}

/// The corner that lies furthest along (x, y, 0).
gp_Pnt furthestCorner(const TopoDS_Shape& shape, double x, double y) {
    const std::vector<gp_Pnt> points = cornersOf(shape);
    return *std::max_element(points.begin(), points.end(), [&](const gp_Pnt& a, const gp_Pnt& b) {
        return a.X() * x + a.Y() * y < b.X() * x + b.Y() * y;
    });
}

double planDistance(const gp_Pnt& a, const gp_Pnt& b) {
    return std::hypot(a.X() - b.X(), a.Y() - b.Y());
}

/// A folder of its own for each test process, removed at its end.
class ScratchFolder {
  public:
    ScratchFolder() : path_(fs::temp_directory_path() / ("setwright-samples-" + std::to_string(getpid()))) {
        fs::create_directories(path_);
    }
    ~ScratchFolder() {
        std::error_code ignored;
        fs::remove_all(path_, ignored);
    }
    ScratchFolder(const ScratchFolder&) = delete;
    ScratchFolder& operator=(const ScratchFolder&) = delete;

    const fs::path& path() const { return path_; }

  private:
    fs::path path_;
};

const fs::path& scratch() {
    static const ScratchFolder folder;
    return folder.path();
}

fs::path build(const std::string& folder_name) {
    const fs::path folder = scratch() / folder_name;
    const std::string command = "'" SETWRIGHT_SAMPLES_BUILDER "' '" + folder.string() + "' --lump";
    EXPECT_EQ(std::system(command.c_str()), 0);
    return folder;
}

const fs::path& rebuiltFolder() {
    static const fs::path folder = build("rebuilt");
    return folder;
}

std::string bytesOf(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

struct Source {
    std::string key;
    bool rebuilt{};
};

/// Keeps addresses out of the names ctest lists.
void PrintTo(const Source& source, std::ostream* out) {
    *out << source.key << (source.rebuilt ? " rebuilt" : " committed");
}

class Sample : public testing::TestWithParam<Source> {
  protected:
    void SetUp() override {
        folder_ = GetParam().rebuilt ? rebuiltFolder() : fs::path(SETWRIGHT_SAMPLES_DIR);
        facts_ = expectedFacts(GetParam().key);
        file_ = read(folder_ / (GetParam().key + ".step"));
    }

    const ReadPiece& piece(const std::string& id) const { return file_.pieces.at(id); }

    fs::path folder_;
    json facts_;
    ReadFile file_;
};

TEST_P(Sample, IsAnAssemblyWithEveryPieceUnderItsName) {
    EXPECT_EQ(file_.root_count, 1);
    EXPECT_TRUE(file_.is_assembly);
    EXPECT_EQ(file_.root, facts_.at("name"));
    EXPECT_EQ(file_.products.size(), facts_.at("product_count"));
    EXPECT_EQ(file_.solids.size(), facts_.at("solid_count"));
    ASSERT_EQ(file_.pieces.size(), facts_.at("pieces").size());
    bool nested_away_from_root = false;
    for (const json& fact : facts_.at("pieces")) {
        const std::string id = fact.at("id");
        ASSERT_TRUE(file_.pieces.contains(id)) << id;
        EXPECT_EQ(piece(id).product, fact.at("product")) << id;
        EXPECT_EQ(piece(id).sub_assembly, fact.at("sub_assembly").is_null() ? "" : fact.at("sub_assembly")) << id;
        EXPECT_TRUE(piece(id).coloured) << id;
        nested_away_from_root = nested_away_from_root || piece(id).turned_or_moved;
    }
    EXPECT_TRUE(nested_away_from_root);
}

TEST_P(Sample, PiecesAreValidSolidsPlacedWithoutMirror) {
    for (const auto& [id, piece] : file_.pieces) {
        EXPECT_EQ(piece.solid.ShapeType(), TopAbs_SOLID) << id;
        EXPECT_TRUE(BRepCheck_Analyzer(piece.solid).IsValid()) << id;
        EXPECT_FALSE(piece.solid.Location().Transformation().IsNegative()) << id;
    }
}

TEST_P(Sample, VolumesMatchTheClosedForm) {
    for (const json& fact : facts_.at("pieces")) {
        const std::string id = fact.at("id");
        const double measured = volumeOf(piece(id).solid);
        const double expected = fact.at("volume_mm3");
        EXPECT_NEAR(measured, expected, kVolumeRelative * expected) << id;

        // Second route: EN 10219-2 area 2T(B+H-2T) - (4-pi)(ro^2-ri^2) with ro = 2T, ri = T, times centre length.
        const json& section = fact.at("section");
        if (section.at("kind") != "plate") {
            const double b = section.at("width_mm");
            const double h = section.at("depth_mm");
            const double t = section.at("wall_mm");
            const double area = 2 * t * (b + h - 2 * t) - (4 - std::numbers::pi) * (4 * t * t - t * t);
            const double by_formula = area * fact.at("centre_length_mm").get<double>();
            EXPECT_NEAR(measured, by_formula, kVolumeRelative * by_formula) << id;
        }
    }
}

TEST_P(Sample, BoundingBoxesMatch) {
    std::array<double, 6> whole{1e9, 1e9, 1e9, -1e9, -1e9, -1e9};
    for (const json& fact : facts_.at("pieces")) {
        const std::string id = fact.at("id");
        const std::array<double, 6> measured = boxOf(piece(id).solid);
        EXPECT_TRUE(sameBox(measured, boxOf(fact.at("bounding_box_mm")))) << id << ' ' << print(measured);
        for (std::size_t i = 0; i < 3; ++i) {
            whole[i] = std::min(whole[i], measured[i]);
            whole[i + 3] = std::max(whole[i + 3], measured[i + 3]);
        }
    }
    EXPECT_TRUE(sameBox(whole, boxOf(facts_.at("bounding_box_mm")))) << print(whole);
}

TEST_P(Sample, MitredPiecesHaveTheirLongAndShortPoints) {
    for (const json& fact : facts_.at("pieces")) {
        if (!fact.contains("ends")) {
            continue;
        }
        // Extent of the longest and the shortest straight edge along the piece: the edges run on the flats.
        double longest = 0;
        double shortest = 1e9;
        const std::string id = fact.at("id");
        for (TopExp_Explorer e(piece(id).solid, TopAbs_EDGE); e.More(); e.Next()) {
            const std::vector<gp_Pnt> ends = cornersOf(e.Current());
            const double length = ends.size() == 2 ? ends[0].Distance(ends[1]) : 0;
            if (length > 200) {  // no edge across a section is that long, every edge along a piece is longer
                longest = std::max(longest, length);
                shortest = std::min(shortest, length);
            }
        }
        EXPECT_NEAR(longest, fact.at("long_length_mm").get<double>(), kBox_mm) << id;
        EXPECT_NEAR(shortest, fact.at("short_length_mm").get<double>(), kBox_mm) << id;
    }
}

TEST_P(Sample, HolesAreWhereTheDrawingPutsThem) {
    for (const json& fact : facts_.at("pieces")) {
        for (const json& hole : fact.value("holes", json::array())) {
            const std::string id = fact.at("id");
            const json& c = hole.at("centre_mm");
            const json& a = hole.at("axis");
            const double thickness = fact.at("section").at("thickness_mm");
            const gp_Ax2 axes(gp_Pnt(c[0], c[1], c[2]), gp_Dir(a[0], a[1], a[2]));
            const double radius = hole.at("diameter_mm").get<double>() / 2;
            // A plug of the hole's size meets no steel; one 0.02 wider meets exactly the ring around it.
            const double wider = radius + 0.01;
            const TopoDS_Shape plug = BRepPrimAPI_MakeCylinder(axes, radius - 1e-4, thickness).Shape();
            const TopoDS_Shape tight = BRepPrimAPI_MakeCylinder(axes, wider, thickness).Shape();
            EXPECT_LT(overlapOf(piece(id).solid, plug), kOverlap_mm3) << id;
            const double ring = std::numbers::pi * (wider * wider - radius * radius) * thickness;
            EXPECT_NEAR(overlapOf(piece(id).solid, tight), ring, 1e-3 * ring) << id;
        }
    }
}

TEST_P(Sample, NoPieceOverlapsAnotherAndOnlyJoinedPiecesTouch) {
    std::set<std::set<std::string>> touching;
    for (const char* kind : {"joints", "edge_contacts"}) {
        for (const json& pair : facts_.at(kind)) {
            touching.insert({pair[0].get<std::string>(), pair[1].get<std::string>()});
        }
    }
    for (auto a = file_.pieces.begin(); a != file_.pieces.end(); ++a) {
        for (auto b = std::next(a); b != file_.pieces.end(); ++b) {
            EXPECT_LT(overlapOf(a->second.solid, b->second.solid), kOverlap_mm3) << a->first << ' ' << b->first;
            const double distance = distanceOf(a->second.solid, b->second.solid);
            if (touching.contains({a->first, b->first})) {
                EXPECT_LT(distance, kTouch_mm) << a->first << ' ' << b->first;
            } else {
                EXPECT_GT(distance, kApart_mm) << a->first << ' ' << b->first;
            }
        }
    }
}

TEST_P(Sample, JoinedPiecesOverlapOncePushedTogether) {
    // The overlap check must be able to fail, and a joint must be a face, not an edge: pushed 1 mm along one of the
    // axes, a joined piece enters the other by a steel volume.
    for (const json& pair : facts_.at("joints")) {
        const TopoDS_Shape& a = piece(pair[0]).solid;
        const TopoDS_Shape& b = piece(pair[1]).solid;
        double entered = 0;
        for (const gp_Vec& push : {gp_Vec(1, 0, 0), gp_Vec(0, 1, 0), gp_Vec(0, 0, 1)}) {
            entered = std::max({entered, overlapOf(shifted(a, push), b), overlapOf(shifted(a, -push), b)});
        }
        EXPECT_GT(entered, 10.0) << pair;
    }
}

TEST_P(Sample, LumpHoldsTheSameSolidsInOneProduct) {
    const ReadFile lump = read(folder_ / (GetParam().key + "_lump.step"));
    EXPECT_EQ(lump.root_count, 1);
    EXPECT_FALSE(lump.is_assembly);
    EXPECT_EQ(lump.root, facts_.at("name"));
    ASSERT_EQ(lump.solids.size(), facts_.at("solid_count"));
    for (const json& fact : facts_.at("pieces")) {
        const double volume = fact.at("volume_mm3");
        const auto matches = std::count_if(lump.solids.begin(), lump.solids.end(), [&](const TopoDS_Shape& solid) {
            return std::abs(volumeOf(solid) - volume) < kVolumeRelative * volume &&
                   sameBox(boxOf(solid), boxOf(fact.at("bounding_box_mm")));
        });
        EXPECT_EQ(matches, 1) << fact.at("id");
    }
}

INSTANTIATE_TEST_SUITE_P(CommittedAndRebuilt, Sample,
                         testing::Values(Source{"D1", false}, Source{"D1", true}, Source{"D2", false},
                                         Source{"D2", true}),
                         [](const auto& info) {
                             return info.param.key + (info.param.rebuilt ? "Rebuilt" : "Committed");
                         });

class GateFrame : public testing::TestWithParam<bool> {
  protected:
    void SetUp() override {
        file_ = read((GetParam() ? rebuiltFolder() : fs::path(SETWRIGHT_SAMPLES_DIR)) / "D2.step");
        facts_ = expectedFacts("D2");
    }
    const TopoDS_Shape& solid(const std::string& id) const { return file_.pieces.at(id).solid; }

    ReadFile file_;
    json facts_;
};

TEST_P(GateFrame, IsSquareBy1200By800) {
    const gp_Pnt a1_left = furthestCorner(solid("A1"), -1, -0.1);
    const gp_Pnt a1_right = furthestCorner(solid("A1"), 1, -0.1);
    const gp_Pnt a2_left = furthestCorner(solid("A2"), -1, 0.1);
    const gp_Pnt a2_right = furthestCorner(solid("A2"), 1, 0.1);
    EXPECT_NEAR(planDistance(a1_left, a1_right), 1200, kBox_mm);
    EXPECT_NEAR(planDistance(a1_left, a2_left), 800, kBox_mm);
    // hypot(1200, 800); equal diagonals = square corners.
    const double outside = facts_.at("diagonals_mm").at("outside");
    EXPECT_NEAR(outside, std::hypot(1200, 800), kBox_mm);
    EXPECT_NEAR(planDistance(a1_left, a2_right), outside, kBox_mm);
    EXPECT_NEAR(planDistance(a1_right, a2_left), outside, kBox_mm);
}

TEST_P(GateFrame, OpeningIs1080By680) {
    // Inside corners are the short points of the long rails: weight y so heavily that the inner face wins.
    const gp_Pnt a1_left = furthestCorner(solid("A1"), -0.01, 1);
    const gp_Pnt a1_right = furthestCorner(solid("A1"), 0.01, 1);
    const gp_Pnt a2_left = furthestCorner(solid("A2"), -0.01, -1);
    const gp_Pnt a2_right = furthestCorner(solid("A2"), 0.01, -1);
    EXPECT_NEAR(planDistance(a1_left, a1_right), 1080, kBox_mm);
    EXPECT_NEAR(planDistance(a1_left, a2_left), 680, kBox_mm);
    const double inside = facts_.at("diagonals_mm").at("inside");
    EXPECT_NEAR(inside, std::hypot(1080, 680), kBox_mm);
    EXPECT_NEAR(planDistance(a1_left, a2_right), inside, kBox_mm);
    EXPECT_NEAR(planDistance(a1_right, a2_left), inside, kBox_mm);
    // 60 * sqrt(2): the mitre face from inside corner to outside corner.
    EXPECT_NEAR(planDistance(a1_left, furthestCorner(solid("A1"), -1, -0.1)), facts_.at("mitre_face_length_mm"),
                kBox_mm);
}

TEST_P(GateFrame, MitreFacesMeetCornerToCorner) {
    for (const char* rail : {"A1", "A2"}) {
        std::vector<gp_Pnt> stiles = cornersOf(solid("B1"));
        const std::vector<gp_Pnt> other = cornersOf(solid("B2"));
        stiles.insert(stiles.end(), other.begin(), other.end());
        for (const gp_Pnt& corner : cornersOf(solid(rail))) {
            EXPECT_TRUE(std::any_of(stiles.begin(), stiles.end(),
                                    [&](const gp_Pnt& p) { return p.Distance(corner) < kBox_mm; }))
                << rail << ' ' << corner.X() << ' ' << corner.Y() << ' ' << corner.Z();
        }
    }
}

INSTANTIATE_TEST_SUITE_P(CommittedAndRebuilt, GateFrame, testing::Bool(),
                         [](const auto& info) { return info.param ? "Rebuilt" : "Committed"; });

TEST(SampleBuilder, WritesTheSameBytesEachRun) {
    const fs::path again = build("again");
    for (const char* name : {"D1.step", "D2.step", "D1_lump.step", "D2_lump.step"}) {
        const std::string first = bytesOf(rebuiltFolder() / name);
        EXPECT_FALSE(first.empty()) << name;
        EXPECT_TRUE(first == bytesOf(again / name)) << name;
    }
}

TEST(SampleBuilder, WritesAp242InMillimetresWithAFixedHeader) {
    for (const char* name : {"D1.step", "D2_lump.step"}) {
        const std::string text = bytesOf(rebuiltFolder() / name);
        EXPECT_NE(text.find("AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF"), std::string::npos) << name;
        EXPECT_NE(text.find("'2026-01-01T00:00:00'"), std::string::npos) << name;
        EXPECT_NE(text.find("SI_UNIT(.MILLI.,.METRE.)"), std::string::npos) << name;
    }
}

TEST(SampleBuilder, RefusesAWrongCallWithCode2) {
    EXPECT_EQ(WEXITSTATUS(std::system("'" SETWRIGHT_SAMPLES_BUILDER "' 2> /dev/null")), 2);
    EXPECT_EQ(WEXITSTATUS(std::system("'" SETWRIGHT_SAMPLES_BUILDER "' --round /tmp 2> /dev/null")), 2);
}

}  // namespace
