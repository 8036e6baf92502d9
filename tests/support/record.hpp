// What the tests of files and JSON share: a folder of one's own, and a small series with its result.
#pragma once

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>

#include <catch2/catch.hpp>

#include "sim/measure/read.hpp"
#include "sim/record/series_file.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::test {

inline constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
inline const std::string some_date = "2001-02-03T04:05:06Z";

/// A folder of its own for one test case.
class Folder {
public:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "record-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    ~Folder() { std::filesystem::remove_all(path_); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    [[nodiscard]] std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
    [[nodiscard]] bool empty() const { return std::filesystem::is_empty(path_); }

private:
    std::filesystem::path path_;
};

inline std::string content(const std::filesystem::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

inline scenario::Scenario some_scenario(const std::string& title = "A trial") {
    scenario::Scenario s = scenario::parse("seed = 7\n[target]\nmaterial = \"white-ceramic\"\n");
    s.title = title;
    return s;
}

inline constexpr std::int64_t some_readings = 10000;

/// Readings that no formula would give, with missing ones among them.
inline measure::SeriesBlock some_block(std::int64_t first, std::int64_t count) {
    measure::SeriesBlock block;
    block.first = first;
    block.period = 133e-6;
    for (std::int64_t i = first; i < first + count; ++i) {
        const auto x = static_cast<double>(i);
        const bool valid = i % 7 != 3;
        block.position.push_back(valid ? 511.5 + std::sin(x) : nan_value);
        block.displacement.push_back(valid ? 1e-6 * std::cos(x * x) : nan_value);
        block.output.push_back(i > 5 ? 1e-6 * std::cos(x + 1.0) / 3.0 : nan_value);
        block.peak.push_back(static_cast<float>(1e5 * std::exp(-x / 1e4)));
        block.validity.push_back(valid ? reading::Validity::valid : static_cast<reading::Validity>(1 + i % 5));
    }
    return block;
}

inline measure::ReadResult some_result() {
    measure::ReadResult result;
    result.true_displacement = 1e-3;
    result.timing = {2.5e-6, 133e-6};
    result.response_time = 133e-6;
    result.signal.peak = 1e5;
    result.signal.peak_share = 0.5;
    result.signal.background = 12.0;
    result.signal.received_power = 1e-6;
    result.statistics.readings = some_readings;
    result.statistics.validity = {9000, 0, 1000, 0, 0, 0};
    result.statistics.outputs = 9000;
    result.statistics.independent_outputs = 9000;
    result.statistics.mean = 1.001e-3;
    result.statistics.standard_deviation = 2e-7;
    result.bias = 1e-6;
    result.systematic = 0.5e-6;
    sensor::SpeckleStatistics speckle;
    speckle.patches = 256;
    speckle.pattern_contrast = 0.75;
    speckle.contrast = 0.25;
    speckle.size = 7e-6;
    speckle.standard_deviation = 2e-6;
    speckle.offset = 0.5e-6;
    speckle.limit = 1.5e-6;
    speckle.replaced_deviation = 2.5e-6;
    speckle.replaced_valid_share = 1.0;
    result.speckle = speckle;
    result.verdict.level = measure::Level::unstable;
    result.verdict.valid_share = 0.9;
    result.verdict.expanded_uncertainty = 4e-6;
    result.verdict.contributions = {{measure::Cause::speckle, 1.5e-6, false}, {measure::Cause::bias, 1e-6, true}};
    result.verdict.reasons = {measure::ReadingsLost{reading::Validity::saturated, 0.1, measure::Unexplained{}}};
    return result;
}

inline void write_series(const std::filesystem::path& path, const std::string& date = some_date,
                         const scenario::Scenario& s = some_scenario()) {
    record::SeriesFile file = record::open_series_file(path, s, date);
    file.append(some_block(0, 4096));
    file.append(some_block(4096, some_readings - 4096));
    file.commit(some_result());
}

}  // namespace spotwright::test
