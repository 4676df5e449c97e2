#include "app/checker.h"

#include <algorithm>
#include <condition_variable>
#include <mutex>
#include <thread>

namespace setwright::app {

/// One thread with room for one question: a newer one takes the place of the one that waits and stops the one that is
/// being answered.
struct Checker::Worker {
    struct Question {
        std::shared_ptr<const setup::Setup> setup;
        std::uint64_t revision = 0;
        base::Progress job;
    };
    using Answer = std::function<void(const Question&, std::shared_ptr<const check::Report>)>;

    explicit Worker(Answer answer) : answer_(std::move(answer)), thread_([this] { work(); }) {}
    ~Worker() {
        {
            const std::scoped_lock lock(mutex_);
            ended_ = true;
            waiting_.reset();
            running_.cancel();
        }
        wake_.notify_one();
    }

    void ask(Question question) {
        {
            const std::scoped_lock lock(mutex_);
            running_.cancel();
            waiting_ = std::move(question);
        }
        wake_.notify_one();
    }

  private:
    void work() {
        for (;;) {
            Question question;
            {
                std::unique_lock lock(mutex_);
                wake_.wait(lock, [this] { return ended_ || waiting_; });
                if (ended_) return;
                question = std::move(*waiting_);
                waiting_.reset();
                running_ = question.job;
            }
            auto report = std::make_shared<const check::Report>(check::check(*question.setup, question.job));
            if (!question.job.cancelled()) answer_(question, std::move(report));
        }
    }

    Answer answer_;
    std::mutex mutex_;
    std::condition_variable wake_;
    std::optional<Question> waiting_;
    base::Progress running_;
    bool ended_ = false;
    /// Last: it starts when all the others are there.
    std::jthread thread_;
};

Checker::Checker(Session& session, QObject* parent) : QObject(parent), session_(session) {
    worker_ = std::make_unique<Worker>([this](const Worker::Question& question, auto report) {
        QMetaObject::invokeMethod(
            this,
            [this, setup = question.setup, revision = question.revision, report = std::move(report)] {
                if (revision != session_.revision()) return;
                report_ = report;
                checked_ = setup;
                revision_ = revision;
                Q_EMIT reported();
            },
            Qt::QueuedConnection);
    });
    connect(&session, &Session::opened, this, [this] {
        report_ = nullptr;
        checked_ = nullptr;
        ask();
    });
    connect(&session, &Session::changed, this, &Checker::ask);
    connect(&session, &Session::tried, this, &Checker::ask);
    if (session.has_job()) ask();
}

// The thread ends before anything it speaks to goes.
Checker::~Checker() {
    worker_.reset();
}

bool Checker::is_current() const {
    return report_ && revision_ == session_.revision();
}

const check::StageReport* Checker::of_stage(StageId stage) const {
    if (!report_) return nullptr;
    const auto found =
        std::find_if(report_->stages.begin(), report_->stages.end(), [&](const auto& r) { return r.stage == stage; });
    return found == report_->stages.end() ? nullptr : &*found;
}

void Checker::ask() {
    if (asked_ == session_.revision()) return;
    asked_ = session_.revision();
    worker_->ask({session_.shown(), asked_, {}});
    Q_EMIT started();
}

}  // namespace setwright::app
