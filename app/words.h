#pragma once

#include <QString>
#include <map>
#include <string>

#include "core/base/result.h"

namespace setwright::app {

/// The sentences of resources/translations for the window, in the job's unit.
class Words {
  public:
    explicit Words(base::TextCatalogue texts) : texts_(std::move(texts)) {}

    QString operator()(const std::string& id, std::map<std::string, base::TextArgument> arguments = {}) const;
    QString operator()(const base::Text& text) const;
    /// "12.5 mm", `1 1/2"`.
    QString length(double mm) const;

    const base::TextCatalogue& texts() const { return texts_; }
    base::DisplayUnit unit() const { return unit_; }
    /// Follows the open job.
    void set_unit(base::DisplayUnit unit) { unit_ = unit; }

  private:
    base::TextCatalogue texts_;
    base::DisplayUnit unit_;
};

}  // namespace setwright::app
