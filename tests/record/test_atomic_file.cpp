// Files that are whole or not there.
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>
#include <cstdio>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/unfinished.hpp"
#include "tests/support/record.hpp"

using namespace spotwright;
namespace fs = std::filesystem;
using test::content, test::Folder, test::write_series;

namespace {

// Lets no file grow past a size, as a full disk would.
class FullDisk {
public:
    explicit FullDisk(rlim_t bytes) : handler_(std::signal(SIGXFSZ, SIG_IGN)) {
        getrlimit(RLIMIT_FSIZE, &before_);
        const rlimit limit{bytes, before_.rlim_max};
        setrlimit(RLIMIT_FSIZE, &limit);
    }
    ~FullDisk() {
        setrlimit(RLIMIT_FSIZE, &before_);
        std::signal(SIGXFSZ, handler_);
    }
    FullDisk(const FullDisk&) = delete;
    FullDisk& operator=(const FullDisk&) = delete;

private:
    void (*handler_)(int);
    rlimit before_{};
};

// What is printed on standard error while it lives.
class StandardError {
public:
    explicit StandardError(const fs::path& file) : kept_(dup(STDERR_FILENO)) {
        REQUIRE(std::freopen(file.c_str(), "w", stderr) != nullptr);
    }
    ~StandardError() {
        std::fflush(stderr);
        dup2(kept_, STDERR_FILENO);
        close(kept_);
    }
    StandardError(const StandardError&) = delete;
    StandardError& operator=(const StandardError&) = delete;

private:
    int kept_;
};

}  // namespace

TEST_CASE("a file stands under its name only after the commit", "[record][unit]") {
    const Folder folder;
    record::AtomicFile file(folder / "a.txt");
    file.write("one ");
    CHECK(fs::exists(folder / "a.txt.part"));
    CHECK_FALSE(fs::exists(folder / "a.txt"));
    record::AtomicFile moved = std::move(file);
    moved.write(std::string(200000, 'x'));
    CHECK_FALSE(fs::exists(folder / "a.txt"));
    moved.commit();
    CHECK(content(folder / "a.txt") == "one " + std::string(200000, 'x'));
    CHECK_FALSE(fs::exists(folder / "a.txt.part"));
    CHECK_THROWS_AS(moved.commit(), base::InternalError);
}

TEST_CASE("a file dropped before its commit leaves nothing but what stood there before", "[record][unit]") {
    const Folder folder;
    { record::AtomicFile(folder / "new.txt").write(std::string(200000, 'x')); }
    CHECK(folder.empty());

    record::write_text_file(folder / "old.txt", "old");
    { record::AtomicFile(folder / "old.txt").write("new"); }
    CHECK(content(folder / "old.txt") == "old");
    CHECK_FALSE(fs::exists(folder / "old.txt.part"));
}

TEST_CASE("a part that a killed run has left behind is written over", "[record][unit]") {
    const Folder folder;
    std::ofstream(folder / "a.txt.part") << "much longer than what comes now";
    record::write_text_file(folder / "a.txt", "short");
    CHECK(content(folder / "a.txt") == "short");
    CHECK_FALSE(fs::exists(folder / "a.txt.part"));
}

TEST_CASE("a name that cannot be written to is an IoError and stays as it is", "[record][unit]") {
    const Folder folder;
    record::write_text_file(folder / "file", "kept");
    fs::create_directory(folder / "directory");
    fs::create_symlink("nowhere/at/all", folder / "dangling");
    REQUIRE(mkfifo((folder / "pipe").c_str(), 0600) == 0);
    const std::string name = GENERATE(as<std::string>{}, "missing/a.txt", "file/a.txt", "directory", "directory/",
                                      "dangling", "pipe", std::string(253, 'n'), "");
    const fs::path target = name.empty() ? fs::path() : folder / name;
    CAPTURE(target);
    CHECK_THROWS_AS(record::write_text_file(target, "text"), base::IoError);
    CHECK(content(folder / "file") == "kept");
    CHECK(fs::is_fifo(folder / "pipe"));
    CHECK(std::distance(fs::directory_iterator(folder / ""), {}) == 4);
}

TEST_CASE("a failure to write names the file and the system's reason", "[record][unit]") {
    const Folder folder;
    const fs::path target = folder / "missing/a.txt";
    CHECK_THROWS_WITH(record::write_text_file(target, "text"),
                      "cannot write " + target.string() + ": No such file or directory");
}

TEST_CASE("a link among the parts is not followed", "[record][unit]") {
    const Folder folder;
    record::write_text_file(folder / "precious.txt", "precious");
    fs::create_symlink(folder / "precious.txt", folder / "a.txt.part");
    CHECK_THROWS_AS(record::write_text_file(folder / "a.txt", "text"), base::IoError);
    CHECK(content(folder / "precious.txt") == "precious");

    fs::create_symlink(folder / "elsewhere.txt", folder / "b.txt.part");
    CHECK_THROWS_AS(record::write_text_file(folder / "b.txt", "text"), base::IoError);
    CHECK_FALSE(fs::exists(folder / "elsewhere.txt"));
}

TEST_CASE("a target that is a link is replaced where it points to", "[record][unit]") {
    const Folder folder;
    fs::create_directory(folder / "far");
    record::write_text_file(folder / "far/a.txt", "old");
    fs::create_symlink("far/a.txt", folder / "link.txt");
    record::write_text_file(folder / "link.txt", "new");
    CHECK(fs::is_symlink(folder / "link.txt"));
    CHECK(content(folder / "far/a.txt") == "new");
}

TEST_CASE("a file under way cannot be started a second time", "[record][unit]") {
    const Folder folder;
    record::AtomicFile first(folder / "a.txt");
    first.write("first");
    CHECK_THROWS_WITH(record::AtomicFile(folder / "a.txt"), Catch::Contains("another run is writing it"));
    first.commit();
    CHECK(content(folder / "a.txt") == "first");
}

TEST_CASE("a disk that runs full is an IoError, prints nothing and leaves no half file", "[record][unit]") {
    const Folder folder;
    const Folder printed;
    const std::string name = GENERATE("a.txt", "a.csv", "a.h5");
    const rlim_t room = GENERATE(as<rlim_t>{}, 0, 300, 20000, 150000);
    CAPTURE(name, room);
    std::string message;
    {
        const StandardError standard_error(printed / "stderr");
        const FullDisk full(room);
        try {
            if (name == "a.txt") {
                record::write_text_file(folder / name, std::string(200000, 'x'));
            } else {
                write_series(folder / name);
            }
        } catch (const base::IoError& error) {
            message = error.what();
        }
    }
    CHECK(message == "cannot write " + (folder / name).string() + ": File too large");
    CHECK(folder.empty());
    CHECK(content(printed / "stderr").empty());
}

TEST_CASE("an input is kept under every name it has, and so is one that a part would replace", "[record][unit]") {
    const Folder folder;
    record::write_text_file(folder / "in.csv", "precious");
    record::write_text_file(folder / "out.csv.part", "precious too");
    record::write_text_file(folder / "o.h5.points", "and this");
    fs::create_symlink("in.csv", folder / "link.csv");
    const std::vector<fs::path> inputs{folder / "in.csv", folder / "out.csv.part", folder / "o.h5.points",
                                       "white-ceramic", ""};
    for (const char* name : {"in.csv", "link.csv", "./in.csv", "out.csv", "o.h5"}) {
        CAPTURE(name);
        CHECK_THROWS_AS(record::keep_inputs(folder / name, inputs), base::ScenarioError);
    }
    CHECK_NOTHROW(record::keep_inputs(folder / "another.csv", inputs));
    CHECK_NOTHROW(record::keep_inputs(folder / "in.csv", {}));
}

TEST_CASE("what a signal would remove is the unfinished file alone", "[record][unit]") {
    const Folder folder;
    record::write_text_file(folder / "done.txt", "done");
    record::AtomicFile under_way(folder / "done.txt");
    under_way.write("new");
    { record::AtomicFile(folder / "dropped.txt").write("x"); }
    record::write_text_file(folder / "dropped.txt.part", "of somebody else");
    record::AtomicFile replaced(folder / "other.txt");
    fs::remove(folder / "other.txt.part");
    record::write_text_file(folder / "other.txt.part", "of somebody else");  // another file under the same name
    record::remove_unfinished();
    CHECK_FALSE(fs::exists(folder / "done.txt.part"));
    CHECK(content(folder / "done.txt") == "done");
    CHECK(content(folder / "dropped.txt.part") == "of somebody else");
    CHECK(content(folder / "other.txt.part") == "of somebody else");
}
