#include "core/shop/catalogue.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <random>
#include <set>

#include "core/base/file.h"
#include "core/base/limits.h"
#include "core/shop/shelf.h"
#include "core/shop/table.h"

namespace setwright::shop {
namespace {

using space::Vec2;
using space::Vec3;

const std::string resources = SETWRIGHT_RESOURCES_DIR;

const Catalogue& starter() {
    static const base::Result<Catalogue> loaded = load_catalogue(resources + "/catalogue");
    SETWRIGHT_ASSERT(loaded.ok(), loaded.ok() ? "" : loaded.error().text.id.c_str());
    return *loaded;
}

/// A component as it stands: each plate, first and last mark, both hands.
struct Stand {
    const Component* component;
    std::string plate;
    Hand hand;
    int setting;
    ComponentShape shape;

    std::string name() const {
        return component->id + " plate '" + plate + "' mark " + std::to_string(setting) +
               (hand == Hand::left ? " left" : "");
    }
    std::vector<BodyPart> parts() const {
        std::vector<BodyPart> all = shape.fixed;
        all.insert(all.end(), shape.moving.begin(), shape.moving.end());
        return all;
    }
};

std::vector<Stand> stands() {
    std::vector<Stand> all;
    for (const auto& component : starter().components) {
        std::vector<std::string> plates{""};
        for (const Plate& plate : component->plates) plates.push_back(plate.id);
        std::set<int> settings{0};
        if (component->setting) settings = {component->setting->first, component->setting->last};
        const std::vector<Hand> hands =
            component->handed ? std::vector{Hand::right, Hand::left} : std::vector{Hand::none};
        for (const std::string& plate : plates) {
            for (const Hand hand : hands) {
                for (const int setting : settings) {
                    all.push_back({component.get(), plate, hand, setting, shape_of(*component, plate, hand, setting)});
                }
            }
        }
    }
    return all;
}

/// Written apart from the meshes: whether the point is in the material.
bool inside(const BodyPart& part, const Vec3& p) {
    switch (part.kind) {
        case BodyPart::Kind::box:
            return (p.array() > part.min.array()).all() && (p.array() < part.max.array()).all();
        case BodyPart::Kind::cylinder: {
            const Vec3 axis = (part.to - part.from).normalized();
            const double along = (p - part.from).dot(axis);
            return along > 0 && along < (part.to - part.from).norm() &&
                   (p - part.from - along * axis).norm() < part.diameter_mm / 2;
        }
        case BodyPart::Kind::prism:
            return part.upright
                       ? p.z() > part.z0_mm && p.z() < part.z1_mm && space::contains(part.outline, {p.x(), p.y()})
                       : p.y() > part.y0_mm && p.y() < part.y1_mm && space::contains(part.outline, {p.x(), p.z()});
        case BodyPart::Kind::step:
            break;
    }
    return false;
}

bool inside(const std::vector<BodyPart>& parts, const Vec3& p) {
    return std::any_of(parts.begin(), parts.end(), [&](const BodyPart& part) { return inside(part, p); });
}

bool in_holes(const Component& c) {
    return c.mount.kind == MountKind::bolted || c.mount.kind == MountKind::drop_in;
}

TEST(Catalogue, HasEveryFamilyForEachStarterTable) {
    const std::set<Family> in_table{
        Family::stop,       Family::index_stop,  Family::slotted_stop, Family::round_stop,    Family::pull_back_stop,
        Family::rest,       Family::packer,      Family::v_block,      Family::angle_plate,   Family::long_bar,
        Family::wedge,      Family::pin_carrier, Family::pin,          Family::pusher,        Family::down_clamp,
        Family::side_clamp, Family::swing_clamp, Family::comb,         Family::clamping_bolt, Family::dowel};
    const std::set<Family> without_hole{Family::magnet, Family::bar_clamp, Family::c_clamp, Family::spacer,
                                        Family::long_bar};
    const auto families = [](const std::string& prefix) {
        std::set<Family> found;
        for (const auto& c : starter().components) {
            if (c->id.rfind(prefix, 0) == 0) found.insert(c->family);
        }
        return found;
    };
    for (const char* system : {"m50-", "m100-", "in2-"}) EXPECT_EQ(families(system), in_table) << system;
    for (const char* system : {"mm-", "in-"}) EXPECT_EQ(families(system), without_hole) << system;
    // A reduced set proves that a fourth pitch needs no code.
    EXPECT_THAT(families("m80-"), testing::IsSupersetOf({Family::stop, Family::index_stop, Family::rest, Family::packer,
                                                         Family::angle_plate, Family::down_clamp}));
}

TEST(Catalogue, FindsByIdAndOnlyByTheWholeId) {
    EXPECT_NE(starter().find("m50-rest-50"), nullptr);
    EXPECT_EQ(starter().share("m50-rest-50").get(), starter().find("m50-rest-50"));
    EXPECT_EQ(starter().find("m50-rest-5"), nullptr);
    EXPECT_EQ(starter().share(""), nullptr);
}

TEST(Catalogue, HasIdsThatCanBeTyped) {
    for (const auto& c : starter().components) {
        EXPECT_EQ(c->id.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789-./"), std::string::npos) << c->id;
    }
}

TEST(Catalogue, DefinitionsComeBackByteEqualFromJson) {
    for (const auto& c : starter().components) {
        const std::string json = component_json(*c);
        const auto back = parse_component(json, c->id);
        ASSERT_TRUE(back.ok()) << c->id;
        EXPECT_EQ(component_json(*back), json) << c->id;
    }
}

TEST(Catalogue, BodiesAreSolidAndStandOnTheMountFace) {
    for (const Stand& stand : stands()) {
        ASSERT_FALSE(stand.parts().empty()) << stand.name();
        double lowest = 1e9;
        for (const BodyPart& part : stand.parts()) {
            EXPECT_GT(volume_mm3(part), 0) << stand.name();
            const space::Mesh mesh = mesh_of({part});
            // A round part's mesh is the prism around it: (n/pi) tan(pi/n) = 1.0058 for 24 sides, never thinner.
            const double ratio = mesh.volume_mm3() / volume_mm3(part);
            EXPECT_NEAR(ratio, 1, part.kind == BodyPart::Kind::cylinder ? 0.006 : 1e-9) << stand.name();
            EXPECT_GE(ratio, 1 - 1e-9) << stand.name();
            lowest = std::min(lowest, mesh.box().min.z());
        }
        if (in_holes(*stand.component)) {
            EXPECT_NEAR(lowest, 0, 1e-9) << stand.name();
        }
    }
}

TEST(Catalogue, PartsOfABodyDoNotShareMaterial) {
    // Else the mass would count it twice.
    for (const Stand& stand : stands()) {
        const std::vector<BodyPart> parts = stand.parts();
        for (const BodyPart& part : parts) {
            if (part.kind != BodyPart::Kind::box) continue;
            // A coarse lattice strictly inside the box.
            for (int i = 1; i < 8; ++i) {
                for (int j = 1; j < 8; ++j) {
                    for (int k = 1; k < 8; ++k) {
                        const Vec3 p =
                            part.min +
                            (part.max - part.min).cwiseProduct(Vec3(i / 8.0 + 0.003, j / 8.0 + 0.001, k / 8.0 + 0.002));
                        EXPECT_EQ(std::count_if(parts.begin(), parts.end(),
                                                [&](const BodyPart& other) { return inside(other, p); }),
                                  1)
                            << stand.name() << " at " << p.transpose();
                    }
                }
            }
        }
    }
}

TEST(Catalogue, LocatingFacesLieOnTheBodyAndLookOutOfIt) {
    constexpr double step = 0.5;  // mm to either side of the face
    int planes = 0, cylinders = 0, vees = 0;
    for (const Stand& stand : stands()) {
        const std::vector<BodyPart> parts = stand.parts();
        for (const LocatingFace& face : stand.shape.faces) {
            EXPECT_NEAR(face.normal.norm(), 1, 1e-12) << stand.name();
            EXPECT_NEAR(face.normal.dot(face.up), 0, 1e-12) << stand.name();
            const auto check = [&](const Vec3& at, const Vec3& out) {
                EXPECT_TRUE(inside(parts, at - step * out))
                    << stand.name() << " " << face.id << " at " << at.transpose();
                EXPECT_FALSE(inside(parts, at + step * out))
                    << stand.name() << " " << face.id << " at " << at.transpose();
                // On the surface itself, to 0.01 mm.
                EXPECT_TRUE(inside(parts, at - 0.01 * out)) << stand.name() << " " << face.id;
                EXPECT_FALSE(inside(parts, at + 0.01 * out)) << stand.name() << " " << face.id;
            };
            const Vec3 across = face.up.cross(face.normal);
            switch (face.shape) {
                case FaceShape::plane:
                    ++planes;
                    // Centre and the four corners, just within.
                    for (const double u : {0.001, 0.5, 0.999}) {
                        for (const double w : {-0.499, 0.0, 0.499}) {
                            check(face.point + face.up * (face.from_mm + u * (face.to_mm - face.from_mm)) +
                                      across * (w * face.width_mm),
                                  face.normal);
                        }
                    }
                    break;
                case FaceShape::cylinder:
                    ++cylinders;
                    for (const double u : {0.001, 0.999}) {
                        const Vec3 at = face.point + face.normal * (face.from_mm + u * (face.to_mm - face.from_mm));
                        for (const double side : {-1.0, 1.0}) {
                            check(at + side * face.up * face.diameter_mm / 2, side * face.up);
                            if (!face.relieved) check(at + side * across * face.diameter_mm / 2, side * across);
                        }
                    }
                    break;
                case FaceShape::v: {
                    ++vees;
                    const double half = face.v_angle_deg / 2 * std::numbers::pi / 180;
                    const Vec3 side = face.normal.cross(face.up);
                    for (const double u : {0.001, 0.999}) {
                        for (const double w : {-0.499, 0.499}) {
                            for (const double sign : {-1.0, 1.0}) {
                                const double rise = face.from_mm + u * (face.to_mm - face.from_mm);
                                check(face.point + w * face.width_mm * face.normal + rise * face.up +
                                          sign * rise * std::tan(half) * side,
                                      std::sin(half) * face.up - sign * std::cos(half) * side);
                            }
                        }
                    }
                    break;
                }
            }
        }
    }
    EXPECT_GT(planes, 1000);
    EXPECT_GT(cylinders, 100);
    EXPECT_GT(vees, 10);
}

TEST(Catalogue, PlatesStandAsHighAsTheyAreNamed) {
    for (const auto& c : starter().components) {
        if (c->family == Family::pin_carrier) continue;
        for (const Plate& plate : c->plates) {
            const double unit = c->nominal == base::LengthUnit::inch ? base::mm_per_inch : 1;
            EXPECT_NEAR(plate.top_mm, std::stod(plate.id) * unit, 1e-6) << c->id << " " << plate.id;
            EXPECT_NEAR(mesh_of(plate.body).box().max.z(), plate.top_mm, 1e-6) << c->id << " " << plate.id;
            for (const LocatingFace& face : plate.faces) {
                if (face.shape == FaceShape::plane) {
                    EXPECT_LT(face.to_mm, plate.top_mm) << c->id << " " << plate.id;
                }
            }
        }
    }
}

TEST(Catalogue, StopsOfOnePitchTakeFlatCornerAndVPlates) {
    for (const auto& c : starter().components) {
        const bool stop = c->family == Family::stop || c->family == Family::index_stop ||
                          c->family == Family::slotted_stop || c->family == Family::pull_back_stop;
        if (!stop) continue;
        const std::vector<std::string> tops =
            c->nominal == base::LengthUnit::inch ? std::vector<std::string>{"2", "3", "4", "6", "8"}
            : c->id.rfind("m80-", 0) == 0        ? std::vector<std::string>{"50", "100", "150"}
                                                 : std::vector<std::string>{"50", "75", "100", "150", "200"};
        for (const std::string& top : tops) {
            for (const char* form : {"", "CL", "CR", "V"})
                EXPECT_NE(c->find_plate(top + form), nullptr) << c->id << " " << top << form;
        }
        EXPECT_EQ(c->find_plate(""), nullptr);
    }
}

TEST(Catalogue, MarksReachEveryMultipleOfTheStepWithinOnePitch) {
    int checked = 0;
    for (const auto& c : starter().components) {
        if (c->family != Family::index_stop && c->family != Family::slotted_stop) continue;
        ++checked;
        ASSERT_TRUE(c->setting) << c->id;
        EXPECT_NEAR(c->setting->step_mm, c->nominal == base::LengthUnit::inch ? base::mm_per_inch / 4 : 5, 1e-9)
            << c->id;
        const double pitches = (c->setting->last - c->setting->first) * c->setting->step_mm / c->mount.pitch_mm;
        EXPECT_GE(pitches, 1 - 1e-9) << c->id;
        const auto face_at = [&](int mark) {
            return shape_of(*c, c->plates.front().id, Hand::none, mark).faces.front().point.x();
        };
        std::set<long> reached;
        const long steps = std::lround(c->mount.pitch_mm / c->setting->step_mm);
        EXPECT_NEAR(static_cast<double>(steps) * c->setting->step_mm, c->mount.pitch_mm, 1e-9) << c->id;
        for (int mark = c->setting->first; mark <= c->setting->last; ++mark) {
            const double in_steps = face_at(mark) / c->setting->step_mm;
            EXPECT_NEAR(in_steps, std::round(in_steps), 1e-9) << c->id;
            reached.insert(std::lround(in_steps) % steps);
        }
        EXPECT_EQ(static_cast<long>(reached.size()), steps) << c->id;
    }
    EXPECT_EQ(checked, 3 * 2 + 1);
}

TEST(Catalogue, SecondHoleIsMetStraightAndOnTheDiagonal) {
    for (const auto& c : starter().components) {
        const double pitch = c->mount.pitch_mm;
        if (!in_holes(*c)) continue;
        EXPECT_TRUE(fits(*c, c->mount.hole_mm, pitch, pitch)) << c->id;
        if (!c->mount.second) continue;
        const auto met = [&](double distance) {
            return distance >= c->mount.second->from_mm - base::limits::hole_fit_mm &&
                   distance <= c->mount.second->to_mm + base::limits::hole_fit_mm;
        };
        const int n = static_cast<int>(std::lround(c->mount.second->from_mm / pitch));
        EXPECT_TRUE(met(n * pitch)) << c->id;
        // Bars and combs have two round holes; a slot also reaches the diagonal, so 45 degrees is a seat.
        if (c->mount.second->from_mm != c->mount.second->to_mm) {
            EXPECT_TRUE(met(n * pitch * std::numbers::sqrt2)) << c->id;
        }
    }
}

TEST(Catalogue, FootprintHoldsAllThatTouchesTheMountFace) {
    for (const Stand& stand : stands()) {
        const Component& c = *stand.component;
        if (!in_holes(c) || c.family == Family::clamping_bolt || c.family == Family::dowel || stand.hand == Hand::left)
            continue;
        ASSERT_FALSE(c.mount.footprint.empty()) << c.id;
        EXPECT_TRUE(space::contains(c.mount.footprint, {0.001, 0.001})) << c.id;
        for (const BodyPart& part : stand.parts()) {
            const space::Mesh mesh = mesh_of({part});
            if (mesh.box().min.z() > 1e-6) continue;
            space::Polygon2 foot = c.mount.footprint;
            space::Aabb reach;
            for (const Vec2& corner : foot) reach.add(Vec3(corner.x(), corner.y(), 0));
            // The mesh of a round part stands out of it by 1 in 117.
            const double slack = part.kind == BodyPart::Kind::cylinder ? part.diameter_mm / 2 / 100 : 1e-6;
            const space::Aabb box = mesh.box();
            EXPECT_GE(box.min.x(), reach.min.x() - slack) << stand.name();
            EXPECT_GE(box.min.y(), reach.min.y() - slack) << stand.name();
            EXPECT_LE(box.max.x(), reach.max.x() + slack) << stand.name();
            EXPECT_LE(box.max.y(), reach.max.y() + slack) << stand.name();
        }
    }
}

TEST(Catalogue, StopsAndRestsLeaveTheNeighbouringRowsFree) {
    for (const auto& c : starter().components) {
        const bool narrow = c->family == Family::stop || c->family == Family::index_stop || c->family == Family::rest ||
                            c->family == Family::round_stop;
        if (!narrow) continue;
        double half = 0;
        for (const Vec2& corner : c->mount.footprint) half = std::max(half, std::abs(corner.y()));
        EXPECT_LT(half, c->mount.pitch_mm - c->mount.hole_mm / 2) << c->id << " covers holes of the next row";
        // Two of them fit on neighbouring rows.
        EXPECT_LT(2 * half, c->mount.pitch_mm) << c->id;
    }
}

TEST(Catalogue, KeysReachTheBolts) {
    // Floor rule: a free cylinder 60 in diameter and 120 high over every bolt.
    for (const Stand& stand : stands()) {
        const Component& c = *stand.component;
        EXPECT_EQ(c.mount.bolts == 0, c.mount.bolts_at.empty()) << c.id;
        EXPECT_EQ(static_cast<std::size_t>(c.mount.bolts), c.mount.bolts_at.size()) << c.id;
        if (c.mount.bolts == 0) continue;
        EXPECT_GE(c.key_room_diameter_mm, 60) << c.id;
        EXPECT_GE(c.key_room_height_mm, 120) << c.id;
        // Its own body keeps out of it; an arm that swings is out of the way while the bolt is turned.
        for (const Vec3& bolt : c.mount.bolts_at) {
            const Vec3 at = stand.hand == Hand::left ? Vec3(bolt.x(), -bolt.y(), bolt.z()) : bolt;
            for (int turn = 0; turn < 24; ++turn) {
                const double a = turn * std::numbers::pi / 12;
                for (const double r : {0.2, 0.6, 0.99}) {
                    for (const double z : {1.0, 30.0, 60.0, 119.0}) {
                        const Vec3 p = at + Vec3(r * 30 * std::cos(a), r * 30 * std::sin(a), z);
                        // The head is sunk under the valley: the key goes down between the flats.
                        if (c.family == Family::v_block && z < 30) continue;
                        EXPECT_FALSE(inside(stand.shape.fixed, p)) << stand.name() << " " << p.transpose();
                    }
                }
            }
        }
    }
}

TEST(Catalogue, BoltsAndDowelsAreComponentsToo) {
    for (const auto& c : starter().components) {
        EXPECT_EQ(c->mount.bolts == 0, c->mount.bolt_stock_id.empty()) << c->id;
        EXPECT_EQ(c->mount.dowels == 0, c->mount.dowel_stock_id.empty()) << c->id;
        for (const std::string& id : {c->mount.bolt_stock_id, c->mount.dowel_stock_id}) {
            if (!id.empty()) {
                EXPECT_NE(starter().find(id), nullptr) << c->id << " needs " << id;
            }
        }
    }
}

TEST(Catalogue, MassesAreThoseOfSteel) {
    // pi/4 * 45^2 * 50 mm^3 at 7850 kg/m^3.
    EXPECT_NEAR(starter().find("m50-rest-50")->mass_kg, std::numbers::pi / 4 * 45 * 45 * 50 * 7850e-9, 5e-4);
    EXPECT_NEAR(starter().find("m50-long-bar-1000")->mass_kg, 1000 * 40 * 50 * 7850e-9, 5e-4);
    EXPECT_NEAR(starter().find("in2-rest-2")->mass_kg,
                std::numbers::pi / 4 * 1.75 * 1.75 * 2 * std::pow(25.4, 3) * 7850e-9, 5e-4);
    for (const auto& c : starter().components) {
        EXPECT_GT(c->mass_kg, 0) << c->id;
        EXPECT_LT(c->mass_kg, 45) << c->id << " is more than two people should lift";
        EXPECT_GT(c->overall_height_mm, 0) << c->id;
        for (const Plate& plate : c->plates) EXPECT_GT(plate.mass_kg, 0) << c->id << " " << plate.id;
    }
}

TEST(Catalogue, InchSizesAreExact) {
    const Component* stop = starter().find("in2-index-stop");
    ASSERT_NE(stop, nullptr);
    EXPECT_EQ(stop->mount.hole_mm, 15.875);
    EXPECT_EQ(stop->mount.pitch_mm, 50.8);
    EXPECT_EQ(stop->setting->step_mm, 6.35);
    EXPECT_EQ(starter().find("in2-packer-1/64")->thickness_mm, 0.396875);
    EXPECT_EQ(starter().find("in2-rest-1-1/2")->size, "1 1/2");
}

TEST(Catalogue, RestsPackersAndPlatesHaveTheHeightsTheFloorAsksFor) {
    for (const char* size : {"25", "30", "40", "50", "60", "75", "100", "125", "150"}) {
        const Component* rest = starter().find(std::string("m50-rest-") + size);
        ASSERT_NE(rest, nullptr) << size;
        EXPECT_EQ(rest->faces.front().point.z(), std::stod(size));
        EXPECT_EQ(rest->mount.kind, MountKind::drop_in);
        EXPECT_FALSE(rest->mount.second);
    }
    // A tab's underside at 66: rest 50 and packers 10, 5 and 1.
    for (const char* size : {"0.5", "1", "2", "3", "5", "10", "15", "20"}) {
        const Component* packer = starter().find(std::string("m50-packer-") + size);
        ASSERT_NE(packer, nullptr) << size;
        EXPECT_EQ(packer->thickness_mm, std::stod(size));
        EXPECT_NEAR(mesh_of(packer->body).box().size().z(), std::stod(size), 1e-9);
    }
}

TEST(Catalogue, AngleFacesTakeTheTablesOwnRestsAndStops) {
    const Component* angle = starter().find("m50-angle-plate-500");
    ASSERT_NE(angle, nullptr);
    ASSERT_EQ(angle->grid_faces.size(), 1u);
    const GridFace& grid = angle->grid_faces.front();
    for (const char* id : {"m50-rest-50", "m50-index-stop", "m50-stop-75"}) {
        EXPECT_TRUE(fits(*starter().find(id), grid.hole_mm, grid.pitch_right_mm, grid.pitch_up_mm)) << id;
    }
    for (const auto& c : starter().components) {
        for (const GridFace& face : c->grid_faces) {
            // Right-handed and read from outside; every hole lies in the face, half a face pitch from the edge or more.
            EXPECT_GT(face.right.cross(face.up).dot(Vec3::UnitX()), 0.99) << c->id;
            EXPECT_NEAR(face.pitch_right_mm, c->mount.pitch_mm / 2, 1e-9) << c->id;
            const space::Aabb box = mesh_of(c->body).box();
            const Vec3 last = face.origin + face.right * face.pitch_right_mm * (face.cols - 1) +
                              face.up * face.pitch_up_mm * (face.rows - 1);
            EXPECT_GE(face.origin.y() - face.pitch_right_mm / 2, box.min.y() - 1e-9) << c->id;
            EXPECT_LE(last.y() + face.pitch_right_mm / 2, box.max.y() + 1e-9) << c->id;
            EXPECT_LE(last.z() + face.pitch_up_mm / 2, box.max.z() + 1e-9) << c->id;
            EXPECT_GT(last.z() + face.pitch_up_mm * 1.5, box.max.z()) << c->id << " leaves out a row";
        }
    }
}

TEST(Catalogue, HandsAreMirrorImages) {
    int handed = 0;
    for (const auto& c : starter().components) {
        if (!c->handed) continue;
        ++handed;
        const ComponentShape right = shape_of(*c, "", Hand::right, 0), left = shape_of(*c, "", Hand::left, 0);
        const space::Mesh a = mesh_of(right.fixed), b = mesh_of(left.fixed);
        // A mirrored outline turned inside out would show as a negative volume.
        EXPECT_NEAR(a.volume_mm3(), b.volume_mm3(), 1e-3) << c->id;
        EXPECT_NEAR(a.box().min.y(), -b.box().max.y(), 1e-9) << c->id;
        EXPECT_NEAR(a.box().max.y(), -b.box().min.y(), 1e-9) << c->id;
        bool differs = false;
        for (int i = 0; i < 4000 && !differs; ++i) {
            const Vec3 p =
                a.box().min + a.box().size().cwiseProduct(
                                  Vec3(i % 20 + 0.5, i / 20 % 20 + 0.5, i / 400 + 0.5).cwiseQuotient(Vec3(20, 20, 10)));
            EXPECT_EQ(inside(right.fixed, p), inside(left.fixed, Vec3(p.x(), -p.y(), p.z()))) << c->id;
            differs = inside(right.fixed, p) != inside(left.fixed, p);
        }
        EXPECT_TRUE(differs) << c->id << " is its own mirror image and needs no hand";
    }
    EXPECT_GT(handed, 10);
}

TEST(Catalogue, WedgesTurnTheirFaceByTheirName) {
    for (const char* size : {"15", "30", "45"}) {
        const Component* wedge = starter().find(std::string("m50-wedge-") + size);
        ASSERT_NE(wedge, nullptr);
        const double a = std::stod(size) * std::numbers::pi / 180;
        const Vec3 right = shape_of(*wedge, "", Hand::right, 0).faces.front().normal;
        const Vec3 left = shape_of(*wedge, "", Hand::left, 0).faces.front().normal;
        EXPECT_NEAR((right - Vec3(std::cos(a), -std::sin(a), 0)).norm(), 0, 1e-12);
        EXPECT_NEAR((left - Vec3(std::cos(a), std::sin(a), 0)).norm(), 0, 1e-12);
    }
}

TEST(Catalogue, ClampsPressAndDoNotLocate) {
    for (const auto& c : starter().components) {
        const bool presses = c->family == Family::pusher || c->family == Family::down_clamp ||
                             c->family == Family::side_clamp || c->family == Family::swing_clamp ||
                             c->family == Family::bar_clamp || c->family == Family::c_clamp;
        if (presses) {
            ASSERT_TRUE(c->clamp) << c->id;
            EXPECT_GT(c->clamp->force_n, 0) << c->id;
            EXPECT_GT(c->clamp->stroke_mm, 0) << c->id;
            EXPECT_FALSE(c->faces.empty()) << c->id;
            EXPECT_FALSE(shape_of(*c, "", Hand::none, 0).moving.empty()) << c->id;
            for (const LocatingFace& face : c->faces) EXPECT_FALSE(face.locates) << c->id;
        }
        // A locator with flat faces never turns freely.
        if (c->mount.turns_freely) {
            for (const LocatingFace& face : c->faces) EXPECT_FALSE(face.locates) << c->id;
        }
    }
}

TEST(Catalogue, OnlyPartsMadeForTheJobAreToCut) {
    for (const auto& c : starter().components) {
        EXPECT_EQ(c->to_cut, c->family == Family::comb || c->family == Family::spacer) << c->id;
    }
}

TEST(Catalogue, KernelBodiesHaveTheVolumeOfTheDefinition) {
    for (const char* id :
         {"m50-angle-plate-300", "m50-wedge-30", "m50-v-block-90", "m50-pin-carrier", "mm-magnet-75"}) {
        const Component* c = starter().find(id);
        ASSERT_NE(c, nullptr);
        for (const Hand hand : {Hand::right, Hand::left}) {
            const ComponentShape shape = shape_of(*c, c->plates.empty() ? "" : c->plates.front().id, hand, 0);
            double sum = 0;
            for (const BodyPart& part : shape.fixed) sum += volume_mm3(part);
            const auto solid = space::describe(brep_of(shape.fixed));
            ASSERT_TRUE(solid.ok()) << id;
            EXPECT_NEAR(solid->volume_mm3, sum, sum * 1e-9) << id;
        }
    }
}

TEST(Fits, NeedsTheHoleAndForTwoHolesThePitch) {
    const Component& stop = *starter().find("m50-index-stop");
    const Component& rest = *starter().find("m50-rest-50");
    EXPECT_TRUE(fits(stop, 16, 50, 50));
    EXPECT_FALSE(fits(stop, 28, 50, 50));
    EXPECT_FALSE(fits(stop, 15.875, 50.8, 50.8));
    // Its slot runs from 50 to 71: no pair of holes of this pitch is that far apart.
    EXPECT_FALSE(fits(stop, 16, 100, 100));
    EXPECT_TRUE(fits(rest, 16, 100, 100));
    EXPECT_TRUE(fits(stop, 16, 100, 50));
    EXPECT_TRUE(fits(*starter().find("mm-c-clamp-100"), 28, 100, 100));
}

TEST(Fits, KeepsTheSystemsApart) {
    const auto tables = load_tables(resources + "/tables");
    ASSERT_TRUE(tables.ok());
    const std::map<std::string, std::string> prefix{
        {"grid50", "m50-"}, {"grid100", "m100-"}, {"grid2in", "in2-"}, {"grid80", "m80-"}};
    for (const Table& table : *tables) {
        for (const auto& c : starter().components) {
            if (!in_holes(*c)) continue;
            EXPECT_EQ(fits(*c, table.hole_mm, table.pitch_x_mm, table.pitch_y_mm),
                      c->id.rfind(prefix.at(table.id), 0) == 0)
                << c->id << " on " << table.id;
        }
    }
}

/// A folder of family files of its own.
class FamilyFiles : public testing::Test {
  protected:
    FamilyFiles()
        : folder_(std::filesystem::temp_directory_path() / ("setwright-catalogue-" + std::to_string(getpid()))) {
        std::filesystem::create_directories(folder_);
    }
    ~FamilyFiles() override { std::filesystem::remove_all(folder_); }

    base::Result<Catalogue> load(const std::string& json) {
        std::ofstream(folder_ / "own.json") << json;
        return load_catalogue(folder_.string());
    }
    static std::string rest(const std::string& change_from = "", const std::string& change_to = "") {
        std::string json = R"({"family": "rest", "nominal": "in", "template": {"id": "own-$tag", "size": "$tag",
  "mount": {"kind": "drop_in", "hole": 0.625, "pitch": 2},
  "body": [{"kind": "cylinder", "from": [0, 0, 0], "to": [0, 0, "$height"], "diameter": 1.5}],
  "faces": [{"id": "top", "shape": "plane", "point": [0, 0, "$height"], "normal": [0, 0, 1], "up": [1, 0, 0],
             "from": -0.5, "to": 0.5, "width": 1}]},
  "columns": ["tag", "height"], "rows": [["low", 1], ["high", 2.5]]})";
        if (!change_from.empty()) json.replace(json.find(change_from), change_from.size(), change_to);
        return json;
    }
    static std::string key_of(const base::Error& error) {
        const auto it = error.text.arguments.find("key");
        return it == error.text.arguments.end() ? "" : std::get<std::string>(it->second);
    }
    std::filesystem::path folder_;
};

TEST_F(FamilyFiles, BecomeOneComponentARowInMillimetres) {
    const auto catalogue = load(rest());
    ASSERT_TRUE(catalogue.ok());
    ASSERT_EQ(catalogue->components.size(), 2u);
    const Component* high = catalogue->find("own-high");
    ASSERT_NE(high, nullptr);
    EXPECT_DOUBLE_EQ(high->faces.front().point.z(), 2.5 * 25.4);
    EXPECT_DOUBLE_EQ(high->body.front().diameter_mm, 1.5 * 25.4);
    EXPECT_EQ(high->nominal, base::LengthUnit::inch);
    EXPECT_NEAR(high->overall_height_mm, 63.5, 1e-9);
}

TEST_F(FamilyFiles, AreRefusedWhereAColumnIsMissing) {
    const auto catalogue = load(rest("\"columns\": [\"tag\", \"height\"]", "\"columns\": [\"tag\", \"hight\"]"));
    ASSERT_FALSE(catalogue.ok());
    EXPECT_EQ(catalogue.error().text.id, "shop.no_column");
}

TEST_F(FamilyFiles, AreRefusedWithTheKeyThatIsWrong) {
    struct Case {
        const char *from, *to, *key;
    };
    for (const Case& c :
         std::initializer_list<Case>{{"[\"low\", 1]", "[\"low\"]", "rows[0]"},
                                     {"[\"low\", 1]", "[\"low\", \"x\"]", "body[0].to_mm"},
                                     {"\"family\": \"rest\"", "\"family\": \"bed\"", "family"},
                                     {"\"diameter\": 1.5", "\"diameter\": 0", "body[0].diameter_mm"},
                                     {"\"diameter\"", "\"diametre\"", "body[0].diameter_mm"},
                                     {"\"normal\": [0, 0, 1]", "\"normal\": [0, 0, 0]", "faces[0].normal"},
                                     {"\"up\": [1, 0, 0]", "\"up\": [1, 0, 1]", "faces[0].up"},
                                     {"\"shape\": \"plane\"", "\"shape\": \"flat\"", "faces[0].shape"},
                                     {"\"kind\": \"cylinder\"", "\"kind\": \"step\"", "body[0].kind"},
                                     {"\"hole\": 0.625, ", "", "mount.hole_mm"},
                                     {"\"size\": \"$tag\",", "\"size\": \"$tag\", \"colour\": 1,", "colour"},
                                     {"\"nominal\": \"in\"", "\"nominal\": \"ft\"", "nominal"}}) {
        const auto catalogue = load(rest(c.from, c.to));
        ASSERT_FALSE(catalogue.ok()) << c.from;
        EXPECT_EQ(key_of(catalogue.error()), c.key) << c.from << " -> " << c.to;
    }
}

TEST(Definitions, DamagedAnyHowAreReadOrRefusedButDoNoHarm) {
    std::mt19937 random(1);
    int read = 0, refused = 0;
    for (const char* id : {"m50-index-stop", "m50-angle-plate-200", "m50-wedge-30", "m50-down-clamp-100"}) {
        const std::string whole = component_json(*starter().find(id));
        for (int i = 0; i < 500; ++i) {
            std::string json = whole;
            const int bytes = 1 + static_cast<int>(random() % 2);
            for (int k = 0; k < bytes; ++k) {
                const std::size_t at = random() % json.size();
                // Other digits, structure, or any byte at all.
                const std::string_view other = "0123456789-.e[]{},:\"";
                json[at] = random() % 4 == 0 ? static_cast<char>(random() % 256) : other[random() % other.size()];
            }
            if (random() % 10 == 0) json.resize(random() % json.size());
            const auto component = parse_component(json, "own.json");
            ++(component.ok() ? read : refused);
            if (!component.ok()) continue;
            EXPECT_EQ(component_json(*parse_component(component_json(*component), "own.json")),
                      component_json(*component));
            mesh_of(shape_of(*component, component->plates.empty() ? "" : component->plates.front().id, Hand::left, 3)
                        .fixed);
        }
    }
    EXPECT_GT(read, 50);
    EXPECT_GT(refused, 100);
}

TEST_F(FamilyFiles, MayNotDefineOneIdTwice) {
    const auto catalogue = load(rest("\"high\"", "\"low\""));
    ASSERT_FALSE(catalogue.ok());
    EXPECT_EQ(catalogue.error().text.id, "shop.id_twice");
}

TEST_F(FamilyFiles, MustNameAPlateSetThatIsThere) {
    const auto catalogue =
        load(rest("\"size\": \"$tag\",", "\"size\": \"$tag\", \"plates\": {\"set\": \"none\", \"at\": [0, 0, 0]},"));
    ASSERT_FALSE(catalogue.ok());
    EXPECT_EQ(catalogue.error().text.id, "shop.no_plate_set");
}

TEST(Shelves, CountOnlyWhatTheCatalogueHas) {
    std::set<std::string> known;
    std::map<std::string, std::set<std::string>> needed;
    for (const auto& c : starter().components) {
        const std::string system = c->id.substr(0, c->id.find('-'));
        for (const Plate& plate : c->plates) {
            known.insert(plate.stock_id);
            needed[system].insert(plate.stock_id);
        }
        if (c->to_cut) continue;
        for (const char* hand : {":left", ":right"}) {
            if (c->handed) {
                known.insert(c->id + hand);
                needed[system].insert(c->id + hand);
            }
        }
        if (c->handed) continue;
        known.insert(c->id);
        needed[system].insert(c->id);
    }
    const std::map<std::string, std::vector<std::string>> systems{{"grid50-starter", {"m50", "mm"}},
                                                                  {"grid100-starter", {"m100", "mm"}},
                                                                  {"grid2in-starter", {"in2", "in"}},
                                                                  {"grid80-starter", {"m80", "mm"}}};
    for (const auto& [id, prefixes] : systems) {
        const auto shelf = load_shelf(resources + "/shelves/" + id + ".json");
        ASSERT_TRUE(shelf.ok()) << id;
        EXPECT_EQ(shelf->id, id);
        for (const auto& [component, count] : shelf->count) {
            EXPECT_GT(count, 0) << component;
            EXPECT_TRUE(known.count(component)) << id << " counts " << component << ", which is nowhere defined";
        }
        for (const std::string& prefix : prefixes) {
            for (const std::string& component : needed[prefix])
                EXPECT_GT(shelf->have(component), 0) << id << " lacks " << component;
        }
        EXPECT_EQ(shelf->have("never"), 0);
    }
}

TEST(Shelves, HoldWhatTheSampleJobsAreSetWith) {
    // Acceptance, D1 and D2 by hand: index stops and rests on 50, tall plates, packers 10 + 5 + 1, two tall angle
    // plates.
    const auto shelf = load_shelf(resources + "/shelves/grid50-starter.json");
    ASSERT_TRUE(shelf.ok());
    EXPECT_GE(shelf->have("m50-index-stop"), 8);
    EXPECT_GE(shelf->have("m50-stop-75"), 8);
    EXPECT_GE(shelf->have("m50-rest-50"), 12);
    EXPECT_GE(shelf->have("m50-plate-100"), 12);
    for (const char* packer : {"m50-packer-1", "m50-packer-5", "m50-packer-10"})
        EXPECT_GE(shelf->have(packer), 4) << packer;
    EXPECT_GE(shelf->have("m50-angle-plate-500:left"), 1);
    EXPECT_GE(shelf->have("m50-angle-plate-500:right"), 1);
}

TEST(Shelves, ComeBackByteEqualAndRefuseNonsense) {
    Shelf shelf{"own", "Own shelf", {{"m50-rest-50", 3}, {"m50-wedge-30:left", 0}}};
    const auto back = parse_shelf(shelf_json(shelf), "own.json");
    ASSERT_TRUE(back.ok());
    EXPECT_EQ(*back, shelf);
    EXPECT_EQ(shelf_json(*back), shelf_json(shelf));
    for (const char* text : {R"({"id":"a","name":"b"})", R"({"id":"a","name":"b","count":[]})",
                             R"({"id":"a","name":"b","count":{"x":1.5}})", R"({"id":"a","name":"b","count":{"x":-1}})",
                             R"({"id":"a","name":"b","count":{},"z":1})"}) {
        EXPECT_FALSE(parse_shelf(text, "own.json").ok()) << text;
    }
}

TEST(ShopText, EverySentenceIsThere) {
    const auto catalogue = base::TextCatalogue::load(resources + "/translations/en");
    for (const char* id : {"shop.wrong_value", "shop.unknown_key", "shop.not_json", "shop.not_an_object",
                           "shop.id_twice", "shop.no_column", "shop.no_plate_set", "shop.folder_cannot_read"}) {
        EXPECT_TRUE(catalogue.has(id)) << id;
    }
    for (const auto& c : starter().components)
        EXPECT_TRUE(catalogue.has(std::string("family.") + key(c->family))) << c->id;
    const auto table = parse_table(R"({"id": 7})", "own.json");
    ASSERT_FALSE(table.ok());
    EXPECT_EQ(catalogue.render(table.error().text), "In own.json the entry id must be text; correct it.");
}

}  // namespace
}  // namespace setwright::shop
