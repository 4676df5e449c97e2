#include "app/tools/place_tool.h"

#include <QLineF>
#include <algorithm>

#include "core/check/report.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

/// The pointer shakes by less.
constexpr double still_pixels = 4;

}  // namespace

PlaceTool::PlaceTool(Desk& desk, std::shared_ptr<const shop::Component> component, std::optional<setup::Seat> like)
    : Tool(desk), component_(std::move(component)), like_(std::move(like)) {
    reset();
}

int PlaceTool::short_with_one_more() const {
    if (component_->to_cut) return 0;
    const setup::Setup& now = desk().session.now();
    std::string id = component_->id;
    const setup::Seat* seat = drag_ && drag_->seat() ? &*drag_->seat() : like_ ? &*like_ : nullptr;
    if (component_->handed) id += seat && seat->hand == shop::Hand::left ? ":left" : ":right";
    // A component that a later stage uses again is needed there, not twice: the most that one stage takes counts.
    for (const check::PickLine& line : check::pick_list(now))
        if (line.stock_id == id) return std::max(0, line.need + 1 - line.have);
    return std::max(0, 1 - now.shelf.have(id));
}

QString PlaceTool::hint() const {
    if (!desk().session.has_job()) return {};
    const std::vector<base::Text> name{check::component_name(*component_)};
    const auto missing = std::int64_t{short_with_one_more()};
    if (missing > 0) return desk().words("tool.hint_none_left", {{"what", name}, {"count", missing}});
    return desk().words("tool.hint_place", {{"what", name}});
}

void PlaceTool::press(const Pointer& pointer) {
    pressed_ = true;
    move(pointer);
}

void PlaceTool::move(const Pointer& pointer) {
    if (!drag_) return;
    if (set_at_ && !pressed_ && QLineF(*set_at_, pointer.at).length() < still_pixels) return;
    set_at_.reset();
    if (drag_->follow(pointer)) Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
}

void PlaceTool::release(const Pointer& pointer) {
    if (std::exchange(pressed_, false)) set(pointer);
}

void PlaceTool::drop(const Pointer& pointer) {
    set(pointer);
    Q_EMIT finished();
}

bool PlaceTool::set(const Pointer& pointer) {
    if (!drag_) return false;
    drag_->follow(pointer);
    if (!drag_->seat()) {
        desk().session.refuse({"tool.nothing_carries", {{"what", std::vector{check::component_name(*component_)}}}});
        return false;
    }
    Session& session = desk().session;
    const setup::Seat seat = *drag_->seat();
    base::Result<setup::Setup> next = drag_->result();
    const std::map<std::string, base::TextArgument> arguments{{"what", std::vector{check::component_name(*component_)}},
                                                              {"callout", drag_->probed().callout}};
    drag_.reset();
    like_ = seat;
    const bool done = session.apply(std::move(next), {"tool.label_set", arguments});
    // The bench resets the tool in hand where the document changed; a refused edit changes nothing.
    if (!drag_) reset();
    if (done) {
        set_at_ = pointer.at;
        session.say({"tool.set_at", arguments});
    }
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
    return done;
}

void PlaceTool::leave() {
    if (!drag_ || pressed_) return;
    if (drag_->seat()) like_ = drag_->seat();
    reset();
    Q_EMIT overlay_changed();
}

bool PlaceTool::key(const QKeyEvent& key) {
    if (key.key() == Qt::Key_Escape) {
        drag_.reset();
        Q_EMIT overlay_changed();
        Q_EMIT finished();
        return true;
    }
    if (!drag_ || set_at_) return false;
    if (!drag_->key(key)) return false;
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
    return true;
}

void PlaceTool::reset() {
    drag_.reset();
    set_at_.reset();
    if (desk().session.has_job()) drag_ = std::make_unique<SeatDrag>(desk(), component_, like_);
}

viewer::Overlay PlaceTool::overlay() const {
    return drag_ && !set_at_ ? drag_->overlay() : viewer::Overlay{};
}

}  // namespace setwright::app
