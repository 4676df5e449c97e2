#include "app/panels/page_preview.h"

#include <QHBoxLayout>
#include <QKeyEvent>
#include <QLabel>
#include <QMouseEvent>
#include <QPainter>
#include <QScrollBar>
#include <QToolButton>
#include <QVBoxLayout>
#include <QWheelEvent>

#include "app/print.h"

namespace setwright::app {

namespace {

/// Desk around the paper, pixels.
constexpr int border = 14;
constexpr double most_pixels_per_mm = 30;
constexpr double least_pixels_per_mm = 0.5;
constexpr double zoom_step = 1.25;

}  // namespace

PageView::PageView(QWidget* parent) : QAbstractScrollArea(parent) {
    setFrameShape(QFrame::NoFrame);
    setFocusPolicy(Qt::StrongFocus);
    viewport()->setCursor(Qt::OpenHandCursor);
    for (QScrollBar* bar : {horizontalScrollBar(), verticalScrollBar()})
        connect(bar, &QScrollBar::valueChanged, this, [this] {
            painted_ = {};
            viewport()->update();
        });
}

const sheet::Page* PageView::page() const {
    if (!pages_ || page_ < 0 || page_ >= static_cast<int>(pages_->size())) return nullptr;
    return &(*pages_)[static_cast<std::size_t>(page_)];
}

void PageView::show_page(Pages pages, int page) {
    const sheet::Page* before = this->page();
    const QSizeF was = before != nullptr ? QSizeF(before->width_mm, before->height_mm) : QSizeF();
    pages_ = std::move(pages);
    page_ = page;
    painted_ = {};
    const sheet::Page* now = this->page();
    if (now != nullptr && QSizeF(now->width_mm, now->height_mm) != was) fits_ = true;
    if (fits_)
        fit();
    else
        lay_out();
}

void PageView::set_words(const QString& words) {
    words_ = words;
    viewport()->update();
}

void PageView::fit() {
    fits_ = true;
    if (const sheet::Page* p = page())
        pixels_per_mm_ =
            std::max(least_pixels_per_mm, std::min((maximumViewportSize().width() - 2 * border) / p->width_mm,
                                                   (maximumViewportSize().height() - 2 * border) / p->height_mm));
    lay_out();
}

void PageView::zoom(double factor, const QPointF& about) {
    if (page() == nullptr) return;
    const QRectF was = paper();
    const double next = std::clamp(pixels_per_mm_ * factor, least_pixels_per_mm, most_pixels_per_mm);
    const double grown = next / pixels_per_mm_;
    if (grown == 1) return;
    fits_ = false;
    pixels_per_mm_ = next;
    lay_out();
    // The point of the paper under the pointer stays there.
    const QPointF wanted = about - (about - was.topLeft()) * grown;
    const QPointF off = paper().topLeft() - wanted;
    horizontalScrollBar()->setValue(horizontalScrollBar()->value() + qRound(off.x()));
    verticalScrollBar()->setValue(verticalScrollBar()->value() + qRound(off.y()));
}

void PageView::lay_out() {
    painted_ = {};
    const sheet::Page* p = page();
    const QSize paper = p == nullptr ? QSize(0, 0)
                                     : QSize(qRound(p->width_mm * pixels_per_mm_) + 2 * border,
                                             qRound(p->height_mm * pixels_per_mm_) + 2 * border);
    // Fitted, it needs no bars; a bar that comes and goes would fit it anew for ever.
    const Qt::ScrollBarPolicy bars = fits_ ? Qt::ScrollBarAlwaysOff : Qt::ScrollBarAsNeeded;
    setHorizontalScrollBarPolicy(bars);
    setVerticalScrollBarPolicy(bars);
    const QSize seen = viewport()->size();
    horizontalScrollBar()->setRange(0, std::max(0, paper.width() - seen.width()));
    horizontalScrollBar()->setPageStep(seen.width());
    verticalScrollBar()->setRange(0, std::max(0, paper.height() - seen.height()));
    verticalScrollBar()->setPageStep(seen.height());
    viewport()->update();
}

QRectF PageView::paper() const {
    const sheet::Page* p = page();
    if (p == nullptr) return {};
    const QSizeF size(p->width_mm * pixels_per_mm_, p->height_mm * pixels_per_mm_);
    const auto start = [](double seen, double size_px, const QScrollBar& bar) {
        return size_px + 2 * border <= seen ? (seen - size_px) / 2 : border - static_cast<double>(bar.value());
    };
    return {QPointF(std::round(start(viewport()->width(), size.width(), *horizontalScrollBar())),
                    std::round(start(viewport()->height(), size.height(), *verticalScrollBar()))),
            size};
}

void PageView::paint_paper() {
    const double ratio = devicePixelRatioF();
    painted_ = QImage((QSizeF(viewport()->size()) * ratio).toSize(), QImage::Format_RGB32);
    painted_.setDevicePixelRatio(ratio);
    painted_.fill(Qt::white);
    QPainter painter(&painted_);
    painter.setRenderHints(QPainter::Antialiasing | QPainter::TextAntialiasing);
    painter.translate(paper().topLeft());
    painter.scale(pixels_per_mm_, pixels_per_mm_);
    paint(painter, *page());
}

void PageView::paintEvent(QPaintEvent*) {
    QPainter painter(viewport());
    const QPalette& colours = palette();
    const bool dark = colours.color(QPalette::Window).lightness() < 128;
    painter.fillRect(viewport()->rect(), colours.color(QPalette::Window).darker(dark ? 140 : 115));
    if (page() == nullptr) {
        painter.setPen(colours.color(QPalette::WindowText));
        painter.drawText(viewport()->rect().adjusted(20, 20, -20, -20), Qt::AlignCenter | Qt::TextWordWrap, words_);
        return;
    }
    if (painted_.isNull()) paint_paper();
    const QRect sheet = paper().toAlignedRect();
    painter.setClipRect(sheet);
    painter.drawImage(QPoint(0, 0), painted_);
    painter.setClipping(false);
    painter.setPen(colours.color(dark ? QPalette::WindowText : QPalette::Mid).darker(dark ? 100 : 140));
    painter.drawRect(sheet.adjusted(-1, -1, 0, 0));
}

void PageView::resizeEvent(QResizeEvent*) {
    if (fits_)
        fit();
    else
        lay_out();
}

void PageView::wheelEvent(QWheelEvent* event) {
    const double notches = event->angleDelta().y() / 120.0;
    if (notches != 0) zoom(std::pow(zoom_step, notches), event->position());
    event->accept();
}

void PageView::mousePressEvent(QMouseEvent* event) {
    dragged_from_ = event->position();
    scrolled_from_ = {horizontalScrollBar()->value(), verticalScrollBar()->value()};
    viewport()->setCursor(Qt::ClosedHandCursor);
}

void PageView::mouseMoveEvent(QMouseEvent* event) {
    if (event->buttons() == Qt::NoButton) return;
    const QPoint by = (event->position() - dragged_from_).toPoint();
    horizontalScrollBar()->setValue(scrolled_from_.x() - by.x());
    verticalScrollBar()->setValue(scrolled_from_.y() - by.y());
}

void PageView::mouseReleaseEvent(QMouseEvent*) {
    viewport()->setCursor(Qt::OpenHandCursor);
}

void PageView::keyPressEvent(QKeyEvent* event) {
    const QPointF middle = QRectF(viewport()->rect()).center();
    switch (event->key()) {
        case Qt::Key_PageUp:
            Q_EMIT page_asked(-1);
            break;
        case Qt::Key_PageDown:
            Q_EMIT page_asked(1);
            break;
        case Qt::Key_Plus:
            zoom(zoom_step, middle);
            break;
        case Qt::Key_Minus:
            zoom(1 / zoom_step, middle);
            break;
        case Qt::Key_0:
            fit();
            break;
        default:
            QAbstractScrollArea::keyPressEvent(event);
    }
}

PagePreview::PagePreview(Desk& desk, QWidget* parent) : QWidget(parent), desk_(desk) {
    setObjectName("preview");
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(0);
    auto* bar = new QWidget(this);
    auto* row = new QHBoxLayout(bar);
    row->setContentsMargins(8, 3, 8, 3);
    row->setSpacing(4);
    back_ = add_button("drawing.page_back", "left");
    on_ = add_button("drawing.page_on", "right");
    title_ = new QLabel(bar);
    title_->setObjectName("preview.title");
    title_->setTextFormat(Qt::PlainText);
    title_->setSizePolicy(QSizePolicy::Ignored, QSizePolicy::Preferred);
    state_ = new QLabel(bar);
    state_->setObjectName("preview.state");
    QToolButton* out = add_button("drawing.zoom_out", "zoom-out");
    QToolButton* in = add_button("drawing.zoom_in", "zoom-in");
    QToolButton* fit = add_button("drawing.zoom_fit", "fit");
    row->addWidget(back_);
    row->addWidget(on_);
    row->addSpacing(6);
    row->addWidget(title_, 1);
    row->addWidget(state_);
    row->addSpacing(6);
    for (QToolButton* button : {out, in, fit}) row->addWidget(button);
    column->addWidget(bar);
    view_ = new PageView(this);
    view_->setObjectName("preview.page");
    view_->setAccessibleName(desk.words("drawing.preview"));
    column->addWidget(view_, 1);

    connect(back_, &QToolButton::clicked, this, [this] { turn(-1); });
    connect(on_, &QToolButton::clicked, this, [this] { turn(1); });
    connect(view_, &PageView::page_asked, this, &PagePreview::turn);
    const auto middle = [this] { return QRectF(view_->viewport()->rect()).center(); };
    connect(in, &QToolButton::clicked, this, [this, middle] { view_->zoom(zoom_step, middle()); });
    connect(out, &QToolButton::clicked, this, [this, middle] { view_->zoom(1 / zoom_step, middle()); });
    connect(fit, &QToolButton::clicked, this, [this] { view_->fit(); });
    pull();
}

QToolButton* PagePreview::add_button(const std::string& name, const QString& icon) {
    auto* button = new QToolButton(this);
    button->setObjectName(QString::fromStdString(name));
    button->setIcon(desk_.icons(icon));
    button->setText(desk_.words(name));
    button->setToolTip(desk_.words(name));
    button->setAutoRaise(true);
    button->setFocusPolicy(Qt::TabFocus);
    return button;
}

void PagePreview::show_page(Pages pages, int page) {
    pages_ = std::move(pages);
    page_ = page;
    view_->show_page(pages_, page_);
    pull();
}

void PagePreview::set_drawing(bool drawing) {
    drawing_ = drawing;
    pull();
}

void PagePreview::turn(int by) {
    const int count = pages_ ? static_cast<int>(pages_->size()) : 0;
    const int next = page_ + by;
    if (next < 0 || next >= count) return;
    show_page(pages_, next);
    Q_EMIT turned(next);
}

void PagePreview::pull() {
    const int count = pages_ ? static_cast<int>(pages_->size()) : 0;
    back_->setEnabled(page_ > 0 && count > 0);
    on_->setEnabled(page_ + 1 < count);
    state_->setText(drawing_ && count > 0 ? desk_.words("drawing.drawing") : QString());
    view_->set_words(drawing_ ? desk_.words("drawing.drawing") : desk_.words("drawing.no_pages"));
    title_->setText(
        count == 0 ? QString()
                   : desk_.words("drawing.page_of", {{"n", std::int64_t{page_ + 1}},
                                                     {"m", std::int64_t{count}},
                                                     {"title", (*pages_)[static_cast<std::size_t>(page_)].title}}));
}

}  // namespace setwright::app
