#include "app/session.h"

#include <algorithm>

#include "core/base/bug.h"
#include "core/setup/place.h"

namespace setwright::app {

namespace {

/// What an edit may not leave behind as a step of Undo. same() passes over the order in which blocks and pieces are
/// kept, which lists show.
bool nothing_changed(const setup::Setup& a, const setup::Setup& b) {
    const auto same_order = [](const setup::Stage& x, const setup::Stage& y) {
        return x.pieces == y.pieces && x.earlier == y.earlier && x.placements == y.placements;
    };
    return setup::same(a, b) &&
           std::equal(a.stages.begin(), a.stages.end(), b.stages.begin(), b.stages.end(), same_order);
}

bool has_piece(const setup::Setup& setup, PieceId id) {
    if (setup.find_piece(id)) return true;
    return std::any_of(setup.weldments.begin(), setup.weldments.end(), [&](const setup::WeldmentUse& use) {
        return std::any_of(use.drawn.begin(), use.drawn.end(), [&](const auto& drawn) { return drawn.id == id; });
    });
}

/// Without what is not there (any more). Placements are those of the stage worked on.
Selection still_there(Selection selection, const setup::Setup& setup, StageId stage_id) {
    const setup::Stage* stage = setup.find_stage(stage_id);
    std::erase_if(selection.placements, [&](PlacementId id) { return !stage || !stage->find(id); });
    std::erase_if(selection.pieces, [&](PieceId id) { return !has_piece(setup, id); });
    if (selection.seam && !setup.find_seam(*selection.seam)) selection.seam.reset();
    return selection;
}

}  // namespace

Session::Session(shop::Catalogue catalogue, QObject* parent) : QObject(parent), catalogue_(std::move(catalogue)) {}

std::shared_ptr<const setup::Setup> Session::knowing() const {
    if (knowing_of_ != share()) {
        knowing_of_ = share();
        knowing_ = std::make_shared<const setup::Setup>(setup::with_packers(*knowing_of_, catalogue_));
    }
    return knowing_;
}

void Session::open(setup::Setup job, std::string path, bool unsaved) {
    SETWRIGHT_ASSERT(!job.stages.empty(), "a job without a stage cannot be worked on");
    history_.emplace(std::move(job));
    labels_.clear();
    at_ = 0;
    trial_ = nullptr;
    saved_ = unsaved ? nullptr : share();
    path_ = std::move(path);
    stage_ = now().stages.front().id;
    const bool was_selected = !selection_.empty();
    selection_ = {};
    ++revision_;
    Q_EMIT opened();
    if (was_selected) Q_EMIT selection_changed();
    Q_EMIT file_changed();
}

void Session::go_to_stage(StageId stage) {
    if (stage == stage_ || !has_job() || !now().find_stage(stage)) return;
    stage_ = stage;
    Q_EMIT stage_changed();
    select(selection_);
}

bool Session::apply(base::Result<setup::Setup> next, const base::Text& label) {
    if (!next) {
        Q_EMIT refused(next.error().text);
        return false;
    }
    if (nothing_changed(now(), *next)) {
        try_out(nullptr);
        return true;
    }
    const auto before = share();
    const bool was_unsaved = unsaved();
    history_->commit(std::move(next).value(), label.id);
    labels_.resize(at_);
    labels_.push_back(label);
    ++at_;
    after_move(before, was_unsaved);
    return true;
}

void Session::undo() {
    if (!can_undo()) return;
    const auto before = share();
    const bool was_unsaved = unsaved();
    history_->undo();
    --at_;
    after_move(before, was_unsaved);
}

void Session::redo() {
    if (!can_redo()) return;
    const auto before = share();
    const bool was_unsaved = unsaved();
    history_->redo();
    ++at_;
    after_move(before, was_unsaved);
}

base::Text Session::undo_label() const {
    return can_undo() ? labels_[at_ - 1] : base::Text{};
}

base::Text Session::redo_label() const {
    return can_redo() ? labels_[at_] : base::Text{};
}

void Session::after_move(const std::shared_ptr<const setup::Setup>& before, bool was_unsaved) {
    // All of the session speaks of the new value before anybody hears of it.
    const bool was_trying = trial_ != nullptr;
    trial_ = nullptr;
    ++revision_;
    const StageId old_stage = stage_;
    if (!now().find_stage(stage_)) stage_ = now().stages.front().id;
    Selection left = still_there(selection_, now(), stage_);
    const bool selected_less = left != selection_;
    selection_ = std::move(left);

    Q_EMIT changed(setup::changes(*before, now()));
    // What shows the trial may have more to put back than this edit changed.
    if (was_trying) Q_EMIT tried();
    if (stage_ != old_stage) Q_EMIT stage_changed();
    if (selected_less) Q_EMIT selection_changed();
    if (unsaved() != was_unsaved) Q_EMIT file_changed();
}

void Session::try_out(std::shared_ptr<const setup::Setup> trial) {
    if (trial == trial_) return;
    trial_ = std::move(trial);
    ++revision_;
    Q_EMIT tried();
    if (!trial_) select(selection_);
}

void Session::saved_as(std::string path, std::shared_ptr<const setup::Setup> written) {
    path_ = std::move(path);
    saved_ = std::move(written);
    Q_EMIT file_changed();
}

void Session::select(Selection selection) {
    if (has_job())
        selection = still_there(std::move(selection), *shown(), stage_);
    else
        selection = {};
    if (selection == selection_) return;
    selection_ = std::move(selection);
    Q_EMIT selection_changed();
}

}  // namespace setwright::app
