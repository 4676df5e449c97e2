#pragma once

/// Every tolerance of the program, in mm and degrees unless the name says otherwise. None live elsewhere.
namespace setwright::base::limits {

inline constexpr double coincident_mm = 0.001;
inline constexpr double parallel_deg = 0.01;
inline constexpr double contact_mm = 0.05;
inline constexpr double exact_face_mm = 0.05;
inline constexpr double hole_fit_mm = 0.02;
inline constexpr double mesh_deflection_mm = 0.2;
inline constexpr double mesh_angle_rad = 0.3;
/// Faces that meet at less than this are smooth there: tangent in the model, whatever the export rounded.
inline constexpr double smooth_edge_deg = 1.0;
/// Flats of a meshed body that meet at more than this are drawn with a line between them: twice the turn from one side
/// of a meshed cylinder to the next.
inline constexpr double drawn_edge_deg = 30.0;
/// Lines of a drawing, mm of the real thing, closer than this are one line; segments and gaps below it are none.
inline constexpr double drawn_line_mm = 0.02;
inline constexpr double seam_gap_mm = 3.0;
inline constexpr double seam_gap_doubt_mm = 1.0;
/// Two faces that end within this step of each other at a joint count as flush. Common practice, no source.
inline constexpr double flush_step_mm = 1.0;
/// Rolled flat bar is listed up to this width; wider, or shorter than three widths, is cut from plate. Common practice,
/// no source.
inline constexpr double flat_bar_width_mm = 150.0;
inline constexpr double flat_bar_lengths_per_width = 3.0;
/// A weldment larger or smaller than this was probably read in the wrong unit. Common practice, no source.
inline constexpr double overall_largest_mm = 20000.0;
inline constexpr double overall_smallest_mm = 20.0;
inline constexpr double callout_rebuild_mm = 0.01;

/// A contact is tested again after the component is backed off by this much along the contact normal.
inline constexpr double back_off_mm = 0.1;
/// Defaults of the clearance rules; a job may change them.
inline constexpr double clearance_piece_mm = 3.0;
inline constexpr double clearance_moving_mm = 10.0;
/// Distances beyond this are reported as "> 50".
inline constexpr double clearance_horizon_mm = 50.0;
/// A fit zone this long or longer gives a pair of contact rows at its ends.
inline constexpr double contact_pair_mm = 20.0;

/// A load from here on is named on the drawing, and from the second figure on takes two people or a hoist: half of, and
/// the load constant itself of, the NIOSH lifting equation (publication 94-110).
inline constexpr double heavy_kg = 11.5;
inline constexpr double two_people_kg = 23.0;

/// Two readings of one piece: volume and moments agree to this fraction, places to coincident_mm.
inline constexpr double same_shape_fraction = 1e-6;
/// Poses that differ by less are one pose computed on two machines.
inline constexpr double same_pose_mm = 1e-6;

/// Faces that meet within this angle are one contact: 0.09 mm over 100 mm.
inline constexpr double contact_deg = 0.05;
/// Common areas (mm²) and lengths of line contacts (mm) below this are edges that graze, not contacts.
inline constexpr double contact_least = 1.0;
/// Smallest singular value over the largest, below which a motion counts as free. Faces 20 long on a piece of 2 m give
/// 0.02; faces out of parallel by 0.05 degrees give 0.0009.
inline constexpr double locating_ratio = 1e-3;
/// Normals whose cosine is above this count as one direction, or as opposed: wedges and slopes start well below.
inline constexpr double same_way_cosine = 0.9998;
/// Normals with more than this up in them hold a piece up, others stop it sideways.
inline constexpr double upward_cosine = 0.7;
/// Turns beside slides when rows are compared: a usual distance of pins. Common practice, no source.
inline constexpr double moment_arm_mm = 100;
/// In directions that cancel, one that bears less than this share is no part of it.
inline constexpr double cancelling_share = 0.02;
/// A measured value that differs by less is still the one that was accepted.
inline constexpr double same_measure = 1e-6;
/// A locating face that misses a piece by less than this was meant for it.
inline constexpr double near_miss_mm = 10.0;
inline constexpr double meant_face_mm = 5.0;
/// Overlaps of parts that touch by design are judged by volume only above this.
inline constexpr double overlap_mm3 = 1.0;

/// A pin with more play than this in a hole of a piece does not locate it. Common practice, no source.
inline constexpr double pin_play_mm = 0.5;

/// Bolt or pin against hole: 16 and 15.875 (5/8 in) do not interchange.
inline constexpr double hole_size_mm = 0.1;
/// One stack of packers; higher, the next rest or plate is used. Common practice, no source.
inline constexpr int packers_in_stack = 3;
inline constexpr double packer_stack_mm = 25.0;
/// A face is called top, east, … within this of the direction.
inline constexpr double face_word_deg = 0.5;
/// A face whose normal is within this of its piece's axis is an end face.
inline constexpr double end_face_deg = 20.0;
/// Less common area than this is no touch worth proposing. Common practice, no source.
inline constexpr double touch_area_mm2 = 10.0;

}  // namespace setwright::base::limits
