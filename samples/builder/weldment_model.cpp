#include "weldment_model.h"

#include <cmath>

namespace setwright::samples {
namespace {

constexpr std::array<double, 3> kSteelBlue{0.27, 0.45, 0.62};
constexpr std::array<double, 3> kSlate{0.35, 0.40, 0.46};
constexpr std::array<double, 3> kSand{0.78, 0.66, 0.42};
constexpr std::array<double, 3> kMoss{0.42, 0.55, 0.34};
constexpr std::array<double, 3> kTeal{0.22, 0.55, 0.53};
constexpr std::array<double, 3> kBrick{0.70, 0.33, 0.26};
constexpr std::array<double, 3> kPlum{0.50, 0.35, 0.52};

}  // namespace

WeldmentModel grinderStand() {
    WeldmentModel m;
    m.key = "D1";
    m.name = "D1 grinder stand";
    m.products = {
        {"P1 long rail", kSteelBlue, Tube{50, 50, 3, 900, 0, 0}},
        {"P2 foot rail", kSlate, Tube{50, 50, 3, 575, 0, 0}},
        {"P3 upright", kSand, Tube{50, 50, 3, 750, 0, 0}},
        {"P4 long brace", kMoss, Tube{40, 40, 3, std::hypot(450.0, 450.0), 45, 45}},
        {"P5 short brace", kTeal, Tube{40, 40, 3, std::hypot(300.0, 300.0), 45, 45}},
        {"P6 top plate", kBrick, Plate{120, 120, 8, {{15, 15, 9}, {105, 15, 9}, {15, 105, 9}, {105, 105, 9}}}},
        {"P7 lug", kPlum, Plate{60, 40, 6, {{30, 17, 11}}}},
    };
    // The upright group is drawn about its own foot and turned a quarter, as a designer's assembly often is.
    m.sub_assemblies = {{"Upright with braces", {{200, 0, 50}, {0, 0, 1}, {0, 1, 0}}}};
    m.pieces = {
        {"P1", 0, std::nullopt, {{0, 0, 25}, {1, 0, 0}, {0, 1, 0}}},
        {"P2", 1, std::nullopt, {{200, 25, 25}, {0, 1, 0}, {1, 0, 0}}},
        {"P3", 2, 0, {{200, 0, 50}, {0, 0, 1}, {1, 0, 0}}},
        // x points away from the corner the brace closes: that is the long side.
        {"P4", 3, 0, {{675, 0, 50}, {-1, 0, 1}, {1, 0, 1}}},
        {"P5", 4, 0, {{200, 325, 50}, {0, -1, 1}, {0, 1, 1}}},
        {"P6", 5, 0, {{140, -60, 800}, {0, 0, 1}, {1, 0, 0}}},
        {"P7", 6, 0, {{135, 9, 570}, {0, 1, 0}, {0, 0, 1}}},
    };
    return m;
}

WeldmentModel gardenGateFrame() {
    WeldmentModel m;
    m.key = "D2";
    m.name = "D2 garden gate frame";
    m.products = {
        {"A long rail", kSteelBlue, Tube{60, 40, 3, 1140, 45, 45}},
        {"B stile", kMoss, Tube{60, 40, 3, 740, 45, 45}},
        {"M1 mid rail", kSand, Tube{60, 40, 3, 680, 0, 0}},
        {"T hinge tab", kBrick, Plate{80, 50, 8, {{40, 30, 13}}}},
    };
    m.sub_assemblies = {{"Frame", {{600, 400, 0}, {0, 0, 1}, {0, 1, 0}}}};
    // x of each mitred piece points to the outside of the loop, its long side; A2 and B2 are A1 and B1 turned
    // half round about the middle of the frame.
    m.pieces = {
        {"A1", 0, 0, {{30, 30, 20}, {1, 0, 0}, {0, -1, 0}}},
        {"A2", 0, 0, {{1170, 770, 20}, {-1, 0, 0}, {0, 1, 0}}},
        {"B1", 1, 0, {{30, 770, 20}, {0, -1, 0}, {-1, 0, 0}}},
        {"B2", 1, 0, {{1170, 30, 20}, {0, 1, 0}, {1, 0, 0}}},
        {"M1", 2, 0, {{600, 60, 20}, {0, 1, 0}, {1, 0, 0}}},
        {"T1", 3, std::nullopt, {{0, 100, 16}, {0, 0, 1}, {0, 1, 0}}},
        {"T2", 3, std::nullopt, {{0, 620, 16}, {0, 0, 1}, {0, 1, 0}}},
    };
    return m;
}

std::vector<WeldmentModel> allModels() {
    return {grinderStand(), gardenGateFrame()};
}

}  // namespace setwright::samples
