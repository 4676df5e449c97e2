#pragma once

#include <numbers>

#include "core/setup/edit.h"
#include "core/setup/place.h"

namespace setwright::bench {

/// A 50 table with 30 tubes and 60 components, the last three a carrier and two that stand on it. The same each time.
struct FullTable {
    setup::Setup setup;
    shop::Catalogue catalogue;
    /// The carrier (with two guests), a stop among the tubes and a clamp.
    setup::PlacementId carrier, stop, clamp;

    const setup::Stage& stage() const { return setup.stages[0]; }
};

/// A square tube 40 × 40 × 3 with round corners along z, with two cross holes.
inline space::Brep tube(double length_mm) {
    const auto rounded = [](double half, double radius) {
        space::Polygon2 out;
        constexpr int steps = 6;
        for (int corner = 0; corner < 4; ++corner) {
            const double start = corner * std::numbers::pi / 2;
            const space::Vec2 middle =
                (half - radius) * space::Vec2(corner == 0 || corner == 3 ? 1 : -1, corner < 2 ? 1 : -1);
            for (int i = 0; i <= steps; ++i) {
                const double angle = start + i * std::numbers::pi / 2 / steps;
                out.push_back(middle + radius * space::Vec2(std::cos(angle), std::sin(angle)));
            }
        }
        return out;
    };
    space::Polygon2 bore = rounded(17, 3);
    std::reverse(bore.begin(), bore.end());
    auto body = space::Brep::prism(rounded(20, 6), {bore}, 0, length_mm);
    for (const double at : {60.0, length_mm - 60}) {
        body = space::Brep::cut(*body, space::Brep::cylinder({0, -30, at}, {0, 30, at}, 6.5));
        SETWRIGHT_ASSERT(body.ok(), "a hole goes through a tube");
    }
    return *body;
}

inline FullTable full_table(const std::string& resources) {
    constexpr int columns = 5, rows = 6, column_holes = 9, row_holes = 4;
    FullTable out;
    out.catalogue = *shop::load_catalogue(resources + "/catalogue");
    const auto tables = shop::load_tables(resources + "/tables");
    for (const shop::Table& table : *tables)
        if (table.id == "grid50") out.setup.table = table;
    out.setup.last_id = 1000;
    out.setup.stages.emplace_back();
    setup::Stage& stage = out.setup.stages[0];
    stage.id = setup::StageId{1};

    const space::Brep brep = tube(300);
    const space::Solid solid = *space::describe(brep);
    auto model = std::make_shared<weldment::Weldment>();
    const auto middle_hole = [](int c, int r) { return shop::Hole{2 + c * column_holes + 2, 3 + r * row_holes}; };
    for (int r = 0; r < rows; ++r) {
        for (int c = 0; c < columns; ++c) {
            weldment::Piece piece;
            piece.id = setup::PieceId{static_cast<std::uint32_t>(10 + r * columns + c)};
            piece.name = "P" + std::to_string(r * columns + c + 1);
            piece.brep = brep;
            // Its own, as a file gives each piece its own.
            piece.solid = std::make_shared<const space::Solid>(solid);
            const shop::Hole middle = middle_hole(c, r);
            // Along x, its underside 50 up.
            piece.X_MP = space::Pose::move(middle.col * 50 - 150, middle.row * 50, 70) *
                         space::Pose::turn_y(base::Angle::deg(90));
            stage.pieces.push_back(piece.id);
            model->pieces.push_back(std::move(piece));
        }
    }
    out.setup.weldments.emplace_back();
    out.setup.weldments[0].model = std::move(model);

    const auto place = [&](const char* id, const setup::Seat& seat) {
        auto placed = setup::place(out.setup, setup::StageId{1}, out.catalogue.share(id), seat);
        if (!placed) base::bug(id, placed.error().text.id.c_str(), __FILE__, __LINE__);
        out.setup = std::move(placed->setup);
        return placed->id;
    };
    const auto seat = [](shop::Hole hole, std::array<int, 2> turn, const char* plate = "", int setting = 0) {
        setup::Seat s;
        s.hole = hole;
        s.turn = turn;
        s.plate = plate;
        s.setting = setting;
        return s;
    };
    for (int r = 0; r < rows; ++r) {
        for (int c = 0; c < columns; ++c) {
            const shop::Hole hole = middle_hole(c, r);
            place("m50-rest-50", seat(hole, {1, 0}));
            const int kind = r * columns + c;
            if (kind >= 27) continue;
            // South of the tube, two holes off: 100 to its middle, 80 to its face. The round one beside it.
            switch (kind % 4) {
                case 0:
                    out.stop = place("m50-index-stop", seat({hole.col, hole.row - 2}, {0, 1}, "75", 5));
                    break;
                case 1:
                    out.clamp = place("m50-down-clamp-100", seat({hole.col, hole.row - 2}, {0, 1}));
                    break;
                case 2:
                    place("m50-pull-back-stop", seat({hole.col - 2, hole.row - 2}, {0, 1}, "75"));
                    break;
                case 3:
                    place("m50-round-stop-20x100", seat({hole.col + 2, hole.row - 1}, {1, 0}));
                    break;
            }
        }
    }
    out.carrier = place("m50-angle-plate-300", [&] {
        setup::Seat s = seat({45, 20}, {0, 1});
        s.hand = shop::Hand::right;
        return s;
    }());
    const shop::Component& carrier = *out.setup.find_component("m50-angle-plate-300");
    for (const shop::Hole hole : {shop::Hole{1, 3}, shop::Hole{3, 8}}) {
        setup::Seat s = seat(hole, {1, 0});
        s.host.kind = setup::Host::Kind::placement;
        s.host.placement = out.carrier;
        s.host.face = carrier.grid_faces.at(0).id;
        place("m50-rest-50", s);
    }
    SETWRIGHT_ASSERT(out.stage().placements.size() == 60 && out.stage().pieces.size() == 30, "the target's numbers");
    return out;
}

/// Up and down the lanes between the tubes and once over them, hole by hole: 200 seats.
inline std::vector<setup::Seat> path_of(const setup::Seat& like, std::array<int, 2> turn) {
    std::vector<setup::Seat> out;
    for (const int row : {5, 9, 11, 17, 21}) {
        for (int i = 0; i < 40; ++i) {
            setup::Seat seat = like;
            seat.hole = {row % 8 == 1 ? 43 - i : 4 + i, row};
            seat.turn = turn;
            out.push_back(seat);
        }
    }
    return out;
}

}  // namespace setwright::bench
