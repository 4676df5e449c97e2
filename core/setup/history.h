#pragma once

#include <cstddef>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "core/setup/setup.h"

namespace setwright::setup {

/// What differs between two values, by id. A guest of an altered placement counts as altered: it stands elsewhere.
struct Changes {
    std::set<PlacementId> added, removed, altered;
    /// Weldment, table, title, a stage's lay or order, … anything that is not a placement.
    bool rest = false;
};
Changes changes(const Setup& before, const Setup& after);

/// Undo and redo as a stack of whole values; bodies are shared, so a copy is cheap.
class History {
  public:
    explicit History(Setup start);

    const Setup& now() const { return *states_[at_].setup; }
    std::shared_ptr<const Setup> share() const { return states_[at_].setup; }
    /// Counts commits, undos and redos: results made for an older revision are stale.
    std::uint64_t revision() const { return revision_; }

    void commit(Setup next, std::string label);
    bool can_undo() const { return at_ > 0; }
    bool can_redo() const { return at_ + 1 < states_.size(); }
    void undo();
    void redo();
    const std::string& undo_label() const { return states_[at_].label; }

  private:
    struct State {
        std::shared_ptr<const Setup> setup;
        std::string label;
    };
    std::vector<State> states_;
    std::size_t at_ = 0;
    std::uint64_t revision_ = 0;
};

}  // namespace setwright::setup
