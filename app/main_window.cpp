#include "app/main_window.h"

#include <QCloseEvent>
#include <QDragEnterEvent>
#include <QFileInfo>
#include <QHBoxLayout>
#include <QLabel>
#include <QLineEdit>
#include <QMenuBar>
#include <QMimeData>
#include <QPushButton>
#include <QScreen>
#include <QSettings>
#include <QSplitter>
#include <QStackedWidget>
#include <QStatusBar>
#include <QVBoxLayout>

#include "app/actions/close_job.h"
#include "app/actions/edit_actions.h"
#include "app/actions/help_actions.h"
#include "app/actions/new_job.h"
#include "app/actions/open_job.h"
#include "app/actions/save_job.h"
#include "app/actions/stage_actions.h"
#include "app/actions/tool_keys.h"
#include "app/actions/view_actions.h"
#include "app/panels/drawing_panel.h"
#include "app/panels/findings_panel.h"
#include "app/panels/job_strip.h"
#include "app/panels/lay_panel.h"
#include "app/panels/page_preview.h"
#include "app/panels/pieces_panel.h"
#include "app/panels/selected_panel.h"
#include "app/panels/shelf_panel.h"
#include "app/panels/steps_panel.h"
#include "app/panels/view_bar.h"
#include "app/panels/welcome.h"
#include "app/tools/lay_tool.h"
#include "app/workbench.h"
#include "core/base/file.h"

namespace setwright::app {

namespace {

constexpr int left_width = 300;
constexpr int right_width = 320;
constexpr int answer_milliseconds = 10000;

}  // namespace

MainWindow::MainWindow(Desk& desk, Autosave& autosave, bool plan_only) : desk_(desk), autosave_(autosave) {
    setObjectName("window");
    setAcceptDrops(true);
    setWindowIcon(QIcon(QString::fromStdString(base::resource_dir()) + "/icons/setwright.svg"));

    auto* all = new QWidget(this);
    auto* column = new QVBoxLayout(all);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(0);
    strip_ = new JobStrip(desk, all);
    column->addWidget(strip_);
    offers_ = new QWidget(all);
    new QVBoxLayout(offers_);
    offers_->layout()->setContentsMargins(8, 4, 8, 4);
    offers_->hide();
    column->addWidget(offers_);
    auto* line = new QFrame(all);
    line->setFrameShape(QFrame::HLine);
    column->addWidget(line);

    make_middle(plan_only);
    make_columns();
    auto* columns = new QSplitter(Qt::Horizontal, all);
    columns->setChildrenCollapsible(false);
    columns->addWidget(left_);
    columns->addWidget(middle_->parentWidget());
    columns->addWidget(right_);
    columns->setStretchFactor(1, 1);
    columns->setSizes({left_width, 1366 - left_width - right_width, right_width});
    column->addWidget(columns, 1);
    setCentralWidget(all);

    make_menus();
    make_message_line();

    connect(strip_, &JobStrip::chosen, this, [this](int station) { go_to(static_cast<Station>(station)); });
    connect(&desk.session, &Session::opened, this, [this] {
        show_title();
        const setup::Stage& stage = desk_.session.in_stage();
        go_to(stage.placements.empty() ? lay : place);
    });
    connect(&desk.session, &Session::changed, this, &MainWindow::show_title);
    connect(&desk.session, &Session::file_changed, this, &MainWindow::show_title);
    if (!restoreGeometry(QSettings().value("window").toByteArray()))
        resize(screen()->availableSize().boundedTo(QSize(1680, 1000)));
    show_title();
    go_to(weldment);
}

MainWindow::~MainWindow() {
    // The tool in hand and the views reach the desk while they go.
    delete takeCentralWidget();
    desk_.bench = nullptr;
}

void MainWindow::make_middle(bool plan_only) {
    auto* middle = new QWidget(this);
    auto* column = new QVBoxLayout(middle);
    column->setContentsMargins(0, 0, 0, 0);
    column->setSpacing(0);
    bench_ = new Workbench(desk_, plan_only, middle);
    desk_.bench = bench_;
    view_bar_ = new ViewBar(desk_, middle);
    column->addWidget(view_bar_);
    middle_ = new QStackedWidget(middle);
    column->addWidget(middle_, 1);

    QAction* create = new_job_action(desk_, this);
    QAction* open = open_job_action(desk_, this);
    middle_->addWidget(new Welcome(desk_, {create, open}, middle_));
    middle_->addWidget(bench_);
    auto* preview = new PagePreview(desk_, middle_);
    middle_->addWidget(preview);
    addActions({create, open});
    drawing_panel_ = new DrawingPanel(desk_, *preview, this);
    connect(bench_, &Workbench::wants_callout, this, [this] {
        auto* callout = findChild<QLineEdit*>("selected.callout");
        callout->setFocus();
        callout->selectAll();
    });
    connect(bench_, &Workbench::tool_changed, this, [this] {
        if (bench_->tool().name() == "place" || bench_->tool().name() == "touch") go_to(place);
    });
}

void MainWindow::make_columns() {
    left_ = new QStackedWidget(this);
    left_->setObjectName("left");
    left_->addWidget(new PiecesPanel(desk_, left_));
    left_->addWidget(new LayPanel(desk_, left_));
    left_->addWidget(new ShelfPanel(desk_, left_));
    left_->addWidget(new StepsPanel(desk_, left_));
    left_->addWidget(drawing_panel_);
    left_->setMinimumWidth(left_width);
    left_->setMaximumWidth(2 * left_width);

    auto* right = new QSplitter(Qt::Vertical, this);
    right->setObjectName("right");
    right->setChildrenCollapsible(false);
    right->addWidget(new SelectedPanel(desk_, right));
    right->addWidget(new FindingsPanel(desk_, right));
    right->setStretchFactor(0, 1);
    right->setStretchFactor(1, 1);
    right->setSizes({360, 300});
    right->setMinimumWidth(right_width);
    right->setMaximumWidth(2 * right_width);
    right_ = right;
}

void MainWindow::make_menus() {
    const auto only_with_job = [this](const std::vector<QAction*>& actions) {
        const auto pull = [this, actions] {
            for (QAction* action : actions) action->setEnabled(desk_.session.has_job());
        };
        connect(&desk_.session, &Session::opened, this, pull);
        pull();
    };

    QMenu* file = menuBar()->addMenu(desk_.words("menu.file"));
    file->addActions(this->actions());
    file->addMenu(recent_menu(desk_, this));
    file->addSeparator();
    QAction* save = save_job_action(desk_, this);
    QAction* save_as = save_job_as_action(desk_, this);
    file->addActions({save, save_as});
    file->addSeparator();
    const std::vector<QAction*> out = drawing_panel_->actions_out();
    for (QAction* action : out) file->addAction(action);
    only_with_job(out);
    file->addSeparator();
    QAction* quit = file->addAction(desk_.words("action.quit"));
    quit->setObjectName("action.quit");
    quit->setShortcut(QKeySequence::Quit);
    connect(quit, &QAction::triggered, this, &QWidget::close);

    QMenu* edit = menuBar()->addMenu(desk_.words("menu.edit"));
    edit->addActions({undo_action(desk_, this), redo_action(desk_, this)});
    edit->addSeparator();
    edit->addActions({duplicate_action(desk_, this), remove_action(desk_, this), select_all_action(desk_, this)});

    menuBar()->addMenu(stage_menu(desk_, this));
    menuBar()->addMenu(lay_menu(desk_, this));
    menuBar()->addMenu(block_menu(desk_, this));

    QMenu* view = menuBar()->addMenu(desk_.words("menu.view"));
    for (QAction* action : unit_actions(desk_, this)) view->addAction(action);
    view->addSeparator();
    for (QAction* action : theme_actions(desk_, this, [this](Theme theme) { use_theme(theme); }))
        view->addAction(action);

    QMenu* help = menuBar()->addMenu(desk_.words("menu.help"));
    help->addActions({keys_action(desk_, this), about_action(desk_, this)});
}

void MainWindow::make_message_line() {
    statusBar()->setSizeGripEnabled(false);
    hint_ = new QLabel(this);
    hint_->setObjectName("message.hint");
    answer_sign_ = new QLabel(this);
    answer_ = new QLabel(this);
    answer_->setObjectName("message.answer");
    checking_ = new QLabel(this);
    checking_->setObjectName("message.checking");
    for (QLabel* label : {hint_, answer_}) label->setTextFormat(Qt::PlainText);
    hint_->setForegroundRole(QPalette::PlaceholderText);
    statusBar()->addWidget(answer_sign_);
    statusBar()->addWidget(answer_);
    statusBar()->addWidget(hint_, 1);
    checking_->setContentsMargins(0, 0, 8, 0);
    statusBar()->addPermanentWidget(checking_);

    answer_until_.setSingleShot(true);
    connect(&answer_until_, &QTimer::timeout, this, [this] {
        answer_->clear();
        answer_sign_->clear();
    });
    connect(&desk_.session, &Session::said, this, [this](const base::Text& text) { say(text, false); });
    connect(&desk_.session, &Session::refused, this, [this](const base::Text& text) { say(text, true); });
    const auto show_hint = [this] { hint_->setText(desk_.session.has_job() ? bench_->tool().hint() : QString()); };
    connect(bench_, &Workbench::hint_changed, this, show_hint);
    connect(bench_, &Workbench::tool_changed, this, show_hint);
    connect(&desk_.session, &Session::opened, this, show_hint);
    connect(&desk_.checker, &Checker::started, this, [this] { checking_->setText(desk_.words("message.checking")); });
    connect(&desk_.checker, &Checker::reported, this, [this] {
        if (desk_.checker.is_current()) checking_->setText(desk_.words("message.checked"));
    });
}

void MainWindow::say(const base::Text& text, bool refused) {
    const int line = fontMetrics().height();
    answer_sign_->setPixmap(desk_.icons(refused ? "fail" : "pass").pixmap(line, line));
    answer_->setText(desk_.words(text));
    answer_->setToolTip(desk_.words(text));
    // A refusal stays until something else is said.
    if (refused)
        answer_until_.stop();
    else
        answer_until_.start(answer_milliseconds);
}

void MainWindow::open(const QString& path) {
    open_path(desk_, this, path);
}

void MainWindow::offer(const LeftBehind& left) {
    auto* bar = new QWidget(offers_);
    bar->setObjectName("offer");
    auto* row = new QHBoxLayout(bar);
    row->setContentsMargins(0, 0, 0, 0);
    auto* sign = new QLabel(bar);
    sign->setPixmap(desk_.icons("warn").pixmap(20, 20));
    const std::string name = left.path.empty() ? desk_.words("offer.not_saved_yet").toStdString()
                                               : QFileInfo(QString::fromStdString(left.path)).fileName().toStdString();
    auto* words = new QLabel(desk_.words("offer.left_behind", {{"job", name}, {"when", left.when}}), bar);
    words->setWordWrap(true);
    auto* recover = new QPushButton(desk_.words("offer.recover"), bar);
    recover->setObjectName("offer.recover");
    auto* forget = new QPushButton(desk_.words("offer.forget"), bar);
    forget->setObjectName("offer.forget");
    row->addWidget(sign);
    row->addWidget(words, 1);
    row->addWidget(recover);
    row->addWidget(forget);
    offers_->layout()->addWidget(bar);
    offers_->show();
    const auto done = [this, bar] {
        bar->deleteLater();
        offers_->layout()->removeWidget(bar);
        offers_->setVisible(offers_->layout()->count() > 0);
    };
    connect(recover, &QPushButton::clicked, this, [this, left, done] {
        if (recover_job(desk_, this, autosave_, left)) done();
    });
    connect(forget, &QPushButton::clicked, this, [this, left, done] {
        autosave_.forget(left);
        done();
    });
}

void MainWindow::go_to(Station station) {
    if (!desk_.session.has_job()) station = weldment;
    station_ = station;
    strip_->set_station(station);
    left_->setCurrentIndex(station);
    show_middle();
    const QString in_hand = bench_->tool().name();
    if (station == lay && desk_.session.has_job() && in_hand != "lay")
        bench_->take(std::make_unique<LayTool>(desk_));
    else if (station != lay && in_hand == "lay")
        bench_->take(nullptr);
    else if (station != place && (in_hand == "place" || in_hand == "touch"))
        bench_->take(nullptr);
}

void MainWindow::show_middle() {
    const bool job = desk_.session.has_job();
    const int page = !job ? 0 : station_ == drawing ? 2 : 1;
    middle_->setCurrentIndex(page);
    view_bar_->setVisible(page == 1);
    right_->setVisible(page == 1);
    left_->setVisible(job);
}

void MainWindow::show_title() {
    if (!desk_.session.has_job()) {
        setWindowTitle(desk_.words("window.title"));
        return;
    }
    const std::string& path = desk_.session.path();
    const std::string name = path.empty() ? desk_.words("window.no_file").toStdString()
                                          : QFileInfo(QString::fromStdString(path)).fileName().toStdString();
    setWindowTitle(desk_.words("window.title_of_job", {{"job", name}}));
    setWindowModified(desk_.session.unsaved());
}

void MainWindow::use_theme(Theme theme) {
    desk_.theme = theme;
    use(*qApp, theme);
    // This window hears of its new palette only later.
    desk_.icons.set_ink(QApplication::palette().color(QPalette::WindowText));
    bench_->use_theme(theme);
}

void MainWindow::closeEvent(QCloseEvent* event) {
    if (!may_close_job(desk_, this)) {
        event->ignore();
        return;
    }
    autosave_.close();
    QSettings().setValue("window", saveGeometry());
    event->accept();
}

void MainWindow::dragEnterEvent(QDragEnterEvent* event) {
    const QList<QUrl> urls = event->mimeData()->urls();
    if (urls.size() == 1 && urls.front().isLocalFile()) event->acceptProposedAction();
}

void MainWindow::dropEvent(QDropEvent* event) {
    const QList<QUrl> urls = event->mimeData()->urls();
    if (urls.size() != 1) return;
    event->acceptProposedAction();
    open(urls.front().toLocalFile());
}

}  // namespace setwright::app
