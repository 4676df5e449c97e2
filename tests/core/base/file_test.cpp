#include "core/base/file.h"

#include <gtest/gtest.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <random>

namespace setwright::base {
namespace {

namespace fs = std::filesystem;

class FileTest : public testing::Test {
  protected:
    FileTest() {
        std::string name = (fs::temp_directory_path() / "file-test-XXXXXX").string();
        folder_ = ::mkdtemp(name.data());
    }
    ~FileTest() override {
        std::error_code ignored;
        fs::permissions(folder_, fs::perms::owner_all, ignored);
        fs::remove_all(folder_, ignored);
    }
    std::string at(const char* name) const { return (folder_ / name).string(); }
    std::size_t files() const {
        return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()));
    }

    fs::path folder_;
};

template <class T>
std::string error_of(const Result<T>& result) {
    return result ? "" : result.error().text.id;
}

TEST_F(FileTest, WhatIsWrittenIsReadAndNothingElseIsLeft) {
    const std::string content("line\n\0\xff end", 11);
    ASSERT_TRUE(write_file(at("a"), content).ok());
    EXPECT_EQ(read_file(at("a")).value(), content);
    ASSERT_TRUE(write_file(at("a"), "").ok());
    EXPECT_EQ(read_file(at("a")).value(), "");
    EXPECT_EQ(files(), 1u);
}

TEST_F(FileTest, AReplacedFileKeepsItsMode) {
    ASSERT_TRUE(write_file(at("a"), "old").ok());
    fs::permissions(at("a"), fs::perms(0640));
    ASSERT_TRUE(write_file(at("a"), "new").ok());
    EXPECT_EQ(fs::status(at("a")).permissions(), fs::perms(0640));
}

TEST_F(FileTest, ReadingSaysWhy) {
    EXPECT_EQ(error_of(read_file(at("none"))), "file.not_there");
    EXPECT_EQ(error_of(read_file(folder_.string())), "file.is_directory");
    ASSERT_TRUE(write_file(at("a"), "12345").ok());
    EXPECT_EQ(error_of(read_file(at("a"), 4)), "file.too_large");
    EXPECT_TRUE(read_file(at("a"), 5).ok());
    // A device has no size to look at beforehand; the limit holds all the same.
    EXPECT_EQ(error_of(read_file("/dev/zero", 1 << 20)), "file.too_large");
}

TEST_F(FileTest, ReadingWithoutPermissionSaysSo) {
    if (::geteuid() == 0) GTEST_SKIP() << "root may read everything";
    ASSERT_TRUE(write_file(at("a"), "secret").ok());
    fs::permissions(at("a"), fs::perms::none);
    EXPECT_EQ(error_of(read_file(at("a"))), "file.no_permission");
    fs::permissions(folder_, fs::perms::owner_read | fs::perms::owner_exec);
    EXPECT_EQ(error_of(write_file(at("b"), "x")), "file.cannot_write");
}

TEST_F(FileTest, WritingWhereNoFileCanBeSaysSo) {
    EXPECT_EQ(error_of(write_file(folder_.string(), "x")), "file.is_directory_save");
    EXPECT_EQ(error_of(write_file(at("none/a"), "x")), "file.no_folder");
    ASSERT_TRUE(write_file(at("a"), "x").ok());
    EXPECT_EQ(error_of(write_file(at("a/b"), "x")), "file.cannot_write");
}

TEST_F(FileTest, AFileCutShortLeavesTheOldOneWhole) {
    // A limit on the size of files stops the write half way, as a full disk does.
    const auto child = [&] {
        std::signal(SIGXFSZ, SIG_IGN);
        const rlimit small{4096, 4096};
        if (::setrlimit(RLIMIT_FSIZE, &small) != 0) std::_Exit(2);
        std::_Exit(error_of(write_file(at("a"), std::string(100000, 'x'))) == "file.cannot_write" ? 0 : 1);
    };
    ASSERT_TRUE(write_file(at("a"), "old").ok());
    EXPECT_EXIT(child(), testing::ExitedWithCode(0), "");
    EXPECT_EQ(read_file(at("a")).value(), "old");
    EXPECT_EQ(files(), 1u) << "the scratch file is gone";
}

TEST_F(FileTest, AFullDiskIsNamedAndLeavesTheOldFileWhole) {
    const std::string disk = at("disk");
    fs::create_directory(disk);
    if (::mount("none", disk.c_str(), "tmpfs", 0, "size=64k") != 0) GTEST_SKIP() << "no small disk can be mounted here";
    EXPECT_TRUE(write_file(disk + "/a", "old").ok());
    EXPECT_EQ(error_of(write_file(disk + "/a", std::string(1 << 20, 'x'))), "file.disk_full");
    EXPECT_EQ(read_file(disk + "/a").value(), "old");
    EXPECT_EQ(std::distance(fs::directory_iterator(disk), fs::directory_iterator()), 1);
    EXPECT_EQ(::umount(disk.c_str()), 0);
}

TEST(Sha256, GivesThePublishedDigests) {
    // FIPS 180-2, appendix B.1 and B.2; the empty message from NIST's example values.
    EXPECT_EQ(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
              "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    EXPECT_EQ(sha256(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(Pack, ComesBackWhole) {
    std::mt19937 random(5);
    for (const std::size_t size : {0, 1, 2, 3, 4, 1000, 100000}) {
        std::string data(size, '\0');
        for (char& c : data) c = static_cast<char>(random());
        const std::string packed = pack(data);
        EXPECT_EQ(packed.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/="),
                  std::string::npos);
        const auto back = unpack(packed, size);
        ASSERT_TRUE(back.ok()) << size;
        EXPECT_EQ(*back, data);
        EXPECT_FALSE(unpack(packed, size + 1).ok());
        if (size > 0) {
            EXPECT_FALSE(unpack(packed, size - 1).ok());
        }
    }
    EXPECT_LT(pack(std::string(1 << 20, 'a')).size(), 4096u);
}

TEST(Pack, DamageIsRefused) {
    EXPECT_FALSE(unpack("", 1).ok());
    EXPECT_FALSE(unpack("AAA", 1).ok());
    EXPECT_FALSE(unpack("????", 1).ok());
    EXPECT_FALSE(unpack("AAAA", 3).ok());
    EXPECT_FALSE(unpack(pack("honest"), std::size_t{1} << 40).ok()) << "a claim no zlib stream can meet";
    std::mt19937 random(6);
    const std::string text = "STEP text that is packed into the job file, and packed, and packed";
    const std::string packed = pack(text);
    for (int round = 0; round < 2000; ++round) {
        std::string damaged = packed;
        damaged[random() % damaged.size()] = static_cast<char>(random());
        const auto back = unpack(damaged, text.size());
        // zlib's own sum (Adler-32) catches it, or the change was in unused bits of the last character.
        if (back) {
            EXPECT_EQ(*back, text);
        }
    }
}

}  // namespace
}  // namespace setwright::base
