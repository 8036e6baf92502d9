// Files that are whole or not there, series that read back to the same bits, JSON of fixed names.
#include <catch2/catch.hpp>

#include <hdf5.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmath>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json.hpp"
#include "sim/record/series_file.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"

using namespace spotwright;
namespace fs = std::filesystem;
using reading::Validity;

namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
const std::string some_date = "2001-02-03T04:05:06Z";

// A folder of its own for one test case.
class Folder {
public:
    Folder() {
        std::string name = (fs::temp_directory_path() / "record-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    ~Folder() { fs::remove_all(path_); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    [[nodiscard]] fs::path operator/(const std::string& name) const { return path_ / name; }
    [[nodiscard]] bool empty() const { return fs::is_empty(path_); }

private:
    fs::path path_;
};

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

std::string content(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

scenario::Scenario some_scenario(const std::string& title = "A trial") {
    scenario::Scenario s = scenario::parse("seed = 7\n[target]\nmaterial = \"white-ceramic\"\n");
    s.title = title;
    return s;
}

constexpr std::int64_t some_readings = 10000;

// Readings that no formula would give, with missing ones among them.
study::SeriesBlock some_block(std::int64_t first, std::int64_t count) {
    study::SeriesBlock block;
    block.first = first;
    block.period = 133e-6;
    for (std::int64_t i = first; i < first + count; ++i) {
        const auto x = static_cast<double>(i);
        const bool valid = i % 7 != 3;
        block.position.push_back(valid ? 511.5 + std::sin(x) : nan_value);
        block.displacement.push_back(valid ? 1e-6 * std::cos(x * x) : nan_value);
        block.output.push_back(i > 5 ? 1e-6 * std::cos(x + 1.0) / 3.0 : nan_value);
        block.peak.push_back(static_cast<float>(1e5 * std::exp(-x / 1e4)));
        block.validity.push_back(valid ? Validity::valid : static_cast<Validity>(1 + i % 5));
    }
    return block;
}

study::ReadResult some_result() {
    study::ReadResult result;
    result.true_displacement = 1e-3;
    result.timing = {2.5e-6, 133e-6};
    result.response_time = 133e-6;
    result.signal = {1e5, 0.5, 12.0, 1e-6};
    result.statistics.readings = some_readings;
    result.statistics.validity = {9000, 0, 1000, 0, 0, 0};
    result.statistics.outputs = 9000;
    result.statistics.mean = 1.001e-3;
    result.statistics.standard_deviation = 2e-7;
    result.bias = 1e-6;
    result.speckle_limit = 1.5e-6;
    result.verdict.level = study::Level::unstable;
    result.verdict.expanded_uncertainty = 4e-6;
    result.verdict.contributions = {{"speckle", 1.5e-6, false}, {"bias", 1e-6, true}};
    result.verdict.reasons = {"10 % of readings are saturated"};
    return result;
}

void write_series(const fs::path& path, const std::string& date = some_date,
                  const scenario::Scenario& s = some_scenario()) {
    record::SeriesFile file = record::open_series_file(path, s, date);
    file.append(some_block(0, 4096));
    file.append(some_block(4096, some_readings - 4096));
    file.commit(some_result());
}

std::vector<std::string> split(const std::string& line, char separator) {
    std::vector<std::string> parts{""};
    for (const char c : line) {
        if (c == separator) {
            parts.emplace_back();
        } else {
            parts.back() += c;
        }
    }
    return parts;
}

// Same bits, or both not a number.
bool same(double a, double b) {
    return a == b || (std::isnan(a) && std::isnan(b));
}

double number_in(const std::string& field) {
    return field.empty() ? nan_value : std::stod(field);
}

std::vector<std::string> keys_of(const nlohmann::ordered_json& json) {
    std::vector<std::string> keys;
    for (const auto& item : json.items()) keys.push_back(item.key());
    return keys;
}

using Words = std::vector<std::string>;

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

TEST_CASE("a series file is complete or not there", "[record][unit]") {
    const Folder folder;
    const std::string name = GENERATE("a.h5", "a.csv");
    {
        record::SeriesFile file = record::open_series_file(folder / name, some_scenario(), some_date);
        file.append(some_block(0, 4096));
        CHECK_FALSE(fs::exists(folder / name));
        CHECK(fs::exists(folder / (name + ".part")));
    }
    CHECK(folder.empty());
    write_series(folder / name);
    CHECK(fs::exists(folder / name));
    CHECK_FALSE(fs::exists(folder / (name + ".part")));
}

TEST_CASE("a series file of another format is refused before anything is made", "[record][unit]") {
    const Folder folder;
    const std::string name = GENERATE("a.txt", "a", "a.h5.gz", "a.H5", ".h5");
    CAPTURE(name);
    try {
        static_cast<void>(record::open_series_file(folder / name, some_scenario(), some_date));
        FAIL("accepted");
    } catch (const base::ScenarioError& error) {
        REQUIRE(error.problems().size() == 1);
        CHECK(error.problems()[0].place.file == (folder / name).string());
        CHECK(error.problems()[0].allowed == ".h5 or .csv");
    }
    CHECK(folder.empty());
}

TEST_CASE("the same readings and the same date give the same bytes", "[record][determinism]") {
    const Folder folder;
    const std::string extension = GENERATE(".h5", ".csv");
    write_series(folder / ("first" + extension));
    sleep(1);  // so that a time of creation, were one kept, would differ
    write_series(folder / ("second" + extension));
    write_series(folder / ("later" + extension), "2001-02-03T04:05:07Z");
    CHECK(content(folder / ("first" + extension)) == content(folder / ("second" + extension)));
    CHECK(content(folder / ("first" + extension)) != content(folder / ("later" + extension)));
}

TEST_CASE("blocks of a series are written in order and without a gap", "[record][unit]") {
    const Folder folder;
    record::SeriesFile file = record::open_series_file(folder / "a.h5", some_scenario(), some_date);
    file.append(some_block(0, 10));
    CHECK_THROWS_AS(file.append(some_block(11, 10)), base::InternalError);
}

TEST_CASE("numbers of a CSV series read back to the same bits", "[record][unit]") {
    const Folder folder;
    write_series(folder / "a.csv");
    std::ifstream in(folder / "a.csv");
    std::string line;
    while (std::getline(in, line) && line.starts_with('#')) {
    }
    CHECK(line == "reading,time_ms,position_px,displacement_mm,output_mm,peak_e,validity");
    const study::SeriesBlock block = some_block(0, some_readings);
    std::size_t rows = 0;
    std::size_t differing = 0;
    for (; std::getline(in, line); ++rows) {
        const Words fields = split(line, ',');
        REQUIRE(fields.size() == 7);
        const bool equal = fields[0] == std::to_string(rows) &&
                           same(number_in(fields[1]), static_cast<double>(rows) * 133e-6 / 1e-3) &&
                           same(number_in(fields[2]), block.position[rows]) &&
                           same(number_in(fields[3]), block.displacement[rows] / 1e-3) &&
                           same(number_in(fields[4]), block.output[rows] / 1e-3) &&
                           std::stof(fields[5]) == block.peak[rows] && fields[6] == name_of(block.validity[rows]);
        if (!equal) ++differing;
    }
    CHECK(rows == some_readings);
    CHECK(differing == 0);
}

TEST_CASE("the comments of a CSV series hold the scenario, whatever its title", "[record][unit]") {
    const Folder folder;
    const std::string title = GENERATE("plain", "two\nlines\r# and a mark, \"quoted\"", "caf\u00e9 \u2028 end");
    const scenario::Scenario s = some_scenario(title);
    write_series(folder / "a.csv", some_date, s);
    std::ifstream in(folder / "a.csv");
    std::string toml;
    bool in_scenario = false;
    std::string line;
    while (std::getline(in, line) && line.starts_with("# ")) {
        if (in_scenario) toml += line.substr(2) + '\n';
        if (line == "# scenario, as TOML:") in_scenario = true;
    }
    CHECK(line.starts_with("reading,time_ms"));
    CHECK(scenario::parse(toml).title == title);
    CHECK(toml == scenario::to_toml(s));
}

TEST_CASE("values of an HDF5 series read back to the same bits", "[record][unit]") {
    const Folder folder;
    write_series(folder / "a.h5");
    const hid_t file = H5Fopen((folder / "a.h5").c_str(), H5F_ACC_RDONLY, H5P_DEFAULT);
    REQUIRE(file >= 0);
    std::vector<double> displacement(some_readings);
    std::vector<unsigned char> validity(some_readings);
    const hid_t displacements = H5Dopen2(file, "displacement_mm", H5P_DEFAULT);
    const hid_t validities = H5Dopen2(file, "validity", H5P_DEFAULT);
    CHECK(H5Dread(displacements, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, displacement.data()) >= 0);
    CHECK(H5Dread(validities, H5T_NATIVE_UINT8, H5S_ALL, H5S_ALL, H5P_DEFAULT, validity.data()) >= 0);
    H5Dclose(displacements);
    H5Dclose(validities);
    H5Fclose(file);
    const study::SeriesBlock block = some_block(0, some_readings);
    std::size_t differing = 0;
    for (std::size_t i = 0; i < displacement.size(); ++i) {
        if (!same(displacement[i], block.displacement[i] / 1e-3)) ++differing;
        if (validity[i] != static_cast<unsigned char>(block.validity[i])) ++differing;
    }
    CHECK(differing == 0);
}

TEST_CASE("text from the user becomes valid UTF-8 without a change to what is valid", "[record][unit]") {
    CHECK(record::valid_utf8("a\u00b5\U0001f600\"\\\n") == "a\u00b5\U0001f600\"\\\n");
    CHECK(record::valid_utf8("a\xff"
                             "b\xc3") ==
          "a\ufffd"
          "b\ufffd");
    CHECK(record::one_line(std::string("a\0b\tc\nd\x7f", 8)) == "a b c d ");
}

TEST_CASE("the JSON of a result has the promised keys in order", "[record][unit]") {
    const nlohmann::ordered_json json = record::to_json(some_result(), some_scenario());
    CHECK(keys_of(json) == Words{"title", "seed", "principle", "readings", "valid_share", "invalid", "true_mm",
                                 "mean_mm", "bias_um", "still_sd_um", "sampling_kHz", "output_response_ms", "signal",
                                 "speckle_limit_um", "verdict"});
    CHECK(keys_of(json["signal"]) == Words{"peak_e", "peak_share", "background_e", "exposure_us", "received_power_uW"});
    CHECK(keys_of(json["verdict"]) ==
          Words{"level", "reasons", "expanded_uncertainty_um", "percent_of_span", "tolerance_um", "contributions"});
    CHECK(keys_of(json["verdict"]["contributions"][1]) == Words{"name", "size_um", "systematic"});
}

TEST_CASE("the JSON of a result tells values in the units of their names", "[record][unit]") {
    const nlohmann::ordered_json json = record::to_json(some_result(), some_scenario());
    CHECK(json["title"] == "A trial");
    CHECK(json["seed"] == 7);
    CHECK(json["principle"] == "triangulation");
    CHECK(json["readings"] == some_readings);
    CHECK(json["valid_share"] == 0.9);
    CHECK(json["invalid"] == nlohmann::ordered_json{{"saturated", 0.1}});
    CHECK(json["true_mm"] == 1e-3 / 1e-3);
    CHECK(json["mean_mm"] == 1.001e-3 / 1e-3);
    CHECK(json["bias_um"] == 1e-6 / 1e-6);
    CHECK(json["still_sd_um"] == 2e-7 / 1e-6);
    CHECK(json["sampling_kHz"] == 1.0 / 133e-6 / 1e3);
    CHECK(json["output_response_ms"] == 133e-6 / 1e-3);
    CHECK(json["signal"]["exposure_us"] == 2.5e-6 / 1e-6);
    CHECK(json["signal"]["received_power_uW"] == 1e-6 / 1e-6);
    CHECK(json["speckle_limit_um"] == 1.5e-6 / 1e-6);
    CHECK(json["verdict"]["level"] == "unstable");
    CHECK(json["verdict"]["percent_of_span"] == 100.0 * 4e-6 / (5e-3 - -5e-3));
    CHECK(json["verdict"]["tolerance_um"] == 20.0 * 1e-6 / 1e-6);
    CHECK(json["verdict"]["contributions"][1]["systematic"] == true);
}

TEST_CASE("what a result does not have is null in JSON, or left out", "[record][unit]") {
    study::ReadResult result;
    result.timing.period = 133e-6;
    result.signal.peak_share = std::numeric_limits<double>::infinity();
    const nlohmann::ordered_json json = record::to_json(result, some_scenario());
    for (const char* key : {"valid_share", "mean_mm", "bias_um", "still_sd_um"}) {
        CAPTURE(key);
        CHECK(json.at(key).is_null());
    }
    CHECK(json["signal"]["peak_share"].is_null());
    CHECK(json["verdict"]["expanded_uncertainty_um"].is_null());
    CHECK(json["verdict"]["percent_of_span"].is_null());
    CHECK(json["invalid"] == nlohmann::ordered_json::object());
    CHECK_FALSE(json.contains("speckle_limit_um"));
}

TEST_CASE("JSON is valid whatever bytes a title holds", "[record][unit]") {
    const std::string title("nul \0 quote \" line \n byte \xff end", 32);
    const std::string text = record::to_json(some_result(), some_scenario(title)).dump();
    CHECK(nlohmann::json::parse(text)["title"] == std::string("nul \0 quote \" line \n byte \ufffd end", 34));
}

TEST_CASE("the JSON of a layout has the promised keys, and null for an endless range", "[record][unit]") {
    const scenario::Scenario s = some_scenario();
    study::Layout layout = study::make_layout(s);
    layout.measurable.far = std::numeric_limits<double>::infinity();
    const nlohmann::ordered_json json = record::to_json(layout, s);
    CHECK(keys_of(json) == Words{"distance_mm", "span_mm", "detector_tilt_deg", "magnification",
                                 "sensitivity_um_per_um", "pixel_um", "image_position_mm", "measurable_range_mm",
                                 "measurable_limits", "object_side_na", "speckle_limit_um", "beam_radius_um",
                                 "laser_class_estimate", "laser_caution"});
    CHECK(json["distance_mm"] == nlohmann::ordered_json{layout.distance[0] / 1e-3, layout.distance[1] / 1e-3,
                                                        layout.distance[2] / 1e-3});
    CHECK(json["span_mm"] == layout.span / 1e-3);
    CHECK(json["image_position_mm"].size() == 3);
    CHECK(json["beam_radius_um"][1] == layout.beam_radius[1] / 1e-6);
    CHECK(json["measurable_range_mm"][0] == layout.measurable.near / 1e-3);
    CHECK(json["measurable_range_mm"][1].is_null());
    CHECK(json["measurable_limits"] ==
          nlohmann::ordered_json{layout.measurable.near_limit, layout.measurable.far_limit});
    CHECK(json["laser_class_estimate"] == "1");
}

TEST_CASE("the JSON of a material has null for a reflectance that is not known", "[record][unit]") {
    const scenario::Material material = scenario::library_material("white-ceramic");
    const nlohmann::ordered_json json = record::to_json(material, 655e-9);
    CHECK(keys_of(json) == Words{"name", "title", "reflectance", "slope_deg", "interface", "sources"});
    CHECK(json["reflectance"] == scenario::reflectance_at(material, 655e-9));
    CHECK(json["sources"]["slope"] == material.slope.source);
    CHECK(record::to_json(material, 2e-6)["reflectance"].is_null());
}
