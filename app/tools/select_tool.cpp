#include "app/tools/select_tool.h"

#include <QLineF>

#include "core/setup/edit.h"

namespace setwright::app {

namespace {

/// A press that wanders less is a click.
constexpr double click_pixels = 4;
/// Taken holes that one press of an arrow steps over.
constexpr int holes_stepped_over = 12;

bool holds(const Selection& selection, const viewer::ItemId& item) {
    if (const auto* piece = std::get_if<PieceId>(&item)) return selection.pieces.contains(*piece);
    return selection.placements.contains(std::get<PlacementId>(item));
}

Selection of(const viewer::ItemId& item) {
    Selection selection;
    if (const auto* piece = std::get_if<PieceId>(&item))
        selection.pieces.insert(*piece);
    else
        selection.placements.insert(std::get<PlacementId>(item));
    return selection;
}

Selection toggled(Selection selection, const viewer::ItemId& item) {
    selection.seam.reset();
    if (const auto* piece = std::get_if<PieceId>(&item)) {
        if (selection.pieces.erase(*piece) == 0) selection.pieces.insert(*piece);
    } else if (const PlacementId id = std::get<PlacementId>(item); selection.placements.erase(id) == 0) {
        selection.placements.insert(id);
    }
    return selection;
}

}  // namespace

QString SelectTool::hint() const {
    if (drag_) return desk().words("tool.hint_drag");
    if (only_block()) return desk().words("tool.hint_block");
    return desk().words("tool.hint_select");
}

std::optional<PlacementId> SelectTool::only_block() const {
    const Selection& selection = desk().session.selection();
    if (!desk().session.has_job() || selection.placements.size() != 1 || !selection.pieces.empty() || selection.seam)
        return {};
    const PlacementId block = *selection.placements.begin();
    return desk().session.in_stage().find(block) ? std::optional(block) : std::nullopt;
}

void SelectTool::press(const Pointer& pointer) {
    Session& session = desk().session;
    if (!session.has_job()) return;
    pressed_ = pointer;
    if (pointer.picked.kind != viewer::Picked::Kind::item) {
        if (!pointer.modifiers.testFlag(Qt::ShiftModifier)) session.select({});
    } else if (pointer.modifiers.testFlag(Qt::ShiftModifier)) {
        session.select(toggled(session.selection(), pointer.picked.item));
    } else if (!holds(session.selection(), pointer.picked.item)) {
        session.select(of(pointer.picked.item));
    }
    Q_EMIT hint_changed();
}

void SelectTool::move(const Pointer& pointer) {
    if (!desk().session.has_job()) return;
    if (drag_) {
        if (drag_->follow(pointer)) Q_EMIT hint_changed();
        Q_EMIT overlay_changed();
        return;
    }
    const PlacementId* taken = pressed_ ? pressed_->picked.placement() : nullptr;
    if (taken && !pressed_->modifiers.testFlag(Qt::ShiftModifier) &&
        QLineF(pressed_->at, pointer.at).length() >= click_pixels) {
        hovered_.reset();
        drag_ = std::make_unique<SeatDrag>(desk(), *taken, *pressed_);
        drag_->follow(pointer);
        Q_EMIT hint_changed();
        Q_EMIT overlay_changed();
        return;
    }
    std::optional<viewer::ItemId> under;
    if (pointer.picked.kind == viewer::Picked::Kind::item) under = pointer.picked.item;
    if (under == hovered_) return;
    hovered_ = under;
    Q_EMIT overlay_changed();
}

void SelectTool::release(const Pointer& pointer) {
    if (!pressed_) return;
    const Pointer from = *std::exchange(pressed_, {});
    Session& session = desk().session;
    if (!drag_) {
        // A click on one of several that are selected leaves this one.
        if (from.picked.kind == viewer::Picked::Kind::item && !from.modifiers.testFlag(Qt::ShiftModifier))
            session.select(of(from.picked.item));
        return;
    }
    drag_->follow(pointer);
    const bool moved = drag_->moved();
    base::Result<setup::Setup> next = drag_->result();
    const std::vector<base::Text> what{thing(session.now(), *from.picked.placement())};
    const std::string callout = drag_->probed().callout;
    drag_.reset();
    if (moved && session.apply(std::move(next), {"tool.label_move", {{"what", what}}}))
        session.say({"tool.now_at", {{"what", what}, {"callout", callout}}});
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
}

void SelectTool::double_click(const Pointer& pointer) {
    const PlacementId* block = pointer.picked.placement();
    if (!block || !desk().session.has_job()) return;
    desk().session.select(of(pointer.picked.item));
    Q_EMIT wants_callout();
}

void SelectTool::leave() {
    if (!hovered_) return;
    hovered_.reset();
    Q_EMIT overlay_changed();
}

void SelectTool::reset() {
    pressed_.reset();
    hovered_.reset();
    drag_.reset();
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
}

bool SelectTool::key(const QKeyEvent& key) {
    Session& session = desk().session;
    if (!session.has_job()) return false;
    if (drag_) {
        if (key.key() == Qt::Key_Escape) {
            reset();
            return true;
        }
        const bool its = drag_->key(key);
        if (its) Q_EMIT overlay_changed();
        return its;
    }
    switch (key.key()) {
        case Qt::Key_Escape:
            if (session.selection().empty()) return false;
            session.select({});
            return true;
        case Qt::Key_Delete:
        case Qt::Key_Backspace:
            if (session.selection().empty()) return false;
            remove();
            return true;
        default:
            break;
    }
    const std::optional<PlacementId> block = only_block();
    return block && change(key, *block);
}

bool SelectTool::change(const QKeyEvent& key, PlacementId block) {
    Session& session = desk().session;
    const std::shared_ptr<const setup::Setup> knowing = session.knowing();
    const setup::Stage& stage = *knowing->find_stage(session.stage());
    const setup::Placement& placement = *stage.find(block);
    const shop::Component& component = *knowing->find_component(placement.component);
    const base::Text what = thing(*knowing, block);
    const auto asked = change_asked(key, *knowing, stage, component, placement.seat, block, what);
    if (!asked) return false;
    if (!asked->seat) {
        session.say(asked->none);
        return true;
    }
    setup::Seat seat = *asked->seat;
    base::Result<setup::Setup> next = setup::move(*knowing, stage.id, block, seat);
    const int columns = asked->columns == 0 ? 0 : asked->columns > 0 ? 1 : -1;
    const int rows = asked->rows == 0 ? 0 : asked->rows > 0 ? 1 : -1;
    for (int over = 0; !next && (columns != 0 || rows != 0) && over < holes_stepped_over; ++over) {
        const auto further = setup::next_hole(*knowing, stage, component, seat, block, columns, rows);
        if (!further) break;
        seat = *further;
        base::Result<setup::Setup> there = setup::move(*knowing, stage.id, block, seat);
        if (there) next = std::move(there);
    }
    if (session.apply(std::move(next), asked->label)) {
        const setup::Stage& now = session.in_stage();
        session.say({"tool.now_at",
                     {{"what", std::vector<base::Text>{what}},
                      {"callout", setup::callout(session.now(), now, *now.find(block))}}});
    }
    return true;
}

void SelectTool::remove() {
    Session& session = desk().session;
    std::set<PlacementId> left = session.selection().placements;
    if (left.empty()) {
        session.say({"tool.only_blocks", {}});
        return;
    }
    const auto count = static_cast<std::int64_t>(left.size());
    const std::vector<base::Text> first{thing(session.now(), *left.begin())};
    setup::Setup next = session.now();
    // Those that stand on others first; what then still carries something that was not selected stays.
    std::optional<base::Error> refused;
    for (bool gone = true; gone && !left.empty();) {
        gone = false;
        for (auto it = left.begin(); it != left.end();) {
            base::Result<setup::Setup> without = setup::remove(next, session.stage(), *it);
            if (!without) {
                refused = without.error();
                ++it;
                continue;
            }
            next = std::move(*without);
            it = left.erase(it);
            gone = true;
        }
    }
    if (!left.empty()) {
        session.refuse(refused->text);
        return;
    }
    if (session.apply(std::move(next), {"tool.label_remove", {{"what", first}, {"count", count}}})) {
        session.select({});
        session.say({"tool.removed", {{"what", first}, {"count", count}}});
    }
}

viewer::Overlay SelectTool::overlay() const {
    if (drag_) return drag_->overlay();
    viewer::Overlay over;
    over.hovered = hovered_;
    return over;
}

bool SelectTool::passes(const viewer::ItemId& item) const {
    return !drag_ || drag_->passes(item);
}

}  // namespace setwright::app
