#include "core/check/locating.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "core/base/limits.h"

namespace setwright::check {

namespace limits = base::limits;
using base::Text;
using space::Vec3;

Location locate(const std::vector<Vec3>& points, const std::vector<Vec3>& normals, std::optional<Vec3> about,
                std::optional<double> scale_mm) {
    SETWRIGHT_ASSERT(points.size() == normals.size(), "each contact has a point and a normal");
    const auto count = static_cast<Eigen::Index>(points.size());
    Location out;
    if (about) {
        out.about_T = *about;
    } else {
        for (const Vec3& p : points) out.about_T += p / static_cast<double>(points.size());
    }
    double square = 0;
    for (const Vec3& p : points) square += (p - out.about_T).squaredNorm();
    // Contacts in one spot locate no turn at any scale.
    out.scale_mm = scale_mm.value_or(square > 0 ? std::sqrt(square / static_cast<double>(points.size())) : 1.0);

    // At least six rows, so that there are always six singular values.
    Eigen::MatrixXd scaled = Eigen::MatrixXd::Zero(std::max<Eigen::Index>(count, 6), 6);
    for (Eigen::Index i = 0; i < count; ++i) {
        const Vec3& n = normals[static_cast<std::size_t>(i)];
        const Vec3 r = points[static_cast<std::size_t>(i)] - out.about_T;
        scaled.row(i).head<3>() = n;
        scaled.row(i).tail<3>() = r.cross(n) / out.scale_mm;
    }
    const Eigen::JacobiSVD<Eigen::MatrixXd> svd(scaled, Eigen::ComputeFullV);
    for (Eigen::Index i = 0; i < 6; ++i) out.singular.push_back(svd.singularValues()[i]);
    for (const double s : out.singular) out.rank += s > 0 && s > limits::locating_ratio * out.singular.front();
    out.free = svd.matrixV().rightCols(6 - out.rank);
    out.free.bottomRows<3>() /= out.scale_mm;
    return out;
}

namespace {

/// Directions as numbers a person can set off on a square: of 100.
std::map<std::string, base::TextArgument> direction_arguments(const Vec3& direction) {
    return {{"right", std::round(direction.x() * 100)},
            {"away", std::round(direction.y() * 100)},
            {"up", std::round(direction.z() * 100)}};
}

/// The same line whichever way a solver gave it.
Vec3 facing_forward(const Vec3& direction) {
    Eigen::Index largest = 0;
    direction.cwiseAbs().maxCoeff(&largest);
    return direction[largest] < 0 ? Vec3(-direction) : direction;
}

/// Orthonormal basis of what `space` has beyond `known` (both orthonormal columns).
std::vector<Vec3> beyond(const Eigen::Matrix3Xd& space, const std::vector<Vec3>& known, std::size_t count) {
    Eigen::Matrix3Xd rest = space;
    for (const Vec3& k : known) rest -= k * (k.transpose() * rest);
    std::vector<Vec3> out;
    if (count == 0) return out;
    const Eigen::JacobiSVD<Eigen::Matrix3Xd> svd(rest, Eigen::ComputeFullU);
    for (std::size_t i = 0; i < count; ++i)
        out.push_back(facing_forward(svd.matrixU().col(static_cast<Eigen::Index>(i))));
    return out;
}

bool spans(const Eigen::Matrix3Xd& space, const Vec3& direction) {
    return (direction - space * (space.transpose() * direction)).norm() < limits::locating_ratio;
}

Text slide(const Vec3& direction) {
    const char* ids[] = {"motion.slide_x", "motion.slide_y", "motion.slide_z"};
    for (int axis = 0; axis < 3; ++axis) {
        if (direction == Vec3::Unit(axis)) return {ids[axis], {}};
    }
    return {"motion.slide", direction_arguments(direction)};
}

/// `at` is left out where the piece also slides across the axis: any parallel line is as good.
Text turn(const Vec3& axis, const std::optional<Vec3>& at, const shop::Table* table) {
    const auto length = [&](int k) { return base::LengthArg{(*at)[k]}; };
    if (axis == Vec3::UnitZ()) {
        if (!at) return {"motion.turn_z", {}};
        if (table != nullptr) {
            const shop::Hole hole{static_cast<int>(std::lround(at->x() / table->pitch_x_mm)),
                                  static_cast<int>(std::lround(at->y() / table->pitch_y_mm))};
            if (table->has(hole)) return {"motion.turn_z_near", {{"hole", shop::hole_label(hole)}}};
        }
        return {"motion.turn_z_at", {{"x", length(0)}, {"y", length(1)}}};
    }
    if (axis == Vec3::UnitX()) {
        if (!at) return {"motion.turn_x", {}};
        return {"motion.turn_x_at", {{"y", length(1)}, {"z", length(2)}}};
    }
    if (axis == Vec3::UnitY()) {
        if (!at) return {"motion.turn_y", {}};
        return {"motion.turn_y_at", {{"x", length(0)}, {"z", length(2)}}};
    }
    auto arguments = direction_arguments(axis);
    if (!at) return {"motion.turn", arguments};
    arguments.insert({{"x", length(0)}, {"y", length(1)}, {"z", length(2)}});
    return {"motion.turn_at", arguments};
}

/// The point nearest to `middle` about which the body can turn, where it can about `at`: along the axis, and across it
/// where a slide makes up for it.
Vec3 nearest_centre(const Vec3& at, const Vec3& axis, const Eigen::Matrix3Xd& slides, const Vec3& middle) {
    Vec3 near = at + axis * axis.dot(middle - at);
    if (slides.cols() == 0) return near;
    const Eigen::JacobiSVD<Eigen::MatrixXd> svd(axis.transpose() * slides, Eigen::ComputeFullV);
    const bool along = svd.singularValues()[0] > limits::locating_ratio;
    const Eigen::Matrix3Xd across = slides * svd.matrixV().rightCols(slides.cols() - (along ? 1 : 0));
    for (Eigen::Index i = 0; i < across.cols(); ++i) {
        const Vec3 aside = Vec3(across.col(i)).cross(axis);
        near += aside * aside.dot(middle - at);
    }
    return near;
}

/// The free motions of a body with this middle, in the order in which they are said.
std::vector<FreeMotion> motions_of(const Location& location, const shop::Table* table, const Vec3& middle) {
    std::vector<FreeMotion> out;
    if (location.free.cols() == 0) return out;
    const Eigen::Matrix3Xd moves = location.free.topRows<3>();
    const Eigen::Matrix3Xd turns = location.free.bottomRows<3>() * location.scale_mm;
    const Eigen::JacobiSVD<Eigen::MatrixXd> svd(turns, Eigen::ComputeFullU | Eigen::ComputeFullV);
    Eigen::Index turn_count = 0;
    for (Eigen::Index i = 0; i < svd.singularValues().size(); ++i) {
        turn_count += svd.singularValues()[i] > limits::locating_ratio;
    }

    // Pure slides: combinations that do not turn. Along the table's own directions where they are among them.
    const Eigen::Matrix3Xd slides = moves * svd.matrixV().rightCols(location.free.cols() - turn_count);
    std::vector<Vec3> named;
    for (int axis = 0; axis < 3; ++axis) {
        if (slides.cols() > 0 && spans(slides, Vec3::Unit(axis))) named.push_back(Vec3::Unit(axis));
    }
    for (const Vec3& v : beyond(slides, named, static_cast<std::size_t>(slides.cols()) - named.size()))
        named.push_back(v);
    for (const Vec3& v : named) out.push_back({slide(v), middle, v, false});

    const Eigen::Matrix3Xd axes = svd.matrixU().leftCols(turn_count);
    named.clear();
    for (const int axis : {2, 0, 1}) {
        if (turn_count > 0 && spans(axes, Vec3::Unit(axis))) named.push_back(Vec3::Unit(axis));
    }
    for (const Vec3& v : beyond(axes, named, static_cast<std::size_t>(turn_count) - named.size())) named.push_back(v);
    for (const Vec3& axis : named) {
        Eigen::VectorXd along = svd.matrixU().transpose() * axis;
        Eigen::VectorXd mix = Eigen::VectorXd::Zero(location.free.cols());
        for (Eigen::Index i = 0; i < turn_count; ++i)
            mix += svd.matrixV().col(i) * (along[i] / svd.singularValues()[i]);
        // Movement of the reference point in a turn by one radian about `axis`, less what the slides can undo.
        Vec3 move = moves * mix * location.scale_mm;
        move -= slides * (slides.transpose() * move);
        const Vec3 at = location.about_T + axis.cross(move);
        const Vec3 near = nearest_centre(at, axis, slides, middle);
        const double lead = move.dot(axis);
        if (std::abs(lead) > limits::locating_ratio * location.scale_mm) {
            auto arguments = direction_arguments(axis);
            arguments.insert(
                {{"x", base::LengthArg{at.x()}}, {"y", base::LengthArg{at.y()}}, {"z", base::LengthArg{at.z()}}});
            arguments.insert({"lead", base::LengthArg{2 * std::numbers::pi * lead}});
            out.push_back({{"motion.twist", std::move(arguments)}, near, axis, true});
            continue;
        }
        const double sideways = (slides - axis * (axis.transpose() * slides)).norm();
        out.push_back(
            {turn(axis, sideways > limits::locating_ratio ? std::optional<Vec3>{} : at, table), near, axis, true});
    }
    return out;
}

}  // namespace

std::vector<Text> free_motions(const Location& location, const shop::Table* table) {
    std::vector<Text> out;
    for (FreeMotion& motion : motions_of(location, table, location.about_T)) out.push_back(std::move(motion.text));
    return out;
}

namespace {

bool holds_by_itself(const setup::Setup& setup, const setup::Placement& placement) {
    const shop::Component* component = setup.find_component(placement.component);
    if (component == nullptr) return false;
    const auto host = placement.seat.host.kind;
    if (host == setup::Host::Kind::piece || host == setup::Host::Kind::pieces) return false;
    switch (component->family) {
        case shop::Family::stop:
        case shop::Family::index_stop:
        case shop::Family::slotted_stop:
        case shop::Family::round_stop:
        case shop::Family::rest:
        case shop::Family::packer:
        case shop::Family::v_block:
        case shop::Family::angle_plate:
        case shop::Family::long_bar:
        case shop::Family::wedge:
        case shop::Family::pin_carrier:
        case shop::Family::pin:
        case shop::Family::comb:
        case shop::Family::spacer:
            return true;
        case shop::Family::pull_back_stop:
        case shop::Family::magnet:
        case shop::Family::pusher:
        case shop::Family::down_clamp:
        case shop::Family::side_clamp:
        case shop::Family::swing_clamp:
        case shop::Family::bar_clamp:
        case shop::Family::c_clamp:
        case shop::Family::clamping_bolt:
        case shop::Family::dowel:
            return false;
    }
    return false;
}

/// Who pushes: a placement or an earlier piece, in a fixed order (placements first).
struct Source {
    std::optional<PieceId> piece;
    std::optional<PlacementId> placement;
    friend auto operator<=>(const Source&, const Source&) = default;
};

class StageLocating {
  public:
    StageLocating(const setup::Setup& setup, const setup::Stage& stage, const std::vector<Contact>& contacts)
        : setup_(setup), stage_(stage), contacts_(contacts), bodies_(laid_bodies(setup, stage)) {
        for (std::size_t i = 0; i < bodies_.size(); ++i) {
            for (const PieceId id : bodies_[i].pieces) body_of_[id] = i;
        }
        by_body_.resize(bodies_.size());
        for (const Contact& contact : contacts_) {
            const auto at = body_of_.find(contact.piece);
            if (contact.locates && at != body_of_.end()) by_body_[at->second].push_back(&contact);
        }
        for (const setup::Placement& placement : stage.placements) {
            if (holds_by_itself(setup, placement)) rigid_.insert(placement.id);
        }
    }

    std::vector<Finding> run(const std::vector<setup::Posed>& posed) {
        for (std::size_t i = 0; i < bodies_.size(); ++i) check_body(i);
        check_faces(posed);
        check_clamps(posed);
        return std::move(findings_);
    }

    std::vector<FreeMotion> still_moves(PieceId piece) {
        const auto at = body_of_.find(piece);
        if (at == body_of_.end()) return {};
        // What holds it must itself be held.
        for (std::size_t i = 0; i < at->second; ++i) check_body(i);
        Location location;
        if (bodies_[at->second].held_by == setup::HeldBy::by_hand) {
            if (is_carried(at->second)) return {};
            location = locate({}, {});
        } else {
            location = counted(at->second).location;
        }
        const weldment::Piece& shape = *setup_.find_piece(piece);
        const Vec3 middle = shape.solid->box.moved(stage_.lay.X_TM * shape.X_MP).centre();
        return motions_of(location, &setup_.table, middle);
    }

  private:
    Finding& add(const char* rule, Verdict verdict, Text text) {
        return add_finding(findings_, stage_.id, rule, verdict, std::move(text));
    }

    std::vector<Text> names(const LaidBody& body) const {
        std::vector<Text> out;
        for (const PieceId id : body.pieces) out.push_back(name(id));
        return out;
    }
    Text name(PieceId id) const { return {"name.piece", {{"name", setup_.piece_name(id)}}}; }
    Text name(PlacementId id) const {
        const setup::Placement* placement = stage_.find(id);
        return {"name.block", {{"no", std::int64_t{placement == nullptr ? 0 : placement->no}}}};
    }
    Text name(const Source& source) const { return source.placement ? name(*source.placement) : name(*source.piece); }

    static Source source(const Contact& contact) { return {contact.other, contact.placement}; }

    /// A placement that cannot give way, or an earlier piece with such a placement right behind it.
    bool is_rigid(const Contact& contact) const {
        if (contact.placement) return rigid_.contains(*contact.placement);
        const auto& behind = by_body_[body_of_.at(*contact.other)];
        return std::any_of(behind.begin(), behind.end(), [&](const Contact* c) {
            return c->placement && rigid_.contains(*c->placement) &&
                   c->normal_T.dot(contact.normal_T) > limits::same_way_cosine;
        });
    }

    /// What holds a body: contacts with what is held itself.
    struct Counted {
        std::vector<Vec3> points, normals;
        std::set<Source> sources;
        /// Pieces that it touches and that are not held, or only by hand.
        std::vector<Text> loose, by_hand;
        Location location;
    };
    Counted counted(std::size_t index) const {
        Counted out;
        auto& [points, normals, sources, loose, by_hand, location] = out;
        for (const Contact* contact : by_body_[index]) {
            if (contact->other && !held_.contains(body_of_.at(*contact->other))) {
                add_once(loose, name(*contact->other));
                continue;
            }
            if (contact->other && bodies_[body_of_.at(*contact->other)].held_by == setup::HeldBy::by_hand)
                add_once(by_hand, name(*contact->other));
            for (const Vec3& p : row_points(*contact)) {
                points.push_back(p);
                normals.push_back(contact->normal_T);
            }
            sources.insert(source(*contact));
        }
        location = locate(points, normals);
        return out;
    }

    void check_body(std::size_t index) {
        const LaidBody& body = bodies_[index];
        const auto& found = by_body_[index];
        const std::vector<Subject> subjects(body.pieces.begin(), body.pieces.end());
        if (body.held_by == setup::HeldBy::by_hand) {
            check_by_hand(index, subjects);
            return;
        }
        const auto [points, normals, sources, loose, by_hand, location] = counted(index);
        if (location.rank == 6) held_.insert(index);
        std::vector<Text> by;
        for (const Source& s : sources) by.push_back(name(s));

        Finding answer;
        if (sources.empty()) {
            answer = add("locating.free", Verdict::fail, {"locating.nothing_holds", {{"piece", names(body)}}});
        } else if (location.rank < 6) {
            answer =
                add("locating.free", Verdict::fail,
                    {"locating.free", {{"piece", names(body)}, {"motions", free_motions(location, &setup_.table)}}});
        } else {
            answer = add("locating.piece", Verdict::pass, {"locating.piece", {{"piece", names(body)}, {"by", by}}});
        }
        answer.subjects = subjects;
        answer.measured = location.rank;
        answer.limit = 6;
        if (!points.empty()) answer.at_T = location.about_T;
        if (location.rank < 6 && !loose.empty())
            answer.cure = {"locating.hold_first", {{"by", loose}, {"piece", names(body)}}};
        findings_.back() = std::move(answer);
        if (location.rank == 6 && !by_hand.empty())
            add("locating.on_by_hand", Verdict::warn,
                {"locating.on_by_hand", {{"piece", names(body)}, {"by", by_hand}}})
                .subjects = subjects;

        const bool on_a_piece =
            std::any_of(sources.begin(), sources.end(), [](const Source& s) { return s.piece.has_value(); });
        if (body.held_by == setup::HeldBy::nested && !on_a_piece) {
            add("locating.nested", Verdict::fail, {"locating.nested_alone", {{"piece", names(body)}}}).subjects =
                subjects;
        }
        check_held_twice(body, found);
        check_pins(body, found);
        check_one_flat(body, found);
    }

    static void add_once(std::vector<Text>& list, Text text) {
        if (std::find(list.begin(), list.end(), text) == list.end()) list.push_back(std::move(text));
    }

    bool is_carried(std::size_t index) const {
        const auto touches = [&](const std::optional<PieceId>& id) { return id && body_of_.at(*id) == index; };
        return std::any_of(contacts_.begin(), contacts_.end(),
                           [&](const Contact& contact) { return touches(contact.piece) || touches(contact.other); });
    }

    /// Marks say where it goes; something must still carry it.
    void check_by_hand(std::size_t index, const std::vector<Subject>& subjects) {
        const std::vector<Text> piece = names(bodies_[index]);
        if (is_carried(index)) {
            held_.insert(index);
            add("locating.by_hand", Verdict::pass, {"locating.by_hand", {{"piece", piece}}}).subjects = subjects;
        } else {
            add("locating.by_hand", Verdict::fail, {"locating.by_hand_in_the_air", {{"piece", piece}}}).subjects =
                subjects;
        }
    }

    /// A clamp, pusher or magnet is there to press: its pad must meet a piece within its stroke.
    void check_clamps(const std::vector<setup::Posed>& posed) {
        std::map<PlacementId, double> strokes;
        double longest_mm = 0;
        for (const setup::Posed& placement : posed) {
            const shop::Component* component = setup_.find_component(stage_.find(placement.id)->component);
            const bool presses =
                !placement.faces.empty() && std::none_of(placement.faces.begin(), placement.faces.end(),
                                                         [](const setup::PosedFace& face) { return face.locates; });
            if (!presses || component == nullptr || !component->clamp) continue;
            strokes[placement.id] = component->clamp->stroke_mm;
            longest_mm = std::max(longest_mm, component->clamp->stroke_mm);
        }
        if (strokes.empty()) return;
        std::map<PlacementId, std::vector<Text>> pressed;
        for (const Contact& near : contacts_within(setup_, stage_, posed, longest_mm + limits::contact_mm)) {
            if (!near.placement || near.locates) continue;
            const auto stroke = strokes.find(*near.placement);
            if (stroke == strokes.end() || near.gap_mm < -limits::contact_mm ||
                near.gap_mm > stroke->second + limits::contact_mm)
                continue;
            add_once(pressed[*near.placement], name(near.piece));
        }
        std::vector<Text> good;
        for (const auto& [id, stroke_mm] : strokes) {
            if (pressed.contains(id)) {
                good.push_back(name(id));
                continue;
            }
            Finding& finding = add("holding.clamp", Verdict::fail,
                                   {"holding.presses_nothing",
                                    {{"block", std::vector{name(id)}}, {"stroke", base::LengthArg{stroke_mm}}}});
            finding.subjects = {id};
            finding.limit = stroke_mm;
            finding.unit = "mm";
        }
        if (good.size() == strokes.size()) add("holding.clamp", Verdict::pass, {"holding.presses", {{"blocks", good}}});
    }

    /// One direction from which rigid sources push.
    struct Side {
        Vec3 normal;
        std::set<Source> sources;
    };

    void check_held_twice(const LaidBody& body, const std::vector<const Contact*>& found) {
        std::vector<Side> sides;
        std::map<Source, Vec3> at;
        for (const Contact* contact : found) {
            if (!is_rigid(*contact) || contact->both_ways) continue;
            at.try_emplace(source(*contact), contact->point_T);
            const auto side = std::find_if(sides.begin(), sides.end(), [&](const Side& s) {
                return s.normal.dot(contact->normal_T) > limits::same_way_cosine;
            });
            if (side == sides.end()) {
                sides.push_back({contact->normal_T, {source(*contact)}});
            } else {
                side->sources.insert(source(*contact));
            }
        }
        // Two, three or four directions that cancel leave no way to put the piece down: a little over size, it stands
        // off.
        std::set<std::set<std::size_t>> reported;
        const std::size_t n = sides.size();
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = i + 1; j < n; ++j) report_if_cancelling(body, sides, {i, j}, at, reported);
        }
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = i + 1; j < n; ++j) {
                for (std::size_t k = j + 1; k < n; ++k) report_if_cancelling(body, sides, {i, j, k}, at, reported);
            }
        }
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = i + 1; j < n; ++j) {
                for (std::size_t k = j + 1; k < n; ++k) {
                    for (std::size_t l = k + 1; l < n; ++l)
                        report_if_cancelling(body, sides, {i, j, k, l}, at, reported);
                }
            }
        }
    }

    /// Pins hold to both sides: held twice is what pins hold that other pins, or a stop, hold already.
    void check_pins(const LaidBody& body, const std::vector<const Contact*>& found) {
        std::vector<const Contact*> pins, stops;
        Eigen::MatrixXd supports(6, 0);
        const auto row = [&](const Vec3& at, const Vec3& normal) {
            Eigen::Matrix<double, 6, 1> out;
            out << normal, (at - found.front()->point_T).cross(normal) / limits::moment_arm_mm;
            return out;
        };
        for (const Contact* contact : found)
            if (contact->both_ways && is_rigid(*contact)) pins.push_back(contact);
        if (pins.empty()) return;
        for (const Contact* contact : found) {
            if (contact->both_ways || !is_rigid(*contact)) continue;
            if (std::any_of(pins.begin(), pins.end(), [&](const Contact* pin) {
                    return std::abs(pin->normal_T.dot(contact->normal_T)) > 1 - limits::upward_cosine;
                })) {
                stops.push_back(contact);
                continue;
            }
            for (const Vec3& at : row_points(*contact)) {
                supports.conservativeResize(6, supports.cols() + 1);
                supports.rightCols<1>() = row(at, contact->normal_T);
            }
        }
        // Rests keep the piece from tilting, so that pins and stops at different heights hold alike.
        Eigen::MatrixXd held(6, 0);
        const auto rest_of = [](const Eigen::MatrixXd& known, Eigen::VectorXd wanted) {
            if (known.cols() > 0) wanted -= known * known.completeOrthogonalDecomposition().solve(wanted).eval();
            return wanted;
        };
        std::set<Source> by;
        std::vector<const Contact*> all = pins;
        all.insert(all.end(), stops.begin(), stops.end());
        std::vector<const Contact*> holding;
        for (const Contact* contact : all) {
            const Eigen::VectorXd wanted = row(contact->point_T, contact->normal_T);
            Eigen::MatrixXd known(6, supports.cols() + held.cols());
            known << supports, held;
            if (rest_of(known, wanted).norm() > limits::locating_ratio) {
                // Two stops in one direction are judged as such: only pins count as holding a stop's direction.
                if (contact->both_ways) {
                    held.conservativeResize(6, held.cols() + 1);
                    held.rightCols<1>() = wanted;
                    holding.push_back(contact);
                }
                continue;
            }
            by.insert(source(*contact));
            const Eigen::VectorXd share = known.completeOrthogonalDecomposition().solve(wanted);
            for (std::size_t i = 0; i < holding.size(); ++i)
                if (std::abs(share[supports.cols() + static_cast<Eigen::Index>(i)]) > limits::locating_ratio)
                    by.insert(source(*holding[i]));
        }
        if (by.size() < 2) return;
        report_held_twice(body, by, pins.front()->point_T);
    }

    static bool cancel(const std::vector<Side>& sides, const std::vector<std::size_t>& chosen) {
        Eigen::Matrix3Xd normals(3, static_cast<Eigen::Index>(chosen.size()));
        for (std::size_t i = 0; i < chosen.size(); ++i)
            normals.col(static_cast<Eigen::Index>(i)) = sides[chosen[i]].normal;
        const Eigen::JacobiSVD<Eigen::Matrix3Xd> svd(normals, Eigen::ComputeFullV);
        const Eigen::VectorXd mix = svd.matrixV().rightCols(1);
        // sqrt(2 - 2 cosine): how far two opposed normals may be from cancelling.
        if ((normals * mix).norm() > std::sqrt(2 - 2 * limits::same_way_cosine)) return false;
        return (mix.array() > limits::cancelling_share).all() || (mix.array() < -limits::cancelling_share).all();
    }

    void report_if_cancelling(const LaidBody& body, const std::vector<Side>& sides,
                              const std::vector<std::size_t>& chosen, const std::map<Source, Vec3>& at,
                              std::set<std::set<std::size_t>>& reported) {
        const std::set<std::size_t> these(chosen.begin(), chosen.end());
        for (const auto& other : reported) {
            if (std::includes(these.begin(), these.end(), other.begin(), other.end())) return;
        }
        if (!cancel(sides, chosen)) return;
        std::set<Source> sources;
        for (const std::size_t i : chosen) sources.insert(sides[i].sources.begin(), sides[i].sources.end());
        // Pieces on every side: one of them can still close on this one.
        if (std::none_of(sources.begin(), sources.end(), [](const Source& s) { return s.placement.has_value(); }))
            return;
        reported.insert(these);
        report_held_twice(body, sources, at.at(*sources.begin()));
    }

    void report_held_twice(const LaidBody& body, const std::set<Source>& sources, const Vec3& at_T) {
        std::vector<Text> by;
        std::vector<Subject> subjects(body.pieces.begin(), body.pieces.end());
        for (const Source& s : sources) {
            by.push_back(name(s));
            if (s.placement) {
                subjects.emplace_back(*s.placement);
            } else {
                subjects.emplace_back(*s.piece);
            }
        }
        Finding& finding =
            add("locating.held_twice", Verdict::fail, {"locating.held_twice", {{"piece", names(body)}, {"by", by}}});
        finding.subjects = std::move(subjects);
        finding.measured = static_cast<double>(sources.size());
        finding.at_T = at_T;
        finding.cure = {"locating.held_twice_cure", {{"by", by}}};
    }

    /// More sources in one plane than a straight face can be sure to meet: two stops, or three rests.
    void check_one_flat(const LaidBody& body, const std::vector<const Contact*>& found) {
        struct Plane {
            Vec3 normal;
            double offset_mm;
            std::set<PlacementId> by;
        };
        std::vector<Plane> planes;
        for (const Contact* contact : found) {
            if (!contact->placement || !rigid_.contains(*contact->placement)) continue;
            const double offset = contact->normal_T.dot(contact->point_T);
            const auto plane = std::find_if(planes.begin(), planes.end(), [&](const Plane& p) {
                return p.normal.dot(contact->normal_T) > limits::same_way_cosine &&
                       std::abs(p.offset_mm - offset) <= limits::contact_mm;
            });
            if (plane == planes.end()) {
                planes.push_back({contact->normal_T, offset, {*contact->placement}});
            } else {
                plane->by.insert(*contact->placement);
            }
        }
        for (const Plane& plane : planes) {
            const bool rests = plane.normal.z() > limits::upward_cosine;
            if (plane.by.size() <= (rests ? 3u : 2u)) continue;
            std::vector<Text> by;
            std::vector<Subject> subjects(body.pieces.begin(), body.pieces.end());
            for (const PlacementId id : plane.by) {
                by.push_back(name(id));
                subjects.emplace_back(id);
            }
            Finding& finding = rests ? add("locating.supports", Verdict::pass,
                                           {"locating.supports", {{"piece", names(body)}, {"by", by}}})
                                     : add("locating.one_flat", Verdict::warn,
                                           {"locating.one_flat", {{"piece", names(body)}, {"by", by}}});
            finding.subjects = std::move(subjects);
            finding.measured = static_cast<double>(plane.by.size());
            finding.limit = rests ? 3 : 2;
        }
    }

    void check_faces(const std::vector<setup::Posed>& posed) {
        std::set<PlacementId> touching, hosts;
        for (const Contact& contact : contacts_) {
            if (contact.placement && contact.locates) touching.insert(*contact.placement);
        }
        for (const setup::Placement& placement : stage_.placements) {
            if (placement.seat.host.kind == setup::Host::Kind::placement) hosts.insert(placement.seat.host.placement);
        }
        std::set<std::pair<PlacementId, std::string>> meeting;
        for (const Contact& contact : contacts_)
            if (contact.placement) meeting.insert({*contact.placement, contact.locating_face});
        std::map<PlacementId, Contact> missed, off;
        for (const Contact& near : contacts_within(setup_, stage_, posed, limits::near_miss_mm)) {
            if (!near.placement || !near.locates || meeting.contains({*near.placement, near.locating_face})) continue;
            auto& nearest = touching.contains(*near.placement) ? off : missed;
            const auto [it, first] = nearest.try_emplace(*near.placement, near);
            if (!first && std::abs(near.gap_mm) < std::abs(it->second.gap_mm)) it->second = near;
        }
        for (const auto& [id, contact] : off) {
            Finding& finding = add("locating.face_off", Verdict::warn,
                                   {"locating.face_off",
                                    {{"block", std::vector{name(id)}},
                                     {"piece", std::vector{name(contact.piece)}},
                                     {"gap", base::LengthArg{std::abs(contact.gap_mm)}}}});
            finding.subjects = {id, contact.piece};
            finding.measured = std::abs(contact.gap_mm);
            finding.limit = limits::contact_mm;
            finding.unit = "mm";
            finding.at_T = contact.point_T;
        }
        for (const setup::Posed& placement : posed) {
            const auto face = std::find_if(placement.faces.begin(), placement.faces.end(),
                                           [](const setup::PosedFace& f) { return f.locates; });
            if (face == placement.faces.end() || touching.contains(placement.id) || hosts.contains(placement.id))
                continue;
            const auto near = missed.find(placement.id);
            if (near == missed.end()) {
                Finding& finding = add("locating.touches_nothing", Verdict::fail,
                                       {"locating.touches_nothing", {{"block", std::vector{name(placement.id)}}}});
                finding.subjects = {placement.id};
                finding.at_T = face->point_T;
                continue;
            }
            const Contact& contact = near->second;
            const bool open = contact.gap_mm > 0;
            const char* sentence = contact.both_ways ? (open ? "locating.pin_loose" : "locating.pin_jams")
                                                     : (open ? "locating.misses" : "locating.stands_into");
            Finding& finding = add("locating.touches_nothing", Verdict::fail,
                                   {sentence,
                                    {{"block", std::vector{name(placement.id)}},
                                     {"piece", std::vector{name(contact.piece)}},
                                     {"gap", base::LengthArg{std::abs(contact.gap_mm)}}}});
            finding.subjects = {placement.id, contact.piece};
            finding.measured = std::abs(contact.gap_mm);
            finding.limit = limits::contact_mm;
            finding.unit = "mm";
            finding.at_T = contact.point_T;
        }
    }

    const setup::Setup& setup_;
    const setup::Stage& stage_;
    const std::vector<Contact>& contacts_;
    std::vector<LaidBody> bodies_;
    std::map<PieceId, std::size_t> body_of_;
    /// Locating contacts of each body.
    std::vector<std::vector<const Contact*>> by_body_;
    std::set<PlacementId> rigid_;
    /// Bodies that can move no way, or are set by hand on something: only these locate later ones.
    std::set<std::size_t> held_;
    std::vector<Finding> findings_;
};

}  // namespace

std::vector<Finding> check_locating(const setup::Setup& setup, const setup::Stage& stage,
                                    const std::vector<setup::Posed>& posed, const std::vector<Contact>& contacts) {
    return StageLocating(setup, stage, contacts).run(posed);
}

std::vector<FreeMotion> still_moves(const setup::Setup& setup, const setup::Stage& stage,
                                    const std::vector<setup::Posed>&, const std::vector<Contact>& contacts,
                                    PieceId piece) {
    return StageLocating(setup, stage, contacts).still_moves(piece);
}

}  // namespace setwright::check
