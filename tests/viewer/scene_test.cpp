#include "viewer/scene.h"

#include <random>

#include "core/base/limits.h"
#include "core/setup/edit.h"
#include "core/setup/history.h"
#include "tests/viewer/sample_job.h"

namespace setwright::viewer {
namespace {

setup::StageId first_stage(const Job& job) {
    return job.stages.at(0).id;
}

/// One edit by chance on the first stage; none where it is refused.
std::optional<Job> random_edit(const Job& job, std::mt19937& random) {
    const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
    const setup::Stage& stage = job.stages.at(0);
    const auto value = [](base::Result<Job> result) {
        return result ? std::optional(std::move(result).value()) : std::nullopt;
    };
    if (stage.placements.empty()) return std::nullopt;
    const setup::Placement& one =
        stage.placements[static_cast<std::size_t>(pick(0, static_cast<int>(stage.placements.size()) - 1))];
    setup::Seat seat = one.seat;
    if (seat.host.kind == setup::Host::Kind::table) seat.hole = {pick(2, 45), pick(2, 21)};
    switch (pick(0, 6)) {
        case 0:
        case 1: {
            auto component = job.components.find(one.component);
            auto placed = setup::place(job, stage.id, component->second, seat);
            return placed ? std::optional(std::move(placed->setup)) : std::nullopt;
        }
        case 2:
        case 3:
            return value(setup::move(job, stage.id, one.id, seat));
        case 4:
            return value(setup::remove(job, stage.id, one.id, true));
        case 5: {
            Job next = job;
            for (setup::Placement& placement : next.stages[0].placements)
                if (placement.id == one.id) placement.locked = !placement.locked;
            return next;
        }
        default:
            return value(setup::lay(job, stage.id, Pose::move(pick(-3, 3) * 50, pick(-2, 2) * 50, 0) * stage.lay.X_TM));
    }
}

TEST(Scene, UpdatedIsTheSameAsRebuilt) {
    for (const char* name : {"D1", "D2"}) {
        std::mt19937 random(7);
        Job job = sample_job(name);
        ShapeBook shapes;
        Scene scene = make_scene(job, first_stage(job), shapes);
        int done = 0, differing = 0;
        for (int tries = 0; done < 60 && tries < 2000; ++tries) {
            const auto next = random_edit(job, random);
            if (!next) continue;
            const Scene before = scene;
            update(scene, *next, first_stage(job), setup::changes(job, *next), shapes);
            ShapeBook fresh;
            ASSERT_TRUE(same(scene, make_scene(*next, first_stage(job), fresh))) << name << " edit " << done;
            differing += !same(scene, before);
            job = *next;
            ++done;
        }
        EXPECT_EQ(done, 60) << name;
        EXPECT_GT(differing, 50) << "edits that change nothing prove nothing";
    }
}

TEST(Scene, UnchangedItemsKeepTheirShapes) {
    const Job& job = sample_job("D1");
    ShapeBook shapes;
    Scene scene = make_scene(job, first_stage(job), shapes);
    const Scene before = scene;
    const PlacementId moved = job.stages[0].placements.front().id;
    const auto next = setup::remove(job, first_stage(job), moved, true);
    ASSERT_TRUE(next.ok());
    update(scene, *next, first_stage(job), setup::changes(job, *next), shapes);
    EXPECT_FALSE(scene.items.contains(moved));
    for (const auto& [id, item] : scene.items) EXPECT_EQ(item.shape, before.items.at(id).shape);
    const Scene again = make_scene(job, first_stage(job), shapes);
    for (const auto& [id, item] : again.items) EXPECT_EQ(item.shape, before.items.at(id).shape);
}

TEST(Scene, EqualBlocksShareOneShape) {
    const Job& job = sample_job("D1");
    ShapeBook shapes;
    const Scene scene = make_scene(job, first_stage(job), shapes);
    std::set<const Shape*> different;
    std::size_t placements = 0;
    for (const auto& [id, item] : scene.items)
        if (std::holds_alternative<PlacementId>(id)) {
            different.insert(item.shape.get());
            ++placements;
        }
    EXPECT_EQ(placements, job.stages[0].placements.size());
    EXPECT_LT(different.size(), placements);
}

TEST(Scene, APieceLeftOutIsNotThere) {
    Job job = sample_job("D1");
    ShapeBook shapes;
    const PieceId out = job.stages[0].pieces.front();
    EXPECT_TRUE(make_scene(job, first_stage(job), shapes).items.contains(out));
    job.weldments[0].piece_edits[out].left_out = true;
    EXPECT_FALSE(make_scene(job, first_stage(job), shapes).items.contains(out));
}

TEST(Scene, PiecesOfEarlierStagesAreThere) {
    const Job& job = sample_job("D1");
    const auto next = setup::add_stage(job, "turned over");
    ASSERT_TRUE(next.ok());
    ShapeBook shapes;
    const Scene scene = make_scene(*next, next->stages.back().id, shapes);
    EXPECT_EQ(scene.items.size(), job.stages[0].pieces.size());
}

TEST(Scene, APlacementWithoutAPoseIsLeftOut) {
    Job job = sample_job("D1");
    setup::Placement& one = job.stages[0].placements.front();
    one.seat.hole = {-5, -5};
    ShapeBook shapes;
    EXPECT_FALSE(make_scene(job, first_stage(job), shapes).items.contains(one.id));
}

TEST(Scene, ByHandAndLockedAreSetApart) {
    Job job = sample_job("D1");
    const PieceId piece = job.stages[0].pieces.front();
    job.stages[0].held_by[piece] = setup::HeldBy::by_hand;
    setup::Placement& one = job.stages[0].placements.front();
    one.locked = true;
    ShapeBook shapes;
    const Scene scene = make_scene(job, first_stage(job), shapes);
    EXPECT_TRUE(scene.items.at(piece).set_apart);
    EXPECT_EQ(scene.items.at(piece).label, job.piece_name(piece));
    EXPECT_TRUE(scene.items.at(one.id).set_apart);
    EXPECT_EQ(scene.items.at(one.id).label, std::to_string(one.no));
}

TEST(Scene, AStageThatIsGoneShowsTheTableOnly) {
    const Job& job = sample_job("D1");
    ShapeBook shapes;
    const Scene scene = make_scene(job, setup::StageId{9999}, shapes);
    EXPECT_TRUE(scene.items.empty());
    EXPECT_EQ(scene.table, job.table);
}

shop::BodyPart box(const Vec3& min, const Vec3& max) {
    shop::BodyPart part;
    part.min = min;
    part.max = max;
    return part;
}

shop::BodyPart cylinder(const Vec3& from, const Vec3& to, double diameter) {
    shop::BodyPart part;
    part.kind = shop::BodyPart::Kind::cylinder;
    part.from = from;
    part.to = to;
    part.diameter_mm = diameter;
    return part;
}

double length(const std::vector<Vec3>& line) {
    double sum = 0;
    for (std::size_t i = 1; i < line.size(); ++i) sum += (line[i] - line[i - 1]).norm();
    return sum;
}

TEST(Shape, ABoxHasSixFacesAndTwelveEdges) {
    setup::Posed posed;
    posed.fixed = {box(Vec3(0, 0, 0), Vec3(10, 20, 30))};
    ShapeBook shapes;
    const auto shape = shapes.of(shop::Component{}, setup::Seat{}, posed);
    EXPECT_EQ(std::set<int>(shape->face.begin(), shape->face.end()), (std::set<int>{0, 1, 2, 3, 4, 5}));
    double sum = 0;
    for (const auto& line : shape->edges) sum += length(line);
    EXPECT_EQ(shape->edges.size(), 12u);
    EXPECT_EQ(shape->edge_faces.size(), 12u);
    EXPECT_NEAR(sum, 4 * (10 + 20 + 30), 1e-9);
}

TEST(Shape, ACylinderHasThreeFacesAndTwoClosedRims) {
    setup::Posed posed;
    posed.fixed = {box(Vec3(0, 0, 0), Vec3(10, 20, 30)), cylinder(Vec3(50, 0, 0), Vec3(50, 0, 40), 20)};
    ShapeBook shapes;
    const auto shape = shapes.of(shop::Component{}, setup::Seat{}, posed);
    EXPECT_EQ(std::set<int>(shape->face.begin(), shape->face.end()).size(), 6u + 3u) << "part by part";
    int rims = 0;
    for (const auto& line : shape->edges) {
        if (line.size() < 5) continue;
        ++rims;
        EXPECT_EQ(line.front(), line.back());
        // A prism around the cylinder: each of its 24 sides is 2 r tan(180°/24).
        EXPECT_NEAR(length(line), 24 * 20 * std::tan(std::numbers::pi / 24), 1e-9);
    }
    EXPECT_EQ(rims, 2);
}

TEST(Shape, PartsThatDifferInOneNumberDoNotShare) {
    ShapeBook shapes;
    setup::Posed a, b;
    a.fixed = {box(Vec3(0, 0, 0), Vec3(10, 20, 30))};
    b.fixed = {box(Vec3(0, 0, 0), Vec3(10, 20, 31))};
    EXPECT_NE(shapes.of({}, {}, a), shapes.of({}, {}, b));
    EXPECT_EQ(shapes.of({}, {}, a), shapes.of({}, {}, a));
}

TEST(Shape, APieceIsDrawnWithItsSharpEdgesOnly) {
    const Job& job = sample_job("D1");
    ShapeBook shapes;
    for (const weldment::Piece& piece : job.weldments.at(0).model->pieces) {
        const auto shape = shapes.of(piece);
        ASSERT_EQ(shape->face.size(), shape->mesh.triangles.size());
        EXPECT_EQ(std::count(shape->face.begin(), shape->face.end(), -1), 0) << "each triangle is of a face";
        std::size_t sharp = 0;
        for (const space::Edge& edge : piece.solid->edges)
            sharp += edge.convexity != space::Convexity::smooth && edge.face_a != edge.face_b;
        EXPECT_EQ(shape->edges.size(), sharp);
        EXPECT_GE(sharp, 12u) << "a tube has two ends with an outer and an inner outline";
    }
}

}  // namespace
}  // namespace setwright::viewer
