#pragma once

#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "app/background.h"
#include "app/tools/tool.h"
#include "core/check/probe.h"

namespace setwright::app {

/// One place where a component touches the wanted face.
struct Offer {
    setup::Seat seat;
    std::string callout;
    /// 0 for an exact one, else what it stands short.
    double gap_mm = 0;
    bool exact = false;
    check::Probed probed;
};

/// "Touch this face": a click on a face of a piece offers the holes from which the component in hand touches it,
/// nearest first, each with the first of its seats that runs into nothing; a click on one of them, or its number, sets
/// it.
class TouchTool : public Tool {
    Q_OBJECT
  public:
    TouchTool(Desk& desk, std::shared_ptr<const shop::Component> component);

    QString name() const override { return QStringLiteral("touch"); }
    QString hint() const override;
    void press(const Pointer& pointer) override;
    void move(const Pointer& pointer) override;
    void leave() override;
    bool key(const QKeyEvent& key) override;
    void reset() override;
    viewer::Overlay overlay() const override;

    const std::vector<Offer>& offers() const { return offers_; }
    /// Sets the offer of this index.
    void choose(int offer);
    /// Shows the offer of this index, the first one for -1.
    void preview(int offer);

  Q_SIGNALS:
    /// Empty where there is nothing to choose from any more.
    void offered(const std::vector<Offer>& offers);

  private:
    void search(PieceId piece, int face, const space::Vec3& near_T);
    void show(std::vector<Offer> offers);
    int spot_under(const Pointer& pointer) const;
    void forget();

    std::shared_ptr<const shop::Component> component_;
    std::optional<std::pair<PieceId, int>> hovered_, wanted_;
    std::vector<Offer> offers_;
    int shown_ = 0;
    /// Last: an answer on its way is given up before anything else goes.
    std::unique_ptr<Background> searching_;
};

}  // namespace setwright::app
