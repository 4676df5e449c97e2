#include "core/setup/history.h"

#include <map>

#include "core/base/bug.h"

namespace setwright::setup {

namespace {

struct Stood {
    const Placement* placement;
    StageId stage;
};

std::map<PlacementId, Stood> all_placements(const Setup& setup) {
    std::map<PlacementId, Stood> all;
    for (const Stage& stage : setup.stages)
        for (const Placement& placement : stage.placements) all[placement.id] = {&placement, stage.id};
    return all;
}

bool same_definition(const Setup& a, const Setup& b, const std::string& component) {
    const auto in_a = a.components.find(component);
    const auto in_b = b.components.find(component);
    if (in_a == a.components.end() || in_b == b.components.end())
        return (in_a == a.components.end()) == (in_b == b.components.end());
    return in_a->second == in_b->second || shop::component_json(*in_a->second) == shop::component_json(*in_b->second);
}

/// Everything that is not a placement and does not come and go with them.
Setup rest_of(Setup setup) {
    for (Stage& stage : setup.stages) stage.placements.clear();
    setup.components.clear();
    setup.last_id = 0;
    return setup;
}

}  // namespace

Changes changes(const Setup& before, const Setup& after) {
    Changes found;
    const auto old_ones = all_placements(before);
    const auto new_ones = all_placements(after);
    for (const auto& [id, old] : old_ones)
        if (!new_ones.contains(id)) found.removed.insert(id);
    for (const auto& [id, now] : new_ones) {
        const auto old = old_ones.find(id);
        if (old == old_ones.end())
            found.added.insert(id);
        else if (old->second.stage != now.stage || *old->second.placement != *now.placement ||
                 !same_definition(before, after, now.placement->component))
            found.altered.insert(id);
    }
    // A guest stands elsewhere when its host does.
    for (bool grown = true; grown;) {
        grown = false;
        for (const auto& [id, now] : new_ones) {
            const Host& host = now.placement->seat.host;
            if (host.kind == Host::Kind::placement && found.altered.contains(host.placement) &&
                !found.added.contains(id))
                grown |= found.altered.insert(id).second;
        }
    }
    found.rest = !same(rest_of(before), rest_of(after));
    return found;
}

History::History(Setup start) {
    states_.push_back({std::make_shared<const Setup>(std::move(start)), ""});
}

void History::commit(Setup next, std::string label) {
    states_.resize(at_ + 1);
    states_.push_back({std::make_shared<const Setup>(std::move(next)), std::move(label)});
    ++at_;
    ++revision_;
}

void History::undo() {
    SETWRIGHT_ASSERT(can_undo(), "undo was offered with nothing to take back");
    --at_;
    ++revision_;
}

void History::redo() {
    SETWRIGHT_ASSERT(can_redo(), "redo was offered with nothing to bring back");
    ++at_;
    ++revision_;
}

}  // namespace setwright::setup
