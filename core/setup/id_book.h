#pragma once

#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/base/json_reader.h"

namespace setwright::setup {

/// Ids of one kind that the file gives, and every place that refers to one.
class IdBook {
  public:
    explicit IdBook(std::uint32_t last_id) : last_id_(last_id) {}

    void give(const base::JsonValue& at, std::uint32_t id) {
        if (id > last_id_) at.say("job.id_beyond_last", {{"id", std::to_string(id)}});
        if (!given_.insert(id).second) at.say("job.id_twice", {{"id", std::to_string(id)}});
    }
    void refer(const base::JsonValue& at, std::uint32_t id) { referred_.emplace_back(at, id); }
    template <class Id>
    void refer(const base::JsonValue& at, const std::vector<Id>& list) {
        for (const Id id : list) refer(at, id.value);
    }
    void settle() const {
        for (const auto& [at, id] : referred_)
            if (!given_.contains(id)) at.say("job.id_unknown", {{"id", std::to_string(id)}});
    }
    bool has(std::uint32_t id) const { return given_.contains(id); }

  private:
    std::uint32_t last_id_;
    std::set<std::uint32_t> given_;
    std::vector<std::pair<base::JsonValue, std::uint32_t>> referred_;
};

struct Books {
    explicit Books(std::uint32_t last_id)
        : weldments(last_id), pieces(last_id), seams(last_id), stages(last_id), placements(last_id), steps(last_id) {}
    IdBook weldments, pieces, seams, stages, placements, steps;
};

}  // namespace setwright::setup
