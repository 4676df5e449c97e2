#include "core/setup/job_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <cerrno>
#include <chrono>
#include <future>
#include <limits>
#include <thread>

#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>

#include "tests/core/setup/example.h"

namespace setwright::setup {
namespace {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;

std::string key_of(const base::Error& error) {
    const auto found = error.text.arguments.find("key");
    return found == error.text.arguments.end() ? "" : std::get<std::string>(found->second);
}

base::Error refused(const json& job) {
    auto opened = parse_job(job.dump(), "x.setwright");
    EXPECT_FALSE(opened.ok());
    return opened ? base::Error{} : opened.error();
}

json full() {
    return json::parse(job_json(full_job()));
}

class Folder {
  public:
    Folder() {
        std::string name = (fs::temp_directory_path() / "job-test-XXXXXX").string();
        path_ = ::mkdtemp(name.data());
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    ~Folder() { fs::remove_all(path_); }
    fs::path path() const { return path_; }

  private:
    fs::path path_;
};

/// Calls `visit` with the path of every value and the value.
void walk(json& value, const std::string& path, const std::function<void(const std::string&, json&)>& visit) {
    visit(path, value);
    if (value.is_object())
        for (auto& [name, member] : value.items()) walk(member, path.empty() ? name : path + "." + name, visit);
    if (value.is_array())
        for (std::size_t i = 0; i < value.size(); ++i) walk(value[i], path + "[" + std::to_string(i) + "]", visit);
}

/// Parts whose readers and defaults are the shop's.
bool of_the_shop(const std::string& path) {
    return path.starts_with("table") || path.starts_with("shelf") || path.find(".definition") != std::string::npos;
}

TEST(JobFile, EveryFieldComesBackAndTheTextIsByteEqual) {
    const Job setup = full_job();
    const std::string text = job_json(setup);
    const auto opened = parse_job(text, "x.setwright");
    ASSERT_TRUE(opened.ok())
        << base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en").render(opened.error().text);
    EXPECT_TRUE(same(opened->setup, setup));
    EXPECT_EQ(job_json(opened->setup), text);
    EXPECT_EQ(*opened->setup.weldments[0].step_text, *setup.weldments[0].step_text);
    EXPECT_EQ(*opened->setup.photos[0].data, *setup.photos[0].data);
    EXPECT_TRUE(text.ends_with("}\n"));
}

TEST(JobFile, TextDoesNotDependOnTheOrderInMemory) {
    Job setup = full_job();
    const std::string text = job_json(setup);
    std::reverse(setup.stages[0].placements.begin(), setup.stages[0].placements.end());
    std::reverse(setup.stages[0].pieces.begin(), setup.stages[0].pieces.end());
    EXPECT_EQ(job_json(setup), text);
    EXPECT_TRUE(same(setup, full_job()));
}

TEST(JobFile, NumbersComeBackToTheLastBit) {
    std::mt19937_64 random(7);
    Job setup = full_job();
    for (int i = 0; i < 200; ++i) {
        const double value = std::ldexp(static_cast<double>(random() >> 11), static_cast<int>(random() % 60) - 110);
        setup.shrink.per_joint_mm = value;
        const auto opened = parse_job(job_json(setup), "x");
        ASSERT_TRUE(opened.ok());
        EXPECT_EQ(opened->setup.shrink.per_joint_mm, value);
    }
}

TEST(JobFile, AChangeOfAnyValueIsRefusedOrMakesAnotherJob) {
    const Job before = full_job();
    json job = full();
    std::vector<std::string> paths;
    walk(job, "", [&](const std::string& path, json& value) {
        if (value.is_primitive() && !value.is_null()) paths.push_back(path);
    });
    int accepted = 0;
    for (const std::string& wanted : paths) {
        json changed = job;
        walk(changed, "", [&](const std::string& path, json& value) {
            if (path != wanted) return;
            if (value.is_boolean())
                value = !value.get<bool>();
            else if (value.is_number_integer())
                value = value.get<int>() + 1;
            else if (value.is_number())
                value = value.get<double>() * 1.0000001 + 1e-9;
            else if (value.is_string())
                value = value.get<std::string>() + "x";
        });
        const auto opened = parse_job(changed.dump(), "x");
        // What only says the pose in words is read off it again, and that is said.
        if (!opened || !opened->remarks.empty()) continue;
        ++accepted;
        EXPECT_FALSE(same(opened->setup, before)) << wanted;
    }
    EXPECT_GT(accepted, 150);
}

TEST(JobFile, AMissingKeyIsNamedWithItsPath) {
    json job = full();
    std::vector<std::string> paths;
    walk(job, "", [&](const std::string& path, json&) {
        const bool free_key = path.starts_with("stock.length_mm.") || path.rfind("components.", 0) == 0;
        if (!path.empty() && !path.ends_with("]") && !of_the_shop(path) && !free_key) paths.push_back(path);
    });
    paths.insert(paths.end(), {"table", "shelf"});
    ASSERT_GT(paths.size(), 150u);
    for (const std::string& wanted : paths) {
        if (wanted == "format" || wanted == "version") continue;
        json changed = job;
        walk(changed, "", [&](const std::string& path, json& value) {
            const std::string prefix = path.empty() ? "" : path + ".";
            if (value.is_object() && wanted.starts_with(prefix) && value.contains(wanted.substr(prefix.size())))
                value.erase(wanted.substr(prefix.size()));
        });
        const base::Error error = refused(changed);
        EXPECT_EQ(error.text.id, "job.missing_key") << wanted;
        EXPECT_EQ(key_of(error), wanted);
    }
}

TEST(JobFile, AnUnknownKeyIsRefusedBecauseSavingWouldLoseIt) {
    json job = full();
    std::vector<std::string> paths;
    walk(job, "", [&](const std::string& path, json& value) {
        if (value.is_object() && !of_the_shop(path) && path != "stock.length_mm" && path != "components")
            paths.push_back(path);
    });
    ASSERT_GT(paths.size(), 40u);
    for (const std::string& wanted : paths) {
        json changed = job;
        walk(changed, "", [&](const std::string& path, json& value) {
            if (path == wanted) value["zzz"] = 1;
        });
        const base::Error error = refused(changed);
        EXPECT_EQ(error.text.id, "job.unknown_key") << wanted;
        EXPECT_EQ(key_of(error), wanted.empty() ? "zzz" : wanted + ".zzz");
    }
}

struct Damage {
    const char* pointer;
    json value;
    const char* error;
    const char* key;
};

TEST(JobFile, DamageIsNamedWithItsPath) {
    const std::vector<Damage> damages = {
        {"/title", 7, "job.wrong_type", "title"},
        {"/title/job", 7, "job.wrong_type", "title.job"},
        {"/title/hand", "both", "job.word_unknown", "title.hand"},
        {"/notes", nullptr, "job.wrong_type", "notes"},
        {"/rough", 1, "job.wrong_type", "rough"},
        {"/revisions", json::object(), "job.wrong_type", "revisions"},
        {"/display/unit", "cm", "job.word_unknown", "display.unit"},
        {"/display/denominator", 12, "job.not_a_power_of_two", "display.denominator"},
        {"/display/decimals", 7, "job.out_of_range", "display.decimals"},
        {"/display/decimals", 1.5, "job.wrong_type", "display.decimals"},
        {"/display/paper", "B5", "job.word_unknown", "display.paper"},
        {"/limits/clearance_piece_mm", -1, "job.out_of_range", "limits.clearance_piece_mm"},
        {"/process/process", "gas", "job.word_unknown", "process.process"},
        {"/stock/length_mm/60x40x3", "6 m", "job.wrong_type", "stock.length_mm.60x40x3"},
        {"/last_id", -1, "job.wrong_type", "last_id"},
        {"/last_id", 4294967296, "job.out_of_range", "last_id"},
        {"/last_id", 1, "job.id_beyond_last", "weldments[0].id"},
        {"/table", json::array(), "job.wrong_type", "table"},
        {"/components/block/sha256", std::string(64, '0'), "job.definition_damaged", "components.block.definition"},
        {"/components/block/definition/mass_kg", 4.5, "job.definition_damaged", "components.block.definition"},
        {"/weldments/0/id", 0, "job.out_of_range", "weldments[0].id"},
        {"/weldments/0/pieces/1/id", 1, "job.id_twice", "weldments[0].pieces[1].id"},
        {"/weldments/0/pieces/0/X_MP", json::array({1, 2}), "job.list_length", "weldments[0].pieces[0].X_MP"},
        {"/weldments/0/pieces/0/X_MP/0", 1.1, "job.pose_not_rigid", "weldments[0].pieces[0].X_MP"},
        {"/weldments/0/pieces/0/fingerprint/handedness", 2, "job.out_of_range",
         "weldments[0].pieces[0].fingerprint.handedness"},
        {"/weldments/0/piece_edits/0/piece", 99, "job.id_unknown", "weldments[0].piece_edits[0].piece"},
        {"/weldments/0/piece_edits/1/piece", 1, "job.id_twice", "weldments[0].piece_edits[1].piece"},
        {"/weldments/0/piece_edits/0/weld_side/kind", "flat", "job.word_unknown",
         "weldments[0].piece_edits[0].weld_side.kind"},
        {"/weldments/0/seam_edits/0/seam", 98, "job.id_unknown", "weldments[0].seam_edits[0].seam"},
        {"/weldments/0/seams/0/pieces/1", 97, "job.id_unknown", "weldments[0].seams[0].pieces[1]"},
        {"/weldments/0/drawn/0/section/kind", "hexagon", "job.word_unknown", "weldments[0].drawn[0].section.kind"},
        {"/weldments/0/step/packed", "AAAA", "job.packed_damaged", "weldments[0].step.packed"},
        {"/weldments/0/step/bytes", 1e3, "job.wrong_type", "weldments[0].step.bytes"},
        {"/weldments/0/step/bytes", 18446744073709551615ull, "job.packed_damaged", "weldments[0].step.packed"},
        {"/weldments/0/step/sha256", std::string(64, 'a'), "job.packed_damaged", "weldments[0].step.packed"},
        {"/photos/0/packed", "????", "job.packed_damaged", "photos[0].packed"},
        {"/stages/0/lay/side_down", "down", "job.word_unknown", "stages[0].lay.side_down"},
        {"/stages/0/pieces/0", 96, "job.id_unknown", "stages[0].pieces"},
        {"/stages/0/pieces/0", 2, "job.listed_twice", "stages[0].pieces"},
        {"/stages/0/earlier", json::array({4}), "job.stage_not_earlier", "stages[0].earlier"},
        {"/stages/1/id", 4, "job.id_twice", "stages[1].id"},
        {"/stages/0/repeat", 0, "job.out_of_range", "stages[0].repeat"},
        {"/stages/0/placements/0/component", "stool", "job.component_unknown", "stages[0].placements[0].component"},
        {"/stages/0/placements/0/seat/turn", json::array({1}), "job.list_length", "stages[0].placements[0].seat.turn"},
        {"/stages/0/placements/0/seat/hole/col", 1.5, "job.wrong_type", "stages[0].placements[0].seat.hole.col"},
        {"/stages/0/placements/0/seat/hole/col", 18446744073709551615ull, "job.out_of_range",
         "stages[0].placements[0].seat.hole.col"},
        {"/stages/0/placements/0/seat/host/kind", "ceiling", "job.word_unknown",
         "stages[0].placements[0].seat.host.kind"},
        {"/stages/0/placements/1/seat/host/placement", 95, "job.id_unknown", "stages[0].placements[1].seat"},
        {"/stages/0/placements/1/seat/host/placement", 7, "job.host_cycle", "stages[0].placements"},
        {"/stages/0/placements/2/seat/host/pieces", json::array({1}), "job.list_length",
         "stages[0].placements[2].seat.host.pieces"},
        {"/stages/0/order/0/seams/0", 94, "job.id_unknown", "stages[0].order[0].seams"},
        {"/stages/0/order/0/kind", "paint", "job.word_unknown", "stages[0].order[0].kind"},
        {"/stages/0/as_set/0/placement", 93, "job.id_unknown", "stages[0].as_set[0].placement"},
    };
    ASSERT_EQ(full()["stages"][0]["placements"][1]["id"], 7) << "the cycle above is made with this id";
    ASSERT_EQ(full()["stages"][0]["id"], 4);
    for (const Damage& damage : damages) {
        json job = full();
        job[json::json_pointer(damage.pointer)] = damage.value;
        // Some damage breaks two rules; the first in reading order is named.
        const base::Error error = refused(job);
        EXPECT_EQ(error.text.id, damage.error) << damage.pointer;
        EXPECT_EQ(key_of(error), damage.key) << damage.pointer;
        EXPECT_EQ(error.kind, base::ErrorKind::bad_input);
    }
}

TEST(JobFile, WhatIsNoJobIsRefused) {
    const auto error = [](std::string_view text) {
        const auto opened = parse_job(text, "x");
        return opened ? std::string() : opened.error().text.id;
    };
    EXPECT_EQ(error(""), "job.damaged");
    EXPECT_EQ(error("ISO-10303-21;"), "job.not_a_job");
    EXPECT_EQ(error("{}"), "job.not_a_job");
    EXPECT_EQ(error("[1]"), "job.not_a_job");
    EXPECT_EQ(error(R"({"format": "setwright-shelf", "version": 1})"), "job.not_a_job");
    EXPECT_EQ(error(R"({"format": 5, "version": 1})"), "job.not_a_job");
    EXPECT_EQ(error(R"({"format": "setwright-job"})"), "job.version_missing");
    EXPECT_EQ(error(R"({"format": "setwright-job", "version": "1"})"), "job.version_missing");
    EXPECT_EQ(error(R"({"format": "setwright-job", "version": 0})"), "job.version_missing");
    EXPECT_EQ(error(R"({"format": "setwright-job", "version": 1})"), "job.missing_key");
    EXPECT_EQ(error(R"({"format": "setwright-job", "version": 1, "version": 1})"), "job.key_twice");
    EXPECT_EQ(error(R"({"format": "setwright-job", "version": 1, "last_id": 1e999})"), "job.damaged");
    EXPECT_EQ(error("{\"format\": \"setwright-job\xff\"}"), "job.damaged");
}

TEST(JobFile, DeepNestingDoesNotExhaustTheStack) {
    std::string objects;
    for (int i = 0; i < 100000; ++i) objects += "{\"a\":";
    for (const std::string& text :
         {std::string(100000, '['), objects, std::string(100000, '[') + std::string(100000, ']')}) {
        const auto opened = parse_job(text, "x");
        ASSERT_FALSE(opened.ok());
        EXPECT_EQ(opened.error().text.id, "job.too_deep");
    }
}

TEST(JobFile, MutatedTextNeverHurts) {
    const std::string text = job_json(full_job());
    std::mt19937 random(20240229);
    const auto pick = [&](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); };
    const std::string alphabet = "{}[]\",:0123456789.-+eE\\ntf \x01\xff";
    int opened = 0;
    for (int round = 0; round < 4000; ++round) {
        std::string mutated = text;
        for (std::size_t n = 1 + pick(4); n > 0; --n) {
            const std::size_t at = pick(mutated.size());
            switch (pick(5)) {
                case 0:
                    mutated[at] = alphabet[pick(alphabet.size())];
                    break;
                case 1:
                    mutated.erase(at, 1 + pick(20));
                    break;
                case 2:
                    mutated.insert(at, 1, alphabet[pick(alphabet.size())]);
                    break;
                case 3:
                    mutated.insert(at, text.substr(pick(text.size()), 1 + pick(60)));
                    break;
                case 4:
                    mutated[at] = static_cast<char>(pick(256));
                    break;
            }
        }
        if (round % 20 == 0) mutated.resize(pick(mutated.size()));
        if (mutated.empty()) continue;
        const auto job = parse_job(mutated, "x");
        if (!job) {
            EXPECT_FALSE(job.error().text.id.empty());
            continue;
        }
        ++opened;
        EXPECT_TRUE(parse_job(job_json(job->setup), "x").ok()) << round;
    }
    // Digits of numbers and letters of notes may change: the reader is not simply refusing all.
    EXPECT_GT(opened, 40);
}

TEST(JobFile, SideAndTurnThatDoNotFitThePoseAreReadOffIt) {
    for (const auto& [key, value] : {std::pair<const char*, json>{"side_down", "+Z"}, {"yaw_deg", 31}}) {
        json job = full();
        job["stages"][0]["lay"][key] = value;
        const auto opened = parse_job(job.dump(), "x");
        ASSERT_TRUE(opened.ok()) << key;
        EXPECT_TRUE(same(opened->setup, full_job())) << key;
        ASSERT_EQ(opened->remarks.size(), 1u) << key;
        EXPECT_EQ(opened->remarks[0].id, "job.lay_read_anew");
    }
    EXPECT_TRUE(parse_job(full().dump(), "x")->remarks.empty());
}

TEST(JobFile, APackerWithoutItsDefinitionIsRefused) {
    json job = full();
    job["components"].erase("packer-2");
    const base::Error error = refused(job);
    EXPECT_EQ(error.text.id, "job.component_unknown");
    EXPECT_EQ(key_of(error), "stages[0].placements[0].seat.packers[1].component");
}

TEST(JobFile, ANewerVersionIsRefusedAndTheFileUntouched) {
    const Folder folder;
    const std::string path = folder.path() / "job.setwright";
    json job = full();
    job["version"] = 2;
    job["invented_later"] = true;
    ASSERT_TRUE(base::write_file(path, job.dump()).ok());
    const auto opened = open_job(path);
    ASSERT_FALSE(opened.ok());
    EXPECT_EQ(opened.error().text.id, "job.newer_version");
    EXPECT_EQ(opened.error().kind, base::ErrorKind::bad_input);
    EXPECT_EQ(base::read_file(path).value(), job.dump());
    EXPECT_THAT(base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en").render(opened.error().text),
                testing::HasSubstr("newer Setwright"));
}

TEST(JobFile, EverySentenceIsThere) {
    const auto english = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    json job = full();
    for (const char* pointer : {"/title", "/notes", "/rough", "/last_id", "/stages"}) {
        json damaged = job;
        damaged[json::json_pointer(pointer)] = json::object({{"x", 1}});
        const std::string sentence = english.render(refused(damaged).text);
        EXPECT_THAT(sentence, testing::StartsWith("x.setwright: "));
        EXPECT_THAT(sentence, testing::Not(testing::HasSubstr("job.")));
    }
}

class WithWorker : public testing::Test {
  protected:
    WithWorker() { ::setenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER, 1); }
};

TEST_F(WithWorker, AJobFromStepOpensWithTheSameIdsAndPieces) {
    const Folder folder;
    const std::string path = folder.path() / "D1.setwright";
    auto use = import_step(SETWRIGHT_SAMPLES_DIR "/D1.step");
    ASSERT_TRUE(use.ok()) << use.error().text.id;
    const Job made = new_job(std::move(use).value(), example_table(), {});
    ASSERT_TRUE(save_job(made, path).ok());
    const auto opened = open_job(path);
    ASSERT_TRUE(opened.ok()) << opened.error().text.id;
    EXPECT_TRUE(same(opened->setup, made));
    ASSERT_TRUE(opened->setup.weldments[0].model);
    const auto& before = *made.weldments[0].model;
    const auto& after = *opened->setup.weldments[0].model;
    ASSERT_EQ(after.pieces.size(), before.pieces.size());
    ASSERT_EQ(after.seams.size(), before.seams.size());
    for (std::size_t i = 0; i < before.pieces.size(); ++i) {
        EXPECT_EQ(after.pieces[i].id, before.pieces[i].id);
        EXPECT_EQ(after.pieces[i].fingerprint, before.pieces[i].fingerprint);
    }
    for (std::size_t i = 0; i < before.seams.size(); ++i) EXPECT_EQ(after.seams[i].id, before.seams[i].id);
    ASSERT_TRUE(save_job(opened->setup, path).ok());
    EXPECT_EQ(base::read_file(path).value(), job_json(made));
}

TEST_F(WithWorker, CancellingStopsAnImportAtOnceAndLeavesNoHelperBehind) {
    using Clock = std::chrono::steady_clock;
    for (const std::string stage : {"import.reading", "import.pieces", "import.seams"}) {
        // Best of a few: the computer may be busy with something else.
        auto quickest = Clock::duration::max();
        for (int attempt = 0; attempt < 5 && quickest > std::chrono::milliseconds(100); ++attempt) {
            const base::Progress job;
            auto import =
                std::async(std::launch::async, [&] { return import_step(SETWRIGHT_SAMPLES_DIR "/D1.step", job); });
            while (job.stage() != stage && import.wait_for(std::chrono::seconds(0)) != std::future_status::ready)
                std::this_thread::yield();
            // In the middle of reading: the helper is at work.
            if (stage == "import.reading") std::this_thread::sleep_for(std::chrono::milliseconds(30));
            const auto asked = Clock::now();
            job.cancel();
            const base::Result<WeldmentUse> use = import.get();
            quickest = std::min(quickest, Clock::now() - asked);
            ASSERT_FALSE(use.ok()) << stage;
            EXPECT_EQ(use.error().kind, base::ErrorKind::cancelled) << stage;
            EXPECT_EQ(::waitpid(-1, nullptr, WNOHANG), -1) << "a helper is still there";
            EXPECT_EQ(errno, ECHILD);
        }
        EXPECT_LT(quickest, std::chrono::milliseconds(100)) << stage;
    }
}

TEST_F(WithWorker, AnImportSaysInWordsWhatItIsAt) {
    const auto english = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    for (const char* stage : {"import.reading", "import.pieces", "import.seams", "import.matching"})
        EXPECT_NE(english.render({stage, {}}), stage);
    const base::Progress job;
    EXPECT_STREQ(job.stage(), "");
    ASSERT_TRUE(import_step(SETWRIGHT_SAMPLES_DIR "/D1.step", job).ok());
    EXPECT_STREQ(job.stage(), "import.matching");
}

TEST(JobFile, HolesOutOfAllReasonAreRefused) {
    json far = full();
    far["stages"][0]["placements"][0]["seat"]["hole"]["col"] = std::numeric_limits<int>::max();
    EXPECT_EQ(refused(far).text.id, "job.out_of_range");
    far["stages"][0]["placements"][0]["seat"]["hole"]["col"] = -100000;
    EXPECT_TRUE(parse_job(far.dump(), "x.setwright").ok());
    far["stages"][0]["placements"][0]["seat"]["hole"]["row"] = -100001;
    EXPECT_EQ(refused(far).text.id, "job.out_of_range");
}

TEST(JobFile, NumbersOfOneStageAreGivenOnce) {
    json twice = full();
    twice["stages"][0]["placements"][1]["no"] = twice["stages"][0]["placements"][0]["no"];
    EXPECT_EQ(refused(twice).text.id, "job.number_twice");
}

TEST(JobFile, AJobHasAStage) {
    json none = full();
    none["stages"] = json::array();
    EXPECT_EQ(refused(none).text.id, "job.no_stage");
}

TEST_F(WithWorker, AModelThatIsNoStepIsRefusedByItsOwnName) {
    const Folder folder;
    const std::string path = folder.path() / "l.setwright";
    ASSERT_TRUE(save_job(example_job(), path).ok());
    const auto opened = open_job(path);
    ASSERT_FALSE(opened.ok());
    for (const auto& [name, argument] : opened.error().text.arguments)
        if (const auto* text = std::get_if<std::string>(&argument)) {
            EXPECT_THAT(*text, testing::Not(testing::HasSubstr("setwright-")));
        }
    EXPECT_EQ(import_step((folder.path() / "none.step").string()).error().text.id, "file.not_there");
    EXPECT_EQ(import_step(folder.path().string()).error().text.id, "file.is_directory");
}

std::vector<std::string> remarks_on(Job setup) {
    const Folder folder;
    const std::string path = folder.path() / "job.setwright";
    setup.weldments.clear();
    for (Stage& stage : setup.stages) stage.pieces.clear();
    EXPECT_TRUE(save_job(setup, path).ok());
    const auto opened = open_job(path);
    EXPECT_TRUE(opened.ok());
    std::vector<std::string> ids;
    if (opened)
        for (const base::Text& remark : opened->remarks) ids.push_back(remark.id);
    return ids;
}

TEST(JobFile, ComponentsThatTheCatalogueHasNotOrHasOtherwiseAreRemarkedOnce) {
    ::setenv("SETWRIGHT_RESOURCES", SETWRIGHT_RESOURCES_DIR, 1);
    const auto catalogue = shop::load_catalogue(SETWRIGHT_RESOURCES_DIR "/catalogue");
    ASSERT_TRUE(catalogue.ok());
    ASSERT_FALSE(catalogue->components.empty());
    const auto known = catalogue->components.front();
    Job setup = example_job();
    setup.components[known->id] = known;
    EXPECT_THAT(remarks_on(setup), testing::IsEmpty());
    shop::Component heavier = *known;
    heavier.mass_kg += 1;
    setup.components[known->id] = std::make_shared<const shop::Component>(heavier);
    EXPECT_THAT(remarks_on(setup), testing::ElementsAre("job.component_differs"));
    setup.components = {{"block", example_component()}, {"clamp", example_component("clamp")}};
    EXPECT_THAT(remarks_on(setup), testing::ElementsAre("job.component_not_in_catalogue"));
}

TEST(JobFile, SavingWhereNothingCanBeWrittenLeavesTheOldFile) {
    const Folder folder;
    EXPECT_EQ(save_job(example_job(), folder.path().string()).error().text.id, "file.is_directory_save");
    EXPECT_EQ(save_job(example_job(), (folder.path() / "none" / "x").string()).error().text.id, "file.no_folder");
}

}  // namespace
}  // namespace setwright::setup
