#pragma once

#include <QObject>
#include <optional>
#include <set>
#include <string>

#include "core/setup/history.h"

namespace setwright::app {

using setup::PieceId;
using setup::PlacementId;
using setup::SeamId;
using setup::StageId;

/// What the user points at. One model for all views and lists.
struct Selection {
    std::set<PlacementId> placements;
    std::set<PieceId> pieces;
    std::optional<SeamId> seam;

    bool empty() const { return placements.empty() && pieces.empty() && !seam; }
    friend bool operator==(const Selection&, const Selection&) = default;
};

/// The open job: its history, its file, the stage worked on, the selection. Everything that shows it listens to
/// changed() and pulls; nothing else tells one view of another. GUI thread only.
class Session : public QObject {
    Q_OBJECT
  public:
    explicit Session(shop::Catalogue catalogue, QObject* parent = nullptr);

    const shop::Catalogue& catalogue() const { return catalogue_; }

    bool has_job() const { return history_.has_value(); }
    // The next six need a job.
    const setup::Setup& now() const { return history_->now(); }
    std::shared_ptr<const setup::Setup> share() const { return history_->share(); }
    /// What is to be seen: the committed value, or what the tool in hand is trying out.
    std::shared_ptr<const setup::Setup> shown() const { return trial_ ? trial_ : share(); }
    StageId stage() const { return stage_; }
    const setup::Stage& in_stage() const { return *now().find_stage(stage_); }
    /// The committed job with every packer of the catalogue defined, for callouts and seats that may take them.
    std::shared_ptr<const setup::Setup> knowing() const;

    /// Counts everything that changes shown(): an answer made for an older one is stale.
    std::uint64_t revision() const { return revision_; }

    /// Another job; `path` is "" for one that has no file yet. `unsaved`: recovered, or new.
    void open(setup::Setup job, std::string path, bool unsaved);
    void go_to_stage(StageId stage);

    /// Commits an edit, or says why not (refused()). `label` names it in Undo. True where it was done; an edit that
    /// changes nothing is done without a trace.
    bool apply(base::Result<setup::Setup> next, const base::Text& label);
    bool can_undo() const { return history_ && history_->can_undo(); }
    bool can_redo() const { return history_ && history_->can_redo(); }
    void undo();
    void redo();
    /// What Undo takes back and Redo brings again.
    base::Text undo_label() const;
    base::Text redo_label() const;

    /// A working copy, shown and checked but not committed; null puts the committed one back.
    void try_out(std::shared_ptr<const setup::Setup> trial);

    const std::string& path() const { return path_; }
    bool unsaved() const { return has_job() && saved_ != history_->share(); }
    /// `written` is the value that went into the file.
    void saved_as(std::string path, std::shared_ptr<const setup::Setup> written);

    const Selection& selection() const { return selection_; }
    void select(Selection selection);

    /// One sentence for the message line.
    void say(const base::Text& text) { Q_EMIT said(text); }
    void refuse(const base::Text& text) { Q_EMIT refused(text); }

  Q_SIGNALS:
    /// After every commit, undo, redo: what differs. rest = everything that is not a placement.
    void changed(const setup::Changes& changes);
    /// Another job is open; everything is to be pulled anew.
    void opened();
    void stage_changed();
    void tried();
    void selection_changed();
    /// File name or unsaved() is different now.
    void file_changed();
    void said(const base::Text& text);
    void refused(const base::Text& text);

  private:
    void after_move(const std::shared_ptr<const setup::Setup>& before, bool was_unsaved);

    shop::Catalogue catalogue_;
    std::optional<setup::History> history_;
    std::vector<base::Text> labels_;
    std::size_t at_ = 0;
    std::shared_ptr<const setup::Setup> trial_, saved_;
    mutable std::shared_ptr<const setup::Setup> knowing_, knowing_of_;
    std::string path_;
    StageId stage_;
    Selection selection_;
    std::uint64_t revision_ = 0;
};

}  // namespace setwright::app
