#include <algorithm>

#include "core/setup/job_file.h"
#include "core/setup/job_format.h"

namespace setwright::setup {

using base::Json;
using space::Vec3;
using namespace job_format;

namespace {

Json to_json(const Vec3& v) {
    return Json::array({v.x(), v.y(), v.z()});
}

Json to_json(const space::Pose& X) {
    return X.row_major();
}

template <class Tag>
Json ids(const std::vector<base::Id<Tag>>& list) {
    Json out = Json::array();
    for (const auto id : list) out.push_back(id.value);
    return out;
}

template <class T>
std::vector<T> sorted(std::vector<T> list) {
    std::sort(list.begin(), list.end());
    return list;
}

template <class T>
std::vector<T> sorted_by_id(std::vector<T> list) {
    std::stable_sort(list.begin(), list.end(), [](const T& a, const T& b) { return a.id < b.id; });
    return list;
}

Json to_json(const FaceKey& face) {
    return {{"kind", word(surface_kinds, face.kind)},
            {"axis", to_json(face.axis)},
            {"offset_mm", face.offset_mm},
            {"radius_mm", face.radius_mm},
            {"at_mm", to_json(face.at)}};
}

Json packed(const std::string& data, const std::string& sha256) {
    return {{"sha256", sha256}, {"bytes", data.size()}, {"packed", base::pack(data)}};
}

Json to_json(const weldment::EndCut& end) {
    return {{"kind", weldment::key(end.kind)},
            {"angle_deg", end.angle_deg},
            {"plane_deg", end.plane_deg},
            {"second_angle_deg", end.second_angle_deg},
            {"face", end.face}};
}

Json to_json(const weldment::Section& section) {
    return {{"kind", weldment::key(section.kind)}, {"width_mm", section.width_mm},
            {"depth_mm", section.depth_mm},        {"wall_mm", section.wall_mm},
            {"diameter_mm", section.diameter_mm},  {"corner_radius_mm", section.corner_radius_mm}};
}

Json to_json(const weldment::Fingerprint& print) {
    return {{"name_path", print.name_path},
            {"volume_mm3", print.volume_mm3},
            {"principal_moments_mm5", to_json(print.principal_moments)},
            {"face_kinds", print.face_kinds},
            {"handedness", print.handedness},
            {"centroid_M_mm", to_json(print.centroid_M)}};
}

Json to_json(const WeldmentUse& use) {
    Json edits = Json::array();
    for (const auto& [piece, edit] : use.piece_edits)
        edits.push_back({{"piece", piece.value},
                         {"name", edit.name},
                         {"left_out", edit.left_out},
                         {"weld_side", edit.weld_side ? to_json(*edit.weld_side) : Json()}});
    Json seam_edits = Json::array();
    for (const auto& [seam, edit] : use.seam_edits)
        seam_edits.push_back({{"seam", seam.value},
                              {"accepted", edit.accepted ? Json(*edit.accepted) : Json()},
                              {"size_mm", edit.size_mm ? Json(*edit.size_mm) : Json()}});
    Json frozen = Json::array();
    for (const auto& [piece, was] : use.frozen)
        frozen.push_back({{"id", piece.value}, {"fingerprint", to_json(was.fingerprint)}, {"X_MP", to_json(was.X_MP)}});
    Json frozen_seams = Json::array();
    for (const auto& [seam, was] : use.frozen_seams)
        frozen_seams.push_back({{"id", seam.value},
                                {"pieces", Json::array({was.pieces[0].value, was.pieces[1].value})},
                                {"middle_M_mm", to_json(was.middle_M)},
                                {"length_mm", was.length_mm}});
    Json drawn = Json::array();
    for (const DrawnPiece& piece : sorted_by_id(use.drawn))
        drawn.push_back({{"id", piece.id.value},
                         {"name", piece.name},
                         {"section", to_json(piece.section)},
                         {"length_mm", piece.length_mm},
                         {"ends", Json::array({to_json(piece.ends[0]), to_json(piece.ends[1])})},
                         {"X_MP", to_json(piece.X_MP)}});
    Json important = Json::array();
    for (const ImportantFace& face : use.important)
        important.push_back({{"piece", face.piece.value},
                             {"face", to_json(face.face)},
                             {"tolerance_mm", face.tolerance_mm},
                             {"note", face.note}});
    return {{"id", use.id.value},
            {"file_name", use.file_name},
            {"linked_path", use.linked_path},
            {"unit_factor", use.unit_factor},
            {"mirrored", use.mirrored},
            {"piece_edits", edits},
            {"seam_edits", seam_edits},
            {"pieces", frozen},
            {"seams", frozen_seams},
            {"drawn", drawn},
            {"important", important},
            {"step", use.step_text ? packed(*use.step_text, use.sha256) : Json()}};
}

Json to_json(const Seat& seat) {
    Json faces = Json::array();
    for (const FaceKey& face : seat.host.piece_faces) faces.push_back(to_json(face));
    Json packers = Json::array();
    for (const Packer& packer : seat.packers)
        packers.push_back({{"component", packer.component},
                           {"where", word(packer_places, packer.where)},
                           {"thickness_mm", packer.thickness_mm}});
    return {{"host",
             {{"kind", word(host_kinds, seat.host.kind)},
              {"placement", seat.host.placement.value},
              {"face", seat.host.face},
              {"pieces", ids(seat.host.pieces)},
              {"piece_faces", faces},
              {"side", word(sides, seat.host.side)}}},
            {"hole", {{"col", seat.hole.col}, {"row", seat.hole.row}}},
            {"turn", seat.turn},
            {"turn_15deg", seat.turn_15deg},
            {"hand", word(hands, seat.hand)},
            {"plate", seat.plate},
            {"setting", seat.setting},
            {"packers", packers},
            {"along_tenths", seat.along_tenths},
            {"across_tenths", seat.across_tenths}};
}

Json to_json(const Stage& stage) {
    Json held = Json::array();
    for (const auto& [piece, held_by] : stage.held_by)
        held.push_back({{"piece", piece.value}, {"held_by", key(held_by)}});
    Json placements = Json::array();
    for (const Placement& placement : sorted_by_id(stage.placements))
        placements.push_back({{"id", placement.id.value},
                              {"no", placement.no},
                              {"component", placement.component},
                              {"seat", to_json(placement.seat)},
                              {"locked", placement.locked},
                              {"note", placement.note}});
    Json order = Json::array();
    for (const Step& step : stage.order)
        order.push_back({{"id", step.id.value},
                         {"kind", key(step.kind)},
                         {"placements", ids(step.placements)},
                         {"pieces", ids(step.pieces)},
                         {"seams", ids(step.seams)},
                         {"note", step.note}});
    Json as_set = Json::array();
    for (const auto& [placement, value] : stage.as_set_mm)
        as_set.push_back({{"placement", placement.value}, {"value_mm", value}});
    Json measured = Json::array();
    for (const Measured& m : stage.measured)
        measured.push_back({{"what", m.what}, {"value_mm", m.value_mm}, {"when", m.when}});
    return {{"id", stage.id.value},
            {"name", stage.name},
            {"lay",
             {{"side_down", stage.lay.side_down}, {"yaw_deg", stage.lay.yaw_deg}, {"X_TM", to_json(stage.lay.X_TM)}}},
            {"pieces", ids(sorted(stage.pieces))},
            {"earlier", ids(sorted(stage.earlier))},
            {"held_by", held},
            {"placements", placements},
            {"order", order},
            {"repeat", stage.repeat},
            {"as_set", as_set},
            {"measured", measured}};
}

Json to_json(const Setup& setup) {
    Json weldments = Json::array();
    for (const WeldmentUse& use : sorted_by_id(setup.weldments)) weldments.push_back(to_json(use));
    Json stages = Json::array();
    for (const Stage& stage : setup.stages) stages.push_back(to_json(stage));
    Json components = Json::object();
    for (const auto& [id, component] : setup.components) {
        Json definition = Json::parse(shop::component_json(*component));
        const std::string hash = definition_sha256(definition);
        components[id] = {{"sha256", hash}, {"definition", std::move(definition)}};
    }
    Json revisions = Json::array();
    for (const Revision& revision : setup.revisions)
        revisions.push_back({{"name", revision.name}, {"date", revision.date}, {"what", revision.what}});
    Json photos = Json::array();
    for (const Photo& photo : setup.photos) {
        SETWRIGHT_ASSERT(photo.data, "a photo of a job has its picture");
        Json out = packed(*photo.data, photo.sha256);
        out["caption"] = photo.caption;
        photos.push_back(std::move(out));
    }
    Json accepted = Json::array();
    for (const Accepted& a : setup.accepted)
        accepted.push_back(
            {{"rule", a.rule}, {"subjects", a.subjects}, {"measured", a.measured}, {"reason", a.reason}});
    Json stock_lengths = Json::object();
    for (const auto& [section, length] : setup.stock.length_mm) stock_lengths[section] = length;
    const TitleBlock& title = setup.title;
    return {
        {"format", job_format::name},
        {"version", job_format::version},
        {"title",
         {{"job", title.job},
          {"part", title.part},
          {"customer", title.customer},
          {"planner", title.planner},
          {"date", title.date},
          {"revision", title.revision},
          {"hand", title.hand}}},
        {"revisions", revisions},
        {"notes", setup.notes},
        {"display",
         {{"unit", word(length_units, setup.display.unit.unit)},
          {"decimals", setup.display.unit.decimals},
          {"denominator", setup.display.unit.denominator},
          {"paper", setup.display.paper},
          {"language", setup.display.language}}},
        {"rough", setup.rough},
        {"limits",
         {{"clearance_piece_mm", setup.limits.clearance_piece_mm},
          {"clearance_moving_mm", setup.limits.clearance_moving_mm}}},
        {"process",
         {{"process", setup.process.process},
          {"gun", setup.process.gun},
          {"stick_out_mm", setup.process.stick_out_mm}}},
        {"shrink", {{"per_joint_mm", setup.shrink.per_joint_mm}, {"note", setup.shrink.note}}},
        {"stock",
         {{"length_mm", stock_lengths}, {"kerf_mm", setup.stock.kerf_mm}, {"end_trim_mm", setup.stock.end_trim_mm}}},
        {"last_id", setup.last_id},
        {"table", Json::parse(shop::table_json(setup.table))},
        {"stages", stages},
        {"accepted", accepted},
        {"shelf", Json::parse(shop::shelf_json(setup.shelf))},
        {"components", components},
        {"weldments", weldments},
        {"photos", photos}};
}

}  // namespace

std::string job_json(const Setup& setup) {
    // A name that is no UTF-8 gets the replacement sign instead of losing the job.
    return to_json(setup).dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace setwright::setup
