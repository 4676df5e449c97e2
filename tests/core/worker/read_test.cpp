#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <thread>

#include "core/base/file.h"
#include "core/space/bodies.h"
#include "tests/core/worker/step_writer.h"

namespace setwright::worker {
namespace {

using space::Bodies;
using space::Vec3;

const std::string samples = SETWRIGHT_SAMPLES_DIR;
const std::string shared = SETWRIGHT_SHARED_DIR "/step";

class ReadStep : public testing::Test {
  protected:
    void SetUp() override {
        folder_ = std::filesystem::temp_directory_path() / ("setwright-read-" + std::to_string(::getpid()));
        std::filesystem::create_directories(folder_);
    }
    void TearDown() override { std::filesystem::remove_all(folder_); }

    std::string file(const std::string& content, const std::string& name = "file.step") const {
        const std::string path = (folder_ / name).string();
        std::ofstream(path, std::ios::binary) << content;
        return path;
    }
    static std::string error(const std::string& path) {
        const auto bodies = space::read_step(path);
        if (bodies) return "read";
        EXPECT_EQ(bodies.error().kind, base::ErrorKind::bad_input);
        const auto sentences = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
        EXPECT_TRUE(sentences.has(bodies.error().text.id)) << bodies.error().text.id;
        const std::string sentence = sentences.render(bodies.error().text);
        EXPECT_EQ(sentence.find('{'), std::string::npos) << sentence;
        return bodies.error().text.id;
    }

    std::filesystem::path folder_;
};

space::Aabb box_of(const Bodies& bodies) {
    space::Aabb box;
    for (const auto& body : bodies.bodies)
        for (const Vec3& p : bodies.solids[body.solid]->mesh.points) box.add(body.X_MD * p);
    return box;
}

/// Against samples/expected, which is worked by hand from the drawings.
void expect_sample(const std::string& name) {
    const auto bodies = space::read_step(samples + "/" + name + ".step");
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    std::ifstream stream(samples + "/expected/" + name + ".json");
    const nlohmann::json expected = nlohmann::json::parse(stream);
    EXPECT_EQ(bodies->bodies.size(), expected["solid_count"].get<std::size_t>());
    EXPECT_EQ(bodies->solids.size(), expected["product_count"].get<std::size_t>());
    EXPECT_EQ(bodies->solids_in_text, expected["solid_count"].get<int>());
    EXPECT_TRUE(bodies->lost.empty());
    EXPECT_TRUE(bodies->remarks.empty());
    EXPECT_EQ(bodies->loose_faces, 0);
    EXPECT_EQ(bodies->file_unit, "mm");
    const space::Aabb box = box_of(*bodies);
    for (int i = 0; i < 3; ++i) {
        const auto k = static_cast<std::size_t>(i);
        EXPECT_NEAR(box.min[i], expected["bounding_box_mm"]["min"][k].get<double>(), 1e-6);
        EXPECT_NEAR(box.max[i], expected["bounding_box_mm"]["max"][k].get<double>(), 1e-6);
    }
    std::map<std::string, const space::Body*> by_instance;
    for (const auto& body : bodies->bodies) by_instance[body.path.back()] = &body;
    for (const auto& piece : expected["pieces"]) {
        const auto found = by_instance.find(piece["id"].get<std::string>());
        ASSERT_NE(found, by_instance.end()) << piece["id"];
        const space::Body& body = *found->second;
        const space::Solid& solid = *bodies->solids[body.solid];
        EXPECT_EQ(body.name, piece["id"].get<std::string>());
        EXPECT_TRUE(body.colour.has_value());
        EXPECT_TRUE(solid.valid);
        EXPECT_FALSE(bodies->breps[body.solid].empty());
        EXPECT_NEAR(solid.volume_mm3, piece["volume_mm3"].get<double>(), 1e-6 * solid.volume_mm3);
        if (piece["sub_assembly"].is_string()) {
            EXPECT_EQ(body.path[1], piece["sub_assembly"].get<std::string>());
        }
        const space::Aabb own = space::moved(solid, body.X_MD).box;
        for (int i = 0; i < 3; ++i) {
            const auto k = static_cast<std::size_t>(i);
            // A half-round end is met by its mesh to within the deflection.
            EXPECT_NEAR(own.min[i], piece["bounding_box_mm"]["min"][k].get<double>(), 0.2);
            EXPECT_NEAR(own.max[i], piece["bounding_box_mm"]["max"][k].get<double>(), 0.2);
        }
    }
}

TEST_F(ReadStep, GrinderStandIsAsDrawn) {
    expect_sample("D1");
}
TEST_F(ReadStep, GateFrameIsAsDrawn) {
    expect_sample("D2");
}

TEST_F(ReadStep, LumpOfSeveralSolidsGivesOneBodyEach) {
    const auto bodies = space::read_step(samples + "/D1_lump.step");
    ASSERT_TRUE(bodies.ok());
    ASSERT_EQ(bodies->bodies.size(), 7u);
    EXPECT_EQ(bodies->bodies[1].name, "D1 grinder stand/2");
    EXPECT_NEAR(box_of(*bodies).size().z(), 808, 1e-6);
}

TEST_F(ReadStep, FilesOfOtherSystemsKeepTheirCountsAndSizes) {
    if (!std::filesystem::exists(shared)) GTEST_SKIP() << "the files are not here";
    struct Case {
        const char* file;
        std::size_t bodies, solids, lost;
        const char* unit;
    };
    // Counts: README beside the files.
    for (const Case& c : {Case{"as1_inch_203.stp", 18, 5, 0, "inch"}, Case{"as1_mm_203.stp", 18, 5, 0, "mm"},
                          Case{"as1_mm_214.stp", 18, 5, 0, "mm"}, Case{"s1_inch_214.stp", 11, 8, 0, "inch"},
                          Case{"corrupt_beams_214.stp", 11, 11, 1, "mm"}}) {
        const auto bodies = space::read_step(shared + "/" + c.file);
        ASSERT_TRUE(bodies.ok()) << c.file;
        EXPECT_EQ(bodies->bodies.size(), c.bodies) << c.file;
        EXPECT_EQ(bodies->solids.size(), c.solids) << c.file;
        EXPECT_EQ(bodies->solids_in_text, static_cast<int>(c.bodies + c.lost)) << c.file;
        EXPECT_EQ(bodies->file_unit, c.unit) << c.file;
        ASSERT_EQ(bodies->lost.size(), c.lost) << c.file;
        for (const std::string& name : bodies->lost) EXPECT_FALSE(name.empty());
        for (const auto& solid : bodies->solids)
            EXPECT_NEAR(solid->mesh.volume_mm3(), solid->volume_mm3, 0.05 * solid->volume_mm3);
    }
}

TEST_F(ReadStep, PlacementsAddUpThroughNestedAssemblies) {
    StepWriter step;
    const auto part = step.part("rail", {step.box({100, 20, 10})});
    const auto group = step.part("group", {}, "SHAPE_REPRESENTATION");
    const auto root = step.part("frame", {}, "SHAPE_REPRESENTATION");
    step.place(group, part, {1, 2, 3}, "left");
    step.place(group, part, {11, 12, 13}, "right");
    step.place(root, group, {100, 200, 300}, "lower");
    step.place(root, group, {0, 0, 1000});
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    ASSERT_EQ(bodies->bodies.size(), 4u);
    EXPECT_EQ(bodies->solids.size(), 1u);
    EXPECT_EQ(bodies->solids_in_text, 4);
    EXPECT_TRUE(bodies->lost.empty());
    EXPECT_NEAR((bodies->bodies[1].X_MD.position() - Vec3(111, 212, 313)).norm(), 0, 1e-9);
    EXPECT_NEAR((bodies->bodies[2].X_MD.position() - Vec3(1, 2, 1003)).norm(), 0, 1e-9);
    EXPECT_EQ(bodies->bodies[0].path, (std::vector<std::string>{"frame", "lower", "left"}));
    EXPECT_EQ(bodies->bodies[2].path[1], "group") << "an unnamed placement shows its product";
    EXPECT_EQ(bodies->bodies[3].name, "right");
}

TEST_F(ReadStep, InchesBecomeMillimetres) {
    StepWriter step;
    step.set_unit("INCH");
    step.part("cube", {step.box({1, 2, 3})});
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    EXPECT_EQ(bodies->file_unit, "inch");
    EXPECT_NEAR(bodies->solids[0]->volume_mm3, 6 * 25.4 * 25.4 * 25.4, 1e-6);
}

TEST_F(ReadStep, MirroredPlacementBecomesAMirroredShape) {
    StepWriter step;
    const auto inner = step.part("bracket", {step.box({10, 20, 30})});
    const auto root = step.part("pair", {step.mirrored(inner.representation)}, "SHAPE_REPRESENTATION");
    (void)root;
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    int mirrored = 0;
    for (const auto& body : bodies->bodies) {
        const space::Solid here = space::moved(*bodies->solids[body.solid], body.X_MD);
        EXPECT_NEAR(here.volume_mm3, 6000, 1e-6);
        EXPECT_GT(here.mesh.volume_mm3(), 0) << "outside stays outside";
        EXPECT_NEAR(body.X_MD.rotation().determinant(), 1, 1e-12);
        if (here.box.min.x() < -9) {
            ++mirrored;
            EXPECT_NEAR((here.box.min - Vec3(-10, 0, 0)).norm(), 0, 1e-9);
        }
    }
    EXPECT_EQ(mirrored, 1);
}

TEST_F(ReadStep, SplineThatIsNearlyAPlaneIsDescribedAsOneWithItsResidual) {
    const auto top = [&](double bulge) {
        StepWriter step;
        step.part("plate", {step.box({60, 40, 10}, bulge)});
        const auto bodies = space::read_step(file(step.text()));
        EXPECT_TRUE(bodies.ok());
        const space::Solid& solid = *bodies->solids[0];
        // The bulge is the square of 4 s (1 - s) averaged over both ways: (2/3)^2 of its height.
        EXPECT_NEAR(solid.volume_mm3, 60 * 40 * (10 + bulge * 4 / 9), 0.05);
        EXPECT_TRUE(solid.valid);
        for (const space::Face& face : solid.faces)
            if (face.centroid.z() > 9.9) return face.surface;
        return space::Surface{};
    };
    const space::Surface flat = top(0), bent = top(0.03), bulging = top(0.5);
    EXPECT_EQ(flat.kind, space::SurfaceKind::plane);
    EXPECT_NEAR((flat.axis - Vec3::UnitZ()).norm(), 0, 1e-9) << "out of the material";
    EXPECT_NEAR(flat.residual_mm, 0, 1e-9);
    EXPECT_EQ(bent.kind, space::SurfaceKind::plane);
    EXPECT_GT(bent.residual_mm, 0.005);
    EXPECT_LE(bent.residual_mm, 0.03);
    EXPECT_EQ(bulging.kind, space::SurfaceKind::spline);
}

TEST_F(ReadStep, NamesKeepTheirLetters) {
    StepWriter step;
    step.part("\\X2\\00DC\\X0\\bergang d''angle", {step.box({1, 1, 1})});
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok());
    EXPECT_EQ(bodies->bodies[0].name,
              "\xC3\x9C"
              "bergang d'angle");
}

TEST_F(ReadStep, SolidThatTheKernelDropsIsNamed) {
    StepWriter step;
    const int good = step.box({1, 1, 1});
    const auto root = step.part("frame", {}, "SHAPE_REPRESENTATION");
    step.place(root, step.part("rail", {good}), {0, 0, 0});
    const int profile = step.add("RECTANGLE_PROFILE_DEF(.AREA.,'',$,40.,40.)");
    const int up = step.add("DIRECTION('',(0.,0.,1.))");
    const auto swept = step.part(
        "swept post", {step.add("EXTRUDED_AREA_SOLID(''," + StepWriter::list({profile, profile, up}) + ",5.)")});
    step.place(root, swept, {5, 0, 0});
    step.place(root, swept, {9, 0, 0});
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    EXPECT_EQ(bodies->bodies.size(), 1u);
    EXPECT_EQ(bodies->solids_in_text, 3);
    EXPECT_EQ(bodies->lost, (std::vector<std::string>{"swept post", "swept post"}));
}

TEST_F(ReadStep, LooseSurfacesAreCountedBesideSolids) {
    StepWriter step;
    const int model = step.add("SHELL_BASED_SURFACE_MODEL('',(" + StepWriter::ref(step.box_shell({2, 2, 2})) + "))");
    const auto root = step.part("frame", {}, "SHAPE_REPRESENTATION");
    step.place(root, step.part("skin", {model}, "MANIFOLD_SURFACE_SHAPE_REPRESENTATION"), {0, 0, 0});
    step.place(root, step.part("rail", {step.box({1, 1, 1})}), {9, 0, 0});
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    EXPECT_EQ(bodies->bodies.size(), 1u);
    EXPECT_EQ(bodies->loose_faces, 6);
    EXPECT_TRUE(bodies->lost.empty());
}

TEST_F(ReadStep, PlacementOfAMissingPartIsRemarked) {
    StepWriter step;
    const auto root = step.part("frame", {}, "SHAPE_REPRESENTATION");
    step.place(root, step.part("rail", {step.box({1, 1, 1})}), {0, 0, 0});
    step.add("NEXT_ASSEMBLY_USAGE_OCCURRENCE('99','','',#1,#999999,$)");
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    ASSERT_EQ(bodies->remarks.size(), 1u);
    EXPECT_EQ(bodies->remarks[0].id, "import.broken_placements");
}

TEST_F(ReadStep, TenThousandSolidsOpen) {
    StepWriter step;
    const auto part = step.part("clip", {step.box({5, 5, 5})});
    const auto row = step.part("row", {}, "SHAPE_REPRESENTATION");
    const auto root = step.part("mat", {}, "SHAPE_REPRESENTATION");
    for (int i = 0; i < 100; ++i) {
        step.place(row, part, {10.0 * i, 0, 0});
        step.place(root, row, {0, 10.0 * i, 0});
    }
    const auto bodies = space::read_step(file(step.text()));
    ASSERT_TRUE(bodies.ok()) << bodies.error().text.id;
    EXPECT_EQ(bodies->bodies.size(), 10'000u);
    EXPECT_EQ(bodies->solids.size(), 1u);
    EXPECT_TRUE(bodies->lost.empty());
    EXPECT_NEAR(box_of(*bodies).max.x(), 995, 1e-9);
}

TEST_F(ReadStep, SaysWhatIsWrongWithAFile) {
    EXPECT_EQ(error(file("solid cube\nfacet normal 0 0 1\n")), "import.not_step");
    EXPECT_EQ(error(file("")), "import.empty_file");
    EXPECT_EQ(error(file(" \r\n\n")), "import.empty_file");
    EXPECT_EQ(error(file(std::string("\x1f\x8b\x08\x00", 4) + "more")), "import.packed");
    EXPECT_EQ(error(folder_.string()), "file.is_directory");
    EXPECT_EQ(error((folder_ / "none.step").string()), "file.not_there");
}

TEST_F(ReadStep, SaysThatAFileIsCutOff) {
    const std::string whole = *base::read_file(samples + "/D2.step");
    for (const double share : {0.01, 0.3, 0.7, 0.99})
        EXPECT_EQ(error(file(whole.substr(0, static_cast<std::size_t>(share * static_cast<double>(whole.size()))))),
                  "import.cut_off");
}

TEST_F(ReadStep, SaysThatThereAreNoSolids) {
    StepWriter nothing;
    nothing.part("empty", {}, "SHAPE_REPRESENTATION");
    EXPECT_EQ(error(file(nothing.text())), "import.no_solids");
}

TEST_F(ReadStep, SaysThatThereAreOnlySurfaces) {
    StepWriter step;
    const int model = step.add("SHELL_BASED_SURFACE_MODEL('',(" + StepWriter::ref(step.box_shell({2, 2, 2})) + "))");
    step.part("skin", {model}, "MANIFOLD_SURFACE_SHAPE_REPRESENTATION");
    EXPECT_EQ(error(file(step.text())), "import.only_surfaces");
}

TEST_F(ReadStep, SaysThatThereAreOnlyTriangles) {
    StepWriter step;
    const int points = step.add("COORDINATES_LIST('',3,((0.,0.,0.),(1.,0.,0.),(0.,1.,0.)))");
    const int face = step.add("TRIANGULATED_FACE(''," + StepWriter::ref(points) + ",3,((0.,0.,1.)),$,(),((1,2,3)))");
    const int solid = step.add("TESSELLATED_SOLID('',(" + StepWriter::ref(face) + "),$)");
    step.part("mesh", {solid}, "TESSELLATED_SHAPE_REPRESENTATION");
    EXPECT_EQ(error(file(step.text())), "import.only_triangles");
}

TEST_F(ReadStep, SaysThatEverySolidWasLost) {
    StepWriter step;
    step.part("rail", {step.add("MANIFOLD_SOLID_BREP('',#999999)")});
    EXPECT_EQ(error(file(step.text())), "import.all_lost");
}

TEST_F(ReadStep, SaysThatAFileMayNotBeRead) {
    if (::geteuid() == 0) GTEST_SKIP() << "root may read everything";
    const std::string path = file("ISO-10303-21;");
    ::chmod(path.c_str(), 0);
    EXPECT_EQ(error(path), "file.no_permission");
}

TEST_F(ReadStep, StopsWhenCancelledAndWhenItTakesTooLong) {
    // A pipe that nobody writes to keeps the helper waiting for ever.
    const std::string pipe = (folder_ / "pipe.step").string();
    ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
    const auto start = std::chrono::steady_clock::now();
    const auto slow = space::read_step(pipe, {}, 1);
    ASSERT_FALSE(slow.ok());
    EXPECT_EQ(slow.error().text.id, "import.too_slow");
    const base::Progress job;
    std::thread canceller([&] {
        std::this_thread::sleep_for(std::chrono::milliseconds(100));
        job.cancel();
    });
    const auto cancelled = space::read_step(pipe, job, 60);
    canceller.join();
    ASSERT_FALSE(cancelled.ok());
    EXPECT_EQ(cancelled.error().kind, base::ErrorKind::cancelled);
    EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(20));
}

TEST_F(ReadStep, SaysThatTheHelperIsMissingOrBroken) {
    const std::string sample = samples + "/D2.step";
    ::setenv("SETWRIGHT_WORKER", (folder_ / "nowhere").c_str(), 1);
    EXPECT_EQ(error(sample), "child.cannot_start");
    ::setenv("SETWRIGHT_WORKER", "/bin/true", 1);
    EXPECT_EQ(error(sample), "import.answer_damaged");
    ::setenv("SETWRIGHT_WORKER", "/bin/false", 1);
    EXPECT_EQ(error(sample), "import.reader_broke");
    ::unsetenv("SETWRIGHT_WORKER");
}

}  // namespace
}  // namespace setwright::worker
