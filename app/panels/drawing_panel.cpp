#include "app/panels/drawing_panel.h"

#include "app/actions/save_job.h"

#include <QAction>
#include <QComboBox>
#include <QDir>
#include <QFileDialog>
#include <QFileInfo>
#include <QFormLayout>
#include <QLabel>
#include <QLineEdit>
#include <QListWidget>
#include <QMessageBox>
#include <QPainter>
#include <QPlainTextEdit>
#include <QPrintDialog>
#include <QPrinter>
#include <QPushButton>
#include <QTabWidget>
#include <QTimer>
#include <QVBoxLayout>

#include "app/background.h"
#include "app/print.h"
#include "core/setup/edit.h"
#include "core/sheet/pages.h"

namespace setwright::app {

namespace {

constexpr std::array papers{"A4", "A3", "letter", "tabloid"};
constexpr std::array hands{"", "as drawn", "left", "right"};
constexpr std::array hand_words{"drawing.hand_none", "drawing.hand_as_drawn", "drawing.hand_left",
                                "drawing.hand_right"};
/// 0: millimetres.
constexpr std::array denominators{0, 8, 16, 32, 64};
/// Longer side of a page in the list, pixels.
constexpr int small_pixels = 72;

QImage small_picture(const sheet::Page& page, double device_pixel_ratio) {
    const double longer_mm = std::max(page.width_mm, page.height_mm);
    QImage paper = picture(page, small_pixels * device_pixel_ratio / longer_mm);
    const auto side = static_cast<int>(small_pixels * device_pixel_ratio);
    // All as wide as the widest, so that the titles line up.
    QImage square(side, side, QImage::Format_ARGB32_Premultiplied);
    square.fill(Qt::transparent);
    QPainter painter(&square);
    const QPoint corner((side - paper.width()) / 2, (side - paper.height()) / 2);
    painter.drawImage(corner, paper);
    painter.setPen(Qt::gray);
    painter.drawRect(QRect(corner, paper.size() - QSize(1, 1)));
    painter.end();
    square.setDevicePixelRatio(device_pixel_ratio);
    return square;
}

/// The same where its row is selected: paper stays white.
QIcon untinted(const QImage& image) {
    const QPixmap pixmap = QPixmap::fromImage(image);
    QIcon icon(pixmap);
    icon.addPixmap(pixmap, QIcon::Selected);
    return icon;
}

}  // namespace

DrawingPanel::DrawingPanel(Desk& desk, PagePreview& preview, QWidget* parent)
    : QWidget(parent), desk_(desk), preview_(preview) {
    setObjectName("drawing");
    load_page_fonts();
    auto* column = new QVBoxLayout(this);
    column->setContentsMargins(8, 8, 8, 8);
    auto* tabs = new QTabWidget(this);
    tabs->setObjectName("drawing.tabs");
    tabs->setDocumentMode(true);
    tabs->addTab(make_page_list(), desk.words("drawing.pages"));
    tabs->addTab(make_title_block(), desk.words("drawing.title_block"));
    column->addWidget(tabs, 1);
    auto* row = new QHBoxLayout;
    findings_sign_ = new QLabel(this);
    findings_sign_->setAlignment(Qt::AlignTop);
    findings_ = new QLabel(this);
    findings_->setObjectName("drawing.findings");
    findings_->setWordWrap(true);
    row->addWidget(findings_sign_);
    row->addWidget(findings_, 1);
    column->addLayout(row);
    column->addWidget(make_ways_out());

    connect(&preview, &PagePreview::turned, this, &DrawingPanel::show_page);
    connect(&desk.session, &Session::opened, this, [this] {
        pages_ = nullptr;
        drawn_ = nullptr;
        then_ = nullptr;
        page_ = 0;
        list_->clear();
        preview_.show_page(nullptr, 0);
        pull();
    });
    connect(&desk.session, &Session::changed, this, &DrawingPanel::pull);
    connect(&desk.checker, &Checker::reported, this, [this] {
        pull_findings();
        want_pages();
    });
    pull();
}

DrawingPanel::~DrawingPanel() = default;

QWidget* DrawingPanel::make_page_list() {
    auto* box = new QWidget(this);
    auto* column = new QVBoxLayout(box);
    column->setContentsMargins(0, 6, 0, 0);
    auto* form = new QFormLayout;
    form->setVerticalSpacing(4);
    paper_ = new QComboBox(box);
    paper_->setObjectName("drawing.paper");
    for (const char* paper : papers) paper_->addItem(desk_.words(std::string("drawing.paper_") + paper), paper);
    form->addRow(desk_.words("drawing.paper"), paper_);
    unit_ = new QComboBox(box);
    unit_->setObjectName("drawing.unit");
    for (const int denominator : denominators)
        unit_->addItem(denominator == 0
                           ? desk_.words("drawing.unit_mm")
                           : desk_.words("drawing.unit_inch", {{"denominator", std::int64_t{denominator}}}),
                       denominator);
    form->addRow(desk_.words("drawing.unit"), unit_);
    column->addLayout(form);
    list_ = new QListWidget(box);
    list_->setObjectName("drawing.list");
    list_->setAccessibleName(desk_.words("drawing.pages"));
    list_->setIconSize({small_pixels, small_pixels});
    list_->setWordWrap(true);
    list_->setSpacing(2);
    list_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
    list_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
    column->addWidget(list_, 1);

    connect(list_, &QListWidget::currentRowChanged, this, [this](int row) {
        if (row >= 0) show_page(row);
    });
    connect(paper_, &QComboBox::activated, this, [this] {
        if (!desk_.session.has_job()) return;
        setup::Display display = desk_.session.now().display;
        display.paper = paper_->currentData().toString().toStdString();
        write_display(display, {"drawing.did_paper", {{"paper", paper_->currentText().toStdString()}}});
    });
    connect(unit_, &QComboBox::activated, this, [this] {
        if (!desk_.session.has_job()) return;
        setup::Display display = desk_.session.now().display;
        const int denominator = unit_->currentData().toInt();
        display.unit.unit = denominator == 0 ? base::LengthUnit::mm : base::LengthUnit::inch;
        if (denominator != 0) display.unit.denominator = denominator;
        write_display(display, {"drawing.did_unit", {{"unit", unit_->currentText().toStdString()}}});
    });
    return box;
}

void DrawingPanel::add_field(QFormLayout& form, std::string setup::TitleBlock::*field, const std::string& name) {
    auto* edit = new QLineEdit(this);
    edit->setObjectName(QString::fromStdString("drawing." + name));
    edit->setMaxLength(80);
    form.addRow(desk_.words("drawing." + name), edit);
    fields_.emplace_back(field, edit);
    connect(edit, &QLineEdit::editingFinished, this, [this, field, edit, name] {
        write_title(field, edit->text().trimmed().toStdString(), {"drawing.did_" + name, {}});
    });
}

QWidget* DrawingPanel::make_title_block() {
    auto* box = new QWidget(this);
    auto* column = new QVBoxLayout(box);
    column->setContentsMargins(0, 6, 0, 0);
    auto* form = new QFormLayout;
    form->setVerticalSpacing(4);
    add_field(*form, &setup::TitleBlock::job, "job");
    add_field(*form, &setup::TitleBlock::part, "part");
    add_field(*form, &setup::TitleBlock::customer, "customer");
    add_field(*form, &setup::TitleBlock::planner, "planner");
    add_field(*form, &setup::TitleBlock::date, "date");
    add_field(*form, &setup::TitleBlock::revision, "revision");
    hand_ = new QComboBox(box);
    hand_->setObjectName("drawing.hand");
    for (std::size_t i = 0; i < hands.size(); ++i) hand_->addItem(desk_.words(hand_words[i]), hands[i]);
    form->addRow(desk_.words("drawing.hand"), hand_);
    column->addLayout(form);
    auto* label = new QLabel(desk_.words("drawing.notes"), box);
    notes_ = new QPlainTextEdit(box);
    notes_->setObjectName("drawing.notes");
    notes_->setTabChangesFocus(true);
    notes_->installEventFilter(this);
    label->setBuddy(notes_);
    column->addWidget(label);
    column->addWidget(notes_, 1);
    connect(hand_, &QComboBox::activated, this, [this] {
        write_title(&setup::TitleBlock::hand, hand_->currentData().toString().toStdString(), {"drawing.did_hand", {}});
    });
    return box;
}

QWidget* DrawingPanel::make_ways_out() {
    auto* box = new QWidget(this);
    auto* row = new QHBoxLayout(box);
    row->setContentsMargins(0, 0, 0, 0);
    const auto add = [&](const std::string& name, const QString& icon, QKeySequence keys) {
        auto* action = new QAction(desk_.icons(icon), desk_.words("drawing." + name), this);
        action->setObjectName("action." + QString::fromStdString(name));
        action->setShortcut(keys);
        action->setToolTip(desk_.words("drawing." + name + "_tip"));
        auto* button = new QPushButton(action->icon(), action->text(), box);
        button->setObjectName("drawing." + QString::fromStdString(name));
        button->setToolTip(action->toolTip());
        // Three side by side in the column.
        button->setSizePolicy(QSizePolicy::Ignored, QSizePolicy::Fixed);
        connect(button, &QPushButton::clicked, action, &QAction::trigger);
        row->addWidget(button, 1);
        return action;
    };
    print_ = add("print", "print", QKeySequence::Print);
    pdf_ = add("pdf", "pdf", {});
    svg_ = add("svg", "drawing", {});
    connect(print_, &QAction::triggered, this, [this] { with_pages([this] { print(); }); });
    connect(pdf_, &QAction::triggered, this, [this] { with_pages([this] { save("pdf"); }); });
    connect(svg_, &QAction::triggered, this, [this] { with_pages([this] { save("svg"); }); });
    return box;
}

void DrawingPanel::showEvent(QShowEvent*) {
    want_pages();
}

bool DrawingPanel::eventFilter(QObject* watched, QEvent* event) {
    if (watched == notes_ && event->type() == QEvent::FocusOut) write_notes();
    return QWidget::eventFilter(watched, event);
}

void DrawingPanel::changeEvent(QEvent* event) {
    QWidget::changeEvent(event);
    // The signs take the new ink, which is mixed after this.
    if (event->type() == QEvent::PaletteChange) QTimer::singleShot(0, this, &DrawingPanel::pull_findings);
}

void DrawingPanel::pull() {
    setEnabled(desk_.session.has_job());
    pull_fields();
    pull_findings();
    want_pages();
}

void DrawingPanel::pull_fields() {
    const setup::Setup none;
    const setup::Setup& now = desk_.session.has_job() ? desk_.session.now() : none;
    for (const auto& [field, edit] : fields_) edit->setText(QString::fromStdString(now.title.*field));
    hand_->setCurrentIndex(std::max(0, hand_->findData(QString::fromStdString(now.title.hand))));
    const QString notes = QString::fromStdString(now.notes);
    if (notes_->toPlainText() != notes) notes_->setPlainText(notes);
    paper_->setCurrentIndex(std::max(0, paper_->findData(QString::fromStdString(now.display.paper))));
    const base::DisplayUnit& unit = now.display.unit;
    unit_->setCurrentIndex(std::max(0, unit_->findData(unit.unit == base::LengthUnit::mm ? 0 : unit.denominator)));
}

void DrawingPanel::pull_findings() {
    findings_sign_->hide();
    if (!desk_.session.has_job()) {
        findings_->setText(desk_.words("drawing.no_job"));
        return;
    }
    const auto report = desk_.checker.report();
    if (!report || !desk_.checker.is_current()) {
        findings_->setText(desk_.words("drawing.checking"));
        return;
    }
    const auto fails = std::count_if(report->findings.begin(), report->findings.end(), [](const check::Finding& f) {
        return f.verdict == check::Verdict::fail && !f.accepted;
    });
    const int line = fontMetrics().height();
    findings_sign_->show();
    findings_sign_->setPixmap(desk_.icons(fails > 0 ? "fail" : "pass").pixmap(line, line));
    findings_->setText(fails > 0 ? desk_.words("drawing.fails", {{"n", static_cast<std::int64_t>(fails)}})
                                 : desk_.words("drawing.no_fails"));
}

Pages DrawingPanel::pages() const {
    return desk_.session.has_job() && drawn_ == desk_.session.share() ? pages_ : nullptr;
}

void DrawingPanel::want_pages() {
    if (!desk_.session.has_job() || (!isVisible() && !then_)) return;
    if (pages()) {
        preview_.set_drawing(false);
        return;
    }
    preview_.set_drawing(true);
    // One at a time: what is being drawn is dropped when it comes, if it is out of date then.
    if (!drawing_ && desk_.checker.report() && desk_.checker.checked() == desk_.session.share()) draw();
}

void DrawingPanel::draw() {
    const auto setup = desk_.session.share();
    const auto report = desk_.checker.report();
    const double ratio = devicePixelRatioF();
    drawing_ = std::make_unique<Background>(
        [this, setup, report, ratio, &texts = desk_.words.texts()](const base::Progress& job) {
            const std::optional<sheet::Paper> paper = sheet::parse_paper(setup->display.paper);
            auto made =
                sheet::set_up_pages(*setup, *report, texts, {paper.value_or(sheet::Paper::a4), setup->display.unit});
            std::vector<QImage> small;
            Pages pages;
            std::optional<base::Error> error;
            if (made) {
                pages = std::make_shared<const std::vector<sheet::Page>>(std::move(*made));
                for (const sheet::Page& page : *pages) {
                    if (job.cancelled()) break;
                    small.push_back(small_picture(page, ratio));
                }
            } else {
                error = made.error();
            }
            return [this, setup, pages, small, error] {
                const std::unique_ptr<Background> ended = std::move(drawing_);
                if (!desk_.session.has_job() || setup != desk_.session.share()) {
                    want_pages();
                    return;
                }
                drawn_ = setup;
                if (error) desk_.session.refuse(error->text);
                take_pages(pages ? pages : std::make_shared<const std::vector<sheet::Page>>(), small);
            };
        });
}

void DrawingPanel::take_pages(Pages pages, std::vector<QImage> small) {
    pages_ = std::move(pages);
    const QSignalBlocker quiet(list_);
    list_->clear();
    for (std::size_t i = 0; i < pages_->size(); ++i)
        new QListWidgetItem(untinted(small[i]), QString::fromStdString((*pages_)[i].title), list_);
    preview_.set_drawing(false);
    show_page(std::clamp(page_, 0, std::max(0, static_cast<int>(pages_->size()) - 1)));
    Q_EMIT drawn();
    if (const std::function<void()> then = std::exchange(then_, nullptr); then && !pages_->empty()) then();
}

void DrawingPanel::show_page(int page) {
    page_ = page;
    const QSignalBlocker quiet(list_);
    list_->setCurrentRow(page);
    preview_.show_page(pages_, page);
}

void DrawingPanel::with_pages(std::function<void()> then) {
    finish_typing();
    if (!desk_.session.has_job()) return;
    if (pages() && !pages_->empty()) {
        then();
        return;
    }
    // Those that could not be drawn are tried again.
    if (pages_ && pages_->empty()) drawn_.reset();
    then_ = std::move(then);
    desk_.session.say({"drawing.drawing_first", {}});
    want_pages();
}

void DrawingPanel::write_title(std::string setup::TitleBlock::*field, const std::string& value,
                               const base::Text& label) {
    if (!desk_.session.has_job()) return;
    setup::TitleBlock title = desk_.session.now().title;
    if (title.*field == value) return;
    title.*field = value;
    desk_.session.apply(setup::set_title(desk_.session.now(), title), label);
}

void DrawingPanel::write_notes() {
    if (!desk_.session.has_job()) return;
    const std::string notes = notes_->toPlainText().toStdString();
    if (notes == desk_.session.now().notes) return;
    desk_.session.apply(setup::set_notes(desk_.session.now(), notes), {"drawing.did_notes", {}});
}

void DrawingPanel::write_display(const setup::Display& display, const base::Text& label) {
    desk_.session.apply(setup::set_display(desk_.session.now(), display), label);
}

void DrawingPanel::print() {
    auto printer = std::make_shared<QPrinter>(QPrinter::HighResolution);
    printer->setDocName(QString::fromStdString(document_title(desk_.session.now())));
    printer->setFromTo(1, static_cast<int>(pages_->size()));
    const sheet::Page& first = pages_->front();
    printer->setPageSize(
        QPageSize(QSizeF(first.width_mm, first.height_mm), QPageSize::Millimeter, {}, QPageSize::FuzzyMatch));
    auto* dialog = new QPrintDialog(printer.get(), window());
    dialog->setObjectName("drawing.print_dialog");
    dialog->setAttribute(Qt::WA_DeleteOnClose);
    dialog->setWindowTitle(desk_.words("drawing.print_title"));
    dialog->setOption(QAbstractPrintDialog::PrintPageRange);
    connect(dialog, &QDialog::accepted, this, [this, printer, pages = pages_] {
        if (writing_) {
            desk_.session.refuse({"drawing.still_writing", {}});
            return;
        }
        std::vector<sheet::Page> chosen = *pages;
        if (printer->printRange() == QPrinter::PageRange && printer->fromPage() > 0) {
            const auto count = static_cast<int>(chosen.size());
            const int from = std::clamp(printer->fromPage(), 1, count);
            const int to = std::clamp(printer->toPage(), from, count);
            chosen = {pages->begin() + (from - 1), pages->begin() + to};
        }
        writing_ = std::make_unique<Background>([this, printer, chosen](const base::Progress&) {
            const base::Result<void> printed = print_pages(chosen, *printer);
            return [this, printer, printed, count = static_cast<std::int64_t>(chosen.size())] {
                const std::unique_ptr<Background> ended = std::move(writing_);
                if (printed)
                    desk_.session.say({"drawing.printed", {{"n", count}}});
                else
                    desk_.session.refuse(printed.error().text);
                Q_EMIT saved(printed.ok());
            };
        });
    });
    dialog->open();
}

QString DrawingPanel::proposed_path(const QString& ending) const {
    const setup::Setup& now = desk_.session.now();
    const QFileInfo job(QString::fromStdString(desk_.session.path()));
    QString name = job.completeBaseName();
    if (name.isEmpty() && !now.weldments.empty())
        name = QFileInfo(QString::fromStdString(now.weldments.front().file_name)).completeBaseName();
    const QString folder = !folder_.isEmpty()             ? folder_
                           : desk_.session.path().empty() ? QDir::homePath()
                                                          : job.absolutePath();
    return QDir(folder).filePath(name + '.' + ending);
}

void DrawingPanel::save(const QString& ending) {
    auto* dialog = new QFileDialog(window(), desk_.words("drawing." + ending.toStdString() + "_title"));
    dialog->setObjectName("drawing." + ending + "_dialog");
    dialog->setAttribute(Qt::WA_DeleteOnClose);
    dialog->setOption(QFileDialog::DontUseNativeDialog);
    // Asked below, when the ending is there and for every page's file.
    dialog->setOption(QFileDialog::DontConfirmOverwrite);
    dialog->setAcceptMode(QFileDialog::AcceptSave);
    dialog->setFileMode(QFileDialog::AnyFile);
    dialog->setNameFilter(desk_.words("drawing." + ending.toStdString() + "_filter"));
    const QFileInfo proposed(proposed_path(ending));
    dialog->setDirectory(proposed.absolutePath());
    dialog->selectFile(proposed.fileName());
    connect(dialog, &QFileDialog::fileSelected, this, [this, ending](const QString& chosen) {
        save_to(chosen.endsWith('.' + ending) ? chosen : chosen + '.' + ending);
    });
    dialog->open();
}

void DrawingPanel::save_to(const QString& path) {
    folder_ = QFileInfo(path).absolutePath();
    const std::string out = path.toStdString();
    std::vector<std::string> there = path.endsWith(".svg") ? page_files(out, pages_->size()) : std::vector{out};
    std::erase_if(there, [](const std::string& file) { return !QFileInfo(QString::fromStdString(file)).isFile(); });
    if (there.empty()) {
        write(out);
        return;
    }
    auto* question = new QMessageBox(
        QMessageBox::Question, desk_.words("drawing.over_title"),
        desk_.words("drawing.over",
                    {{"n", static_cast<std::int64_t>(there.size())},
                     {"file", QFileInfo(QString::fromStdString(there.front())).fileName().toStdString()}}),
        QMessageBox::Cancel, window());
    question->setObjectName("drawing.over");
    question->setAttribute(Qt::WA_DeleteOnClose);
    QPushButton* over = question->addButton(desk_.words("drawing.write_over"), QMessageBox::AcceptRole);
    over->setObjectName("drawing.write_over");
    connect(over, &QPushButton::clicked, this, [this, out] { write(out); });
    question->open();
}

void DrawingPanel::write(const std::string& path) {
    if (writing_) {
        desk_.session.refuse({"drawing.still_writing", {}});
        return;
    }
    // The job may have been edited while the dialog stood open: what is written is what was asked for.
    writing_ = std::make_unique<Background>([this, path, pages = pages_,
                                             title = document_title(*drawn_)](const base::Progress&) {
        const auto written = write_pages(*pages, path, title);
        return [this, path, written] {
            const std::unique_ptr<Background> ended = std::move(writing_);
            if (!written)
                desk_.session.refuse(written.error().text);
            else if (written->size() == 1)
                desk_.session.say({"drawing.written", {{"file", path}}});
            else
                desk_.session.say({"drawing.written_files",
                                   {{"n", static_cast<std::int64_t>(written->size())}, {"first", written->front()}}});
            Q_EMIT saved(written.ok());
        };
    });
}

}  // namespace setwright::app
