#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/read_output.hpp"

namespace spotwright::cli {

namespace {

using base::degree, base::kHz, base::mm, base::ms, base::um, base::us;
using Line = std::pair<std::string, std::string>;

std::string estimate_text(const measure::Estimate& estimate) {
    return fmt::format("{} (standard uncertainty {})", base::length_text(estimate.value, 4),
                       base::length_text(estimate.uncertainty, 2));
}

std::string error_text(const measure::TrackingResult& tracking) {
    if (!tracking.rms_error) return "none: no valid outputs of full windows";
    return fmt::format("rms {}, mean {:+.4g} um, largest {}", base::length_text(*tracking.rms_error, 4),
                       *tracking.mean_error / um, base::length_text(*tracking.largest_error, 4));
}

std::string response_text(const measure::TrackingResult& tracking) {
    std::string text = fmt::format("output {:.4g} ms behind the middle of the exposure; bandwidth {:.4g} Hz",
                                   tracking.delay / ms, tracking.bandwidth);
    if (tracking.speed > 0.0) {
        text +=
            fmt::format("; {:.4g} mm/s along (rms) make {} of lag, {} of smear", tracking.speed / mm,
                        base::length_text(tracking.delay * tracking.speed, 3), base::length_text(tracking.smear, 3));
    }
    return text;
}

std::string exposure_text(const measure::ExposureUse& use) {
    return fmt::format("{:.4g} to {:.4g} us; {:.4g} kHz on average, {:.4g} kHz at least", use.shortest_exposure / us,
                       use.longest_exposure / us, use.mean_rate / kHz, use.min_rate / kHz);
}

std::string changes_text(const measure::ExposureUse& use) {
    return fmt::format(
        "{}: {:.3g} readings until the next valid one, {:.3g} mm unread; {:.3g} saturated and {:.3g} dark "
        "from one to the next",
        use.changes, use.late, use.blind_length / mm, use.saturated_per_change, use.dark_per_change);
}

void add_run_out(const measure::RunOut& r, std::vector<Line>& lines) {
    lines.emplace_back("run-out", fmt::format("total {}; eccentricity {}", base::length_text(r.total, 4),
                                              estimate_text(r.eccentricity)));
    lines.emplace_back("", fmt::format("high spot at {:.4g} deg (standard uncertainty {:.2g} deg)",
                                       r.high_spot.value / degree, r.high_spot.uncertainty / degree));
    lines.emplace_back("", fmt::format("out of roundness {}, sd {}; {} turns of {:.4g} valid readings",
                                       base::length_text(r.out_of_roundness, 4),
                                       base::length_text(r.residual_deviation, 3), r.revolutions, r.per_revolution));
}

void add_scan(const measure::Scan& scan, std::vector<Line>& lines) {
    if (scan.run_out) {
        add_run_out(*scan.run_out, lines);
    } else if (scan.roll) {
        lines.emplace_back("roll",
                           fmt::format("diameter {:.6g} mm (standard uncertainty {}) from {} readings",
                                       2.0 * scan.roll->radius.value / mm,
                                       base::length_text(2.0 * scan.roll->radius.uncertainty, 2), scan.roll->points));
    } else if (scan.step) {
        lines.emplace_back(
            "step", fmt::format("height {} from {} readings; edge at {:.4g} mm", estimate_text(scan.step->height),
                                scan.step->readings, scan.step->edge / mm));
    } else {
        lines.emplace_back("scan", "too few valid readings for one: whole turns, or either side of an edge");
    }
}

}  // namespace

std::vector<Line> moving_lines(const measure::ReadResult& r) {
    std::vector<Line> lines;
    if (r.tracking) {
        lines.emplace_back("error", error_text(*r.tracking));
        lines.emplace_back("following", response_text(*r.tracking));
    }
    if (r.exposure_use) {
        lines.emplace_back("exposure", exposure_text(*r.exposure_use));
        if (r.exposure_use->changes > 0) lines.emplace_back("changes", changes_text(*r.exposure_use));
    }
    if (r.scan) add_scan(*r.scan, lines);
    return lines;
}

}  // namespace spotwright::cli
