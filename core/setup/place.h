#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/result.h"
#include "core/setup/setup.h"

/// From seats to poses and back: where a component stands, what its faces touch, how the callout reads.
namespace setwright::setup {

/// A locating face where it stands. In T.
struct PosedFace {
    std::string id;
    shop::FaceShape shape = shop::FaceShape::plane;
    /// As shop::LocatingFace, packers at the face included.
    space::Vec3 point_T = space::Vec3::Zero();
    space::Vec3 normal_T = space::Vec3::UnitX();
    space::Vec3 up_T = space::Vec3::UnitZ();
    double from_mm = 0, to_mm = 0;
    double width_mm = 0;
    double diameter_mm = 0;
    double v_angle_deg = 0;
    bool locates = true;
    /// A pin that locates only along `up_T`, to both sides.
    bool relieved = false;
};

/// A placement resolved.
struct Posed {
    PlacementId id;
    space::Pose X_TC;
    std::vector<PosedFace> faces;
    /// Bodies in C; packers under and at the face among them.
    std::vector<shop::BodyPart> fixed;
    std::vector<shop::BodyPart> moving;
    /// Highest point over the table, mm.
    double height_mm = 0;
    /// Second hole on the host, where the mount has one.
    std::optional<shop::Hole> second_hole;
};

/// Pose of a placement of `stage`. Fails where the seat is not one: host missing, hole not there or blocked, turn that
/// the mount does not allow on this pitch, plate or setting unknown, packers where none may go.
base::Result<Posed> pose(const Setup& setup, const Stage& stage, const Placement& placement);
/// Pose of host frame H in T, and its grid where it has one.
struct HostGrid {
    space::Pose X_TH;
    bool has_holes = false;
    double pitch_x_mm = 0, pitch_y_mm = 0;
    double hole_mm = 0;
    int cols = 0, rows = 0;
};
base::Result<HostGrid> host_grid(const Setup& setup, const Stage& stage, const Host& host);

/// Why this seat is no snap point ("hole blocked", …); nothing where it is one. Holes taken by others are told apart.
base::Result<void> check_seat(const Setup& setup, const Stage& stage, const Placement& placement);

/// Turns (lattice vectors, smallest first, primitive) in which the mount's second hole meets a hole of the host within
/// limits::hole_fit_mm. Freely turning mounts give the four grid directions.
std::vector<std::array<int, 2>> turns(const shop::Component& component, const HostGrid& grid);

/// "K14 E 6 · plate 100 · under 10+5 · face 2 · left-hand". Grammar, which parse_callout() reads back exactly:
///
///   callout = ( hole | block ["/" face] ":" hole ) [ " " facing ] [ " " mark ] { " · " part }
///           | loose [ ", " degrees ] [ " mark " mark ] { " · " part }
///   loose   = "on " piece " " side [ " and " piece " " side ] " " mm " along, " mm " across"
///           | "floor " ( "south" | "east" | "north" | "west" ) " " mm " along, " mm ( " out" | " in" )
///           | "table " mm " along, " mm " across"            (from the table's south-west corner)
///   part    = "plate " id | "under " sizes | "face " sizes | "left-hand" | "right-hand" | "second " hole
///   facing  = on the table "E" "N" "W" "S", on equal pitches "NE" "NW" "SW" "SE";
///             on a block's face "right" "up" "left" "down";
///             else a slope in holes: number ( " over, " | " left, " ) number ( " up" | " down" );
///             a clamp that turns freely: degrees off the quarter turns
///   degrees = multiple of 15 "°", from the host's x            side = "top" "bottom" "east" … | "face " number
///   piece   = name in quotes (doubled inside) [ " #" id where names repeat ]     sizes = size { "+" size }
///
/// The facing is left out where the part has none, the mark where it has no marks; "face" of a host block is left out
/// where it has one face with holes. "second" is said for turns off the grid. Sizes are in the component's own unit.
std::string callout(const Setup& setup, const Stage& stage, const Placement& placement);
/// The facing alone, "" where the part has none.
std::string facing(const Setup& setup, const Stage& stage, const Placement& placement);
/// Reads a callout for `component`; numbers of host placements are those on the drawing. The text of an error says
/// which part of the callout is wrong and what is allowed there. "·", "," and ";" all part it; case and extra blanks do
/// not matter. Packers are those defined in `setup.components` (family packer). Equal seats come back equal where
/// packers are ordered under before face, thickest first, and a free turn by a quarter is written as a lattice vector.
/// `component` need not be in the job.
base::Result<Seat> parse_callout(const Setup& setup, const Stage& stage, const shop::Component& component,
                                 std::string_view text);

/// The job with every packer of the catalogue defined, so that callouts and seats may take them. place(), move() and
/// remove() drop definitions that nothing uses.
Setup with_packers(Setup setup, const shop::Catalogue& catalogue);

/// A seat whose locating face touches a wanted face.
struct TouchingSeat {
    Seat seat;
    /// Signed: how far the locating face stands from the wanted plane, 0 for an exact seat; packers already chosen.
    double gap_mm = 0;
    std::string face;
};

/// Seats of `component` on `host` that bring a locating face onto the face `piece_face` of `piece` as it lies in
/// `stage`, nearest to `near_T` first, at most `count`. Exact ones first where they are within one pitch of each other.
/// Solved from the face outward (each turn gives one offset to be made of hole, mark and packers); nothing is
/// enumerated.
std::vector<TouchingSeat> seats_touching(const Setup& setup, const Stage& stage, const shop::Component& component,
                                         const Host& host, PieceId piece, int piece_face, const space::Vec3& near_T,
                                         int count = 20);

/// Nearest seat to a pointer on the host, other choices (turn, hand, plate, setting, packers) kept from `like`.
std::optional<Seat> nearest_seat(const Setup& setup, const Stage& stage, const shop::Component& component,
                                 const Seat& like, const space::Vec3& pointer_T);

}  // namespace setwright::setup
