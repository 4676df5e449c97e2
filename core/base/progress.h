#pragma once

#include <atomic>
#include <memory>

namespace setwright::base {

/// Handle on a long job: copies share one state. Cancel is sticky. Loops over 50 ms poll cancelled() at least that
/// often.
class Progress {
  public:
    Progress() : state_(std::make_shared<State>()) {}

    void cancel() const { state_->cancelled.store(true, std::memory_order_relaxed); }
    bool cancelled() const { return state_->cancelled.load(std::memory_order_relaxed); }
    /// 0 to 1.
    void report(double fraction) const { state_->fraction.store(fraction, std::memory_order_relaxed); }
    double fraction() const { return state_->fraction.load(std::memory_order_relaxed); }
    /// What is being done, as the key of a sentence ("import.reading"); a literal.
    void enter(const char* stage) const { state_->stage.store(stage, std::memory_order_relaxed); }
    /// "" before the first.
    const char* stage() const { return state_->stage.load(std::memory_order_relaxed); }

  private:
    struct State {
        std::atomic<bool> cancelled{false};
        std::atomic<double> fraction{0};
        std::atomic<const char*> stage{""};
    };
    std::shared_ptr<State> state_;
};

}  // namespace setwright::base
