#include "core/setup/match.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <map>
#include <set>
#include <tuple>

#include "core/base/bug.h"
#include "core/base/limits.h"

namespace setwright::setup {

namespace limits = base::limits;
using space::Pose;
using space::Vec3;
using weldment::Fingerprint;

namespace {

/// Beyond this a pair has nothing to do with each other.
constexpr double no_match = 1.5;
/// More left-overs than this after matching in order would take minutes; they count as new.
constexpr std::size_t most_assigned = 1500;

double relative(double a, double b) {
    const double larger = std::max(std::abs(a), std::abs(b));
    return larger > 0 ? std::abs(a - b) / larger : 0;
}

double relative(const Vec3& a, const Vec3& b) {
    const double larger = std::max(a.norm(), b.norm());
    return larger > 0 ? (a - b).norm() / larger : 0;
}

/// Weights by judgement, no source: shape first, then hand, then name and place, which tell equal pieces apart.
double cost(const Fingerprint& a, const Fingerprint& b) {
    int different = 0;
    int faces = 1;
    for (std::size_t i = 0; i < a.face_kinds.size(); ++i) {
        different += std::abs(a.face_kinds[i] - b.face_kinds[i]);
        faces += std::max(a.face_kinds[i], b.face_kinds[i]);
    }
    const double apart = (a.centroid_M - b.centroid_M).norm();
    const double sum = std::min(1.0, 10 * relative(a.volume_mm3, b.volume_mm3)) +
                       std::min(1.0, 10 * relative(a.principal_moments, b.principal_moments)) +
                       static_cast<double>(different) / faces + (a.handedness == b.handedness ? 0 : 0.5) +
                       (a.name_path == b.name_path ? 0 : 0.25) + 0.25 * apart / (apart + 100);
    return std::min(sum, no_match);
}

bool equal(const Fingerprint& a, const Fingerprint& b) {
    return a.name_path == b.name_path && a.face_kinds == b.face_kinds && a.handedness == b.handedness &&
           relative(a.volume_mm3, b.volume_mm3) < limits::same_shape_fraction &&
           relative(a.principal_moments, b.principal_moments) < limits::same_shape_fraction &&
           (a.centroid_M - b.centroid_M).norm() < limits::coincident_mm;
}

/// For each piece of the model the id it had, or none.
std::vector<PieceId> old_ids(const std::map<PieceId, WeldmentUse::Frozen>& frozen,
                             const std::vector<weldment::Piece>& pieces) {
    std::vector<PieceId> ids(pieces.size());
    std::vector<std::pair<PieceId, const Fingerprint*>> known;
    for (const auto& [id, was] : frozen) known.emplace_back(id, &was.fingerprint);
    std::vector<std::size_t> open_known;
    std::vector<std::size_t> open_pieces;
    for (std::size_t i = 0; i < std::max(known.size(), pieces.size()); ++i) {
        if (i < known.size() && i < pieces.size() && equal(*known[i].second, pieces[i].fingerprint)) {
            ids[i] = known[i].first;
            continue;
        }
        if (i < known.size()) open_known.push_back(i);
        if (i < pieces.size()) open_pieces.push_back(i);
    }
    if (open_known.empty() || open_pieces.empty() || std::max(open_known.size(), open_pieces.size()) > most_assigned)
        return ids;
    const std::size_t columns = std::max(open_known.size(), open_pieces.size());
    std::vector<std::vector<double>> costs(open_pieces.size(), std::vector<double>(columns, no_match));
    for (std::size_t row = 0; row < open_pieces.size(); ++row)
        for (std::size_t col = 0; col < open_known.size(); ++col)
            costs[row][col] = cost(pieces[open_pieces[row]].fingerprint, *known[open_known[col]].second);
    const auto columns_of = assign(costs, columns);
    for (std::size_t row = 0; row < open_pieces.size(); ++row)
        if (costs[row][columns_of[row]] < no_match) ids[open_pieces[row]] = known[open_known[columns_of[row]]].first;
    return ids;
}

void put_into_frozen_frame(weldment::Piece& piece, const Pose& X_MF) {
    const double radius = piece.solid ? piece.solid->box.size().norm() : 0;
    const bool same = space::pose_difference_mm(piece.X_MP, X_MF, radius) < limits::same_pose_mm;
    const Pose X_FP = X_MF.inverse() * piece.X_MP;
    piece.X_MP = X_MF;
    if (same) return;
    if (piece.solid) piece.solid = std::make_shared<const space::Solid>(space::moved(*piece.solid, X_FP));
    piece.X_PD = X_FP * piece.X_PD;
    const Vec3 z = X_FP.turn(Vec3::UnitZ());
    if (std::abs(z.z()) < base::cos(base::Angle::deg(limits::parallel_deg))) {
        // Its length now lies elsewhere: section and ends keep the new reading, whose axes are not the frozen ones.
        piece.doubts.push_back({"job.axis_changed", {{"piece", piece.name}}});
        return;
    }
    if (z.z() < 0) std::swap(piece.ends[0], piece.ends[1]);
    for (weldment::EndCut& end : piece.ends) {
        const base::Angle was = base::Angle::deg(end.plane_deg);
        const Vec3 leans = X_FP.turn(Vec3(base::cos(was), base::sin(was), 0));
        const double degrees = base::Angle::rad(std::atan2(leans.y(), leans.x())).deg();
        end.plane_deg = degrees < 0 ? degrees + 360 : degrees;
    }
}

Vec3 middle(const std::vector<Vec3>& path) {
    double left = 0;
    for (std::size_t i = 1; i < path.size(); ++i) left += (path[i] - path[i - 1]).norm() / 2;
    for (std::size_t i = 1; i < path.size(); ++i) {
        const double length = (path[i] - path[i - 1]).norm();
        if (length > 0 && length >= left) return path[i - 1] + (path[i] - path[i - 1]) * (left / length);
        left -= length;
    }
    return path.empty() ? Vec3::Zero() : path.front();
}

WeldmentUse::FrozenSeam frozen_form(const weldment::Seam& seam) {
    return {seam.pieces, middle(seam.path_M), seam.length_mm};
}

using Pair = std::pair<PieceId, PieceId>;
Pair pair_of(const std::array<PieceId, 2>& pieces) {
    return std::minmax(pieces[0], pieces[1]);
}

/// Seams of the same two pieces, nearest middles first.
std::vector<SeamId> old_ids(const std::map<SeamId, WeldmentUse::FrozenSeam>& frozen,
                            const std::vector<weldment::Seam>& seams) {
    std::map<Pair, std::vector<SeamId>> known;
    for (const auto& [id, was] : frozen) known[pair_of(was.pieces)].push_back(id);
    struct Candidate {
        double apart;
        std::size_t seam;
        SeamId id;
    };
    std::vector<Candidate> candidates;
    for (std::size_t i = 0; i < seams.size(); ++i) {
        const auto of_pair = known.find(pair_of(seams[i].pieces));
        if (of_pair == known.end()) continue;
        for (const SeamId id : of_pair->second)
            candidates.push_back({(middle(seams[i].path_M) - frozen.at(id).middle_M).norm(), i, id});
    }
    std::sort(candidates.begin(), candidates.end(), [](const Candidate& a, const Candidate& b) {
        return std::tie(a.apart, a.seam, a.id) < std::tie(b.apart, b.seam, b.id);
    });
    std::vector<SeamId> ids(seams.size());
    std::set<SeamId> taken;
    for (const Candidate& c : candidates)
        if (!ids[c.seam].valid() && taken.insert(c.id).second) ids[c.seam] = c.id;
    return ids;
}

}  // namespace

std::vector<std::size_t> assign(const std::vector<std::vector<double>>& cost, std::size_t columns) {
    // Shortest augmenting paths with potentials (Kuhn 1955, Munkres 1957); row and column 0 are the free ends.
    const std::size_t rows = cost.size();
    SETWRIGHT_ASSERT(rows <= columns, "every row needs a column");
    std::vector<double> u(rows + 1), v(columns + 1);
    std::vector<std::size_t> row_of(columns + 1), way(columns + 1);
    for (std::size_t row = 1; row <= rows; ++row) {
        row_of[0] = row;
        std::size_t col = 0;
        std::vector<double> least(columns + 1, std::numeric_limits<double>::infinity());
        std::vector<bool> used(columns + 1);
        do {
            used[col] = true;
            const std::size_t r = row_of[col];
            double delta = std::numeric_limits<double>::infinity();
            std::size_t next = 0;
            for (std::size_t c = 1; c <= columns; ++c) {
                if (used[c]) continue;
                const double reduced = cost[r - 1][c - 1] - u[r] - v[c];
                if (reduced < least[c]) {
                    least[c] = reduced;
                    way[c] = col;
                }
                if (least[c] < delta) {
                    delta = least[c];
                    next = c;
                }
            }
            for (std::size_t c = 0; c <= columns; ++c) {
                if (used[c]) {
                    u[row_of[c]] += delta;
                    v[c] -= delta;
                } else {
                    least[c] -= delta;
                }
            }
            col = next;
        } while (row_of[col] != 0);
        for (; col != 0; col = way[col]) row_of[col] = row_of[way[col]];
    }
    std::vector<std::size_t> column_of(rows);
    for (std::size_t c = 1; c <= columns; ++c)
        if (row_of[c] != 0) column_of[row_of[c] - 1] = c - 1;
    return column_of;
}

void freeze(WeldmentUse& use, const weldment::Weldment& model) {
    use.frozen.clear();
    use.frozen_seams.clear();
    for (const weldment::Piece& piece : model.pieces) use.frozen[piece.id] = {piece.fingerprint, piece.X_MP};
    for (const weldment::Seam& seam : model.seams) use.frozen_seams[seam.id] = frozen_form(seam);
}

Matched match_to_frozen(WeldmentUse& use, weldment::Weldment& model, std::uint32_t& last_id) {
    Matched matched;
    std::map<PieceId, PieceId> renamed;
    const std::vector<PieceId> piece_ids = old_ids(use.frozen, model.pieces);
    std::set<PieceId> found;
    for (std::size_t i = 0; i < model.pieces.size(); ++i) {
        weldment::Piece& piece = model.pieces[i];
        PieceId id = piece_ids[i];
        if (id.valid()) {
            put_into_frozen_frame(piece, use.frozen.at(id).X_MP);
            found.insert(id);
        } else {
            id = PieceId{++last_id};
            use.frozen[id] = {piece.fingerprint, piece.X_MP};
            found.insert(id);
            ++matched.pieces_new;
        }
        renamed[piece.id] = id;
        piece.id = id;
    }
    matched.pieces_gone = use.frozen.size() - found.size();

    for (weldment::Seam& seam : model.seams)
        for (PieceId& piece : seam.pieces) piece = renamed.at(piece);
    const std::vector<SeamId> seam_ids = old_ids(use.frozen_seams, model.seams);
    const std::size_t seams_known = use.frozen_seams.size();
    for (std::size_t i = 0; i < model.seams.size(); ++i) {
        weldment::Seam& seam = model.seams[i];
        seam.id = seam_ids[i];
        if (seam.id.valid()) continue;
        seam.id = SeamId{++last_id};
        use.frozen_seams[seam.id] = frozen_form(seam);
        ++matched.seams_new;
    }
    matched.seams_gone = seams_known - (model.seams.size() - matched.seams_new);
    std::sort(model.pieces.begin(), model.pieces.end(), [](const auto& a, const auto& b) { return a.id < b.id; });
    std::sort(model.seams.begin(), model.seams.end(), [](const auto& a, const auto& b) { return a.id < b.id; });
    return matched;
}

}  // namespace setwright::setup
