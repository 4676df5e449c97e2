#include "app/background.h"

#include <QPointer>

namespace setwright::app {

Background::Background(std::function<Done(const base::Progress& job)> work, QObject* parent) : QObject(parent) {
    thread_ = std::jthread([this, work = std::move(work), job = progress_] {
        // Shared: the functor of a queued call must be copied.
        auto done = std::make_shared<Done>(work(job));
        QMetaObject::invokeMethod(
            this,
            [this, done] {
                running_ = false;
                // Whoever waits for the answer may let go of this.
                const QPointer<Background> alive(this);
                if (*done) (*done)();
                if (alive) Q_EMIT finished();
            },
            Qt::QueuedConnection);
    });
}

Background::~Background() {
    cancel();
}

}  // namespace setwright::app
