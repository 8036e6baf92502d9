// What the tests of scenarios share: a smallest scenario, values of keys by name, and problems as they were thrown.
#pragma once

#include <unistd.h>

#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::test {

/// The least that is a scenario: two lines, so that what a test appends begins on line 3.
inline const std::string minimal = "[target]\nmaterial = \"white-ceramic\"\n";

/// Everything a key can hold, for exact comparison.
struct Value {
    std::vector<double> numbers;
    std::vector<std::int64_t> integers;
    std::string text;

    bool operator==(const Value& other) const {
        if (numbers.size() != other.numbers.size() || integers != other.integers || text != other.text) return false;
        // By bits: -0.0 is not 0.0.
        return numbers.empty() ||
               std::memcmp(numbers.data(), other.numbers.data(), numbers.size() * sizeof(double)) == 0;
    }
};

/// The value of a key in SI.
inline Value value_of(const scenario::Key& key, scenario::Scenario s) {
    Value value;
    if (const auto* number = std::get_if<scenario::NumberKey>(&key.access)) {
        value.numbers = {number->value(s)};
    } else if (const auto* either = std::get_if<scenario::NumberOrWordKey>(&key.access)) {
        if (either->value(s)) value.numbers = {*either->value(s)};
    } else if (const auto* pair = std::get_if<scenario::PairKey>(&key.access)) {
        value.numbers = {pair->value(s)[0], pair->value(s)[1]};
    } else if (const auto* list = std::get_if<scenario::ListKey>(&key.access)) {
        value.numbers = list->value(s);
    } else if (const auto* aperture = std::get_if<scenario::ApertureKey>(&key.access)) {
        value.numbers = {aperture->value(s).in_plane, aperture->value(s).out_of_plane};
        value.integers = {static_cast<std::int64_t>(aperture->value(s).shape)};
    } else if (const auto* integer = std::get_if<scenario::IntegerKey>(&key.access)) {
        value.integers = {integer->value(s)};
    } else if (const auto* text = std::get_if<scenario::TextKey>(&key.access)) {
        value.text = text->value(s);
    } else if (const auto* word = std::get_if<scenario::WordKey>(&key.access)) {
        value.integers = {word->get(s)};
    } else if (const auto* choice = std::get_if<scenario::ChoiceKey>(&key.access)) {
        value.integers = {static_cast<std::int64_t>(choice->value(s).rule), choice->value(s).index};
    }
    return value;
}

/// The problems that a text is rejected with; none if it is accepted.
inline std::vector<base::Problem> problems_of(std::string_view text, const std::vector<std::string>& settings = {},
                                              const std::string& file = "job.toml") {
    try {
        static_cast<void>(scenario::parse(text, file, settings));
    } catch (const base::ScenarioError& error) {
        return error.problems();
    }
    return {};
}

/// The problems that a material file is rejected with, read as sample.toml; none if it is accepted.
inline std::vector<base::Problem> problems_of_material(const std::string& text) {
    try {
        static_cast<void>(scenario::parse_material(text, "sample.toml"));
    } catch (const base::ScenarioError& error) {
        return error.problems();
    }
    return {};
}

/// A line of sample.toml replaced by a wrong one, and what is said about it.
struct MaterialMistake {
    int line;
    std::string replacement;
    int column;
    std::string key;
    std::string message;
    std::string allowed;
};

inline void check_reported(const std::vector<base::Problem>& problems, const MaterialMistake& mistake) {
    REQUIRE(problems.size() == 1);
    CHECK(problems[0].location.file == "sample.toml");
    CHECK(problems[0].location.line == mistake.line);
    CHECK(problems[0].location.column == mistake.column);
    CHECK(problems[0].location.key == mistake.key);
    CHECK_THAT(problems[0].message, Catch::Contains(mistake.message));
    CHECK_THAT(problems[0].allowed, Catch::Contains(mistake.allowed));
}

/// A folder that is gone when the test is.
class TemporaryFolder {
public:
    TemporaryFolder()
        : path_(std::filesystem::temp_directory_path() / ("spotwright-test-" + std::to_string(getpid()))) {
        std::filesystem::remove_all(path_);
        std::filesystem::create_directories(path_);
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;

    [[nodiscard]] std::filesystem::path path() const { return path_; }

    std::filesystem::path write(const std::string& name, std::string_view text) const {
        const std::filesystem::path file = path_ / name;
        std::ofstream out(file, std::ios::binary);
        out.write(text.data(), static_cast<std::streamsize>(text.size()));
        REQUIRE(out.good());
        return file;
    }

private:
    std::filesystem::path path_;
};

}  // namespace spotwright::test
