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
    return fmt::format("{} (standard uncertainty {})", base::rounded_length_text(estimate.value, estimate.uncertainty),
                       base::uncertainty_text(estimate.uncertainty));
}

std::string error_text(const measure::TrackingResult& tracking) {
    if (!tracking.rms_error) return "none: no valid outputs of full windows";
    const auto rounded = [&](double error) { return base::rounded_length_text(error, tracking.rms_error); };
    return fmt::format("rms {}, mean {}, largest {}", base::uncertainty_text(*tracking.rms_error),
                       base::with_sign(rounded(*tracking.mean_error)), rounded(*tracking.largest_error));
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
    lines.emplace_back("", fmt::format("high spot at {} deg (standard uncertainty {} deg)",
                                       base::value_text(r.high_spot.value, r.high_spot.uncertainty, degree, 1),
                                       base::two_digits(r.high_spot.uncertainty / degree)));
    lines.emplace_back("", fmt::format("out of roundness {}, sd {}; {} turns of {:.4g} valid readings",
                                       base::length_text(r.out_of_roundness, 4),
                                       base::uncertainty_text(r.residual_deviation), r.revolutions, r.per_revolution));
}

void add_scan(const measure::Scan& scan, std::vector<Line>& lines) {
    if (scan.run_out) {
        add_run_out(*scan.run_out, lines);
    } else if (scan.roll) {
        const measure::Estimate& radius = scan.roll->radius;
        lines.emplace_back("roll", fmt::format("diameter {} mm (standard uncertainty {}) from {} readings",
                                               base::value_text(2.0 * radius.value, 2.0 * radius.uncertainty, mm, 4),
                                               base::uncertainty_text(2.0 * radius.uncertainty), scan.roll->points));
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
