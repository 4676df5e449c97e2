#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <random>

#include "core/base/file.h"
#include "core/space/bodies.h"

namespace setwright::worker {
namespace {

// Enough for the sample on a busy machine; a file that hangs the reader costs no more.
constexpr int wall_seconds = 3;
constexpr int solids_in_sample = 7;

using Random = std::mt19937;

/// A place in the data section.
std::size_t spot(const std::string& text, Random& random) {
    const std::size_t data = text.find("DATA;") + 5;
    return data + random() % (text.rfind("ENDSEC") - data);
}

void flip_bytes(std::string& text, Random& random) {
    for (auto left = 1 + random() % 4; left > 0; --left) text[spot(text, random)] = static_cast<char>(random() % 256);
}

void swap_references(std::string& text, Random& random) {
    for (auto left = 1 + random() % 3; left > 0; --left) {
        std::size_t at = text.find('#', spot(text, random));
        if (at == std::string::npos) continue;
        const std::size_t end = text.find_first_not_of("0123456789", at + 1);
        text.replace(at + 1, end - at - 1, std::to_string(1 + random() % 5000));
    }
}

void make_extreme(std::string& text, Random& random) {
    static const char* const numbers[] = {"1.E308", "-1.E308", "1.E-308",  "NAN",
                                          "0.",     "-1.",     "1.E99999", "123456789012345678901234567890."};
    for (auto left = 1 + random() % 3; left > 0; --left) {
        const std::size_t dot = text.find('.', spot(text, random));
        if (dot == std::string::npos) continue;
        const std::size_t from = text.find_last_not_of("0123456789-", dot - 1) + 1;
        const std::size_t end = text.find_first_not_of("0123456789E-+", dot + 1);
        text.replace(from, end - from, numbers[random() % std::size(numbers)]);
    }
}

void cut_off(std::string& text, Random& random) {
    text.resize(spot(text, random));
}

/// Reads damaged copies of a sample with seven solids. Whatever comes out, the parent lives and no solid is lost
/// unsaid.
void expect_survival(const char* name, void (*damage)(std::string&, Random&), unsigned seed, int rounds) {
    const base::Result<std::string> sample = base::read_file(SETWRIGHT_SAMPLES_DIR "/D2.step");
    ASSERT_TRUE(sample.ok());
    const auto path =
        std::filesystem::temp_directory_path() / ("setwright-damage-" + std::to_string(::getpid()) + ".step");
    const auto sentences = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    Random random(seed);
    std::map<std::string, int> outcomes;
    for (int round = 0; round < rounds; ++round) {
        std::string text = *sample;
        damage(text, random);
        std::ofstream(path, std::ios::binary) << text;
        const auto bodies = space::read_step(path.string(), {}, wall_seconds);
        if (!bodies) {
            EXPECT_TRUE(sentences.has(bodies.error().text.id)) << bodies.error().text.id;
            EXPECT_NE(bodies.error().text.id, "import.answer_damaged") << name << " " << round;
            ++outcomes[bodies.error().text.id];
            continue;
        }
        EXPECT_GE(static_cast<int>(bodies->bodies.size() + bodies->lost.size()), solids_in_sample)
            << name << " " << round;
        ++outcomes[bodies->lost.empty() ? "whole" : "some lost"];
    }
    std::filesystem::remove(path);
    std::string summary;
    for (const auto& [outcome, count] : outcomes) summary += outcome + " " + std::to_string(count) + ", ";
    testing::Test::RecordProperty(name, summary);
    std::printf("%s: %s\n", name, summary.c_str());
}

TEST(DamagedStep, FlippedBytes) {
    ASSERT_NO_FATAL_FAILURE(expect_survival("bytes", flip_bytes, 1, 100));
}
TEST(DamagedStep, SwappedReferences) {
    ASSERT_NO_FATAL_FAILURE(expect_survival("references", swap_references, 2, 100));
}
TEST(DamagedStep, ExtremeNumbers) {
    ASSERT_NO_FATAL_FAILURE(expect_survival("numbers", make_extreme, 3, 70));
}
TEST(DamagedStep, CutOff) {
    ASSERT_NO_FATAL_FAILURE(expect_survival("cut off", cut_off, 4, 30));
}

}  // namespace
}  // namespace setwright::worker
