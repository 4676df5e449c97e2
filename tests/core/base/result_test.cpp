#include "core/base/result.h"

#include <gtest/gtest.h>

namespace setwright::base {
namespace {

TEST(Result, HoldsAValueOrAReason) {
    const Result<int> good = 7;
    EXPECT_TRUE(good.ok());
    EXPECT_EQ(*good, 7);
    const Result<int> bad = bad_input({"file.not_there", {}});
    EXPECT_FALSE(bad.ok());
    EXPECT_EQ(bad.error().text.id, "file.not_there");
}

TEST(ResultDeathTest, TheValueOfAFailureIsOurBug) {
    const Result<int> bad = bad_input({"file.not_there", {}});
    EXPECT_EXIT(static_cast<void>(bad.value()), testing::ExitedWithCode(3), "our mistake");
}

TEST(BugDeathTest, RunsTheHandlerOnceAndEndsWithThree) {
    EXPECT_EXIT(
        {
            on_bug([](const char*) { std::fputs("saved the job\n", stderr); });
            SETWRIGHT_ASSERT(1 + 1 == 3, "sums hold");
        },
        testing::ExitedWithCode(3), "sums hold(.|\n)*saved the job");
}

}  // namespace
}  // namespace setwright::base
