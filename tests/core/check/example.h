#pragma once

#include <gmock/gmock.h>

#include "core/base/limits.h"
#include "core/base/text.h"
#include "core/check/report.h"

/// Small set-ups made by hand: bars as boxes, components of one box and one face, a 50 grid.
namespace setwright::check {

using setup::HeldBy;
using setup::Host;
/// Inside a test `Setup` is a name of the test framework.
using Job = setup::Setup;
using space::Pose;
using space::Vec3;

inline shop::Table table50() {
    shop::Table table;
    table.id = "grid50";
    table.pitch_x_mm = table.pitch_y_mm = 50;
    table.hole_mm = 16;
    table.cols = 48;
    table.rows = 24;
    table.margin_west_mm = table.margin_south_mm = 25;
    table.length_mm = 2400;
    table.width_mm = 1200;
    table.thickness_mm = 25;
    table.top_height_mm = 850;
    return table;
}

inline shop::BodyPart box(const Vec3& min, const Vec3& max, bool swinging = false) {
    shop::BodyPart part;
    part.min = min;
    part.max = max;
    part.swinging = swinging;
    return part;
}

inline shop::LocatingFace flat(const Vec3& point, const Vec3& normal, const Vec3& up, double from, double to,
                               double width) {
    shop::LocatingFace face;
    face.id = "face";
    face.point = point;
    face.normal = normal;
    face.up = up;
    face.from_mm = from;
    face.to_mm = to;
    face.width_mm = width;
    return face;
}

inline shop::Component bolted(const std::string& id, shop::Family family) {
    shop::Component c;
    c.id = id;
    c.family = family;
    c.mount.hole_mm = 16;
    c.mount.pitch_mm = 50;
    return c;
}

/// Its face stands 25 before the hole, 40 wide, 60 to 95 up; turns in quarters.
inline shop::Component stop() {
    shop::Component c = bolted("stop", shop::Family::stop);
    c.mount.second = shop::Mount::Second{50, 50, space::Vec2(-1, 0)};
    c.mount.bolts = 2;
    c.mount.bolt_stock_id = "bolt";
    c.body = {box({-70, -20, 0}, {25, 20, 100})};
    c.faces = {flat({25, 0, 0}, Vec3::UnitX(), Vec3::UnitZ(), 60, 95, 40)};
    c.packers_at_face = true;
    return c;
}

/// A pad of 30 × 30, `height` up.
inline shop::Component rest(double height = 50) {
    shop::Component c = bolted("rest", shop::Family::rest);
    c.body = {box({-15, -15, 0}, {15, 15, height})};
    c.faces = {flat({0, 0, height}, Vec3::UnitZ(), Vec3::UnitX(), -15, 15, 30)};
    return c;
}

/// A round stop of 30, its band 55 to 95 up.
inline shop::Component round_stop() {
    shop::Component c = bolted("round", shop::Family::round_stop);
    shop::BodyPart post;
    post.kind = shop::BodyPart::Kind::cylinder;
    post.to = Vec3(0, 0, 100);
    post.diameter_mm = 30;
    c.body = {post};
    shop::LocatingFace face;
    face.id = "round";
    face.shape = shop::FaceShape::cylinder;
    face.normal = Vec3::UnitZ();
    face.up = Vec3::UnitX();
    face.from_mm = 55;
    face.to_mm = 95;
    face.diameter_mm = 30;
    c.faces = {face};
    return c;
}

inline weldment::Piece piece_of(std::uint32_t id, const std::string& name, const space::Brep& brep) {
    weldment::Piece piece;
    piece.id = PieceId{id};
    piece.name = name;
    piece.brep = brep;
    auto solid = space::describe(brep);
    SETWRIGHT_ASSERT(solid.ok(), "a box can be described");
    piece.solid = std::make_shared<const space::Solid>(std::move(*solid));
    return piece;
}
inline weldment::Piece bar(std::uint32_t id, const std::string& name, const Vec3& min, const Vec3& max) {
    return piece_of(id, name, space::Brep::box(min, max));
}

/// One stage (id 1000) with the pieces lying in T as given.
inline Job job_with(std::vector<weldment::Piece> pieces) {
    Job job;
    job.table = table50();
    job.stages.emplace_back();
    job.stages[0].id = setup::StageId{1000};
    for (const auto& piece : pieces) job.stages[0].pieces.push_back(piece.id);
    auto model = std::make_shared<weldment::Weldment>();
    model->pieces = std::move(pieces);
    job.weldments.emplace_back();
    job.weldments[0].model = std::move(model);
    job.shelf.count = {{"stop", 20}, {"rest", 20}, {"round", 20}, {"bolt", 40}, {"clamp", 4}, {"pull", 4}};
    return job;
}

/// Numbers count from 1; ids from 101.
inline PlacementId put(Job& job, const shop::Component& component, shop::Hole hole, std::array<int, 2> turn = {1, 0}) {
    job.components[component.id] = std::make_shared<const shop::Component>(component);
    setup::Placement placement;
    placement.no = static_cast<int>(job.stages[0].placements.size()) + 1;
    placement.id = PlacementId{static_cast<std::uint32_t>(100 + placement.no)};
    placement.component = component.id;
    placement.seat.hole = hole;
    placement.seat.turn = turn;
    job.stages[0].placements.push_back(placement);
    return placement.id;
}

inline constexpr std::array<int, 2> east{1, 0}, north{0, 1}, west{-1, 0}, south{0, -1};

/// A bar 50 × 50 × 600 along x at x 150–750, y 225–275, z 50–100: three rests, two stops against its north face (4 and
/// 5), one against its west end (6).
inline Job located_bar() {
    Job job = job_with({bar(1, "P1", {150, 225, 50}, {750, 275, 100})});
    put(job, rest(), {4, 5});
    put(job, rest(), {8, 5});
    put(job, rest(), {12, 5});
    put(job, stop(), {4, 6}, south);
    put(job, stop(), {12, 6}, south);
    // 50 before its hole: 100 + 50 = 150.
    shop::Component end = stop();
    end.id = "end stop";
    end.faces[0].point.x() = 50;
    end.body = {box({-70, -20, 0}, {50, 20, 100})};
    job.shelf.count["end stop"] = 2;
    put(job, end, {2, 5});
    return job;
}

/// Copies, so that the report may be a temporary.
inline std::vector<std::shared_ptr<const Finding>> of_rule(const Report& report, std::string_view rule,
                                                           Verdict verdict) {
    std::vector<std::shared_ptr<const Finding>> out;
    for (const Finding& finding : report.findings) {
        if (finding.rule == rule && finding.verdict == verdict) out.push_back(std::make_shared<Finding>(finding));
    }
    return out;
}

inline const base::TextCatalogue& english() {
    static const base::TextCatalogue catalogue =
        base::TextCatalogue::load(std::string(SETWRIGHT_RESOURCES_DIR) + "/translations/en");
    return catalogue;
}
inline std::string said(const Finding& finding) {
    return english().render(finding.text);
}

inline std::vector<setup::Posed> posed(const Job& job) {
    std::vector<setup::Posed> out;
    for (const auto& placement : job.stages[0].placements) {
        auto one = setup::pose(job, job.stages[0], placement);
        SETWRIGHT_ASSERT(one.ok(), "the example's seats are good");
        out.push_back(std::move(*one));
    }
    return out;
}

/// Fails that are left, one line each, for readable test output.
inline std::string failures(const Report& report) {
    std::string out;
    for (const Finding& finding : report.findings) {
        if (finding.verdict == Verdict::fail) out += finding.rule + ": " + said(finding) + "\n";
    }
    return out;
}

}  // namespace setwright::check
