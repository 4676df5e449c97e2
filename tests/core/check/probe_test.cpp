#include "core/check/probe.h"

#include <gtest/gtest.h>

#include <random>

#include "core/setup/job_file.h"
#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

using testing::HasSubstr;

std::set<PlacementId> group_of(const setup::Stage& stage, PlacementId self) {
    std::set<PlacementId> group{self};
    for (std::size_t before = 0; before != group.size();) {
        before = group.size();
        for (const auto& placement : stage.placements) {
            const Host& host = placement.seat.host;
            if (host.kind == Host::Kind::placement && group.contains(host.placement)) group.insert(placement.id);
        }
    }
    return group;
}

/// What the whole check says of one placement and its guests once it has been moved.
struct Checked {
    bool stands = true;
    bool taken = false;
    bool overlaps = false;
    /// Smallest distance that is too small; else smallest of all.
    std::optional<double> too_near_mm, nearest_mm;
    std::vector<Contact> contacts;
};

Checked checked(Job job, PlacementId self, const setup::Seat& seat) {
    setup::Stage& stage = job.stages[0];
    for (auto& placement : stage.placements)
        if (placement.id == self) placement.seat = seat;
    const auto group = group_of(stage, self);
    Checked out;
    std::vector<setup::Posed> posed;
    for (const auto& placement : stage.placements) {
        if (auto one = setup::pose(job, stage, placement)) {
            posed.push_back(std::move(*one));
        } else if (group.contains(placement.id)) {
            out.stands = false;
        }
    }
    out.taken = !setup::check_seat(job, stage, *stage.find(self));
    const auto contacts = check::contacts(job, stage, posed);
    for (const Contact& contact : contacts)
        if (contact.placement && group.contains(*contact.placement)) out.contacts.push_back(contact);
    const ClearanceReport report = check_clearance(job, stage, posed, contacts);
    const auto less = [](std::optional<double>& least, double value) {
        least = std::min(value, least.value_or(value));
    };
    for (const Finding& finding : report.findings) {
        const bool concerns = std::any_of(finding.subjects.begin(), finding.subjects.end(), [&](const Subject& s) {
            const auto* id = std::get_if<PlacementId>(&s);
            return id != nullptr && group.contains(*id);
        });
        if (!concerns || finding.verdict != Verdict::fail) continue;
        if (finding.rule == "clearance.piece" || finding.rule == "clearance.moving") {
            less(out.too_near_mm, *finding.measured);
        } else {
            out.overlaps = true;
        }
    }
    for (const Clearance& one : report.nearest) {
        const auto* other = std::get_if<PlacementId>(&one.other);
        if (!group.contains(one.placement) || one.by_design || (other != nullptr && group.contains(*other))) continue;
        less(out.nearest_mm, one.distance_mm);
    }
    return out;
}

void expect_same(const Job& job, PlacementId self, const setup::Seat& seat, const Probed& probed) {
    const Checked whole = checked(job, self, seat);
    SCOPED_TRACE("placement " + std::to_string(self.value) + " " + probed.callout);
    ASSERT_EQ(probed.posed.has_value(), whole.stands);
    EXPECT_EQ(probed.blocked, !whole.stands || whole.taken || whole.overlaps) << english().render(probed.why);
    if (!whole.stands) return;
    ASSERT_EQ(probed.contacts.size(), whole.contacts.size());
    for (std::size_t i = 0; i < whole.contacts.size(); ++i) {
        EXPECT_EQ(probed.contacts[i].piece, whole.contacts[i].piece);
        EXPECT_EQ(probed.contacts[i].point_T, whole.contacts[i].point_T);
    }
    if (whole.overlaps) {
        ASSERT_TRUE(probed.nearest);
        EXPECT_TRUE(probed.nearest->overlap);
        return;
    }
    const auto expected = whole.too_near_mm ? whole.too_near_mm : whole.nearest_mm;
    ASSERT_EQ(probed.nearest.has_value(), expected.has_value());
    if (!expected) return;
    EXPECT_FALSE(probed.nearest->overlap);
    EXPECT_NEAR(probed.nearest->distance_mm, *expected, 1e-6);
    EXPECT_EQ(probed.nearest->distance_mm < probed.limit_mm - base::limits::coincident_mm,
              whole.too_near_mm.has_value());
    EXPECT_NEAR((probed.nearest->on_placement_T - probed.nearest->on_other_T).norm(), probed.nearest->distance_mm,
                1e-6);
}

/// Any seat of the component around its present one: most holes near it, turns, marks, hands and plates.
setup::Seat any_seat(const Job& job, const setup::Placement& placement, std::mt19937& random) {
    const auto pick = [&](int low, int high) {
        return low + static_cast<int>(random() % static_cast<unsigned>(high - low + 1));
    };
    const shop::Component& component = *job.find_component(placement.component);
    setup::Seat seat = placement.seat;
    if (pick(0, 5) == 0) return seat;
    const int reach = pick(0, 1) == 0 ? 2 : 8;
    seat.hole.col += pick(-reach, reach);
    seat.hole.row += pick(-reach, reach);
    const auto grid = setup::host_grid(job, job.stages[0], seat.host);
    if (grid && grid->has_holes) {
        const auto turns = setup::turns(component, *grid);
        if (!turns.empty()) seat.turn = turns[static_cast<std::size_t>(pick(0, static_cast<int>(turns.size()) - 1))];
    }
    if (component.setting) seat.setting = pick(component.setting->first, component.setting->last);
    if (!component.plates.empty())
        seat.plate =
            component.plates[static_cast<std::size_t>(pick(0, static_cast<int>(component.plates.size()) - 1))].id;
    seat.along_tenths += pick(-500, 500);
    return seat;
}

class ProbeOfASample : public testing::TestWithParam<const char*> {};

TEST_P(ProbeOfASample, SaysWhatTheWholeCheckSaysInAnySeat) {
    const auto opened = setup::open_job(std::string(SETWRIGHT_SAMPLES_DIR) + "/" + GetParam() + ".setwright");
    ASSERT_TRUE(opened.ok());
    const auto job = std::make_shared<const Job>(opened->setup);
    const setup::Stage& stage = job->stages[0];
    std::mt19937 random(20);
    int blocked = 0, near = 0, clear = 0;
    for (const auto& placement : stage.placements) {
        const Probe probe(job, stage.id, job->components.at(placement.component), placement.id);
        for (int i = 0; i < 8; ++i) {
            const setup::Seat seat = any_seat(*job, placement, random);
            const Probed probed = probe.at(seat);
            expect_same(*job, placement.id, seat, probed);
            if (probed.blocked) {
                ++blocked;
            } else if (probed.nearest && probed.nearest->distance_mm < probed.limit_mm) {
                ++near;
            } else {
                ++clear;
            }
            EXPECT_EQ(probed.blocked, !probed.why.empty());
        }
    }
    // The seats are good for a test only where they meet every case.
    EXPECT_GT(blocked, 10);
    EXPECT_GT(near, 2);
    EXPECT_GT(clear, 10);
}
INSTANTIATE_TEST_SUITE_P(Samples, ProbeOfASample, testing::Values("D1", "D2"));

std::shared_ptr<const Job> shared(Job job) {
    return std::make_shared<const Job>(std::move(job));
}
Probe probe_of(const std::shared_ptr<const Job>& job, PlacementId self) {
    return Probe(job, job->stages[0].id, job->components.at(job->stages[0].find(self)->component), self);
}

/// A carrier with a face of holes 60 up on its east side, and what may stand there.
shop::Component carrier() {
    shop::Component c = bolted("carrier", shop::Family::angle_plate);
    c.mount.second = shop::Mount::Second{50, 50, space::Vec2(-1, 0)};
    c.body = {box({-70, -75, 0}, {25, 75, 200})};
    shop::GridFace face;
    face.id = "front";
    face.origin = Vec3(25, -50, 50);
    face.pitch_right_mm = face.pitch_up_mm = 50;
    face.cols = face.rows = 3;
    face.hole_mm = 16;
    c.grid_faces = {face};
    return c;
}
PlacementId put_on(Job& job, const shop::Component& component, PlacementId host, shop::Hole hole) {
    const PlacementId id = put(job, component, hole);
    setup::Seat& seat = job.stages[0].placements.back().seat;
    seat.host.kind = Host::Kind::placement;
    seat.host.placement = host;
    seat.host.face = "front";
    return id;
}

TEST(Probe, SaysWhatTheWholeCheckSaysOfClampsPinsAndArms) {
    Job job = located_bar();
    shop::Component clamp = bolted("clamp", shop::Family::down_clamp);
    clamp.mount.turns_freely = true;
    clamp.clamp = shop::Clamp{1000, 100, 0, 30};
    clamp.body = {box({-20, -20, 0}, {20, 20, 140}), box({-20, -10, 120}, {110, 10, 140}, true),
                  box({90, -10, 108}, {110, 10, 120}, true)};
    clamp.faces = {flat({100, 0, 108}, -Vec3::UnitZ(), Vec3::UnitX(), -10, 10, 20)};
    clamp.faces[0].locates = false;
    put(job, clamp, {6, 3}, north);
    put(job, round_stop(), {8, 6});
    const auto host = put(job, carrier(), {20, 8}, west);
    put_on(job, rest(20), host, {1, 1});
    const auto shared_job = shared(job);
    std::mt19937 random(4);
    int pressed = 0;
    for (const auto& placement : job.stages[0].placements) {
        const Probe probe(shared_job, job.stages[0].id, job.components.at(placement.component), placement.id);
        for (int i = 0; i < 60; ++i) {
            const setup::Seat seat = any_seat(job, placement, random);
            const Probed probed = probe.at(seat);
            expect_same(job, placement.id, seat, probed);
            pressed += placement.component == "clamp" && probed.posed && !probed.blocked && probed.nearest &&
                       probed.nearest->distance_mm > 10;
        }
    }
    EXPECT_GT(pressed, 0);
}

/// Jaws on both sides of the bar; at mark 1 one of them goes 3 into it.
shop::Component jaws() {
    shop::Component c = bolted("jaws", shop::Family::side_clamp);
    c.mount.turns_freely = true;
    c.body = {box({-35, -10, 0}, {-25, 10, 90}), box({25, -10, 0}, {35, 10, 90})};
    c.body[1].moving = true;
    c.setting = shop::Setting{-Vec3::UnitX(), 3, 0, 1};
    c.faces = {flat({-25, 0, 0}, Vec3::UnitX(), Vec3::UnitZ(), 60, 90, 20),
               flat({25, 0, 0}, -Vec3::UnitX(), Vec3::UnitZ(), 60, 90, 20)};
    for (auto& face : c.faces) face.locates = false;
    c.faces[1].id = "other";
    c.faces[1].moving = true;
    return c;
}

TEST(Probe, JawsOnBothSidesAreJudgedByWhatTheyShare) {
    Job job = located_bar();
    const auto id = put(job, jaws(), {10, 5}, north);
    const auto shared_job = shared(job);
    const Probe probe = probe_of(shared_job, id);
    setup::Seat seat = job.stages[0].find(id)->seat;
    for (const int again : {1, 2}) {
        SCOPED_TRACE(again);
        for (const int column : {6, 10}) {
            for (const int mark : {0, 1}) {
                seat.hole.col = column;
                seat.setting = mark;
                const Probed probed = probe.at(seat);
                expect_same(job, id, seat, probed);
                EXPECT_EQ(probed.blocked, mark == 1);
            }
        }
    }
}

TEST(Probe, WhatCouldNotBeWorkedOutIsSaidAndDoesNotBlock) {
    Job job = located_bar();
    auto model = std::make_shared<weldment::Weldment>(*job.weldments[0].model);
    model->pieces[0].brep = {};
    job.weldments[0].model = model;
    const auto id = put(job, jaws(), {10, 5}, north);
    const auto shared_job = shared(job);
    const Probed probed = probe_of(shared_job, id).at(job.stages[0].find(id)->seat);
    EXPECT_FALSE(probed.blocked);
    EXPECT_EQ(english().render(probed.why), "Whether it runs into P1 could not be worked out.");
}

TEST(Probe, APinInAHoleIsNoCollisionAndOneBesideItIs) {
    // A plate 300 × 200 × 10 on three rests, with a hole of 18 over hole (6, 5).
    auto plate = space::Brep::cut(space::Brep::box({200, 150, 50}, {500, 350, 60}),
                                  space::Brep::cylinder({300, 250, 40}, {300, 250, 70}, 9));
    ASSERT_TRUE(plate.ok());
    Job job = job_with({piece_of(1, "plate", *plate)});
    for (const shop::Hole hole : {shop::Hole{5, 4}, shop::Hole{9, 4}, shop::Hole{7, 6}}) put(job, rest(), hole);
    shop::Component carrier = bolted("pin", shop::Family::pin_carrier);
    shop::BodyPart shank;
    shank.kind = shop::BodyPart::Kind::cylinder;
    shank.to = Vec3(0, 0, 58);
    shank.diameter_mm = 17.9;
    carrier.body = {box({-20, -20, 0}, {20, 20, 30}), shank};
    shop::LocatingFace face;
    face.id = "pin";
    face.shape = shop::FaceShape::cylinder;
    face.normal = Vec3::UnitZ();
    face.up = Vec3::UnitX();
    face.from_mm = 40;
    face.to_mm = 58;
    face.diameter_mm = 17.9;
    carrier.faces = {face};
    const auto id = put(job, carrier, {6, 5});
    const auto shared_job = shared(job);
    const Probe probe = probe_of(shared_job, id);
    setup::Seat seat = job.stages[0].find(id)->seat;
    const Probed in = probe.at(seat);
    expect_same(job, id, seat, in);
    EXPECT_FALSE(in.blocked) << english().render(in.why);
    EXPECT_EQ(in.contacts.size(), 2u);
    seat.hole.col = 8;
    const Probed beside = probe.at(seat);
    expect_same(job, id, seat, beside);
    EXPECT_EQ(english().render(beside.why), "It runs into plate.");
}

TEST(Probe, AHoleThatIsTakenBlocksAndSaysByWhom) {
    const auto job = shared(located_bar());
    const auto id = job->stages[0].placements[0].id;
    setup::Seat seat = job->stages[0].find(id)->seat;
    seat.hole = {8, 5};
    const Probed probed = probe_of(job, id).at(seat);
    EXPECT_TRUE(probed.blocked);
    EXPECT_TRUE(probed.posed);
    EXPECT_THAT(english().render(probed.why), HasSubstr(" is already used by block 2"));
}

TEST(Probe, ItsOwnHoleIsNotTakenByItself) {
    const auto job = shared(located_bar());
    for (const auto& placement : job->stages[0].placements) {
        const Probed probed = probe_of(job, placement.id).at(placement.seat);
        EXPECT_FALSE(probed.blocked) << english().render(probed.why);
        EXPECT_EQ(probed.contacts.size(), 1u);
        EXPECT_EQ(probed.callout, setup::callout(*job, job->stages[0], placement));
        EXPECT_EQ(probed.posed->id, placement.id);
    }
}

TEST(Probe, GuestsComeAlongAndCollide) {
    Job job = located_bar();
    const auto host = put(job, carrier(), {30, 15}, west);
    const auto guest = put_on(job, rest(80), host, {1, 0});
    const auto shared_job = shared(job);
    const Probe probe = probe_of(shared_job, host);
    setup::Seat seat = job.stages[0].find(host)->seat;
    const Probed far = probe.at(seat);
    ASSERT_EQ(far.guests.size(), 1u);
    EXPECT_EQ(far.guests[0].id, guest);
    EXPECT_FALSE(far.blocked) << english().render(far.why);
    EXPECT_FALSE(far.nearest);
    // Its face stands at x 825 looking west, the guest reaches 80 further to 745: 5 into the bar's end.
    seat.hole = {17, 5};
    const Probed probed = probe.at(seat);
    EXPECT_TRUE(probed.blocked);
    EXPECT_EQ(english().render(probed.why), "block 8 on it: It runs into P1.");
    EXPECT_EQ(probed.nearest->placement, guest);
    EXPECT_TRUE(probed.nearest->overlap);
    EXPECT_NEAR((probed.guests[0].X_TC.position() - far.guests[0].X_TC.position() - Vec3(-650, -500, 0)).norm(), 0,
                1e-9);
}

TEST(Probe, ASeatThatIsNoneSaysWhy) {
    const auto job = shared(located_bar());
    const auto id = job->stages[0].placements[3].id;
    setup::Seat seat = job->stages[0].find(id)->seat;
    seat.hole = {60, 5};
    const Probed probed = probe_of(job, id).at(seat);
    EXPECT_TRUE(probed.blocked);
    EXPECT_FALSE(probed.posed);
    EXPECT_THAT(english().render(probed.why), HasSubstr("There is no hole"));
}

TEST(Probe, AComponentOffTheShelfNeedNotBeInTheJob) {
    const auto job = shared(located_bar());
    shop::Component tall = rest(40);
    tall.id = "another rest";
    const Probe probe(job, job->stages[0].id, std::make_shared<const shop::Component>(tall));
    setup::Seat seat;
    seat.hole = {6, 5};
    const Probed under = probe.at(seat);
    EXPECT_FALSE(under.blocked) << english().render(under.why);
    ASSERT_TRUE(under.nearest);
    EXPECT_EQ(under.nearest->other, Subject(PieceId{1}));
    EXPECT_NEAR(under.nearest->distance_mm, 10, 1e-9);
    EXPECT_EQ(under.limit_mm, 3);
    seat.hole = {4, 5};
    EXPECT_TRUE(probe.at(seat).blocked);
}

TEST(Probe, WhatIsTooNearGoesBeforeWhatIsNearerAndAllowed) {
    // Beside block 7 with no gap at all, and 2 off the bar.
    Job job = located_bar();
    shop::Component square = bolted("square", shop::Family::spacer);
    square.body = {box({-25, -25, 0}, {25, 25, 48})};
    put(job, square, {5, 9});
    const auto moved = put(job, square, {6, 9});
    setup::Seat seat = job.stages[0].placements.back().seat;
    const auto shared_job = shared(job);
    const Probe probe = probe_of(shared_job, moved);
    const Probed beside = probe.at(seat);
    EXPECT_FALSE(beside.blocked);
    EXPECT_NEAR(beside.nearest->distance_mm, 0, 1e-9);
    EXPECT_EQ(beside.nearest->other, Subject(PlacementId{107}));
    seat.hole = {6, 5};
    const Probed under = probe.at(seat);
    EXPECT_FALSE(under.blocked) << english().render(under.why);
    EXPECT_NEAR(under.nearest->distance_mm, 2, 1e-9);
    EXPECT_EQ(under.limit_mm, 3);
}

TEST(Probe, AGuestBelowTheTableTopIsBlocked) {
    Job job = located_bar();
    const auto host = put(job, carrier(), {30, 15}, west);
    shop::Component wide = rest(20);
    wide.id = "wide";
    wide.body = {box({-60, -60, 0}, {60, 60, 20})};
    const auto guest = put_on(job, wide, host, {1, 2});
    const auto shared_job = shared(job);
    const Probe probe = probe_of(shared_job, guest);
    setup::Seat seat = job.stages[0].placements.back().seat;
    EXPECT_FALSE(probe.at(seat).blocked);
    seat.hole = {1, 0};
    const Probed low = probe.at(seat);
    EXPECT_TRUE(low.blocked);
    EXPECT_EQ(english().render(low.why), "It goes into the table top.");
    EXPECT_EQ(low.nearest->other, Subject(std::string("table")));
}

}  // namespace
}  // namespace setwright::check
