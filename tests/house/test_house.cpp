// The house is in order: light flows from station to station, and no station includes a later one.

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

namespace {

namespace fs = std::filesystem;

// Each may include itself and those before it.
const std::vector<std::string> stations{"base",       "scenario", "emitter", "target",  "receiver", "detector",
                                        "reading",    "flight",   "sensor",  "measure", "study",    "bench",
                                        "validation", "record",   "drawing", "report",  "cli"};

const fs::path sim = fs::path(SPOTWRIGHT_SOURCE_DIR) / "sim";

std::ptrdiff_t rank_of(const std::string& station) {
    return std::find(stations.begin(), stations.end(), station) - stations.begin();
}

bool is_known(const std::string& station) {
    return rank_of(station) < static_cast<std::ptrdiff_t>(stations.size());
}

/// The station of an include of ours, empty for any other line. Quotes are the rule; brackets get no exception.
std::string included_station(const std::string& line) {
    const std::size_t directive = line.find_first_not_of(" \t");
    if (directive == std::string::npos || line[directive] != '#') return {};
    const std::size_t include = line.find("include", directive);
    const std::size_t begin = line.find_first_of("\"<", directive);
    if (include == std::string::npos || begin == std::string::npos || line.compare(begin + 1, 4, "sim/") != 0)
        return {};
    return line.substr(begin + 5, line.find('/', begin + 5) - begin - 5);
}

/// What is wrong with the includes of one file of a station; empty when nothing is.
std::vector<std::string> trespasses(const std::string& station, std::istream& text) {
    std::vector<std::string> found;
    for (std::string line; std::getline(text, line);) {
        const std::string other = included_station(line);
        if (!other.empty() && rank_of(other) > rank_of(station)) found.push_back(line);
    }
    return found;
}

bool is_source(const fs::path& path) {
    const std::string extension = path.extension().string();
    return extension == ".hpp" || extension == ".cpp";
}

}  // namespace

TEST_CASE("no station includes a later one", "[house][unit]") {
    int files = 0;
    for (const auto& entry : fs::recursive_directory_iterator(sim)) {
        if (!is_source(entry.path())) continue;
        ++files;
        const std::string station = fs::relative(entry.path(), sim).begin()->string();
        INFO(entry.path().string());
        REQUIRE(is_known(station));
        std::ifstream text(entry.path());
        REQUIRE(text.good());
        CHECK(trespasses(station, text) == std::vector<std::string>{});
    }
    CHECK(files > 20);
}

TEST_CASE("the check of the includes sees what it looks for", "[house][unit]") {
    std::istringstream text(
        "#include \"sim/base/units.hpp\"\n"
        "#include \"sim/receiver/image.hpp\"\n"
        "  #  include \"sim/measure/read.hpp\"\n"
        "#include <sim/cli/main.hpp>\n"
        "#include <vector>\n"
        "// sim/measure/read.hpp\n"
        "#include \"sim/unheard/of.hpp\"\n");
    CHECK(trespasses("receiver", text).size() == 3);
}

TEST_CASE("includes within the house name their station from the root", "[house][unit]") {
    for (const auto& entry : fs::recursive_directory_iterator(sim)) {
        if (!is_source(entry.path())) continue;
        INFO(entry.path().string());
        std::ifstream text(entry.path());
        for (std::string line; std::getline(text, line);) {
            if (line.rfind("#include \"", 0) != 0) continue;
            INFO(line);
            CHECK(line.rfind("#include \"sim/", 0) == 0);
            const fs::path named = fs::path(SPOTWRIGHT_SOURCE_DIR) / line.substr(10, line.rfind('"') - 10);
            CHECK(fs::exists(named));
        }
    }
}

TEST_CASE("every folder of the house is a station", "[house][unit]") {
    for (const auto& entry : fs::directory_iterator(sim)) {
        if (!entry.is_directory()) continue;
        INFO(entry.path().string());
        CHECK(is_known(entry.path().filename().string()));
    }
}

TEST_CASE("every station shows what it offers in a header, and every header is guarded", "[house][unit]") {
    for (const auto& entry : fs::directory_iterator(sim)) {
        if (!entry.is_directory() || fs::is_empty(entry.path())) continue;
        INFO(entry.path().string());
        int headers = 0;
        for (const auto& file : fs::recursive_directory_iterator(entry.path())) {
            // Files that Highway includes once per instruction set guard themselves by its toggle.
            const std::string name = file.path().filename().string();
            if (file.path().extension() != ".hpp" || name.ends_with("-inl.hpp")) continue;
            ++headers;
            std::ifstream in(file.path());
            const std::string text{std::istreambuf_iterator<char>(in), {}};
            INFO(name);
            CHECK(text.find("#pragma once") != std::string::npos);
        }
        CHECK(headers > 0);
    }
}
