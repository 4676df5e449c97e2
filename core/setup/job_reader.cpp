#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "core/base/limits.h"
#include "core/setup/edit.h"
#include "core/setup/id_book.h"
#include "core/setup/job_file.h"
#include "core/setup/job_format.h"

namespace setwright::setup {

using base::Json;
using Value = base::JsonValue;
using Fields = base::JsonFields;
using space::Vec3;
using namespace job_format;

namespace {

constexpr base::JsonSentences sentences{"job.damaged",      "job.too_deep",     "job.key_twice",
                                        "job.missing_key",  "job.unknown_key",  "job.wrong_type",
                                        "job.out_of_range", "job.word_unknown", "job.list_length"};

/// Holes may lie off the table, but no table is that large; sums with them stay integers.
constexpr int furthest_hole = 100000;

Vec3 read_vector(const Value& value) {
    const auto [x, y, z] = value.numbers<3>();
    return {x, y, z};
}

space::Pose read_pose(const Value& value) {
    const auto numbers = value.numbers<16>();
    const auto X = space::Pose::from_row_major({numbers.begin(), numbers.end()});
    if (!X) value.say("job.pose_not_rigid");
    return X.value_or(space::Pose{});
}

FaceKey read_face(const Value& value) {
    Fields in = value.fields();
    FaceKey face;
    face.kind = in["kind"].word<space::SurfaceKind>(surface_kinds);
    face.axis = read_vector(in["axis"]);
    face.offset_mm = in["offset_mm"].number();
    face.radius_mm = in["radius_mm"].number();
    face.at = read_vector(in["at_mm"]);
    return face;
}

/// Data packed by packed(); the sum must hold.
std::shared_ptr<const std::string> read_packed(Fields& in, std::string& sha256) {
    sha256 = in["sha256"].text();
    const std::uint64_t bytes = in["bytes"].count();
    const Value text = in["packed"];
    if (!text.is_text()) {
        (void)text.text();
        return std::make_shared<const std::string>();
    }
    auto data = base::unpack(text.raw()->get_ref<const std::string&>(), bytes);
    if (!data || base::sha256(*data) != sha256) {
        text.say("job.packed_damaged");
        return std::make_shared<const std::string>();
    }
    return std::make_shared<const std::string>(std::move(data).value());
}

weldment::EndCut read_end(const Value& value) {
    static const auto kinds = words_of(weldment::EndKind::other);
    Fields in = value.fields();
    weldment::EndCut end;
    end.kind = in["kind"].word<weldment::EndKind>(kinds);
    end.angle_deg = in["angle_deg"].number();
    end.plane_deg = in["plane_deg"].number();
    end.second_angle_deg = in["second_angle_deg"].number();
    end.face = in["face"].integer(-1, std::numeric_limits<int>::max());
    return end;
}

weldment::Section read_section(const Value& value) {
    static const auto kinds = words_of(weldment::SectionKind::other);
    Fields in = value.fields();
    weldment::Section section;
    section.kind = in["kind"].word<weldment::SectionKind>(kinds);
    section.width_mm = in["width_mm"].size_mm();
    section.depth_mm = in["depth_mm"].size_mm();
    section.wall_mm = in["wall_mm"].size_mm();
    section.diameter_mm = in["diameter_mm"].size_mm();
    section.corner_radius_mm = in["corner_radius_mm"].size_mm();
    return section;
}

weldment::Fingerprint read_fingerprint(const Value& value) {
    Fields in = value.fields();
    weldment::Fingerprint print;
    print.name_path = in["name_path"].texts();
    print.volume_mm3 = in["volume_mm3"].number();
    print.principal_moments = read_vector(in["principal_moments_mm5"]);
    const auto kinds = in["face_kinds"].items(print.face_kinds.size());
    for (std::size_t i = 0; i < kinds.size(); ++i)
        print.face_kinds[i] = kinds[i].integer(0, std::numeric_limits<int>::max());
    print.handedness = in["handedness"].integer(-1, 1);
    print.centroid_M = read_vector(in["centroid_M_mm"]);
    return print;
}

/// Adds one entry of a list that is kept by id; twice the same id is a fault.
template <class Map, class Id, class T>
void put(Map& map, const Value& at, Id id, T value) {
    if (!map.emplace(id, std::move(value)).second) at.say("job.id_twice", {{"id", std::to_string(id.value)}});
}

WeldmentUse read_weldment(const Value& value, Books& books) {
    Fields in = value.fields();
    WeldmentUse use;
    use.id = in["id"].id<WeldmentId>();
    books.weldments.give(in["id"], use.id.value);
    use.file_name = in["file_name"].text();
    use.linked_path = in["linked_path"].text();
    use.unit_factor = in["unit_factor"].number_in(1e-6, 1e6);
    use.mirrored = in["mirrored"].truth();
    for (const Value& item : in["piece_edits"].items()) {
        Fields f = item.fields();
        const auto piece = f["piece"].id<PieceId>();
        books.pieces.refer(f["piece"], piece.value);
        PieceEdit edit;
        edit.name = f["name"].text();
        edit.left_out = f["left_out"].truth();
        if (const Value side = f["weld_side"]; side.is_given()) edit.weld_side = read_face(side);
        put(use.piece_edits, f["piece"], piece, std::move(edit));
    }
    for (const Value& item : in["seam_edits"].items()) {
        Fields f = item.fields();
        const auto seam = f["seam"].id<SeamId>();
        books.seams.refer(f["seam"], seam.value);
        SeamEdit edit;
        if (const Value accepted = f["accepted"]; accepted.is_given()) edit.accepted = accepted.truth();
        if (const Value size = f["size_mm"]; size.is_given()) edit.size_mm = size.size_mm();
        put(use.seam_edits, f["seam"], seam, edit);
    }
    for (const Value& item : in["pieces"].items()) {
        Fields f = item.fields();
        const auto piece = f["id"].id<PieceId>();
        books.pieces.give(f["id"], piece.value);
        use.frozen[piece] = {read_fingerprint(f["fingerprint"]), read_pose(f["X_MP"])};
    }
    for (const Value& item : in["seams"].items()) {
        Fields f = item.fields();
        const auto seam = f["id"].id<SeamId>();
        books.seams.give(f["id"], seam.value);
        WeldmentUse::FrozenSeam& was = use.frozen_seams[seam];
        const auto pair = f["pieces"].items(2);
        for (std::size_t i = 0; i < 2; ++i) {
            was.pieces[i] = pair[i].id<PieceId>();
            books.pieces.refer(pair[i], was.pieces[i].value);
        }
        was.middle_M = read_vector(f["middle_M_mm"]);
        was.length_mm = f["length_mm"].size_mm();
    }
    for (const Value& item : in["drawn"].items()) {
        Fields f = item.fields();
        DrawnPiece piece;
        piece.id = f["id"].id<PieceId>();
        books.pieces.give(f["id"], piece.id.value);
        piece.name = f["name"].text();
        piece.section = read_section(f["section"]);
        piece.length_mm = f["length_mm"].size_mm();
        const auto ends = f["ends"].items(2);
        piece.ends = {read_end(ends[0]), read_end(ends[1])};
        piece.X_MP = read_pose(f["X_MP"]);
        use.drawn.push_back(std::move(piece));
    }
    for (const Value& item : in["important"].items()) {
        Fields f = item.fields();
        ImportantFace face;
        face.piece = f["piece"].id<PieceId>();
        books.pieces.refer(f["piece"], face.piece.value);
        face.face = read_face(f["face"]);
        face.tolerance_mm = f["tolerance_mm"].size_mm();
        face.note = f["note"].text();
        use.important.push_back(std::move(face));
    }
    if (const Value step = in["step"]; step.is_given()) {
        Fields f = step.fields();
        use.step_text = read_packed(f, use.sha256);
    }
    return use;
}

using Components = std::map<std::string, std::shared_ptr<const shop::Component>>;

/// A component that is named must come with the job.
std::string read_component(const Value& value, const Components& components) {
    std::string id = value.text();
    if (!components.contains(id)) value.say("job.component_unknown", {{"component", id}});
    return id;
}

Seat read_seat(const Value& value, Books& books, const Components& components) {
    Fields in = value.fields();
    Seat seat;
    {
        const Value host_value = in["host"];
        Fields f = host_value.fields();
        Host& host = seat.host;
        host.kind = f["kind"].word<Host::Kind>(host_kinds);
        host.placement.value = f["placement"].id_number(host.kind != Host::Kind::placement);
        if (host.placement.valid()) books.placements.refer(f["placement"], host.placement.value);
        host.face = f["face"].text();
        host.pieces = f["pieces"].id_list<PieceId>();
        books.pieces.refer(f["pieces"], host.pieces);
        for (const Value& face : f["piece_faces"].items()) host.piece_faces.push_back(read_face(face));
        host.side = f["side"].word<shop::TableSide>(sides);
        const std::size_t wanted = host.kind == Host::Kind::piece ? 1 : host.kind == Host::Kind::pieces ? 2 : 0;
        if (host.pieces.size() != wanted)
            f["pieces"].say("job.list_length", {{"count", static_cast<std::int64_t>(wanted)}});
        if (host.piece_faces.size() != wanted)
            f["piece_faces"].say("job.list_length", {{"count", static_cast<std::int64_t>(wanted)}});
    }
    {
        Fields f = in["hole"].fields();
        seat.hole.col = f["col"].integer(-furthest_hole, furthest_hole);
        seat.hole.row = f["row"].integer(-furthest_hole, furthest_hole);
    }
    const auto turn = in["turn"].items(2);
    seat.turn = {turn[0].integer(-1000, 1000), turn[1].integer(-1000, 1000)};
    seat.turn_15deg = in["turn_15deg"].integer(-1000, 1000);
    seat.hand = in["hand"].word<shop::Hand>(hands);
    seat.plate = in["plate"].text();
    seat.setting = in["setting"].any_integer();
    for (const Value& item : in["packers"].items()) {
        Fields f = item.fields();
        Packer packer;
        packer.component = read_component(f["component"], components);
        packer.where = f["where"].word<Packer::Where>(packer_places);
        packer.thickness_mm = f["thickness_mm"].size_mm();
        seat.packers.push_back(std::move(packer));
    }
    seat.along_tenths = in["along_tenths"].any_integer();
    seat.across_tenths = in["across_tenths"].any_integer();
    return seat;
}

/// Follows hosts from each placement; a way that comes back is a fault.
void refuse_host_cycles(const Value& at, const Stage& stage) {
    std::map<PlacementId, PlacementId> host_of;
    for (const Placement& placement : stage.placements)
        if (placement.seat.host.kind == Host::Kind::placement) host_of[placement.id] = placement.seat.host.placement;
    std::set<PlacementId> settled;
    for (const auto& [start, host] : host_of) {
        std::set<PlacementId> way;
        for (PlacementId id = start; host_of.contains(id) && !settled.contains(id); id = host_of[id])
            if (!way.insert(id).second) {
                at.say("job.host_cycle", {{"id", std::to_string(id.value)}});
                return;
            }
        settled.insert(way.begin(), way.end());
    }
}

Stage read_stage(const Value& value, Books& books, const Components& components) {
    static const auto held_words = words_of(HeldBy::by_hand);
    static const auto step_kinds = words_of(StepKind::written);
    Fields in = value.fields();
    Stage stage;
    stage.id = in["id"].id<StageId>();
    books.stages.give(in["id"], stage.id.value);
    stage.name = in["name"].text();
    {
        Fields f = in["lay"].fields();
        stage.lay.side_down = sides_of_M[f["side_down"].one_of(sides_of_M)];
        stage.lay.yaw_deg = f["yaw_deg"].number();
        stage.lay.X_TM = read_pose(f["X_TM"]);
    }
    stage.pieces = in["pieces"].id_list<PieceId>();
    books.pieces.refer(in["pieces"], stage.pieces);
    if (std::set(stage.pieces.begin(), stage.pieces.end()).size() != stage.pieces.size())
        in["pieces"].say("job.listed_twice");
    stage.earlier = in["earlier"].id_list<StageId>();
    // Only stages already read: a stage cannot come into itself or into one before it.
    for (const StageId earlier : stage.earlier)
        if (!books.stages.has(earlier.value) || earlier == stage.id)
            in["earlier"].say("job.stage_not_earlier", {{"id", std::to_string(earlier.value)}});
    for (const Value& item : in["held_by"].items()) {
        Fields f = item.fields();
        const auto piece = f["piece"].id<PieceId>();
        books.pieces.refer(f["piece"], piece.value);
        put(stage.held_by, f["piece"], piece, f["held_by"].word<HeldBy>(held_words));
    }
    std::set<PlacementId> here;
    std::set<int> numbers;
    std::vector<std::pair<Value, PlacementId>> local;
    for (const Value& item : in["placements"].items()) {
        Fields f = item.fields();
        Placement placement;
        placement.id = f["id"].id<PlacementId>();
        books.placements.give(f["id"], placement.id.value);
        here.insert(placement.id);
        placement.no = f["no"].integer(0, std::numeric_limits<int>::max());
        if (placement.no > 0 && !numbers.insert(placement.no).second)
            f["no"].say("job.number_twice", {{"no", std::int64_t{placement.no}}});
        placement.component = read_component(f["component"], components);
        placement.seat = read_seat(f["seat"], books, components);
        if (placement.seat.host.kind == Host::Kind::placement)
            local.emplace_back(f["seat"], placement.seat.host.placement);
        placement.locked = f["locked"].truth();
        placement.note = f["note"].text();
        stage.placements.push_back(std::move(placement));
    }
    for (const Value& item : in["order"].items()) {
        Fields f = item.fields();
        Step step;
        step.id = f["id"].id<StepId>();
        books.steps.give(f["id"], step.id.value);
        step.kind = f["kind"].word<StepKind>(step_kinds);
        step.placements = f["placements"].id_list<PlacementId>();
        for (const PlacementId id : step.placements) local.emplace_back(f["placements"], id);
        step.pieces = f["pieces"].id_list<PieceId>();
        books.pieces.refer(f["pieces"], step.pieces);
        step.seams = f["seams"].id_list<SeamId>();
        books.seams.refer(f["seams"], step.seams);
        step.note = f["note"].text();
        stage.order.push_back(std::move(step));
    }
    stage.repeat = in["repeat"].integer(1, 1000000);
    for (const Value& item : in["as_set"].items()) {
        Fields f = item.fields();
        const auto placement = f["placement"].id<PlacementId>();
        local.emplace_back(f["placement"], placement);
        put(stage.as_set_mm, f["placement"], placement, f["value_mm"].number());
    }
    for (const Value& item : in["measured"].items()) {
        Fields f = item.fields();
        Measured measured;
        measured.what = f["what"].text();
        measured.value_mm = f["value_mm"].number();
        measured.when = f["when"].text();
        stage.measured.push_back(std::move(measured));
    }
    for (const auto& [at, id] : local)
        if (!here.contains(id)) at.say("job.id_unknown", {{"id", std::to_string(id.value)}});
    refuse_host_cycles(in["placements"], stage);
    return stage;
}

/// Table, shelf and components have readers of their own.
template <class T, class Parse>
T read_part(const Value& value, Parse parse) {
    if (!value.is_object()) {
        (void)value.fields();
        return {};
    }
    auto part = parse(value.raw()->dump(-1, ' ', false, Json::error_handler_t::replace), value.where());
    if (part) return std::move(part).value();
    value.adopt(part.error());
    return {};
}

Components read_components(const Value& value) {
    Components components;
    for (const auto& [id, item] : value.members()) {
        Fields f = item.fields();
        const std::string sum = f["sha256"].text();
        const Value definition = f["definition"];
        if (!definition.is_object()) {
            (void)definition.fields();
            continue;
        }
        auto component =
            std::make_shared<const shop::Component>(read_part<shop::Component>(definition, shop::parse_component));
        if (definition_sha256(*definition.raw()) != sum) definition.say("job.definition_damaged", {{"component", id}});
        if (component->id != id) definition.say("job.component_renamed", {{"component", id}, {"other", component->id}});
        components[id] = std::move(component);
    }
    return components;
}

/// What is written beside the pose only says it in words, so the pose is right where they differ.
void settle_lay(Stage& stage, std::vector<base::Text>& remarks) {
    const Lay read = lay_of(stage.lay.X_TM);
    const double off_deg = std::abs(std::remainder(stage.lay.yaw_deg - read.yaw_deg, 360.0));
    if (stage.lay.side_down == read.side_down && off_deg <= base::limits::parallel_deg) return;
    stage.lay = read;
    remarks.push_back({"job.lay_read_anew", {{"stage", stage.name}}});
}

Setup read_setup(const Value& root) {
    Fields in = root.fields();
    Setup setup;
    (void)in["format"];
    (void)in["version"];
    {
        Fields f = in["title"].fields();
        setup.title.job = f["job"].text();
        setup.title.part = f["part"].text();
        setup.title.customer = f["customer"].text();
        setup.title.planner = f["planner"].text();
        setup.title.date = f["date"].text();
        setup.title.revision = f["revision"].text();
        setup.title.hand = part_hands[f["hand"].one_of(part_hands)];
    }
    for (const Value& item : in["revisions"].items()) {
        Fields f = item.fields();
        Revision revision;
        revision.name = f["name"].text();
        revision.date = f["date"].text();
        revision.what = f["what"].text();
        setup.revisions.push_back(std::move(revision));
    }
    setup.notes = in["notes"].text();
    {
        Fields f = in["display"].fields();
        setup.display.unit.unit = f["unit"].word<base::LengthUnit>(length_units);
        setup.display.unit.decimals = f["decimals"].integer(0, 6);
        const Value denominator = f["denominator"];
        const int n = denominator.integer(1, 64);
        if ((n & (n - 1)) != 0) denominator.say("job.not_a_power_of_two");
        setup.display.unit.denominator = n;
        setup.display.paper = papers[f["paper"].one_of(papers)];
        setup.display.language = f["language"].text();
    }
    setup.rough = in["rough"].truth();
    {
        Fields f = in["limits"].fields();
        setup.limits.clearance_piece_mm = f["clearance_piece_mm"].size_mm();
        setup.limits.clearance_moving_mm = f["clearance_moving_mm"].size_mm();
    }
    {
        Fields f = in["process"].fields();
        setup.process.process = processes[f["process"].one_of(processes)];
        setup.process.gun = f["gun"].text();
        setup.process.stick_out_mm = f["stick_out_mm"].size_mm();
    }
    {
        Fields f = in["shrink"].fields();
        setup.shrink.per_joint_mm = f["per_joint_mm"].number_in(-1000, 1000);
        setup.shrink.note = f["note"].text();
    }
    {
        Fields f = in["stock"].fields();
        for (const auto& [section, length] : f["length_mm"].members())
            setup.stock.length_mm[section] = length.size_mm();
        setup.stock.kerf_mm = f["kerf_mm"].size_mm();
        setup.stock.end_trim_mm = f["end_trim_mm"].size_mm();
    }
    setup.last_id = in["last_id"].id_number(true);
    setup.table = read_part<shop::Table>(in["table"], shop::parse_table);
    setup.shelf = read_part<shop::Shelf>(in["shelf"], shop::parse_shelf);
    setup.components = read_components(in["components"]);
    Books books(setup.last_id);
    for (const Value& item : in["weldments"].items()) setup.weldments.push_back(read_weldment(item, books));
    const auto stages = in["stages"].items();
    if (stages.empty()) in["stages"].say("job.no_stage");
    for (const Value& item : stages) setup.stages.push_back(read_stage(item, books, setup.components));
    for (const IdBook* book :
         {&books.weldments, &books.pieces, &books.seams, &books.stages, &books.placements, &books.steps})
        book->settle();
    for (const Value& item : in["accepted"].items()) {
        Fields f = item.fields();
        Accepted accepted;
        accepted.rule = f["rule"].text();
        accepted.subjects = f["subjects"].texts();
        accepted.measured = f["measured"].number();
        accepted.reason = f["reason"].text();
        setup.accepted.push_back(std::move(accepted));
    }
    for (const Value& item : in["photos"].items()) {
        Fields f = item.fields();
        Photo photo;
        photo.data = read_packed(f, photo.sha256);
        photo.caption = f["caption"].text();
        setup.photos.push_back(std::move(photo));
    }
    return setup;
}

}  // namespace

base::Result<OpenedJob> parse_job(std::string_view text, const std::string& where) {
    // A STEP file, say: "damaged" would send the reader looking for a backup copy.
    const std::size_t first = text.find_first_not_of(" \t\r\n");
    if (first != std::string_view::npos && text[first] != '{' && text[first] != '[')
        return base::bad_input({"job.not_a_job", {{"file", where}}});
    const auto tree = base::parse_json(text, where, sentences);
    if (!tree) return tree.error();
    if (!tree->is_object() || tree->value("format", Json()) != job_format::name)
        return base::bad_input({"job.not_a_job", {{"file", where}}});
    const Json said = tree->value("version", Json());
    if (!said.is_number_unsigned() || said.get<std::uint64_t>() == 0)
        return base::bad_input({"job.version_missing", {{"file", where}}});
    if (said.get<std::uint64_t>() > job_format::version)
        return base::bad_input({"job.newer_version", {{"file", where}, {"version", said.dump()}}});
    base::JsonFaults faults{where, sentences, {}};
    OpenedJob opened;
    opened.setup = read_setup(Value(&*tree, "", faults));
    if (faults.first) return *faults.first;
    for (Stage& stage : opened.setup.stages) settle_lay(stage, opened.remarks);
    return opened;
}

}  // namespace setwright::setup
