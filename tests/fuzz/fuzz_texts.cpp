// Fuzz target of all other files that the program reads: the first byte of the input chooses which.

#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

#include "sim/base/errors.hpp"
#include "sim/bench/log.hpp"
#include "sim/scenario/job.hpp"
#include "sim/scenario/markings.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/paths.hpp"
#include "sim/scenario/relief.hpp"
#include "sim/scenario/sheet.hpp"

namespace {

using namespace spotwright;

void demand(bool promise, const char* what) {
    if (promise) return;
    std::fprintf(stderr, "broken promise: %s\n", what);
    std::abort();
}

template <class Values>
void demand_finite(const Values& values, const char* what) {
    for (const double value : values) demand(std::isfinite(value), what);
}

void read_path(std::string_view text) {
    const scenario::MotionPath path = scenario::parse_motion_path(text, "fuzz.csv");
    demand(path.time.size() >= 2 && path.along.size() == path.time.size() && path.across.size() == path.time.size(),
           "columns of a path are of one length");
    demand_finite(path.time, "times are finite");
    demand_finite(path.along, "places are finite");
    demand(std::isfinite(scenario::value_at(path.time, path.along, 0.5)), "places between rows are finite");
}

void read_log(std::string_view text) {
    const bench::BenchLog log = bench::parse_log(text, "fuzz.csv");
    demand(log.time.empty() || log.time.size() == log.reading.size(), "columns of a log are of one length");
    demand_finite(log.time, "times are finite");
    demand_finite(log.reference, "references are finite");
}

void read_sheet(std::string_view text) {
    const scenario::Sheet sheet = scenario::parse_sheet(text, "fuzz.toml");
    static_cast<void>(sheet);
}

void read(std::uint8_t kind, std::string_view text) {
    switch (kind % 7) {
        case 0:
            static_cast<void>(scenario::parse_material(text, "fuzz.toml"));
            break;
        case 1:
            static_cast<void>(scenario::parse_heights(text, "fuzz.csv"));
            break;
        case 2:
            static_cast<void>(scenario::parse_picture(text, "fuzz.pgm"));
            break;
        case 3:
            read_path(text);
            break;
        case 4:
            demand_finite(scenario::parse_temperature_path(text, "fuzz.csv").time, "times are finite");
            break;
        case 5:
            read_log(text);
            break;
        default:
            if ((kind / 7) % 2 == 0) {
                read_sheet(text);
            } else {
                static_cast<void>(scenario::parse_job(text, "fuzz.toml"));
            }
    }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    const std::string text(data + 1, data + size);
    try {
        read(data[0], text);
    } catch (const base::InternalError& error) {
        demand(false, error.what());
    } catch (const base::Error& error) {
        const std::string_view words = error.what();
        demand(!words.empty(), "an error says something");
        for (const char c : words) demand(c == '\n' || static_cast<unsigned char>(c) >= 0x20, "messages are printable");
    }
    return 0;
}
