#include "sim/record/sweep_file.hpp"

#include <utility>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/locked_file.hpp"
#include "sim/record/sweep_points.hpp"
#include "sim/record/sweep_writers.hpp"

namespace spotwright::record {

namespace {

std::filesystem::path points_beside(const std::filesystem::path& target) {
    std::filesystem::path file = writable_target(target);
    file += ".points";
    return file;
}

// The target of a sweep, which is none of the files that its scenario or its values name.
const std::filesystem::path& kept_apart(const std::filesystem::path& target, const study::Sweep& sweep) {
    std::vector<std::filesystem::path> inputs = files_named_by(sweep);
    inputs.emplace_back(sweep.scenario.file);
    keep_inputs(target, inputs);
    return target;
}

}  // namespace

struct SweepFile::Points {
    Points(const std::filesystem::path& to, const study::Sweep& of, const std::string& when)
        : target(kept_apart(to, of)),
          as_csv(checked_extension(to, {".h5", ".csv"}) == ".csv"),
          sweep(of),
          origin(origin_of(of.scenario, when)),
          points(points_beside(to), to.string(), sweep, origin.source + ", revision " + origin.revision) {}

    std::filesystem::path target;
    bool as_csv;
    study::Sweep sweep;
    SeriesOrigin origin;
    SweepPoints points;
};

SweepFile::SweepFile(const std::filesystem::path& target, const study::Sweep& sweep, const std::string& when)
    : points_(std::make_unique<Points>(target, sweep, when)) {}

SweepFile::~SweepFile() = default;
SweepFile::SweepFile(SweepFile&&) noexcept = default;
SweepFile& SweepFile::operator=(SweepFile&&) noexcept = default;

bool SweepFile::has(std::int64_t point) const {
    return points_->points.has(point);
}

std::int64_t SweepFile::done() const {
    return points_->points.done();
}

std::filesystem::path SweepFile::set_aside() const {
    return points_->points.set_aside();
}

void SweepFile::put(std::int64_t point, const study::SweepPoint& result) {
    points_->points.put(point, result);
}

study::SweepPoint SweepFile::get(std::int64_t point) const {
    return points_->points.get(point);
}

void SweepFile::commit() {
    Points& all = *points_;
    if (all.points.done() < all.sweep.points)
        throw base::InternalError("a sweep is finished before all its points are");
    const GetPoint get = [&all](std::int64_t point) { return all.points.get(point); };
    const auto write = all.as_csv ? write_csv_sweep : write_hdf5_sweep;
    write(all.target, all.sweep, all.origin, get);
    all.points.remove();
}

}  // namespace spotwright::record
