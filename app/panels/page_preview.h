#pragma once

#include <QAbstractScrollArea>
#include <QImage>
#include <memory>
#include <vector>

#include "app/desk.h"
#include "core/sheet/drawing.h"

class QLabel;
class QToolButton;

namespace setwright::app {

using Pages = std::shared_ptr<const std::vector<sheet::Page>>;

/// One page as it will be on paper: painted as the PDF is. The wheel zooms about the pointer, a drag moves the paper.
class PageView : public QAbstractScrollArea {
    Q_OBJECT
  public:
    explicit PageView(QWidget* parent = nullptr);

    /// `page` counts from 0; null pages show nothing.
    void show_page(Pages pages, int page);
    /// What stands in the middle where there is no page.
    void set_words(const QString& words);

    /// Whole page in sight, also after the widget is resized.
    void fit();
    void zoom(double factor, const QPointF& about);
    double pixels_per_mm() const { return pixels_per_mm_; }
    bool fits() const { return fits_; }
    /// Where the paper lies in the viewport.
    QRectF paper() const;

  Q_SIGNALS:
    void page_asked(int by);

  protected:
    void paintEvent(QPaintEvent* event) override;
    void resizeEvent(QResizeEvent* event) override;
    void wheelEvent(QWheelEvent* event) override;
    void mousePressEvent(QMouseEvent* event) override;
    void mouseMoveEvent(QMouseEvent* event) override;
    void mouseReleaseEvent(QMouseEvent* event) override;
    void keyPressEvent(QKeyEvent* event) override;

  private:
    const sheet::Page* page() const;
    void lay_out();
    void paint_paper();

    Pages pages_;
    int page_ = 0;
    QString words_;
    double pixels_per_mm_ = 1;
    bool fits_ = true;
    /// The paper as far as it is in sight; made anew when it is null.
    QImage painted_;
    QPointF dragged_from_;
    QPoint scrolled_from_;
};

/// The middle of the window at the drawing station: a page, and a bar to turn pages and zoom.
class PagePreview : public QWidget {
    Q_OBJECT
  public:
    explicit PagePreview(Desk& desk, QWidget* parent = nullptr);

    /// Keeps the zoom where the paper is as large as before.
    void show_page(Pages pages, int page);
    /// These pages are out of date, newer ones are being drawn.
    void set_drawing(bool drawing);
    PageView& view() const { return *view_; }

  Q_SIGNALS:
    /// The user turned to this page.
    void turned(int page);

  private:
    QToolButton* add_button(const std::string& name, const QString& icon);
    void turn(int by);
    void pull();

    Desk& desk_;
    PageView* view_ = nullptr;
    QToolButton* back_ = nullptr;
    QToolButton* on_ = nullptr;
    QLabel* title_ = nullptr;
    QLabel* state_ = nullptr;
    Pages pages_;
    int page_ = 0;
    bool drawing_ = false;
};

}  // namespace setwright::app
