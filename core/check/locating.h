#pragma once

#include <vector>

#include "core/check/contact.h"

namespace setwright::check {

using Row = Eigen::Matrix<double, 6, 1>;

/// Deterministic location (theory: Asada & By 1985): rank of the locating matrix, scaled by the rms distance of the
/// contacts.
struct Location {
    int rank = 0;
    /// Free first-order motions (translation, rotation about `about_T`), orthonormal in the scaled metric, one per
    /// column.
    Eigen::Matrix<double, 6, Eigen::Dynamic> free;
    space::Vec3 about_T = space::Vec3::Zero();
    double scale_mm = 1;
    /// Singular values of the scaled matrix, descending.
    std::vector<double> singular;
    double condition() const {
        return singular.empty() || singular.back() == 0 ? 0 : singular.front() / singular.back();
    }
};
/// About the centroid of the points and their rms distance from it unless given. mm, in one frame.
Location locate(const std::vector<space::Vec3>& points, const std::vector<space::Vec3>& normals,
                std::optional<space::Vec3> about = {}, std::optional<double> scale_mm = {});

/// Shop words for what still moves, to stand after "can still": "slide left–right", "turn about an upright line near
/// K14" (by place where there is no table). As many as there are free motions, each independent of the others.
std::vector<base::Text> free_motions(const Location& location, const shop::Table* table = nullptr);

/// One way in which a piece can still move: straight both ways along `axis_T`, or turning about it.
struct FreeMotion {
    base::Text text;
    /// Middle of the piece, or a point of the axis near it.
    space::Vec3 at_T = space::Vec3::Zero();
    space::Vec3 axis_T = space::Vec3::UnitX();
    bool turns = false;
};
/// What of this piece is still free under the contacts that check_locating() counts for it, in its order and words;
/// empty where it is held. With no contact at all: the six motions.
std::vector<FreeMotion> still_moves(const setup::Setup& setup, const setup::Stage& stage,
                                    const std::vector<setup::Posed>& posed, const std::vector<Contact>& contacts,
                                    PieceId piece);

/// Findings locating.*: pieces held by the set-up or nested that can still move, pieces held twice, faces on no
/// contact.
///
/// Contacts count as kept, first order; that clamps and weight keep them closed is another rule. Held twice: rigid
/// sources (never pull-back stops, clamps, magnets) whose normals have a positive combination that vanishes, so that a
/// piece a little over size would not go in; two earlier pieces may face each other, one of them closes.
std::vector<Finding> check_locating(const setup::Setup& setup, const setup::Stage& stage,
                                    const std::vector<setup::Posed>& posed, const std::vector<Contact>& contacts);

}  // namespace setwright::check
