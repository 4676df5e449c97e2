#pragma once

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "core/weldment/joint.h"
#include "core/weldment/recognise.h"

namespace setwright::weldment {

/// A sample as read from its STEP file, with the facts written by hand beside it (samples/expected).
struct Sample {
    Weldment weldment;
    nlohmann::json expected;

    /// The piece that fills the expected bounding box of "P1", "A2", …: names in files differ, places do not.
    const Piece* piece(const std::string& id) const {
        for (const nlohmann::json& e : expected["pieces"]) {
            if (e["id"] != id) continue;
            for (const Piece& piece : weldment.pieces) {
                const space::Aabb box = box_M(piece);
                double apart = 0;
                for (int i = 0; i < 3; ++i) {
                    apart = std::max(
                        apart,
                        std::abs(box.min[i] - e["bounding_box_mm"]["min"][static_cast<std::size_t>(i)].get<double>()));
                    apart = std::max(
                        apart,
                        std::abs(box.max[i] - e["bounding_box_mm"]["max"][static_cast<std::size_t>(i)].get<double>()));
                }
                if (apart < 0.01) return &piece;
            }
        }
        return nullptr;
    }
};

inline space::Bodies sample_bodies(const std::string& name) {
    setenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER, 0);
    const base::Result<space::Bodies> read =
        space::read_step(std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name + ".step");
    EXPECT_TRUE(read.ok()) << name;
    return read.ok() ? *read : space::Bodies{};
}

inline Sample sample(const std::string& name) {
    std::ifstream file(std::string(SETWRIGHT_SAMPLES_DIR) + "/expected/" + name.substr(0, 2) + ".json");
    return {recognise(sample_bodies(name)), nlohmann::json::parse(file)};
}

}  // namespace setwright::weldment
