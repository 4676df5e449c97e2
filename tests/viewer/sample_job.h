#pragma once

#include <gtest/gtest.h>

#include "core/setup/job_file.h"
#include "core/shop/catalogue.h"
#include "viewer/scene.h"

/// The ready jobs of samples/, read once, and a small scene made by hand.
namespace setwright::viewer {

/// Inside a test `Setup` is a name of the test framework.
using Job = setup::Setup;
using space::Pose;
using space::Vec3;

inline const Job& sample_job(const std::string& name) {
    static std::map<std::string, Job> jobs;
    if (const auto found = jobs.find(name); found != jobs.end()) return found->second;
    const auto opened = setup::open_job(std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name + ".setwright");
    EXPECT_TRUE(opened.ok()) << name << (opened.ok() ? "" : " " + opened.error().text.id);
    return jobs[name] = opened.ok() ? opened->setup : Job{};
}

inline shop::Table small_table() {
    shop::Table table;
    table.id = "small";
    table.pitch_x_mm = 50;
    table.pitch_y_mm = 100;
    table.hole_mm = 16;
    table.cols = 10;
    table.rows = 4;
    table.margin_west_mm = 25;
    table.margin_south_mm = 50;
    table.length_mm = 500;
    table.width_mm = 400;
    table.thickness_mm = 20;
    return table;
}

/// A box as a piece is drawn: faces 0 to 5 are west, east, south, north, bottom, top.
inline std::shared_ptr<const Shape> box_shape(const Vec3& min, const Vec3& max) {
    Shape shape;
    shape.box.add(min);
    shape.box.add(max);
    const auto corner = [&](int i) {
        return Vec3(i & 1 ? max.x() : min.x(), i & 2 ? max.y() : min.y(), i & 4 ? max.z() : min.z());
    };
    for (int i = 0; i < 8; ++i) shape.mesh.points.push_back(corner(i));
    // Counter-clockwise seen from outside.
    const std::array<std::array<std::uint32_t, 4>, 6> sides{
        {{0, 4, 6, 2}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 2, 3, 1}, {4, 5, 7, 6}}};
    std::map<std::pair<std::uint32_t, std::uint32_t>, std::vector<int>> lines;
    for (int f = 0; f < 6; ++f) {
        const auto& [a, b, c, d] = sides[static_cast<std::size_t>(f)];
        shape.mesh.triangles.push_back({a, b, c});
        shape.mesh.triangles.push_back({a, c, d});
        shape.face.push_back(f);
        shape.face.push_back(f);
        for (const auto& [from, to] : {std::pair{a, b}, std::pair{b, c}, std::pair{c, d}, std::pair{d, a}})
            lines[std::minmax(from, to)].push_back(f);
    }
    for (const auto& [ends, faces] : lines) {
        shape.edges.push_back({shape.mesh.points[ends.first], shape.mesh.points[ends.second]});
        shape.edge_faces.push_back({faces.at(0), faces.at(1)});
    }
    return std::make_shared<const Shape>(std::move(shape));
}

inline constexpr PieceId bar{1};
inline constexpr PlacementId block{2};

/// A bar 200 × 50 × 50 along x from (100, 100) on the table, and a block 50 × 50 × 100 from (350, 200).
inline Scene small_scene() {
    Scene scene;
    scene.stage = setup::StageId{1};
    scene.table = small_table();
    scene.items[bar] = {box_shape(Vec3(0, 0, 0), Vec3(200, 50, 50)), Pose::move(100, 100, 0), "bar", false};
    scene.items[block] = {box_shape(Vec3(-25, -25, 0), Vec3(25, 25, 100)), Pose::move(375, 225, 0), "1", false};
    return scene;
}

}  // namespace setwright::viewer
