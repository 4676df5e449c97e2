#pragma once

#include <QWidget>
#include <array>
#include <functional>
#include <memory>

#include "app/desk.h"
#include "app/panels/page_preview.h"

class QAction;
class QComboBox;
class QLabel;
class QLineEdit;
class QListWidget;
class QPlainTextEdit;

namespace setwright::app {

class Background;

/// The drawing on its way to paper: its pages, title block, paper and unit; print, PDF, SVG. Pages are drawn off the
/// GUI thread from the committed job and its report, while this is to be seen or something is to be written.
class DrawingPanel : public QWidget {
    Q_OBJECT
  public:
    DrawingPanel(Desk& desk, PagePreview& preview, QWidget* parent = nullptr);
    ~DrawingPanel() override;

    /// Print, PDF, SVG, for the menu. They work at every station.
    std::vector<QAction*> actions_out() const { return {print_, pdf_, svg_}; }
    /// Those of the job as it is, null while they are being drawn.
    Pages pages() const;

  Q_SIGNALS:
    /// New pages are there.
    void drawn();
    /// A file has been written, or could not be.
    void saved(bool written);

  protected:
    void showEvent(QShowEvent* event) override;
    void changeEvent(QEvent* event) override;
    bool eventFilter(QObject* watched, QEvent* event) override;

  private:
    QWidget* make_page_list();
    QWidget* make_title_block();
    QWidget* make_ways_out();
    void add_field(class QFormLayout& form, std::string setup::TitleBlock::*field, const std::string& name);

    void pull();
    void pull_fields();
    void pull_findings();
    void want_pages();
    void draw();
    void take_pages(Pages pages, std::vector<QImage> small);
    void show_page(int page);
    void with_pages(std::function<void()> then);

    void write_title(std::string setup::TitleBlock::*field, const std::string& value, const base::Text& label);
    void write_notes();
    void write_display(const setup::Display& display, const base::Text& label);

    void print();
    void save(const QString& ending);
    void save_to(const QString& path);
    void write(const std::string& path);
    QString proposed_path(const QString& ending) const;

    Desk& desk_;
    PagePreview& preview_;
    QAction* print_ = nullptr;
    QAction* pdf_ = nullptr;
    QAction* svg_ = nullptr;
    QListWidget* list_ = nullptr;
    QComboBox* paper_ = nullptr;
    QComboBox* unit_ = nullptr;
    std::vector<std::pair<std::string setup::TitleBlock::*, QLineEdit*>> fields_;
    QComboBox* hand_ = nullptr;
    QPlainTextEdit* notes_ = nullptr;
    QLabel* findings_sign_ = nullptr;
    QLabel* findings_ = nullptr;

    Pages pages_;
    /// The job that pages_ were drawn from.
    std::shared_ptr<const setup::Setup> drawn_;
    std::unique_ptr<Background> drawing_, writing_;
    /// What waits for the pages.
    std::function<void()> then_;
    QString folder_;
    int page_ = 0;
};

}  // namespace setwright::app
