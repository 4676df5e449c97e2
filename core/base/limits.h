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
inline constexpr double seam_gap_mm = 3.0;
inline constexpr double seam_gap_doubt_mm = 1.0;
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

}  // namespace setwright::base::limits
