#include "core/base/text.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>

namespace setwright::base {
namespace {

const char* const sentences = R"({
  "block": "block {no}",
  "holes": "{n, plural, one {# hole} other {# holes}} in {what}",
  "length": "{l} too long",
  "list.and": " and ",
  "list.comma": ", ",
  "held": "held twice by {blocks}",
  "braces": "{{x}} {unknown}"
})";

TEST(Text, PutsValuesIntoTheSentence) {
    const TextCatalogue catalogue = TextCatalogue::parse(sentences);
    EXPECT_EQ(catalogue.render({"block", {{"no", std::int64_t{7}}}}), "block 7");
}

TEST(Text, PicksThePluralByCount) {
    const TextCatalogue catalogue = TextCatalogue::parse(sentences);
    EXPECT_EQ(catalogue.render({"holes", {{"n", std::int64_t{1}}, {"what", std::string("the plate")}}}),
              "1 hole in the plate");
    EXPECT_EQ(catalogue.render({"holes", {{"n", std::int64_t{0}}, {"what", std::string("it")}}}), "0 holes in it");
}

TEST(Text, ShowsLengthsInTheReadersUnit) {
    const TextCatalogue catalogue = TextCatalogue::parse(sentences);
    const Text text{"length", {{"l", LengthArg{38.1}}}};
    EXPECT_EQ(catalogue.render(text), "38.1 mm too long");
    EXPECT_EQ(catalogue.render(text, {LengthUnit::inch}), "1 1/2\" too long");
}

TEST(Text, JoinsListsInWords) {
    const TextCatalogue catalogue = TextCatalogue::parse(sentences);
    const auto block = [](int no) { return Text{"block", {{"no", std::int64_t{no}}}}; };
    EXPECT_EQ(catalogue.render({"held", {{"blocks", std::vector{block(3), block(5), block(9)}}}}),
              "held twice by block 3, block 5 and block 9");
}

TEST(Text, LosesNothingWhenASentenceIsMissing) {
    const TextCatalogue catalogue = TextCatalogue::parse(sentences);
    EXPECT_EQ(catalogue.render({"no.such", {{"a", std::string("x")}}}), "no.such a=x");
    EXPECT_EQ(catalogue.render({"braces", {}}), "{x} {unknown}");
}

TEST(Text, AFaultyFileGivesNoSentences) {
    for (const char* json : {"", "{", "[1]", "{\"a\":1}"})
        EXPECT_TRUE(TextCatalogue::parse(json).sentences().empty()) << json;
    EXPECT_TRUE(TextCatalogue::load("/no/such/folder").sentences().empty());
}

/// Every key that core or app names in `Text{"…"`, `words("…"` or `{"topic.key", {` has an English sentence, and no key
/// stands in two files.
TEST(Catalogue, HasEverySentenceThatTheProgramNames) {
    namespace fs = std::filesystem;
    const TextCatalogue english = TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    const std::regex named(
        R"re((?:\bwords_?\(\s*"([a-z_]+\.[a-z0-9_.]+)")|(?:(?:Text\s*\{|bad_input\(\{|say\(\{|remark\(\{|,\s*\{)\s*"([a-z_]+\.[a-z0-9_.]+)"\s*,\s*\{))re");
    std::set<std::string> missing;
    int found = 0;
    for (const char* folder : {"core", "app"}) {
        for (const auto& entry : fs::recursive_directory_iterator(std::string(SETWRIGHT_SOURCE_DIR) + "/" + folder)) {
            if (entry.path().extension() != ".cpp") continue;
            std::ifstream file(entry.path());
            std::stringstream content;
            content << file.rdbuf();
            const std::string code = content.str();
            for (std::sregex_iterator hit(code.begin(), code.end(), named), end; hit != end; ++hit) {
                ++found;
                const std::string key = (*hit)[1].matched ? (*hit)[1].str() : (*hit)[2].str();
                if (!english.has(key)) missing.insert(key + " in " + entry.path().filename().string());
            }
        }
    }
    EXPECT_GT(found, 20) << "the pattern no longer finds texts";
    EXPECT_TRUE(missing.empty()) << [&] {
        std::string all;
        for (const std::string& key : missing) all += key + '\n';
        return all;
    }();
}

TEST(Catalogue, NoKeyStandsInTwoFiles) {
    namespace fs = std::filesystem;
    std::set<std::string> seen;
    for (const auto& entry : fs::directory_iterator(SETWRIGHT_RESOURCES_DIR "/translations/en")) {
        std::ifstream file(entry.path());
        std::stringstream content;
        content << file.rdbuf();
        const auto document = nlohmann::json::parse(content.str(), nullptr, false);
        ASSERT_TRUE(document.is_object()) << entry.path();
        for (const auto& [key, value] : document.items())
            EXPECT_TRUE(seen.insert(key).second) << key << " again in " << entry.path();
    }
}

}  // namespace
}  // namespace setwright::base
