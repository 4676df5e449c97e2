#include "core/check/report_json.h"

#include <nlohmann/json.hpp>
#include <set>

#include "core/base/file.h"

namespace setwright::check {

namespace {

using Json = nlohmann::ordered_json;
using base::round_json;

Json vector_json(const space::Vec3& v) {
    return {round_json(v.x()), round_json(v.y()), round_json(v.z())};
}

Json pose_json(const space::Pose& X) {
    Json numbers = Json::array();
    for (const double number : X.row_major()) numbers.push_back(round_json(number));
    return numbers;
}

Json optional_json(const std::optional<double>& value) {
    return value ? Json(round_json(*value)) : Json(nullptr);
}

Json subject_json(const Subject& subject) {
    struct Visitor {
        Json operator()(PieceId id) const { return {{"piece", id.value}}; }
        Json operator()(PlacementId id) const { return {{"placement", id.value}}; }
        Json operator()(SeamId id) const { return {{"seam", id.value}}; }
        Json operator()(shop::Hole hole) const { return {{"hole", shop::hole_label(hole)}}; }
        Json operator()(const std::string& text) const { return {{"what", text}}; }
    };
    return std::visit(Visitor{}, subject);
}

const char* host_key(setup::Host::Kind kind) {
    switch (kind) {
        case setup::Host::Kind::table:
            return "table";
        case setup::Host::Kind::placement:
            return "placement";
        case setup::Host::Kind::piece:
            return "piece";
        case setup::Host::Kind::pieces:
            return "pieces";
        case setup::Host::Kind::floor:
            return "floor";
    }
    return "";
}

const char* hand_key(shop::Hand hand) {
    switch (hand) {
        case shop::Hand::none:
            return "none";
        case shop::Hand::right:
            return "right";
        case shop::Hand::left:
            return "left";
    }
    return "";
}

Json host_json(const setup::Host& host) {
    Json pieces = Json::array();
    for (const PieceId piece : host.pieces) pieces.push_back(piece.value);
    return {{"kind", host_key(host.kind)},
            {"placement", host.placement.valid() ? Json(host.placement.value) : Json(nullptr)},
            {"face", host.face.empty() ? Json(nullptr) : Json(host.face)},
            {"pieces", pieces}};
}

bool on_grid(const setup::Host& host) {
    return host.kind == setup::Host::Kind::table || host.kind == setup::Host::Kind::placement;
}

Json placement_json(const setup::Setup& setup, const setup::Stage& stage, const setup::Placement& placement,
                    const StageReport* report) {
    const setup::Seat& seat = placement.seat;
    const shop::Component* component = setup.find_component(placement.component);
    const setup::Posed* posed = nullptr;
    if (report)
        for (const setup::Posed& candidate : report->posed)
            if (candidate.id == placement.id) posed = &candidate;

    Json packers = Json::array();
    for (const setup::Packer& packer : seat.packers)
        packers.push_back({{"where", packer.where == setup::Packer::Where::under ? "under" : "face"},
                           {"thickness_mm", round_json(packer.thickness_mm)}});
    Json contacts = Json::array();
    if (report)
        for (const Contact& contact : report->contacts)
            if (contact.placement == placement.id)
                contacts.push_back({{"piece", contact.piece.value},
                                    {"locating_face", contact.locating_face},
                                    {"kind", contact.kind},
                                    {"point_T_mm", vector_json(contact.point_T)},
                                    {"normal_T", vector_json(contact.normal_T)},
                                    {"gap_mm", round_json(contact.gap_mm)}});
    const double step_mm = component && component->setting ? component->setting->step_mm : 0;
    Json hole = nullptr;
    if (on_grid(seat.host))
        hole = {{"label", shop::hole_label(seat.hole)}, {"col", seat.hole.col}, {"row", seat.hole.row}};
    Json out;
    out["id"] = placement.id.value;
    out["no"] = placement.no;
    out["component"] = placement.component;
    out["host"] = host_json(seat.host);
    out["hole"] = hole;
    out["second_hole"] = posed && posed->second_hole ? Json(shop::hole_label(*posed->second_hole)) : Json(nullptr);
    out["turn"] = {seat.turn[0], seat.turn[1]};
    out["turn_15deg"] = seat.turn_15deg;
    out["facing"] = setup::facing(setup, stage, placement);
    out["hand"] = hand_key(seat.hand);
    out["plate"] = seat.plate.empty() ? Json(nullptr) : Json(seat.plate);
    out["setting"] = component && component->setting
                         ? Json{{"steps", seat.setting}, {"mm", round_json(seat.setting * step_mm)}}
                         : Json(nullptr);
    out["packers"] = packers;
    out["height_mm"] = posed ? Json(round_json(posed->height_mm)) : Json(nullptr);
    out["after_piece"] = seat.host.pieces.empty() ? Json(nullptr) : Json(seat.host.pieces.back().value);
    out["callout"] = setup::callout(setup, stage, placement);
    out["X_TC"] = posed ? pose_json(posed->X_TC) : Json(nullptr);
    out["contacts"] = contacts;
    return out;
}

Json stage_json(const setup::Setup& setup, const setup::Stage& stage, const StageReport* report) {
    Json pieces = Json::array(), placements = Json::array(), order = Json::array();
    for (const PieceId piece : stage.pieces)
        pieces.push_back({{"id", piece.value}, {"held_by", setup::key(stage.held(piece))}});
    for (const setup::Placement& placement : stage.placements)
        placements.push_back(placement_json(setup, stage, placement, report));
    int number = 0;
    const auto add_step = [&](const setup::Step& step, const char* what, std::uint32_t id) {
        order.push_back({{"step", ++number}, {"do", setup::key(step.kind)}, {"what", what}, {"id", id}});
    };
    for (const setup::Step& step : stage.order) {
        for (const PlacementId id : step.placements) add_step(step, "placement", id.value);
        for (const PieceId id : step.pieces) add_step(step, "piece", id.value);
        for (const SeamId id : step.seams) add_step(step, "seam", id.value);
    }
    return {{"name", stage.name},
            {"X_TM", pose_json(stage.lay.X_TM)},
            {"pieces", pieces},
            {"placements", placements},
            {"order", order}};
}

Json finding_json(const Finding& finding, const base::TextCatalogue& texts) {
    Json subjects = Json::array();
    for (const Subject& subject : finding.subjects) subjects.push_back(subject_json(subject));
    return {{"rule", finding.rule},
            {"verdict", key(finding.verdict)},
            {"stage", finding.stage.valid() ? Json(finding.stage.value) : Json(nullptr)},
            {"subjects", subjects},
            {"measured", optional_json(finding.measured)},
            {"limit", optional_json(finding.limit)},
            {"unit", finding.unit},
            {"at_T_mm", finding.at_T ? vector_json(*finding.at_T) : Json(nullptr)},
            {"text", texts.render(finding.text)},
            {"cure", finding.cure.empty() ? Json(nullptr) : Json(texts.render(finding.cure))},
            {"accepted", finding.accepted}};
}

/// What setting up costs, counted: minutes come with the proposal.
Json effort_json(const setup::Setup& setup) {
    int components = 0, bolts = 0, settings = 0, packers = 0;
    std::set<double> heights;
    for (const setup::Stage& stage : setup.stages) {
        for (const setup::Placement& placement : stage.placements) {
            const shop::Component* component = setup.find_component(placement.component);
            if (!component) continue;
            ++components;
            bolts += component->mount.bolts;
            settings += component->setting ? 1 : 0;
            packers += static_cast<int>(placement.seat.packers.size());
            if (component->family == shop::Family::rest) {
                double height = component->overall_height_mm;
                for (const setup::Packer& packer : placement.seat.packers) height += packer.thickness_mm;
                heights.insert(round_json(height));
            }
        }
    }
    return {{"components", components},
            {"bolts", bolts},
            {"heights", heights.size()},
            {"settings", settings},
            {"packers", packers}};
}

Json seams_json(const setup::Setup& setup) {
    Json seams = Json::array();
    for (const setup::WeldmentUse& use : setup.weldments) {
        if (!use.model) continue;
        for (const weldment::Seam& seam : use.model->seams)
            seams.push_back({{"id", seam.id.value},
                             {"tack", nullptr},
                             {"weld", nullptr},
                             {"state", "not_run"},
                             {"position", nullptr},
                             {"blockers", Json::array()}});
    }
    return seams;
}

}  // namespace

std::string report_json(const setup::Setup& setup, const Report& report, const base::TextCatalogue& texts) {
    const shop::Table& table = setup.table;
    Json components = Json::object(), stages = Json::array(), findings = Json::array();
    for (const auto& [id, component] : setup.components) {
        const std::string text = shop::component_json(*component);
        components[id] = {{"sha256", base::sha256(text)}, {"definition", Json::parse(text)}};
    }
    for (const setup::Stage& stage : setup.stages) {
        const StageReport* found = nullptr;
        for (const StageReport& candidate : report.stages)
            if (candidate.stage == stage.id) found = &candidate;
        stages.push_back(stage_json(setup, stage, found));
    }
    for (const Finding& finding : report.findings) findings.push_back(finding_json(finding, texts));
    const Json document = {{"format", "setwright-check"},
                           {"version", 1},
                           {"table",
                            {{"id", table.id},
                             {"pitch_x_mm", round_json(table.pitch_x_mm)},
                             {"pitch_y_mm", round_json(table.pitch_y_mm)},
                             {"cols", table.cols},
                             {"rows", table.rows},
                             {"labels", "letters south to north without I and O, numbers west to east"}}},
                           {"components", components},
                           {"stages", stages},
                           {"exact_faces", report.exact_faces},
                           {"faces", report.faces},
                           {"findings", findings},
                           {"seams", seams_json(setup)},
                           {"effort", effort_json(setup)}};
    return document.dump(1, ' ', false, Json::error_handler_t::replace) + '\n';
}

}  // namespace setwright::check
