#pragma once

#include <optional>
#include <utility>

#include "app/tools/tool.h"
#include "core/base/result.h"

namespace setwright::app {

/// Lays the weldment of the stage: a face put down by a click, moved by a drag or by keys, in steps.
class LayTool : public Tool {
    Q_OBJECT
  public:
    explicit LayTool(Desk& desk) : Tool(desk) {}

    QString name() const override { return QStringLiteral("lay"); }
    QString hint() const override;
    void press(const Pointer& pointer) override;
    void move(const Pointer& pointer) override;
    void release(const Pointer& pointer) override;
    void leave() override;
    bool key(const QKeyEvent& key) override;
    void reset() override;
    viewer::Overlay overlay() const override;

    /// The finest step that a stop with marks can follow on this table, mm: what the weldment is moved by.
    static double step_mm(const Session& session);

  private:
    void shift(const space::Vec3& by_T, const char* label);
    void follow(const Pointer& pointer);

    std::optional<Pointer> pressed_;
    std::optional<std::pair<PieceId, int>> face_;
    /// What the drag began with; none while nothing is dragged.
    std::optional<viewer::Scene> before_;
    space::Vec3 by_T_ = space::Vec3::Zero();
    space::Vec3 corner_T_ = space::Vec3::Zero();
};

}  // namespace setwright::app
