// Files of sweeps: points that outlive a run, and what becomes of them.
#include <catch2/catch.hpp>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>

#include "sim/measure/read.hpp"
#include "sim/base/errors.hpp"
#include "sim/record/sweep_file.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/record.hpp"

using namespace spotwright;
namespace fs = std::filesystem;

namespace {

study::Sweep some_sweep(const std::string& title = "A trial", const std::string& values = "0:1:3") {
    return study::make_sweep(test::some_scenario(title), {study::parse_axis("target.displacement_mm=" + values),
                                                          study::parse_axis("target.material=white-ceramic,brass")});
}

study::SweepPoint some_point(std::int64_t number) {
    study::SweepPoint point;
    for (std::size_t q = 0; q < measure::sweep_quantities().size(); ++q) {
        point.values.push_back(q % 3 == 1 ? test::nan_value
                                          : std::cos(static_cast<double>(number) + 0.1 * static_cast<double>(q)));
    }
    point.level = static_cast<measure::Level>(number % 4);
    if (number == 4) point.obstacle = "receiver.angle_deg: \"steep\", far too much";
    return point;
}

bool same_point(const study::SweepPoint& one, const study::SweepPoint& other) {
    bool same = one.level == other.level && one.obstacle == other.obstacle && one.values.size() == other.values.size();
    for (std::size_t q = 0; same && q < one.values.size(); ++q) {
        same = one.values[q] == other.values[q] || (std::isnan(one.values[q]) && std::isnan(other.values[q]));
    }
    return same;
}

void write_whole(const fs::path& target, std::initializer_list<std::int64_t> order) {
    record::SweepFile file(target, some_sweep(), test::some_date);
    for (const std::int64_t point : order) file.put(point, some_point(point));
    file.commit();
}

}  // namespace

TEST_CASE("points come back as they were put, in a later run too", "[sweep][record][unit]") {
    const test::Folder folder;
    {
        record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
        CHECK(file.done() == 0);
        for (const std::int64_t point : {5, 0, 4}) file.put(point, some_point(point));
        file.put(0, some_point(0));
        CHECK(file.done() == 3);
    }
    CHECK_FALSE(fs::exists(folder / "a.h5"));
    record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
    CHECK(file.done() == 3);
    for (std::int64_t point = 0; point < 6; ++point) {
        CAPTURE(point);
        const bool put = point == 0 || point == 4 || point == 5;
        CHECK(file.has(point) == put);
        if (put) CHECK(same_point(file.get(point), some_point(point)));
        if (!put) CHECK_THROWS_AS(file.get(point), base::InternalError);
    }
    CHECK_THROWS_AS(file.commit(), base::InternalError);
}

TEST_CASE("a file is the same whatever the order of its points and however often it was begun",
          "[sweep][record][unit]") {
    const std::string extension = GENERATE(".h5", ".csv");
    const test::Folder folder;
    write_whole(folder / ("a" + extension), {0, 1, 2, 3, 4, 5});
    write_whole(folder / ("b" + extension), {5, 3, 4, 1, 0, 2});
    {
        record::SweepFile begun(folder / ("c" + extension), some_sweep(), "another date");
        begun.put(2, some_point(2));
    }
    write_whole(folder / ("c" + extension), {0, 1, 3, 4, 5});
    CHECK(test::content(folder / ("b" + extension)) == test::content(folder / ("a" + extension)));
    CHECK(test::content(folder / ("c" + extension)) == test::content(folder / ("a" + extension)));
    CHECK(std::distance(fs::directory_iterator(fs::path(folder / "x").parent_path()), fs::directory_iterator()) == 3);
}

TEST_CASE("a record that was cut off at any byte does not count", "[sweep][record][unit]") {
    const test::Folder folder;
    {
        record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
        file.put(0, some_point(0));
        file.put(1, some_point(1));
    }
    const std::string all = test::content(folder / "a.h5.points");
    std::int64_t last_done = 2;
    for (std::size_t size = all.size(); size-- > 0;) {
        if (size % 61 != 0 && size + 3 < all.size()) continue;  // every byte would take long
        std::ofstream(folder / "a.h5.points", std::ios::binary) << all.substr(0, size);
        const record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
        CHECK(file.done() < 2);
        CHECK(file.done() <= last_done);
        last_done = file.done();
        if (file.done() > 0) CHECK(same_point(file.get(0), some_point(0)));
    }
    CHECK(last_done == 0);
}

TEST_CASE("points of another sweep, another run's and a stranger's file are left alone", "[sweep][record][unit]") {
    const test::Folder folder;
    {
        record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
        file.put(0, some_point(0));
        CHECK_THROWS_AS(record::SweepFile(folder / "a.h5", some_sweep(), test::some_date), base::IoError);
    }
    const std::string before = test::content(folder / "a.h5.points");
    CHECK_THROWS_AS(record::SweepFile(folder / "a.h5", some_sweep("Other"), test::some_date), base::ScenarioError);
    CHECK_THROWS_AS(record::SweepFile(folder / "a.h5", some_sweep("A trial", "0:1:2"), ""), base::ScenarioError);
    CHECK(test::content(folder / "a.h5.points") == before);
    std::ofstream(folder / "b.h5.points") << "notes";
    CHECK_THROWS_AS(record::SweepFile(folder / "b.h5", some_sweep(), test::some_date), base::ScenarioError);
    CHECK(test::content(folder / "b.h5.points") == "notes");
    CHECK_THROWS_AS(record::SweepFile(folder / "a.xlsx", some_sweep(), test::some_date), base::ScenarioError);
    CHECK_THROWS_AS(record::SweepFile(folder / "no/a.h5", some_sweep(), test::some_date), base::IoError);
}

TEST_CASE("points behind a damaged head are kept aside, and the run is told", "[sweep][record][unit]") {
    const test::Folder folder;
    for (const char* name : {"a.h5.points.damaged", "a.h5.points.damaged-2"}) {
        {
            record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
            CHECK(file.set_aside().empty());
            file.put(0, some_point(0));
        }
        std::string damaged = test::content(folder / "a.h5.points");
        damaged[40] = static_cast<char>(damaged[40] ^ 1);
        std::ofstream(folder / "a.h5.points", std::ios::binary) << damaged;
        record::SweepFile file(folder / "a.h5", some_sweep(), test::some_date);
        CHECK(file.done() == 0);
        CHECK(file.set_aside() == folder / name);
        CHECK(test::content(folder / name) == damaged);
        file.put(1, some_point(1));
        CHECK(file.has(1));
    }
}

TEST_CASE("points computed with another content of a file are not mixed in", "[sweep][record][unit]") {
    const test::Folder folder;
    const std::string table = "x_mm,height_mm\n-5,0\n5,";
    std::ofstream(folder / "r.csv") << table << "0.1\n";
    const auto sweep = [&] {
        scenario::Scenario s = scenario::parse(
            "[target]\nmaterial = \"white-ceramic\"\nshape = \"relief\"\n[target.relief]\nfile = \"r.csv\"\n",
            (folder / "a.toml").string());
        return study::make_sweep(std::move(s), {study::parse_axis("target.displacement_mm=0:1:3")});
    };
    {
        record::SweepFile file(folder / "a.h5", sweep(), test::some_date);
        file.put(0, some_point(0));
    }
    CHECK(record::SweepFile(folder / "a.h5", sweep(), test::some_date).done() == 1);
    std::ofstream(folder / "r.csv") << table << "0.2\n";
    CHECK_THROWS_WITH(record::SweepFile(folder / "a.h5", sweep(), test::some_date),
                      Catch::Contains("a file that they name"));
    std::ofstream(folder / "r.csv") << table << "0.1\n";
    CHECK(record::SweepFile(folder / "a.h5", sweep(), test::some_date).done() == 1);
}

TEST_CASE("a long obstacle is cut between characters, and a sweep without points leaves no file",
          "[sweep][record][unit]") {
    const test::Folder folder;
    {
        record::SweepFile file(folder / "a.csv", some_sweep(), test::some_date);
        study::SweepPoint point = some_point(0);
        point.obstacle = "x";
        while (point.obstacle.size() < 600) point.obstacle += "\u00e9";
        file.put(0, point);
        CHECK(file.get(0).obstacle == point.obstacle.substr(0, 479));  // of 480 the last would be half a character
    }
    { const record::SweepFile empty(folder / "b.csv", some_sweep(), test::some_date); }
    CHECK_FALSE(fs::exists(folder / "b.csv.points"));
}

TEST_CASE("a row of the CSV quotes what would part a field", "[sweep][record][unit]") {
    const test::Folder folder;
    write_whole(folder / "a.csv", {0, 1, 2, 3, 4, 5});
    const std::string text = test::content(folder / "a.csv");
    CHECK(text.find("\ntarget.displacement_mm,target.material,valid_share,") != std::string::npos);
    CHECK(text.find("\n0.5,brass,") != std::string::npos);
    CHECK(text.find(",stable,\"receiver.angle_deg: \"\"steep\"\", far too much\"\n") != std::string::npos);
}
