// What is set by hand to marks: words and a sketch for each piece.

#include <algorithm>
#include <cmath>

#include "core/base/limits.h"
#include "core/sheet/hand_marks.h"
#include "core/sheet/scene.h"

namespace setwright::sheet {

namespace {

constexpr double text = 4, name_text = 5, figure = 3.5;

/// Key of a direction: "up", "down", the slope's two, or the nearest of eight compass words.
std::string direction_key(const Vec3& d) {
    const double upright = base::cos(base::Angle::deg(base::limits::face_word_deg));
    const double level = base::sin(base::Angle::deg(base::limits::face_word_deg));
    if (std::abs(d.z()) > upright) return d.z() > 0 ? "up" : "down";
    if (std::abs(d.z()) > level) return d.z() > 0 ? "slope_up" : "slope_down";
    static const char* const compass[] = {"east", "north_east", "north", "north_west",
                                          "west", "south_west", "south", "south_east"};
    const long eighth = std::lround(std::atan2(d.y(), d.x()) / std::atan(1.0));
    return compass[static_cast<std::size_t>(eighth + 8) % 8];
}

/// What a fitter calls the outermost part of a piece on this side: its edge, end, tip or face.
std::string part_key(const ScenePiece& piece, const Vec3& d) {
    using weldment::SectionKind;
    const SectionKind kind = piece.piece->section.kind;
    if (kind == SectionKind::plate || kind == SectionKind::flat_bar) return "edge";
    const double cosine = piece.X_TP.turn(Vec3::UnitZ()).dot(d);
    if (std::abs(cosine) < base::cos(base::Angle::deg(base::limits::end_face_deg))) return "face";
    const weldment::EndKind end = piece.piece->ends[cosine > 0 ? 1 : 0].kind;
    return end == weldment::EndKind::square ? "end" : "tip";
}

std::string side_of(const Job& job, const ScenePiece& piece, const Vec3& d) {
    return job.say("sheet.hand_marks.side", {{"side", job.say("sheet.hand_marks.side." + direction_key(d))},
                                             {"part", job.say("sheet.hand_marks.part." + part_key(piece, d))}});
}

/// "its south edge 170 north of P3's south end".
std::string mark_text(const Job& job, const std::string& what, const Mark& mark, const ScenePiece& other) {
    const std::string from = job.say(
        "sheet.hand_marks.of", {{"piece", other.name}, {"side", side_of(job, other, mark.axis_T * mark.other_side)}});
    if (mark.offset_mm == 0) return job.say("sheet.hand_marks.level", {{"what", what}, {"from", from}});
    const std::string key = direction_key(mark.axis_T * (mark.offset_mm > 0 ? 1 : -1));
    return job.say(mark.centred ? "sheet.hand_marks.centred" : "sheet.hand_marks.offset",
                   {{"what", what},
                    {"length", job.length(std::abs(mark.offset_mm))},
                    {"beyond", job.say("sheet.hand_marks.beyond." + key)},
                    {"from", from}});
}

const ScenePiece* find(const Scene& scene, setup::PieceId id) {
    for (const ScenePiece& piece : scene.pieces)
        if (piece.piece->id == id) return &piece;
    return nullptr;
}

std::string blocks_text(const Job& job, const Scene& scene, const std::vector<setup::PlacementId>& ids) {
    std::string list;
    for (const setup::PlacementId id : ids)
        if (const setup::Placement* placement = scene.stage->find(id))
            list += (list.empty() ? "" : ", ") + std::to_string(placement->no);
    return job.say("sheet.hand_marks.blocks", {{"count", static_cast<std::int64_t>(ids.size())}, {"list", list}});
}

std::vector<std::string> sentences(const Job& job, const Scene& scene, const HandMarks& hand, const ScenePiece& piece) {
    std::vector<std::string> out;
    if (!hand.rests_on.empty())
        out.push_back(job.say("sheet.hand_marks.rests_on", {{"blocks", blocks_text(job, scene, hand.rests_on)}}));
    if (!hand.stands_against.empty())
        out.push_back(
            job.say("sheet.hand_marks.stands_against", {{"blocks", blocks_text(job, scene, hand.stands_against)}}));
    for (const auto& neighbour : hand.neighbours) {
        const ScenePiece* other = find(scene, neighbour.piece);
        if (!other) continue;
        if (neighbour.flat)
            out.push_back(job.say("sheet.hand_marks.on_side",
                                  {{"side", side_of(job, *other, neighbour.normal_T)}, {"piece", other->name}}));
        for (const Mark& mark : neighbour.marks) {
            if (mark.kind == Mark::Kind::around) {
                out.push_back(job.say("sheet.hand_marks.around",
                                      {{"piece", other->name},
                                       {"high", job.length(mark.high_mm)},
                                       {"high_way", job.say("sheet.hand_marks.way." + direction_key(mark.axis_T))},
                                       {"low", job.length(mark.low_mm)},
                                       {"low_way", job.say("sheet.hand_marks.way." + direction_key(-mark.axis_T))}}));
                continue;
            }
            const std::string edge =
                job.say("sheet.hand_marks.its", {{"side", side_of(job, piece, mark.axis_T * mark.side)}});
            out.push_back(mark_text(job, edge, mark, *other));
        }
        for (const HoleMark& hole : neighbour.holes)
            for (const Mark& mark : hole.marks)
                out.push_back(mark_text(
                    job, job.say("sheet.hand_marks.hole", {{"diameter", job.length(hole.diameter_mm)}}), mark, *other));
    }
    for (const Mark& mark : hand.on_table) {
        if (mark.kind == Mark::Kind::over_table) {
            out.push_back(job.say("sheet.hand_marks.over_table", {{"length", job.length(mark.offset_mm)}}));
            continue;
        }
        const bool column = std::abs(mark.axis_T.x()) > 0.5;
        std::string label = shop::hole_label(column ? shop::Hole{mark.index, 0} : shop::Hole{0, mark.index});
        // A label is letters, then figures.
        const std::size_t figures = label.find_first_of("0123456789");
        label = column ? label.substr(figures) : label.substr(0, figures);
        const std::string edge =
            job.say("sheet.hand_marks.its", {{"side", side_of(job, piece, mark.axis_T * mark.side)}});
        if (mark.offset_mm == 0)
            out.push_back(job.say(column ? "sheet.hand_marks.on_column" : "sheet.hand_marks.on_row",
                                  {{"what", edge}, {"line", label}}));
        else
            out.push_back(job.say(column ? "sheet.hand_marks.from_column" : "sheet.hand_marks.from_row",
                                  {{"what", edge},
                                   {"line", label},
                                   {"length", job.length(std::abs(mark.offset_mm))},
                                   {"beyond", job.say("sheet.hand_marks.beyond." +
                                                      direction_key(mark.axis_T * (mark.offset_mm > 0 ? 1 : -1)))}}));
    }
    if (hand.neighbours.empty() && hand.on_table.empty()) out.push_back(job.say("sheet.hand_marks.nothing_left"));
    return out;
}

/// Both pieces seen square on to where they meet, with the figures of the marks. Nothing where no mark lies in the
/// view.
base::Result<bool> sketch(const Job& job, const Scene& scene, const HandMarks& hand,
                          const HandMarks::Neighbour& neighbour, Page& page, const Rect& box) {
    const ScenePiece *piece = find(scene, hand.piece), *other = find(scene, neighbour.piece);
    if (!piece || !other || neighbour.marks.empty()) return false;
    // V's axes are those of the marks; looked at from above where the joint slants.
    const Vec3 z = neighbour.flat ? neighbour.normal_T : Vec3(Vec3::UnitZ());
    Vec3 one = neighbour.marks.front().axis_T;
    if (std::abs(one.dot(z)) > 0.01) return false;
    one = (one - one.dot(z) * z).normalized();
    const Vec3 two = z.cross(one).normalized();
    const auto height = [](const Vec3& d) { return std::abs(d.z()) * 2 + std::abs(d.y()); };
    Vec3 y = height(one) > height(two) ? one : two;
    if (y.z() < -1e-6 || (std::abs(y.z()) <= 1e-6 && y.y() < 0)) y = -y;
    const space::Pose X_TV = space::Pose::from_axes(Vec3::Zero(), z, y.cross(z));
    const space::Pose X_VT = X_TV.inverse();
    const auto flat = [&](const Vec3& p_T) {
        const Vec3 p = X_VT * p_T;
        return Vec2(p.x(), p.y());
    };
    const auto outline = [&](const ScenePiece& p) {
        std::vector<Vec2> points;
        for (const Vec3& v : p.piece->solid->mesh.points) points.push_back(flat(p.X_TP * v));
        return Rect::around(points);
    };
    std::vector<Vec2> patch;
    for (const Vec3& p : neighbour.patch_T) patch.push_back(flat(p));
    const Rect own = outline(*piece), host = outline(*other), meets = Rect::around(patch);

    struct Dimension {
        bool level;
        double from, to;
        double length;
    };
    std::vector<Dimension> dimensions;
    Rect window = meets.grown(40);
    window = {window.min.cwiseMax(own.min), window.max.cwiseMin(own.max)};
    window.add(meets);
    for (const Mark& mark : neighbour.marks) {
        const Vec2 d(mark.axis_T.dot(X_TV.turn(Vec3::UnitX())), mark.axis_T.dot(X_TV.turn(Vec3::UnitY())));
        const int axis = std::abs(d.x()) > std::abs(d.y()) ? 0 : 1;
        if (std::abs(d[axis]) < 0.99) continue;
        const double sign = d[axis] > 0 ? 1 : -1;
        const auto add = [&](double from, double to) {
            dimensions.push_back({axis == 0, from * sign, to * sign, std::abs(to - from)});
            for (const double at : {from * sign, to * sign}) {
                Vec2 p = meets.centre();
                p[axis] = at;
                window.add({p, p});
            }
        };
        if (mark.kind == Mark::Kind::around) {
            add(mark.other_T_mm, mark.at_T_mm);
            const auto low = extent_T(job.setup, *scene.stage, hand.piece, mark.axis_T);
            if (low) add(low->first + mark.low_mm, low->first);
        } else {
            add(mark.other_T_mm, mark.at_T_mm);
        }
    }
    if (dimensions.empty()) return false;
    window.add(meets.grown(0.12 * std::max(window.width(), window.height())));
    constexpr double below = 11, beside = 20, head = 5;
    const Vec2 room(box.width() - beside, box.height() - below - head);
    View view;
    view.scale = fitting_scale({window.width(), window.height()}, room - Vec2(8, 8), 1);
    view.world = window.centre();
    view.paper = box.min + Vec2(room.x() / 2, below + room.y() / 2);
    view.clip = view(window).grown(4);
    // What the held piece hides of its neighbour is what one measures from.
    const auto behind = view_lines({}, {*other}, X_TV);
    if (!behind) return behind.error();
    const auto lines = view_lines({}, {*other, *piece}, X_TV);
    if (!lines) return lines.error();
    View covered = view;
    covered.clip = {view(own).min.cwiseMax(view.clip.min), view(own).max.cwiseMin(view.clip.max)};
    for (const auto& line : behind->pieces) draw(page, covered, line, Pen::hidden);
    for (const bool of_piece : {false, true})
        for (const auto& line : lines->pieces)
            if ((line.tag == piece->piece->id.value) == of_piece)
                draw(page, view, line, of_piece ? Pen::outline : Pen::ghost);

    // Figures stand outside the picture; the short strokes are the ends of the dimension.
    const double foot = view.clip.min.y() - 4, right = view.clip.max.x() + 4;
    for (const Dimension& d : dimensions) {
        const auto on_paper = [&](double at) {
            Vec2 p = window.centre();
            p[d.level ? 0 : 1] = at;
            const Vec2 q = view(p);
            return d.level ? Vec2(q.x(), foot) : Vec2(right, q.y());
        };
        const Vec2 a = on_paper(d.from), b = on_paper(d.to);
        for (const Vec2& p : {a, b}) {
            const Vec2 start = d.level ? Vec2(p.x(), view.clip.min.y()) : Vec2(view.clip.max.x(), p.y());
            page.add(Line{{start, p + (d.level ? Vec2(0, -1.2) : Vec2(1.2, 0))}, Pen::thin, false, -1});
            page.add(Line{{p - Vec2(1, 1), p + Vec2(1, 1)}, Pen::outline, false, -1});
        }
        if ((a - b).norm() > 0) page.add(Line{{a, b}, Pen::thin, false, -1});
        const std::string said =
            d.length < base::limits::contact_mm ? job.say("sheet.hand_marks.level_short") : job.length(d.length);
        const Vec2 middle = (a + b) / 2;
        if (d.level)
            write(page, middle - Vec2(0, 2 + figure), said, figure, Align::middle, true);
        else
            write(page, middle + Vec2(2.5, -figure / 2), said, figure, Align::left, true);
    }

    // Names where each is seen alone.
    const auto named = [&](const ScenePiece& p, const Rect& extent, const Rect& avoid) {
        const Rect seen{view(extent).min.cwiseMax(view.clip.min), view(extent).max.cwiseMin(view.clip.max)};
        const Rect off = view(avoid);
        const double w = text_width_mm(p.name, figure, false);
        const Vec2 half = Vec2(w, figure) / 2 + Vec2(0.7, 0.7);
        Vec2 best = seen.centre();
        if (seen.width() < 2 * half.x() || seen.height() < 2 * half.y()) {
            // Beside it where it is too slender to be written on, on the side away from the neighbour's edge.
            const bool above = seen.max.y() < view.clip.min.y() + view.clip.height() / 2 || !host.contains(own);
            best.y() = above ? seen.max.y() + half.y() : seen.min.y() - half.y();
        } else {
            double most = -1e9;
            for (int i = 0; i <= 10; ++i)
                for (int k = 0; k <= 10; ++k) {
                    const Vec2 room_in = Vec2(seen.width(), seen.height()) - 2 * half;
                    const Vec2 c = seen.min + half + Vec2(room_in.x() * i / 10.0, room_in.y() * k / 10.0);
                    const Vec2 gap = (off.min - c).cwiseMax(c - off.max) - half;
                    const Vec2 aside = (c - seen.centre()).cwiseAbs();
                    // Off the other piece, and on the middle of a side: corners have holes.
                    const double score = std::min(gap.maxCoeff(), 2.0) - 0.1 * aside.minCoeff() - 0.01 * aside.sum();
                    if (score > most) {
                        most = score;
                        best = c;
                    }
                }
        }
        write(page, best - Vec2(0, figure / 2), p.name, figure, Align::middle, &p == piece);
    };
    named(*other, host, own);
    const Rect nowhere{own.max + Vec2(1e6, 1e6), own.max + Vec2(1e6, 1e6)};
    named(*piece, own, host.contains(own) ? nowhere : host);
    write(page, {box.min.x(), box.max.y() - 2.5},
          job.say("sheet.hand_marks.seen_from." + direction_key(z)) + " · " +
              job.say("sheet.scale", {{"scale", scale_text(view.scale)}}),
          2.5);
    return true;
}

}  // namespace

base::Result<void> by_hand(const Job& job, const Scene& scene, std::vector<Draft>& pages) {
    if (!scene.report) return {};
    const std::vector<HandMarks> all = hand_marks(job.setup, *scene.stage, *scene.report);
    if (all.empty()) return {};
    constexpr double least = 66, picture = 88;
    Draft draft;
    double y = 0;
    const auto open = [&] {
        draft = start_page(job, scene.stage, job.say("sheet.kind.by_hand"), false);
        draft.scale = job.say("sheet.scale_as_shown");
        y = draft.area.max.y();
        y = write_lines(draft.page, wrap(job.say("sheet.hand_marks.hint"), 2.5, false, draft.area.width() - 2),
                        {draft.area.min.x() + 1, y - 0.5}, 2.5) -
            1;
        draft.page.add(Line{{{draft.area.min.x(), y}, {draft.area.max.x(), y}}, Pen::outline, false, -1});
    };
    open();
    for (const HandMarks& hand : all) {
        const ScenePiece* piece = find(scene, hand.piece);
        if (!piece || !piece->piece->solid) continue;
        const double width = draft.area.width() - picture - 6;
        std::vector<std::string> lines;
        for (const std::string& sentence : sentences(job, scene, hand, *piece))
            for (const std::string& line : wrap("• " + sentence, text, false, width - 4))
                lines.push_back((line.starts_with("•") ? "" : "   ") + line);
        const double tall = std::max(least, static_cast<double>(lines.size()) * text * 1.55 + name_text * 1.55 + 6);
        if (y - tall < draft.area.min.y()) {
            pages.push_back(std::move(draft));
            open();
        }
        const double left = draft.area.min.x() + picture + 4;
        write(draft.page, {left, y - 2 - name_text}, piece->name, name_text, Align::left, true);
        write_lines(draft.page, lines, {left, y - 4 - name_text * 1.3}, text);
        const Rect box{{draft.area.min.x() + 1, y - tall + 2}, {draft.area.min.x() + picture, y - 2}};
        for (const auto& neighbour : hand.neighbours) {
            const auto drawn = sketch(job, scene, hand, neighbour, draft.page, box);
            if (!drawn) return drawn.error();
            if (*drawn) break;
        }
        y -= tall;
        draft.page.add(Line{{{draft.area.min.x(), y}, {draft.area.max.x(), y}}, Pen::thin, false, -1});
    }
    pages.push_back(std::move(draft));
    return {};
}

}  // namespace setwright::sheet
