// Series on disk: complete or not there, and read back to the same bits.
#include <hdf5.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/errors.hpp"
#include "sim/record/series_file.hpp"
#include "sim/scenario/schema.hpp"
#include "tests/support/record.hpp"

using namespace spotwright;
namespace fs = std::filesystem;
using test::content, test::Folder, test::nan_value, test::some_block, test::some_date, test::some_readings,
    test::some_scenario, test::write_series;

namespace {

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

using Words = std::vector<std::string>;

}  // namespace

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
        CHECK(error.problems()[0].location.file == (folder / name).string());
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
    const measure::SeriesBlock block = some_block(0, some_readings);
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
    const measure::SeriesBlock block = some_block(0, some_readings);
    std::size_t differing = 0;
    for (std::size_t i = 0; i < displacement.size(); ++i) {
        if (!same(displacement[i], block.displacement[i] / 1e-3)) ++differing;
        if (validity[i] != static_cast<unsigned char>(block.validity[i])) ++differing;
    }
    CHECK(differing == 0);
}
