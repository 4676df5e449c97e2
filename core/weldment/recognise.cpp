#include "core/weldment/recognise.h"

#include <algorithm>
#include <set>

#include "core/base/limits.h"
#include "core/weldment/joint.h"

namespace setwright::weldment {

using namespace base::limits;

namespace {

template <class T, class I>
const T* find_by_id(const std::vector<T>& items, I id) {
    const auto at = std::find_if(items.begin(), items.end(), [&](const T& item) { return item.id == id; });
    return at == items.end() ? nullptr : &*at;
}

std::vector<Group> group(std::vector<Piece>& pieces, const base::Progress& job) {
    std::vector<Group> groups;
    std::vector<const Piece*> first;
    for (Piece& piece : pieces) {
        if (job.cancelled()) return groups;
        for (std::size_t g = 0; g < groups.size() && piece.group == 0; ++g) {
            if (!same_shape(*first[g], piece, false)) continue;
            piece.group = groups[g].id;
            ++groups[g].count;
        }
        if (piece.group != 0) continue;
        piece.group = static_cast<int>(groups.size()) + 1;
        groups.push_back({piece.group, 1, 0});
        first.push_back(&piece);
    }
    for (std::size_t a = 0; a < groups.size(); ++a) {
        if (job.cancelled()) return groups;
        for (std::size_t b = a + 1; b < groups.size(); ++b) {
            if (groups[a].mirror_of != 0 || groups[b].mirror_of != 0 || !same_shape(*first[a], *first[b], true))
                continue;
            groups[a].mirror_of = groups[b].id;
            groups[b].mirror_of = groups[a].id;
        }
    }
    return groups;
}

void doubt_file(Weldment& weldment, const space::Bodies& bodies) {
    std::vector<base::Text>& doubts = weldment.doubts;
    std::int64_t unnamed = 0;
    for (const std::string& name : bodies.lost) {
        if (name.empty())
            ++unnamed;
        else
            doubts.push_back({"weldment.lost", {{"name", name}}});
    }
    if (unnamed > 0) doubts.push_back({"weldment.lost_unnamed", {{"count", unnamed}}});
    if (bodies.loose_faces > 0)
        doubts.push_back({"weldment.loose_faces", {{"count", std::int64_t{bodies.loose_faces}}}});
    if (bodies.file_unit.empty()) doubts.push_back({"weldment.no_unit", {}});
    doubts.insert(doubts.end(), bodies.remarks.begin(), bodies.remarks.end());
    if (weldment.pieces.empty()) return;
    const double overall = weldment.box_M.size().maxCoeff();
    if (overall > overall_largest_mm) doubts.push_back({"weldment.very_large", {{"size", base::LengthArg{overall}}}});
    if (overall < overall_smallest_mm) doubts.push_back({"weldment.very_small", {{"size", base::LengthArg{overall}}}});
}

void doubt_joints(Weldment& weldment, const base::Progress& job) {
    std::set<PieceId> joined;
    for (const Seam& seam : weldment.seams) joined.insert(seam.pieces.begin(), seam.pieces.end());
    for (const Overlap& overlap : find_overlaps(weldment.pieces, job)) {
        joined.insert(overlap.a);
        joined.insert(overlap.b);
        const auto add = [&](PieceId own, PieceId other) {
            weldment.pieces[own.value - 1].doubts.push_back(
                {"piece.overlaps", {{"other", weldment.find(other)->name}}});
        };
        add(overlap.a, overlap.b);
        add(overlap.b, overlap.a);
    }
    if (weldment.pieces.size() < 2) return;
    for (Piece& piece : weldment.pieces) {
        if (joined.count(piece.id) == 0) piece.doubts.push_back({"piece.no_seam", {}});
    }
}

}  // namespace

const Piece* Weldment::find(PieceId id) const {
    return find_by_id(pieces, id);
}
const Seam* Weldment::find(SeamId id) const {
    return find_by_id(seams, id);
}

Weldment recognise(const space::Bodies& bodies, const base::Progress& job) {
    job.enter("import.pieces");
    Weldment weldment;
    weldment.file_unit = bodies.file_unit;
    weldment.pieces.reserve(bodies.bodies.size());
    for (const space::Body& body : bodies.bodies) {
        if (job.cancelled()) return weldment;
        SETWRIGHT_ASSERT(body.solid < bodies.solids.size(), "a body without its solid");
        Piece piece = make_piece(*bodies.solids[body.solid], body.X_MD);
        piece.id = PieceId{static_cast<std::uint32_t>(weldment.pieces.size() + 1)};
        piece.name = !body.name.empty()   ? body.name
                     : !body.path.empty() ? body.path.back()
                                          : std::to_string(piece.id.value);
        piece.fingerprint.name_path = body.path;
        if (body.solid < bodies.breps.size()) piece.brep = bodies.breps[body.solid];
        for (const space::Vec3& p : piece.solid->mesh.points) weldment.box_M.add(piece.X_MP * p);
        weldment.pieces.push_back(std::move(piece));
    }
    weldment.groups = group(weldment.pieces, job);
    job.enter("import.seams");
    weldment.seams = find_seams(weldment.pieces, job);
    if (job.cancelled()) return weldment;
    doubt_file(weldment, bodies);
    doubt_joints(weldment, job);
    return weldment;
}

}  // namespace setwright::weldment
