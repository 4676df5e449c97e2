#include "app/panels/job_strip.h"

#include <QHBoxLayout>
#include <QPainter>

#include "core/setup/edit.h"

namespace setwright::app {

namespace {

std::int64_t count(const check::Report& report, check::Verdict verdict) {
    return std::count_if(report.findings.begin(), report.findings.end(),
                         [&](const check::Finding& f) { return f.verdict == verdict && !f.accepted; });
}

/// "−Y", with a minus as it is printed.
std::string side_word(std::string side) {
    return side.starts_with('-') ? "\u2212" + side.substr(1) : side;
}

}  // namespace

StationButton::StationButton(int number, const QString& name, QWidget* parent)
    : QAbstractButton(parent), number_(number), name_(name) {
    setCheckable(true);
    setText(name);
    setFocusPolicy(Qt::TabFocus);
    setSizePolicy(QSizePolicy::Preferred, QSizePolicy::Fixed);
}

void StationButton::set_state(const QString& state) {
    if (state_ == state) return;
    state_ = state;
    setToolTip(state);
    setAccessibleDescription(state);
    updateGeometry();
    update();
}

QSize StationButton::sizeHint() const {
    QFont bold = font();
    bold.setBold(true);
    const int ring = QFontMetrics(bold).height() * 3 / 2;
    const int text = std::max(QFontMetrics(bold).horizontalAdvance(name_), fontMetrics().horizontalAdvance(state_));
    return {ring + 22 + std::min(text, 170), fontMetrics().height() * 2 + 16};
}

void StationButton::paintEvent(QPaintEvent*) {
    QPainter painter(this);
    painter.setRenderHint(QPainter::Antialiasing);
    const QPalette& colours = palette();
    const bool current = isChecked();
    if (current || underMouse()) painter.fillRect(rect(), colours.color(current ? QPalette::Base : QPalette::Midlight));
    if (current) painter.fillRect(QRect(0, height() - 3, width(), 3), colours.color(QPalette::Highlight));
    if (hasFocus()) {
        painter.setPen(QPen(colours.color(QPalette::Highlight), 1, Qt::DotLine));
        painter.drawRect(rect().adjusted(1, 1, -2, -2));
    }
    QFont bold = font();
    bold.setBold(true);
    const int ring = QFontMetrics(bold).height() * 3 / 2;
    const QRectF circle(8, (height() - ring) / 2.0, ring, ring);
    painter.setPen(QPen(colours.color(current ? QPalette::Highlight : QPalette::WindowText), 1.5));
    painter.setBrush(current ? colours.brush(QPalette::Highlight) : Qt::NoBrush);
    painter.drawEllipse(circle);
    painter.setFont(bold);
    painter.setPen(colours.color(current ? QPalette::HighlightedText : QPalette::WindowText));
    painter.drawText(circle, Qt::AlignCenter, QString::number(number_));
    painter.setPen(colours.color(isEnabled() ? QPalette::Active : QPalette::Disabled, QPalette::WindowText));
    const QRect text(ring + 16, 6, width() - ring - 20, height() - 12);
    painter.drawText(QRect(text.left(), text.top(), text.width(), text.height() / 2), Qt::AlignLeft | Qt::AlignVCenter,
                     name_);
    painter.setFont(font());
    painter.setPen(colours.color(QPalette::PlaceholderText));
    painter.drawText(QRect(text.left(), text.center().y(), text.width(), text.height() / 2),
                     Qt::AlignLeft | Qt::AlignVCenter, fontMetrics().elidedText(state_, Qt::ElideRight, text.width()));
}

JobStrip::JobStrip(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("strip");
    auto* row = new QHBoxLayout(this);
    row->setContentsMargins(6, 0, 12, 0);
    row->setSpacing(2);
    const char* const names[] = {"strip.weldment", "strip.lay", "strip.place", "strip.order", "strip.drawing"};
    for (int i = 0; i < 5; ++i) {
        auto* button = new StationButton(i + 1, desk.words(names[i]), this);
        button->setObjectName(QString(names[i]));
        button->setShortcut(QKeySequence(Qt::ALT | static_cast<Qt::Key>(Qt::Key_1 + i)));
        stations_.addButton(button, i);
        row->addWidget(button);
    }
    stations_.setExclusive(true);
    next_ = new QLabel(this);
    next_->setObjectName("strip.next");
    next_->setWordWrap(true);
    next_->setAlignment(Qt::AlignRight | Qt::AlignVCenter);
    next_->setTextInteractionFlags(Qt::TextSelectableByMouse);
    row->addSpacing(12);
    row->addWidget(next_, 1);
    connect(&stations_, &QButtonGroup::idClicked, this, &JobStrip::chosen);

    connect(&desk.session, &Session::opened, this, &JobStrip::pull);
    connect(&desk.session, &Session::changed, this, &JobStrip::pull);
    connect(&desk.session, &Session::stage_changed, this, &JobStrip::pull);
    connect(&desk.checker, &Checker::reported, this, &JobStrip::pull);
    pull();
}

void JobStrip::set_station(int station) {
    stations_.button(station)->setChecked(true);
}

void JobStrip::pull() {
    const bool job = desk_.session.has_job();
    std::array<QString, 5> states;
    if (job) {
        const setup::Setup& now = desk_.session.now();
        const setup::Stage& stage = desk_.session.in_stage();
        std::size_t seams = 0;
        for (const setup::WeldmentUse& use : now.weldments)
            if (use.model) seams += use.model->seams.size();
        states[0] = desk_.words("strip.weldment_state", {{"pieces", static_cast<std::int64_t>(stage.pieces.size())},
                                                         {"seams", static_cast<std::int64_t>(seams)}});
        const space::Aabb box = setup::laid_box(now, stage);
        const std::string side = stage.lay.side_down.empty() ? "strip.lay_state_free" : "strip.lay_state";
        states[1] = desk_.words(side, {{"side", side_word(stage.lay.side_down)},
                                       {"height", base::LengthArg{box.empty() ? 0 : box.min.z()}}});
        states[2] = desk_.words("strip.place_state", {{"n", static_cast<std::int64_t>(stage.placements.size())}});
        states[3] = stage.order.empty()
                        ? desk_.words("strip.order_as_set")
                        : desk_.words("strip.order_state", {{"n", static_cast<std::int64_t>(stage.order.size())}});
        if (const auto report = desk_.checker.report()) {
            const std::int64_t bad = count(*report, check::Verdict::fail);
            states[4] = bad > 0 ? desk_.words("strip.drawing_state", {{"n", bad}}) : desk_.words("strip.drawing_ready");
        }
    } else {
        states.fill(QString());
        states[0] = desk_.words("strip.nothing_open");
    }
    for (int i = 0; i < 5; ++i) {
        auto* button = static_cast<StationButton*>(stations_.button(i));
        button->set_state(states[static_cast<std::size_t>(i)]);
        button->setEnabled(job || i == 0);
    }
    next_->setText(next());
}

QString JobStrip::next() const {
    if (!desk_.session.has_job()) return desk_.words("strip.next_open");
    const setup::Stage& stage = desk_.session.in_stage();
    if (stage.placements.empty()) {
        const bool as_read = stage.lay.side_down == "-Z" && stage.lay.yaw_deg == 0;
        return desk_.words(as_read ? "strip.next_lay" : "strip.next_place");
    }
    const auto report = desk_.checker.report();
    if (!report) return {};
    const std::int64_t bad = count(*report, check::Verdict::fail);
    if (bad > 0) return desk_.words("strip.next_fix", {{"n", bad}});
    const std::int64_t odd = count(*report, check::Verdict::warn);
    if (odd > 0) return desk_.words("strip.next_look", {{"n", odd}});
    return desk_.words("strip.next_print");
}

}  // namespace setwright::app
