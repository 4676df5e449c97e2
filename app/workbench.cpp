#include "app/workbench.h"

#include <QDragEnterEvent>
#include <QMimeData>
#include <QStackedLayout>
#include <algorithm>

#include "app/tools/place_tool.h"
#include "app/tools/select_tool.h"
#include "core/base/limits.h"
#include "viewer/plan_view.h"
#include "viewer/solid_view.h"

namespace setwright::app {

namespace {

namespace limits = base::limits;
using space::Vec3;
using viewer::Tone;

constexpr int pointed_out_ms = 4000;
/// An upright face in a plan is picked within this.
constexpr double aperture_pixels = 4;
/// What is shown around a place that was out of sight.
constexpr double around_mm = 300;

/// Keys that tools use: they go to the tool in hand before they go to a menu.
bool for_tools(const QKeyEvent& key) {
    const Qt::KeyboardModifiers modifiers = key.modifiers() & ~(Qt::KeypadModifier | Qt::ShiftModifier);
    switch (key.key()) {
        case Qt::Key_Left:
        case Qt::Key_Right:
        case Qt::Key_Up:
        case Qt::Key_Down:
            return !modifiers || modifiers == Qt::ControlModifier;
        case Qt::Key_R:
        case Qt::Key_H:
        case Qt::Key_P:
        case Qt::Key_F:
        case Qt::Key_Plus:
        case Qt::Key_Equal:
        case Qt::Key_Minus:
        case Qt::Key_Underscore:
        case Qt::Key_PageUp:
        case Qt::Key_PageDown:
        case Qt::Key_Escape:
        case Qt::Key_Delete:
        case Qt::Key_Backspace:
            return !modifiers;
        default:
            return !modifiers && key.key() >= Qt::Key_1 && key.key() <= Qt::Key_9;
    }
}

template <class T>
void append(std::vector<T>& to, const std::vector<T>& more) {
    to.insert(to.end(), more.begin(), more.end());
}

/// What lies over the scene on the tool's side goes before what rests on it.
viewer::Overlay together(viewer::Overlay over, const viewer::Overlay& resting) {
    append(over.ghosts, resting.ghosts);
    append(over.measures, resting.measures);
    append(over.touches, resting.touches);
    append(over.spots, resting.spots);
    append(over.motions, resting.motions);
    append(over.notes, resting.notes);
    append(over.lines, resting.lines);
    over.selected.insert(resting.selected.begin(), resting.selected.end());
    if (!over.hovered) over.hovered = resting.hovered;
    if (!over.face) over.face = resting.face;
    if (!over.hole) over.hole = resting.hole;
    over.hidden.insert(resting.hidden.begin(), resting.hidden.end());
    return over;
}

}  // namespace

Workbench::Workbench(Desk& desk, bool plan_only, QWidget* parent)
    : QWidget(parent), desk_(desk), layout_(new QStackedLayout(this)) {
    setObjectName("workbench");
    setAcceptDrops(true);
    layout_->setContentsMargins(0, 0, 0, 0);
    plan_ = new viewer::PlanView(this);
    plan_->setObjectName("workbench.plan");
    layout_->addWidget(plan_);
    listen(*plan_);
    view_ = plan_;
    if (!plan_only && viewer::SolidView::available()) {
        auto* solid = new viewer::SolidView(this);
        solid->setObjectName("workbench.solid");
        layout_->addWidget(solid);
        listen(*solid);
        solid_ = view_ = solid;
        connect(
            solid, &viewer::SolidView::failed, this,
            [this](const QString& reason) {
                show_plan(true);
                solid_ = nullptr;
                desk_.session.say({"tool.no_solid", {{"reason", reason.toStdString()}}});
                Q_EMIT view_changed();
            },
            Qt::QueuedConnection);
    }
    layout_->setCurrentWidget(view_);
    setFocusProxy(view_);
    use_theme(desk.theme);

    overlay_due_.setSingleShot(true);
    connect(&overlay_due_, &QTimer::timeout, this, &Workbench::show_overlay);
    move_due_.setSingleShot(true);
    connect(&move_due_, &QTimer::timeout, this, &Workbench::move_now);
    pointed_out_until_.setSingleShot(true);
    connect(&pointed_out_until_, &QTimer::timeout, this, [this] {
        pointed_out_ = {};
        overlay_due_.start(0);
    });

    Session& session = desk.session;
    connect(&session, &Session::opened, this, [this] {
        take(nullptr);
        fitted_.clear();
        // The bodies of the job before are not needed any more.
        desk_.shapes = {};
        pull_scene();
    });
    connect(&session, &Session::stage_changed, this, [this] {
        take(nullptr);
        pull_scene();
    });
    connect(&session, &Session::changed, this, [this](const setup::Changes& changes) {
        viewer::update(scene_, desk_.session.now(), desk_.session.stage(), changes, desk_.shapes);
        tool_->reset();
        view_->show_scene(scene_);
        overlay_due_.start(0);
    });
    connect(&session, &Session::tried, this, [this] { overlay_due_.start(0); });
    connect(&session, &Session::selection_changed, this, [this] {
        overlay_due_.start(0);
        Q_EMIT hint_changed();
    });
    connect(&desk.checker, &Checker::reported, this, [this] { overlay_due_.start(0); });
    connect(&desk.checker, &Checker::started, this, [this] { overlay_due_.start(0); });

    hold(std::make_unique<SelectTool>(desk));
    if (session.has_job()) pull_scene();
}

Workbench::~Workbench() {
    // A tool that still tries something out puts the committed job back; the views may not hear of it any more.
    disconnect(&desk_.session, nullptr, this, nullptr);
    tool_.reset();
}

bool Workbench::can_show_solid() const {
    return solid_ != nullptr;
}

bool Workbench::shows_plan() const {
    return view_ == plan_;
}

void Workbench::show_plan(bool plan) {
    viewer::View* wanted = plan || !solid_ ? plan_ : solid_;
    if (wanted == view_) return;
    const bool focused = view_->hasFocus();
    moved_.reset();
    view_ = wanted;
    layout_->setCurrentWidget(view_);
    setFocusProxy(view_);
    if (focused) view_->setFocus();
    view_->show_scene(scene_);
    fit_once();
    show_overlay();
    Q_EMIT view_changed();
}

void Workbench::use_theme(Theme theme) {
    plan_->set_palette(view_palette(theme));
    if (solid_) solid_->set_palette(view_palette(theme));
}

void Workbench::take(std::unique_ptr<Tool> tool) {
    if (tool_) {
        disconnect(tool_.get(), nullptr, this, nullptr);
        tool_->reset();
        // It may be in the middle of saying that it has finished.
        tool_.release()->deleteLater();
    }
    moved_.reset();
    hold(tool ? std::move(tool) : std::make_unique<SelectTool>(desk_));
    Q_EMIT tool_changed();
    Q_EMIT hint_changed();
    overlay_due_.start(0);
}

void Workbench::hold(std::unique_ptr<Tool> tool) {
    tool_ = std::move(tool);
    connect(tool_.get(), &Tool::overlay_changed, this, [this] { overlay_due_.start(0); });
    connect(tool_.get(), &Tool::hint_changed, this, &Workbench::hint_changed);
    connect(tool_.get(), &Tool::finished, this, [this] { take(nullptr); });
    if (auto* select = qobject_cast<SelectTool*>(tool_.get()))
        connect(select, &SelectTool::wants_callout, this, &Workbench::wants_callout);
}

Pointer Workbench::pointer(const QPointF& at, Qt::KeyboardModifiers modifiers) const {
    Pointer pointer;
    pointer.at = at;
    pointer.modifiers = modifiers;
    pointer.mm_per_pixel = view_->mm_per_pixel();
    pointer.ray = view_->ray(at);
    pointer.picked = viewer::pick(scene_, pointer.ray, aperture_pixels * pointer.mm_per_pixel,
                                  [this](const viewer::ItemId& item) { return tool_->passes(item); });
    return pointer;
}

void Workbench::listen(viewer::View& view) {
    connect(&view, &viewer::View::pressed, this, [this](const QPointF& at, Qt::KeyboardModifiers modifiers) {
        move_now();
        tool_->press(pointer(at, modifiers));
    });
    connect(&view, &viewer::View::moved, this, [this](const QPointF& at, Qt::KeyboardModifiers modifiers) {
        moved_ = {at, modifiers};
        move_due_.start(0);
    });
    connect(&view, &viewer::View::released, this, [this](const QPointF& at, Qt::KeyboardModifiers modifiers) {
        move_now();
        tool_->release(pointer(at, modifiers));
    });
    connect(&view, &viewer::View::double_clicked, this, [this](const QPointF& at, Qt::KeyboardModifiers modifiers) {
        move_now();
        tool_->double_click(pointer(at, modifiers));
    });
    connect(&view, &viewer::View::left, this, [this] {
        moved_.reset();
        tool_->leave();
    });
}

void Workbench::move_now() {
    move_due_.stop();
    if (!moved_) return;
    const auto [at, modifiers] = *std::exchange(moved_, {});
    tool_->move(pointer(at, modifiers));
}

void Workbench::pull_scene() {
    scene_ = desk_.session.has_job() ? viewer::make_scene(desk_.session.now(), desk_.session.stage(), desk_.shapes)
                                     : viewer::Scene{};
    view_->show_scene(scene_);
    fit_once();
    overlay_due_.start(0);
}

void Workbench::fit_once() {
    if (!desk_.session.has_job() || !isVisible() || !fitted_.insert(view_).second) return;
    // What is being set up, with some table around it; the whole table where nothing lies there.
    space::Aabb box;
    for (const auto& [id, item] : scene_.items) box.add(item.shape->box.moved(item.X_TS));
    view_->fit(box.empty() ? box : box.grown(around_mm / 2));
}

void Workbench::showEvent(QShowEvent* event) {
    QWidget::showEvent(event);
    // The views have their size only after this.
    QTimer::singleShot(0, this, &Workbench::fit_once);
}

void Workbench::show_overlay() {
    overlay_due_.stop();
    view_->show_overlay(overlay());
}

viewer::Overlay Workbench::overlay() const {
    viewer::Overlay over = tool_->overlay();
    viewer::Overlay resting;
    // While something is on its way the checks of the committed job are not about what is seen.
    if (over.hidden.empty() && over.ghosts.empty()) resting = resting_overlay();
    return together(together(std::move(over), resting), pointed_out_);
}

viewer::Overlay Workbench::resting_overlay() const {
    viewer::Overlay over;
    const Session& session = desk_.session;
    if (!session.has_job()) return over;
    const Selection& selection = session.selection();
    for (const PieceId id : selection.pieces) over.selected.insert(id);
    for (const PlacementId id : selection.placements) over.selected.insert(id);
    if (selection.seam) {
        if (const weldment::Seam* seam = session.now().find_seam(*selection.seam)) {
            std::vector<Vec3> line;
            for (const Vec3& point : seam->path_M) line.push_back(session.in_stage().lay.X_TM * point);
            over.lines.push_back(std::move(line));
        }
    }
    if (selection.placements.size() == 1 && selection.pieces.empty()) add_block(over, *selection.placements.begin());
    if (selection.pieces.size() == 1 && selection.placements.empty()) add_piece(over, *selection.pieces.begin());
    return over;
}

void Workbench::add_block(viewer::Overlay& over, PlacementId block) const {
    const check::StageReport* report =
        desk_.checker.is_current() ? desk_.checker.of_stage(desk_.session.stage()) : nullptr;
    if (!report) return;
    std::set<PieceId> touched;
    for (const check::Contact& contact : report->contacts) {
        if (contact.placement != block) continue;
        touched.insert(contact.piece);
        over.touches.push_back({contact.point_T, contact.normal_T, contact.patch_T,
                                std::abs(contact.gap_mm) <= limits::exact_face_mm ? Tone::good : Tone::warn});
    }
    const check::Clearance* nearest = nullptr;
    for (const check::Clearance& clearance : report->clearance.nearest) {
        const auto* piece = std::get_if<PieceId>(&clearance.other);
        if (clearance.placement != block || clearance.overlap || (piece && touched.contains(*piece))) continue;
        // What stands on it, what it stands on and the table are no distance worth a line.
        if (clearance.distance_mm <= limits::contact_mm) continue;
        if (!nearest || clearance.distance_mm < nearest->distance_mm) nearest = &clearance;
    }
    if (!nearest) return;
    // Blocks may stand as close to each other as they like; only pieces need room.
    const bool tight = std::holds_alternative<PieceId>(nearest->other) &&
                       nearest->distance_mm < desk_.session.now().limits.clearance_piece_mm;
    over.measures.push_back({nearest->on_placement_T, nearest->on_other_T,
                             desk_.words.length(nearest->distance_mm).toStdString(), tight ? Tone::warn : Tone::plain});
}

void Workbench::add_piece(viewer::Overlay& over, PieceId piece) const {
    const check::StageReport* report =
        desk_.checker.is_current() ? desk_.checker.of_stage(desk_.session.stage()) : nullptr;
    if (!report) return;
    for (const check::Contact& contact : report->contacts)
        if (contact.piece == piece)
            over.touches.push_back({contact.point_T, contact.normal_T, contact.patch_T, Tone::good});
    const setup::Setup& checked = *desk_.checker.checked();
    for (const check::FreeMotion& motion :
         check::still_moves(checked, *checked.find_stage(report->stage), report->posed, report->contacts, piece))
        over.motions.push_back({motion.at_T, motion.axis_T, motion.turns});
}

void Workbench::point_out(const Vec3& at_T, const QString& words) {
    const QPointF at = view_->to_widget(at_T);
    if (!QRectF(view_->rect()).adjusted(20, 20, -20, -20).contains(at)) {
        space::Aabb around;
        around.add(at_T);
        view_->fit(around.grown(around_mm));
    }
    pointed_out_ = {};
    pointed_out_.spots.push_back({at_T, "", Tone::warn});
    if (!words.isEmpty()) pointed_out_.notes.push_back({at_T, in_lines(words, 46).toStdString(), Tone::warn});
    pointed_out_until_.start(pointed_out_ms);
    show_overlay();
}

void Workbench::drag_from_shelf(std::shared_ptr<const shop::Component> component, const QPointF& at) {
    if (!desk_.session.has_job()) return;
    if (!from_shelf_ || from_shelf_ != tool_.get() || from_shelf_->component() != component) {
        auto tool = std::make_unique<PlaceTool>(desk_, std::move(component));
        QPointer<PlaceTool> taken = tool.get();
        take(std::move(tool));
        from_shelf_ = taken;
    }
    moved_ = {view_->mapFrom(this, at), Qt::NoModifier};
    move_due_.start(0);
}

void Workbench::drop_from_shelf(const QPointF& at) {
    if (!from_shelf_ || from_shelf_ != tool_.get()) return;
    moved_.reset();
    from_shelf_->drop(pointer(view_->mapFrom(this, at), Qt::NoModifier));
    from_shelf_.clear();
    view_->setFocus();
}

void Workbench::leave_from_shelf() {
    if (!from_shelf_ || from_shelf_ != tool_.get()) return;
    from_shelf_.clear();
    take(nullptr);
}

void Workbench::dragEnterEvent(QDragEnterEvent* event) {
    if (desk_.session.has_job() && event->mimeData()->hasFormat(component_mime)) event->acceptProposedAction();
}

void Workbench::dragMoveEvent(QDragMoveEvent* event) {
    const QByteArray id = event->mimeData()->data(component_mime);
    // A component of an older catalogue is known by the job alone.
    std::shared_ptr<const shop::Component> component = desk_.session.catalogue().share(id.toStdString());
    if (!component && desk_.session.has_job()) {
        const auto& known = desk_.session.now().components;
        if (const auto found = known.find(id.toStdString()); found != known.end()) component = found->second;
    }
    if (!component || !desk_.session.has_job()) return event->ignore();
    drag_from_shelf(std::move(component), event->position());
    event->acceptProposedAction();
}

void Workbench::dragLeaveEvent(QDragLeaveEvent*) {
    leave_from_shelf();
}

void Workbench::dropEvent(QDropEvent* event) {
    drop_from_shelf(event->position());
    event->acceptProposedAction();
}

bool Workbench::event(QEvent* event) {
    if (event->type() == QEvent::ShortcutOverride) {
        auto* key = static_cast<QKeyEvent*>(event);
        if (for_tools(*key)) {
            key->accept();
            return true;
        }
    }
    return QWidget::event(event);
}

QKeyEvent Workbench::as_seen(const QKeyEvent& event) const {
    // Anticlockwise from the key that goes east.
    static constexpr std::array<int, 4> arrows{Qt::Key_Right, Qt::Key_Up, Qt::Key_Left, Qt::Key_Down};
    const auto arrow = std::find(arrows.begin(), arrows.end(), event.key());
    const setup::Placement* block = nullptr;
    if (desk_.session.has_job() && desk_.session.selection().placements.size() == 1)
        block = desk_.session.in_stage().find(*desk_.session.selection().placements.begin());
    // On the face of a block right is right for whoever looks at that face.
    const bool on_face =
        tool_->name() == "select" && block != nullptr && block->seat.host.kind == setup::Host::Kind::placement;
    std::size_t quarters = 0;
    if (view_->looking() == viewer::Direction::east) quarters = 1;
    if (view_->looking() == viewer::Direction::north) quarters = 2;
    if (view_->looking() == viewer::Direction::west) quarters = 3;
    int key = event.key();
    if (arrow != arrows.end() && !on_face)
        key = arrows[(static_cast<std::size_t>(arrow - arrows.begin()) + quarters) % 4];
    return QKeyEvent(event.type(), key, event.modifiers(), event.text());
}

void Workbench::keyPressEvent(QKeyEvent* event) {
    move_now();
    if (tool_->key(as_seen(*event))) {
        event->accept();
    } else if (event->key() == Qt::Key_Escape && tool_->name() != "select") {
        take(nullptr);
        event->accept();
    } else {
        QWidget::keyPressEvent(event);
    }
}

}  // namespace setwright::app
