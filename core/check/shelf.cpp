#include <algorithm>
#include <map>

#include "core/check/report.h"

namespace setwright::check {

namespace {

/// What one stage needs at once, by stock id.
struct Need {
    std::map<std::string, int> count;
    std::map<std::string, bool> to_cut;

    void add(const std::string& stock_id, int n, bool cut = false) {
        if (n <= 0 || stock_id.empty()) return;
        count[stock_id] += n;
        to_cut[stock_id] = to_cut[stock_id] || cut;
    }
};

std::string stock_id(const shop::Component& component, shop::Hand hand) {
    if (!component.handed || hand == shop::Hand::none) return component.id;
    return component.id + (hand == shop::Hand::left ? ":left" : ":right");
}

Need need_of(const setup::Setup& setup, const setup::Stage& stage) {
    Need need;
    for (const setup::Placement& placement : stage.placements) {
        const setup::Seat& seat = placement.seat;
        const shop::Component* component = setup.find_component(placement.component);
        if (component == nullptr) {
            need.add(placement.component, 1);
            continue;
        }
        need.add(stock_id(*component, seat.hand), 1, component->to_cut);
        if (const shop::Plate* plate = component->find_plate(seat.plate)) {
            need.add(plate->stock_id.empty() ? component->id + ":" + plate->id : plate->stock_id, 1);
        }
        for (const setup::Packer& packer : seat.packers) need.add(packer.component, 1);
        need.add(component->mount.bolt_stock_id, component->mount.bolts);
        need.add(component->mount.dowel_stock_id, component->mount.dowels);
    }
    return need;
}

}  // namespace

base::Text component_name(const shop::Component& component) {
    base::Text family{std::string("family.") + shop::key(component.family), {}};
    if (component.size.empty()) return family;
    return {"name.component", {{"family", std::vector{std::move(family)}}, {"size", component.size}}};
}

base::Text stock_name(const setup::Setup& setup, const std::string& stock_id) {
    for (const char* hand : {"left", "right"}) {
        const std::string ending = std::string(":") + hand;
        if (!stock_id.ends_with(ending)) continue;
        const std::string id = stock_id.substr(0, stock_id.size() - ending.size());
        return {"name.handed",
                {{"name", std::vector{stock_name(setup, id)}},
                 {"hand", std::vector<base::Text>{{std::string("name.hand.") + hand, {}}}}}};
    }
    if (const shop::Component* component = setup.find_component(stock_id)) return component_name(*component);
    for (const auto& [key, component] : setup.components) {
        for (const shop::Plate& plate : component->plates) {
            if (plate.stock_id == stock_id || component->id + ":" + plate.id == stock_id) {
                return {"name.plate", {{"size", plate.id}}};
            }
        }
        if (component->mount.bolt_stock_id == stock_id) return {"name.bolt", {{"id", stock_id}}};
        if (component->mount.dowel_stock_id == stock_id) return {"name.dowel", {{"id", stock_id}}};
    }
    return {"name.unknown", {{"id", stock_id}}};
}

std::vector<PickLine> pick_list(const setup::Setup& setup) {
    std::map<std::string, PickLine> lines;
    for (const setup::Stage& stage : setup.stages) {
        const Need need = need_of(setup, stage);
        for (const auto& [id, n] : need.count) {
            PickLine& line = lines[id];
            line.stock_id = id;
            line.need = std::max(line.need, n);
            line.have = setup.shelf.have(id);
            line.to_cut = line.to_cut || need.to_cut.at(id);
        }
    }
    std::vector<PickLine> out;
    for (auto& [id, line] : lines) out.push_back(std::move(line));
    return out;
}

std::vector<Finding> check_shelf(const setup::Setup& setup) {
    std::vector<Finding> findings;
    bool is_short = false;
    int pieces_of_stock = 0;
    for (const PickLine& line : pick_list(setup)) {
        pieces_of_stock += line.need;
        Finding finding;
        finding.subjects = {line.stock_id};
        finding.measured = line.need;
        const std::map<std::string, base::TextArgument> arguments{
            {"stock", std::vector{stock_name(setup, line.stock_id)}},
            {"need", std::int64_t{line.need}},
            {"have", std::int64_t{line.have}}};
        if (line.to_cut) {
            finding.rule = "shelf.to_cut";
            finding.verdict = Verdict::warn;
            finding.text = {"shelf.to_cut", arguments};
        } else if (line.need > line.have) {
            finding.rule = "shelf.short";
            finding.verdict = Verdict::fail;
            finding.limit = line.have;
            finding.text = {"shelf.short", arguments};
            is_short = true;
        } else {
            continue;
        }
        findings.push_back(std::move(finding));
    }
    if (!is_short) {
        Finding finding;
        finding.rule = "shelf.short";
        finding.verdict = Verdict::pass;
        finding.measured = pieces_of_stock;
        finding.text = {"shelf.enough", {{"n", std::int64_t{pieces_of_stock}}}};
        findings.push_back(std::move(finding));
    }
    return findings;
}

}  // namespace setwright::check
