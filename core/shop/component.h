#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/result.h"
#include "core/base/units.h"
#include "core/space/mesh.h"
#include "core/space/solid.h"

namespace setwright::shop {

/// C: origin on the datum hole's axis at the mount face, x = the way it faces, z away from the mount face. Right-hand
/// as given; the left hand is mirrored across C's xz plane. Bodies end at the mount face: what goes into the holes is
/// in Mount.
enum class Family {
    stop,
    index_stop,
    slotted_stop,
    round_stop,
    pull_back_stop,
    magnet,
    rest,
    packer,
    v_block,
    angle_plate,
    long_bar,
    wedge,
    pin_carrier,
    pin,
    pusher,
    down_clamp,
    side_clamp,
    swing_clamp,
    bar_clamp,
    c_clamp,
    comb,
    spacer,
    clamping_bolt,
    dowel
};
const char* key(Family family);
std::optional<Family> parse_family(std::string_view key);

enum class Hand { none, right, left };

/// A convex or simple solid of the body, in C.
struct BodyPart {
    enum class Kind { box, cylinder, prism, step } kind = Kind::box;
    space::Vec3 min = space::Vec3::Zero(), max = space::Vec3::Zero();
    space::Vec3 from = space::Vec3::Zero(), to = space::Vec3::Zero();
    double diameter_mm = 0;
    /// Prism: counter-clockwise outline in the xz plane of C, from y0 to y1; or, where `upright`, in the xy plane of C,
    /// from z0 to z1.
    std::vector<space::Vec2> outline;
    double y0_mm = 0, y1_mm = 0;
    bool upright = false;
    double z0_mm = 0, z1_mm = 0;
    /// STEP text beside the definition's file; not read yet.
    std::string step_file;
    /// Moves with the setting.
    bool moving = false;
    /// An arm or spindle that swings or travels when used: the larger clearance holds.
    bool swinging = false;
    friend bool operator==(const BodyPart&, const BodyPart&) = default;
};
double volume_mm3(const BodyPart& part);

enum class FaceShape { plane, cylinder, v };

/// A face that meets a piece, in C at setting 0 without packers.
struct LocatingFace {
    std::string id;
    FaceShape shape = FaceShape::plane;
    /// plane: centre line of the face at height 0; cylinder: on the axis; v: on the valley line.
    space::Vec3 point = space::Vec3::Zero();
    /// plane: unit normal INTO the piece; cylinder: axis; v: unit direction of the valley line.
    space::Vec3 normal = space::Vec3::UnitX();
    /// plane, v: unit direction of "up" in the face (v: bisector, into the piece).
    space::Vec3 up = space::Vec3::UnitZ();
    /// Band along `up` (cylinder: along its axis), measured from `point`.
    double from_mm = 0, to_mm = 0;
    /// Extent across (plane) or along the valley (v), centred on `point`.
    double width_mm = 0;
    double diameter_mm = 0;
    /// v: full angle between its two flats.
    double v_angle_deg = 0;
    /// False for clamp pads, pushers: they press, they do not locate.
    bool locates = true;
    bool moving = false;
    /// Cylinder of a relieved pin: it locates only along `up`, across its axis.
    bool relieved = false;
    friend bool operator==(const LocatingFace&, const LocatingFace&) = default;
};

/// An upright plate bolted to the component: its own body and faces, in C.
struct Plate {
    /// As the callout says it ("100", "100V").
    std::string id;
    /// Under which the shelf counts it: plates are shared between kinds of stop.
    std::string stock_id;
    double top_mm = 0;
    std::vector<BodyPart> body;
    std::vector<LocatingFace> faces;
    double mass_kg = 0;
};

enum class MountKind { bolted, drop_in, magnet, loose };

/// How it sits on a host with holes. Offsets are in C, at pitch units of its own system.
struct Mount {
    MountKind kind = MountKind::bolted;
    double hole_mm = 0;
    double pitch_mm = 0;
    /// A second hole that fixes the turn: allowed distances from the datum hole, as a range (a slot) or a single value
    /// (from = to); none where one pin is enough because it turns freely (clamps) or is round (its turn is always 1,
    /// 0).
    struct Second {
        double from_mm = 0, to_mm = 0;
        /// Direction in C from the datum hole.
        space::Vec2 direction = space::Vec2(-1, 0);
        friend bool operator==(const Second&, const Second&) = default;
    };
    std::optional<Second> second;
    /// Turns in 15 degree steps about the datum hole; never for locators with flat faces.
    bool turns_freely = false;
    int bolts = 0;
    int dowels = 0;
    /// Under which the shelf counts them; "" where there are none.
    std::string bolt_stock_id;
    std::string dowel_stock_id;
    /// Where the key goes on each bolt, in C: the foot of the key room.
    std::vector<space::Vec3> bolts_at;
    /// Footprint in C on the host face, for holes it covers.
    space::Polygon2 footprint;
};

/// Movement read on a mark. Mark n stands at n * step from the face's place at setting 0.
struct Setting {
    space::Vec3 direction = space::Vec3::UnitX();
    double step_mm = 0;
    int first = 0, last = 0;
};

/// Holes on the component's own face: it hosts others. H: right = x, up = y, z out of the face; A1 at the origin.
struct GridFace {
    std::string id;
    space::Vec3 origin = space::Vec3::Zero();
    space::Vec3 right = space::Vec3::UnitY();
    space::Vec3 up = space::Vec3::UnitZ();
    double pitch_right_mm = 0, pitch_up_mm = 0;
    int cols = 0, rows = 0;
    double hole_mm = 0;
};

struct Clamp {
    double force_n = 0;
    double reach_mm = 0;
    double swing_deg = 0;
    double stroke_mm = 0;
};

/// A family's one size, whole: enough to draw, set, collide and count it without its catalogue.
struct Component {
    std::string id;
    Family family = Family::stop;
    /// Size as a shop says it, in `nominal` units ("100", "5/8").
    std::string size;
    base::LengthUnit nominal = base::LengthUnit::mm;
    Mount mount;
    std::vector<BodyPart> body;
    std::vector<LocatingFace> faces;
    std::vector<Plate> plates;
    std::optional<Setting> setting;
    /// True where left- and right-hand forms differ; each hand is counted apart on the shelf ("ID:left", "ID:right").
    bool handed = false;
    std::vector<GridFace> grid_faces;
    std::optional<Clamp> clamp;
    bool packers_under = false;
    bool packers_at_face = false;
    /// Packer: its thickness.
    double thickness_mm = 0;
    double mass_kg = 0;
    /// Free cylinder needed over the bolt for hand and key.
    double key_room_diameter_mm = 0, key_room_height_mm = 0;
    /// "to cut": made for the job, not counted against the shelf.
    bool to_cut = false;
    double overall_height_mm = 0;

    const Plate* find_plate(std::string_view plate) const;
};

/// Deterministic JSON of one definition and its SHA-256, as embedded in the job file.
std::string component_json(const Component& component);
base::Result<Component> parse_component(std::string_view json, const std::string& where);

/// Bodies in C with hand, plate and setting applied. `moving` = arms that swing, for the larger clearance.
struct ComponentShape {
    std::vector<BodyPart> fixed;
    std::vector<BodyPart> moving;
    std::vector<LocatingFace> faces;
};
/// `plate` may be "". `setting` in marks. Packers are not part of it.
ComponentShape shape_of(const Component& component, std::string_view plate, Hand hand, int setting);
space::Mesh mesh_of(const std::vector<BodyPart>& parts);
space::Brep brep_of(const std::vector<BodyPart>& parts);

}  // namespace setwright::shop
