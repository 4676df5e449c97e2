#pragma once

#include <memory>
#include <vector>

#include "core/check/finding.h"
#include "core/setup/place.h"

namespace setwright::check {

/// Where a locating face, or an earlier piece, meets a piece. In T.
struct Contact {
    PieceId piece;
    /// Face of the piece's solid; -1 for a line or point contact on a curved face.
    int piece_face = -1;
    /// What it meets: a placement and its locating face, or an earlier piece and its face.
    std::optional<PlacementId> placement;
    std::string locating_face;
    std::optional<PieceId> other;
    int other_face = -1;
    /// "plane", "line", "point".
    std::string kind;
    /// Centre of the patch; normal into the piece.
    space::Vec3 point_T = space::Vec3::Zero();
    space::Vec3 normal_T = space::Vec3::UnitX();
    /// Corners of the hull of the common area, in the contact plane, or both ends of a line; empty for a point.
    std::vector<space::Vec3> patch_T;
    double area_mm2 = 0;
    /// Signed distance of the locating face from the piece along the normal (positive: open). A pin in a hole: on its
    /// tighter side.
    double gap_mm = 0;
    bool locates = true;
    /// A pin in a hole: it holds against the normal as well; one contact stands for both sides.
    bool both_ways = false;
};

/// All contacts of a stage within limits::contact_mm, analytic, ordered by piece, then placement or other piece.
std::vector<Contact> contacts(const setup::Setup& setup, const setup::Stage& stage,
                              const std::vector<setup::Posed>& posed);

/// The same up to `reach_mm` to either side: faces that were meant for a piece and miss it.
std::vector<Contact> contacts_within(const setup::Setup& setup, const setup::Stage& stage,
                                     const std::vector<setup::Posed>& posed, double reach_mm);

/// The pieces of a stage made ready to be met by locating faces again and again. The set-up must outlive it.
class PieceFaces {
  public:
    PieceFaces(const setup::Setup& setup, const setup::Stage& stage);
    ~PieceFaces();
    PieceFaces(const PieceFaces&) = delete;
    PieceFaces& operator=(const PieceFaces&) = delete;

    /// Contacts of these placements alone, as contacts_within() gives them.
    std::vector<Contact> met_by(const std::vector<setup::Posed>& posed, double reach_mm) const;

  private:
    struct Laid;
    std::unique_ptr<const Laid> laid_;
};

/// What lies in a stage as one rigid thing: a piece, or the welded result of an earlier stage.
struct LaidBody {
    std::vector<PieceId> pieces;
    setup::HeldBy held_by = setup::HeldBy::set_up;
};
/// In the order of loading: as the stage's steps say, else by how they are held (set-up, nested, by hand), then id.
/// Pieces left out of the job are not among them.
std::vector<LaidBody> laid_bodies(const setup::Setup& setup, const setup::Stage& stage);

/// Where a patch holds a piece: its centre, and in each direction where it spans at least limits::contact_pair_mm a
/// pair at the ends. In T.
std::vector<space::Vec3> row_points(const Contact& contact);
/// Their rows of the locating matrix: (n, r × n) about T's origin, mm.
std::vector<Eigen::Matrix<double, 6, 1>> rows(const Contact& contact);

}  // namespace setwright::check
