#include "app/actions/waiting_dialog.h"

#include <QEventLoop>
#include <QLabel>
#include <QProgressBar>
#include <QPushButton>
#include <QVBoxLayout>
#include <cmath>

#include "app/background.h"

namespace setwright::app {

namespace {

/// Shorter waits show nothing; keys and clicks wait with them.
constexpr int unseen_milliseconds = 150;
constexpr int pull_milliseconds = 100;

}  // namespace

WaitingDialog::WaitingDialog(Desk& desk, base::Progress job, const QString& what, bool can_cancel, QWidget* parent)
    : QDialog(parent), desk_(desk), job_(std::move(job)), can_cancel_(can_cancel) {
    setObjectName("file.waiting");
    setWindowTitle(what);
    setModal(true);
    auto* column = new QVBoxLayout(this);
    auto* title = new QLabel(what, this);
    title->setTextFormat(Qt::PlainText);
    title->setWordWrap(true);
    stage_ = new QLabel(this);
    stage_->setObjectName("file.waiting.stage");
    stage_->setTextFormat(Qt::PlainText);
    bar_ = new QProgressBar(this);
    bar_->setObjectName("file.waiting.bar");
    column->addWidget(title);
    column->addWidget(stage_);
    column->addWidget(bar_);
    if (can_cancel) {
        auto* cancel = new QPushButton(desk.words("file.cancel"), this);
        cancel->setObjectName("file.waiting.cancel");
        connect(cancel, &QPushButton::clicked, this, &WaitingDialog::reject);
        column->addWidget(cancel, 0, Qt::AlignRight);
    }
    setMinimumWidth(fontMetrics().averageCharWidth() * 60);
    connect(&timer_, &QTimer::timeout, this, &WaitingDialog::pull);
    timer_.start(pull_milliseconds);
    pull();
}

void WaitingDialog::reject() {
    if (can_cancel_) QDialog::reject();
}

void WaitingDialog::pull() {
    const std::string stage = job_.stage();
    stage_->setText(stage.empty() ? QString() : desk_.words(stage));
    const double share = job_.fraction();
    bar_->setRange(0, share > 0 ? 100 : 0);
    bar_->setValue(static_cast<int>(std::lround(share * 100)));
}

bool wait_behind_dialog(Desk& desk, QWidget* parent, const QString& what, bool can_cancel,
                        std::function<void(const base::Progress& job)> work) {
    // The session outlives every thread that was left to itself.
    auto* running = new Background(
        [work = std::move(work)](const base::Progress& job) -> Background::Done {
            work(job);
            return {};
        },
        &desk.session);
    const base::Progress job = running->progress();
    auto done = std::make_shared<bool>(false);
    QObject::connect(running, &Background::finished, running, [done, running] {
        *done = true;
        running->deleteLater();
    });
    QEventLoop unseen;
    QObject::connect(running, &Background::finished, &unseen, &QEventLoop::quit);
    QTimer::singleShot(unseen_milliseconds, &unseen, &QEventLoop::quit);
    unseen.exec(QEventLoop::ExcludeUserInputEvents);
    if (*done) return true;

    WaitingDialog dialog(desk, job, what, can_cancel, parent);
    QObject::connect(running, &Background::finished, &dialog, &QDialog::accept);
    dialog.exec();
    if (!*done) job.cancel();
    return *done;
}

}  // namespace setwright::app
