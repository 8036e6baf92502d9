// Fuzz target of the files of finished points: the input is such a file, and a sweep goes on with it.

#include <unistd.h>

#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "sim/base/errors.hpp"
#include "sim/record/sweep_points.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/sweep.hpp"

namespace {

using namespace spotwright;

// Begun anew, the head of a file of this sweep; the input begins where records do.
void go_on(const std::filesystem::path& file, const std::string& input, bool with_head) {
    const study::Sweep sweep =
        study::make_sweep(scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "fuzz.toml"),
                          {{"target.displacement_mm", {"-1", "0", "1"}}});
    std::filesystem::remove(file);
    if (with_head) {
        record::SweepPoints points(file, "fuzz.csv", sweep, "fuzz");
        study::SweepPoint point;
        point.values.assign(measure::sweep_quantities().size(), 1.0);
        points.put(1, point);
    }
    std::ofstream(file, std::ios::binary | std::ios::app)
        .write(input.data(), static_cast<std::streamsize>(input.size()));
    record::SweepPoints points(file, "fuzz.csv", sweep, "fuzz");
    if (with_head && points.set_aside().empty() && !points.has(1)) std::abort();
    for (std::int64_t point = 0; point < sweep.points; ++point) {
        if (points.has(point)) static_cast<void>(points.get(point));
    }
    if (!points.set_aside().empty()) std::filesystem::remove(points.set_aside());
    points.remove();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    const std::filesystem::path file =
        std::filesystem::temp_directory_path() / ("spotwright-fuzz-" + std::to_string(getpid()) + ".points");
    const std::string input(data + 1, data + size);
    try {
        go_on(file, input, data[0] % 2 == 0);
    } catch (const base::InternalError& error) {
        std::fprintf(stderr, "%s\n", error.what());
        std::abort();
    } catch (const base::Error&) {
        std::filesystem::remove(file);
    }
    return 0;
}
