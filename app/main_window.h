#pragma once

#include <QMainWindow>

#include "app/autosave.h"
#include "app/desk.h"

class QLabel;
class QStackedWidget;

namespace setwright::app {

class DrawingPanel;
class JobStrip;
class PagePreview;
class Workbench;

/// Puts the window together: strip of stations, panels, workbench, menus, message line. Holds no state of its own.
class MainWindow : public QMainWindow {
    Q_OBJECT
  public:
    MainWindow(Desk& desk, Autosave& autosave, bool plan_only);
    ~MainWindow() override;

    /// A job or STEP file, as from the command line.
    void open(const QString& path);
    /// Asks, in a bar that blocks nothing, whether what a crash left is wanted.
    void offer(const LeftBehind& left);

    enum Station { weldment, lay, place, order, drawing };
    void go_to(Station station);
    Station station() const { return station_; }
    void use_theme(Theme theme);

  protected:
    void closeEvent(QCloseEvent* event) override;
    void dragEnterEvent(QDragEnterEvent* event) override;
    void dropEvent(QDropEvent* event) override;

  private:
    void make_middle(bool plan_only);
    void make_columns();
    void make_menus();
    void make_message_line();
    void show_title();
    void show_middle();
    void say(const base::Text& text, bool refused);

    Desk& desk_;
    Autosave& autosave_;
    JobStrip* strip_ = nullptr;
    Workbench* bench_ = nullptr;
    QStackedWidget* middle_ = nullptr;
    QStackedWidget* left_ = nullptr;
    QWidget* right_ = nullptr;
    QWidget* view_bar_ = nullptr;
    QWidget* offers_ = nullptr;
    DrawingPanel* drawing_panel_ = nullptr;
    QLabel* hint_ = nullptr;
    QLabel* answer_sign_ = nullptr;
    QLabel* answer_ = nullptr;
    QLabel* checking_ = nullptr;
    QTimer answer_until_;
    Station station_ = weldment;
};

}  // namespace setwright::app
