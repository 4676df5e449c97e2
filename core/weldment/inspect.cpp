#include "core/weldment/inspect.h"

#include <nlohmann/json.hpp>

#include "core/base/units.h"

namespace setwright::weldment {

namespace {

using Json = nlohmann::ordered_json;
using base::round_json;

Json vector_json(const space::Vec3& v) {
    return {round_json(v.x()), round_json(v.y()), round_json(v.z())};
}

Json texts_json(const std::vector<base::Text>& list, const base::TextCatalogue& texts) {
    Json out = Json::array();
    for (const base::Text& text : list) out.push_back(texts.render(text));
    return out;
}

Json section_json(const Section& s) {
    return {{"kind", key(s.kind)},
            {"width_mm", round_json(s.width_mm)},
            {"depth_mm", round_json(s.depth_mm)},
            {"wall_mm", round_json(s.wall_mm)},
            {"diameter_mm", round_json(s.diameter_mm)},
            {"corner_radius_mm", round_json(s.corner_radius_mm)}};
}

const char* shape_key(PieceShape shape) {
    switch (shape) {
        case PieceShape::straight:
            return "straight";
        case PieceShape::trapezoid:
            return "trapezoid";
        case PieceShape::parallelogram:
            return "parallelogram";
        case PieceShape::twisted:
            return "twisted";
    }
    return "";
}

Json piece_json(const Piece& p, const base::TextCatalogue& texts) {
    Json ends = Json::array();
    for (const EndCut& end : p.ends)
        ends.push_back({{"kind", key(end.kind)},
                        {"angle_deg", round_json(end.angle_deg)},
                        {"plane_deg", round_json(end.plane_deg)},
                        {"second_angle_deg", round_json(end.second_angle_deg)}});
    return {{"id", p.id.value},
            {"name", p.name},
            {"section", section_json(p.section)},
            {"length_mm", round_json(p.length_mm)},
            {"long_point_mm", round_json(p.long_point_mm)},
            {"short_point_mm", round_json(p.short_point_mm)},
            {"centre_mm", round_json(p.centre_mm)},
            {"ends", ends},
            {"shape", shape_key(p.shape)},
            {"mass_kg", round_json(p.mass_kg)},
            {"group", p.group},
            {"doubts", texts_json(p.doubts, texts)}};
}

Json seam_json(const Seam& s, const base::TextCatalogue& texts) {
    Json path = Json::array();
    for (const space::Vec3& point : s.path_M) path.push_back(vector_json(point));
    return {{"id", s.id.value},
            {"pieces", {s.pieces[0].value, s.pieces[1].value}},
            {"kind", key(s.kind)},
            {"size_mm", s.size_mm ? Json(round_json(*s.size_mm)) : Json(nullptr)},
            {"length_mm", round_json(s.length_mm)},
            {"gap_mm", round_json(s.gap_mm)},
            {"path_M_mm", path},
            {"n1_M", vector_json(s.n1_M)},
            {"n2_M", vector_json(s.n2_M)},
            {"doubts", texts_json(s.doubts, texts)}};
}

}  // namespace

std::string inspect_json(const Weldment& weldment, const base::TextCatalogue& texts) {
    Json pieces = Json::array(), groups = Json::array(), seams = Json::array(), doubts = Json::array();
    for (const Piece& piece : weldment.pieces) {
        pieces.push_back(piece_json(piece, texts));
        for (const base::Text& doubt : piece.doubts)
            doubts.push_back({{"piece", piece.id.value}, {"what", texts.render(doubt)}, {"measured", nullptr}});
    }
    for (const Group& group : weldment.groups)
        groups.push_back({{"id", group.id},
                          {"count", group.count},
                          {"mirror_of", group.mirror_of ? Json(group.mirror_of) : Json(nullptr)}});
    for (const Seam& seam : weldment.seams) {
        seams.push_back(seam_json(seam, texts));
        for (const base::Text& doubt : seam.doubts)
            doubts.push_back({{"piece", seam.pieces[0].value},
                              {"what", texts.render(doubt)},
                              {"measured", round_json(seam.gap_mm)}});
    }
    for (const base::Text& doubt : weldment.doubts)
        doubts.push_back({{"piece", nullptr}, {"what", texts.render(doubt)}, {"measured", nullptr}});
    const Json document = {{"format", "setwright-inspect"},
                           {"version", 1},
                           {"unit_in_file", weldment.file_unit},
                           {"pieces", pieces},
                           {"groups", groups},
                           {"seams", seams},
                           {"doubts", doubts}};
    return document.dump(1, ' ', false, Json::error_handler_t::replace) + '\n';
}

base::Text section_text(const Section& section) {
    return {std::string("section.") + key(section.kind),
            {{"width", base::LengthArg{section.width_mm}},
             {"depth", base::LengthArg{section.depth_mm}},
             {"wall", base::LengthArg{section.wall_mm}},
             {"diameter", base::LengthArg{section.diameter_mm}}}};
}

base::Text end_text(const EndCut& end) {
    return {std::string("end.") + key(end.kind), {{"angle", end.angle_deg}, {"second", end.second_angle_deg}}};
}

}  // namespace setwright::weldment
