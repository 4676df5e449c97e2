#include "core/space/bodies.h"

#include <gtest/gtest.h>
#include <zlib.h>

#include <cmath>
#include <cstring>
#include <functional>
#include <limits>
#include <random>

#include "core/space/wire.h"

namespace setwright::space {
namespace {

Bodies example() {
    Bodies bodies;
    for (const Brep& brep : {Brep::box({0, 0, 0}, {10, 20, 30}), Brep::cylinder({0, 0, 0}, {0, 0, 40}, 8)}) {
        bodies.solids.push_back(std::make_shared<const Solid>(*describe(brep)));
        bodies.breps.push_back(brep);
    }
    bodies.bodies = {
        {{"frame", "left"}, "rail", 0, Pose::move(1, 2, 3) * Pose::turn_x(base::Angle::deg(33)), false, {}},
        {{"frame", "right"}, "r\xC3\xB6hre", 1, Pose::move(1e6, -0.1, 3), true, std::array{0.25f, 0.5f, 1.f}},
        {{}, "", 0, {}, false, {}}};
    bodies.file_unit = "inch";
    bodies.schema = "AUTOMOTIVE_DESIGN";
    bodies.solids_in_text = 5;
    bodies.lost = {"post", ""};
    bodies.loose_faces = 4;
    bodies.remarks = {{"import.healed",
                       {{"name", "rail"},
                        {"count", std::int64_t{3}},
                        {"share", 0.5},
                        {"gap", base::LengthArg{1.5}},
                        {"list", std::vector<base::Text>{{"a", {}}, {"b", {{"c", "d"}}}}}}}};
    return bodies;
}

TEST(Wire, BringsEverythingBack) {
    const Bodies sent = example();
    const auto got = decode(encode(sent));
    ASSERT_TRUE(got.ok()) << got.error().text.id;
    ASSERT_EQ(got->bodies.size(), 3u);
    for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_EQ(got->bodies[i].path, sent.bodies[i].path);
        EXPECT_EQ(got->bodies[i].name, sent.bodies[i].name);
        EXPECT_EQ(got->bodies[i].solid, sent.bodies[i].solid);
        EXPECT_EQ(got->bodies[i].mirrored, sent.bodies[i].mirrored);
        EXPECT_EQ(got->bodies[i].colour, sent.bodies[i].colour);
        EXPECT_LT(pose_difference_mm(got->bodies[i].X_MD, sent.bodies[i].X_MD, 1000), 1e-9);
    }
    EXPECT_EQ(got->file_unit, sent.file_unit);
    EXPECT_EQ(got->schema, sent.schema);
    EXPECT_EQ(got->solids_in_text, sent.solids_in_text);
    EXPECT_EQ(got->lost, sent.lost);
    EXPECT_EQ(got->loose_faces, sent.loose_faces);
    EXPECT_EQ(got->remarks, sent.remarks);
    for (std::size_t s = 0; s < 2; ++s) {
        const Solid& a = *sent.solids[s];
        const Solid& b = *got->solids[s];
        EXPECT_EQ(a.mesh.points, b.mesh.points);
        EXPECT_EQ(a.mesh.triangles, b.mesh.triangles);
        EXPECT_EQ(a.volume_mm3, b.volume_mm3);
        EXPECT_EQ(a.inertia, b.inertia);
        EXPECT_EQ(a.box.max, b.box.max);
        ASSERT_EQ(a.faces.size(), b.faces.size());
        for (std::size_t f = 0; f < a.faces.size(); ++f) {
            EXPECT_EQ(a.faces[f].surface.kind, b.faces[f].surface.kind);
            EXPECT_EQ(a.faces[f].surface.axis, b.faces[f].surface.axis);
            EXPECT_EQ(a.faces[f].surface.radius_mm, b.faces[f].surface.radius_mm);
            EXPECT_EQ(a.faces[f].box.min, b.faces[f].box.min);
            ASSERT_EQ(a.faces[f].loops.size(), b.faces[f].loops.size());
            for (std::size_t l = 0; l < a.faces[f].loops.size(); ++l)
                EXPECT_EQ(a.faces[f].loops[l].polyline, b.faces[f].loops[l].polyline);
        }
        ASSERT_EQ(a.edges.size(), b.edges.size());
        for (std::size_t e = 0; e < a.edges.size(); ++e) {
            EXPECT_EQ(a.edges[e].convexity, b.edges[e].convexity);
            EXPECT_EQ(a.edges[e].face_b, b.edges[e].face_b);
        }
        EXPECT_NEAR(describe(got->breps[s])->volume_mm3, a.volume_mm3, 1e-9);
    }
}

TEST(Wire, BringsAnErrorBack) {
    const base::Error error =
        base::bad_input({"import.only_surfaces", {{"path", "a.step"}, {"count", std::int64_t{6}}}});
    const auto got = decode(encode_error(error));
    ASSERT_FALSE(got.ok());
    EXPECT_EQ(got.error().text, error.text);
    EXPECT_EQ(got.error().kind, error.kind);
}

TEST(Wire, EveryCutIsRefused) {
    const std::string wire = encode(example());
    // Every prefix of the first records, then steps.
    for (std::size_t length = 0; length < wire.size(); length += length < 3000 ? 1 : 37) {
        const auto got = decode(std::string_view(wire).substr(0, length));
        ASSERT_FALSE(got.ok()) << length;
        EXPECT_EQ(got.error().text.id, "import.answer_damaged");
    }
    EXPECT_FALSE(decode(wire + "x").ok());
}

TEST(Wire, EveryFlippedByteIsRefused) {
    const std::string wire = encode(example());
    std::mt19937 random(5);
    for (int round = 0; round < 3000; ++round) {
        std::string bad = wire;
        bad[random() % bad.size()] ^= static_cast<char>(1 + random() % 255);
        EXPECT_FALSE(decode(bad).ok()) << round;
    }
}

TEST(Wire, NumbersThatCannotBeAreRefused) {
    const auto refused = [](const std::function<void(Bodies&, Solid&)>& spoil) {
        Bodies bodies = example();
        Solid solid = *bodies.solids[0];
        spoil(bodies, solid);
        bodies.solids[0] = std::make_shared<const Solid>(solid);
        return !decode(encode(bodies)).ok();
    };
    EXPECT_FALSE(refused([](Bodies&, Solid&) {}));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.mesh.points[3].x() = std::nan(""); }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.volume_mm3 = std::numeric_limits<double>::infinity(); }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.mesh.triangles[0][1] = 999; }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.faces[0].triangle_count = 999; }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.faces[0].first_triangle = 0xFFFFFFFF; }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.faces[0].loops[0].edges[0] = 99; }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.edges[0].face_a = 6; }));
    EXPECT_TRUE(refused([](Bodies&, Solid& s) { s.edges[0].face_b = -2; }));
    EXPECT_TRUE(refused([](Bodies& b, Solid&) { b.bodies[0].solid = 2; }));
    EXPECT_TRUE(refused([](Bodies& b, Solid&) { b.bodies[0].X_MD = Pose(2 * Mat3::Identity(), Vec3::Zero()); }));
    EXPECT_TRUE(refused([](Bodies& b, Solid&) { b.bodies[0].X_MD = Pose::move(std::nan(""), 0, 0); }));
}

TEST(Wire, RandomContentBehindGoodChecksumsDoesNoHarm) {
    // The checksum only guards against accidents: spoil the content of any record and put its sum right again.
    const std::string wire = encode(example());
    constexpr std::size_t mark = 19, head = 16;
    std::vector<std::pair<std::size_t, std::size_t>> records;
    for (std::size_t at = mark; at < wire.size();) {
        std::uint64_t length = 0;
        std::memcpy(&length, wire.data() + at + 4, sizeof length);
        if (length > 0) records.push_back({at, length});
        at += head + length;
    }
    ASSERT_EQ(records.size(), 5u);
    std::mt19937 random(9);
    int refused = 0;
    for (int round = 0; round < 3000; ++round) {
        std::string bad = wire;
        const auto [at, length] = records[random() % records.size()];
        for (auto left = 1 + random() % 3; left > 0; --left)
            bad[at + head + random() % length] = static_cast<char>(random());
        auto sum = ::crc32(0, reinterpret_cast<const Bytef*>(bad.data() + at), 4);
        sum = ::crc32(sum, reinterpret_cast<const Bytef*>(bad.data() + at + head), static_cast<uInt>(length));
        const auto narrow = static_cast<std::uint32_t>(sum);
        std::memcpy(bad.data() + at + 12, &narrow, sizeof narrow);
        refused += decode(bad).ok() ? 0 : 1;
    }
    // Some damage is harmless: a letter of a name, a digit of a coordinate.
    EXPECT_GT(refused, 1000);
}

}  // namespace
}  // namespace setwright::space
