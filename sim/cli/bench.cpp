#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/describe_statistics.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json_text.hpp"
#include "sim/record/bench_json.hpp"
#include "sim/record/quantity_text.hpp"
#include "sim/record/study_tables.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/bench/fit.hpp"
#include "sim/bench/model.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

namespace {

using base::mm, base::um;

std::string line_of(std::string_view head, const std::string& rest) {
    return fmt::format("  {:<13}{}\n", head, rest);
}

std::string length_text(std::optional<double> value) {
    return value ? base::length_text(*value, 4) : "none";
}

std::string head_of(const bench::BenchLog& log, std::int64_t readings, std::int64_t valid, const std::string& rest) {
    std::string text = fmt::format("{}\n", printable(log.file));
    text += line_of("readings", fmt::format("{}, {:.4g} % valid{}", readings,
                                            100.0 * static_cast<double>(valid) / static_cast<double>(readings), rest));
    if (!log.ignored.empty()) {
        text += line_of("ignored", "columns " + printable(fmt::format("{}", fmt::join(log.ignored, ", "))));
    }
    return text;
}

// With the label of the table of quantities.
std::string labelled(std::string_view name, const std::string& text) {
    const std::size_t width = measure::quantity_named("still_sd_um").long_name.size();
    return fmt::format("{:<{}}  {}", measure::quantity_named(name).long_name, width, text);
}

// To the second digit of its standard uncertainty, by the independent readings.
std::string mean_text(const bench::TimeStatistics& s) {
    if (!s.mean) return "none";
    const double root = std::sqrt(static_cast<double>(std::max<std::int64_t>(s.independent, 1)));
    return base::value_text(*s.mean, s.deviation.value_or(0.0) / root, mm, 6) + " mm";
}

std::string log_lines(const bench::BenchLog& log, const bench::TimeStatistics& s) {
    std::string text = head_of(log, s.readings, s.valid,
                               fmt::format("; {:.4g} s, {:.4g} Hz, {} {}", s.duration, 1.0 / s.period, s.gaps,
                                           s.gaps == 1 ? "gap of time" : "gaps of time"));
    text += line_of("output", labelled("mean_mm", mean_text(s)));
    text += line_of(
        "", labelled("still_sd_um", fmt::format("{}; {} independent readings",
                                                record::deviation_text(s.deviation, s.independent), s.independent)));
    text += line_of("peak to peak",
                    fmt::format("{} of {} readings; it grows with their number", length_text(s.peak_to_peak), s.valid));
    if (s.drift) {
        text += line_of("drift", fmt::format("{} um/s, standard uncertainty {} um/s",
                                             base::with_sign(base::value_text(*s.drift, s.drift_uncertainty, um, 4)),
                                             base::two_digits(s.drift_uncertainty / um)));
    }
    if (s.signal) text += line_of("signal", fmt::format("{:.4g} of full scale", *s.signal));
    return text + describe(s.allan);
}

std::string log_lines(const bench::BenchLog& log, const bench::LinearityStatistics& s) {
    std::string text = head_of(log, s.readings, s.valid, fmt::format("; {} places", s.places.size()));
    const double span = s.places.back().reference - s.places.front().reference;
    std::vector<std::vector<std::string>> rows{
        {"line", "largest error / um", "largest error / % of span", "slope / um/mm"}};
    const auto add = [&](const char* name, const study::NonLinearity& line) {
        constexpr int digits = record::digits_without_uncertainty;
        rows.push_back({name, record::um_text(line.largest), base::number_text(100.0 * line.largest / span, digits),
                        base::with_sign(base::number_text(line.slope * mm / um, digits))});
    };
    add("terminal", s.figures.terminal);
    add("zero-based", s.figures.zero);
    add("independent", s.figures.independent);
    add("least squares", s.figures.least_squares);
    text += line_of("linearity", fmt::format("over {:.6g} mm; largest error {} um", span / mm,
                                             base::with_sign(record::um_text(s.largest_error))));
    text += indented_table(rows);
    text += line_of("hysteresis", s.hysteresis ? length_text(s.hysteresis) : "none: no place reached from both sides");
    if (s.repeatability) text += line_of("repeats", "sd " + record::deviation_text(s.repeatability, s.repeats + 1));
    return text;
}

// To the second digit of a quarter of the interval's width; without an interval five significant digits, so that small
// differences show.
std::string shown(double value, const std::optional<study::Interval>& interval, double unit) {
    if (!interval) return base::number_text(value / unit, 5);
    const double uncertainty = 0.25 * (interval->high - interval->low);
    const auto text = [&](double number) { return base::value_text(number, uncertainty, unit, 4); };
    return fmt::format("{} ({} to {})", text(value), text(interval->low), text(interval->high));
}

// Mean readings depend on the zero of each sensor: only their difference has a meaning.
bool by_difference(const bench::Compared& compared) {
    return compared.name == "mean_mm";
}

std::string bench_lines(const bench::Bench& bench) {
    std::vector<std::vector<std::string>> rows{{"quantity", "measured", "predicted", "ratio", "agree"}};
    for (const bench::Compared& c : bench.compared) {
        const double unit = record::unit_size(c.name);
        const std::string ratio = by_difference(c) ? fmt::format("{:+.5g} mm", (c.measured - c.predicted) / mm)
                                                   : fmt::format("{:.3f}", c.measured / c.predicted);
        rows.push_back({c.name, shown(c.measured, c.measured_interval, unit),
                        shown(c.predicted, c.predicted_interval, unit), ratio,
                        c.agree ? (*c.agree ? "yes" : "no") : "-"});
    }
    std::string text = line_of("prediction", "95 % intervals in brackets; agree: they meet") + indented_table(rows);
    text += line_of("fit", bench.fit.basis.empty() ? "none" : "to the " + bench.fit.basis);
    for (const bench::Fitted& f : bench.fit.parameters) {
        const double unit = record::unit_size(f.name);
        const double uncertainty = f.standard_uncertainty.value_or(0.25 * (f.interval.high - f.interval.low));
        const auto text_of = [&](double number) { return base::value_text(number, uncertainty, unit, 4); };
        std::string value = fmt::format("{} = {}", f.name, text_of(f.value));
        if (f.standard_uncertainty) {
            value += ", standard uncertainty " + base::two_digits(*f.standard_uncertainty / unit);
        }
        text +=
            line_of("", fmt::format("{} (95 %: {} to {})", value, text_of(f.interval.low), text_of(f.interval.high)));
    }
    if (bench.fit.remaining)
        text += line_of("", "remaining standard deviation: " + base::uncertainty_text(*bench.fit.remaining));
    for (const std::string& remark : bench.fit.remarks) text += line_of("", remark);
    return text;
}

template <class Statistics>
void report(const BenchOptions& options, const bench::BenchLog& log, const Statistics& statistics) {
    std::optional<bench::Bench> bench;
    if (!options.scenario.empty()) {
        const scenario::Scenario s = scenario::load(options.scenario, options.settings, reach_of(options.confine));
        bench::require_within_range(log, s);
        bench = bench::compare_with_model(log, statistics, sensor::set_up(s, options.threads), options.threads);
    }
    if (options.json) {
        print("{}\n", record::json_text(record::bench_json(log, statistics, bench)));
        return;
    }
    print("{}{}", log_lines(log, statistics), bench ? bench_lines(*bench) : "");
}

[[noreturn]] void reject_options(const std::string& message, const std::string& allowed) {
    base::SourceLocation place;
    place.file = "<command line>";
    throw base::ScenarioError({{place, message, allowed, ""}});
}

void simulate(const BenchOptions& options) {
    const scenario::Scenario s = scenario::load(options.scenario, options.settings, reach_of(options.confine));
    static_cast<void>(record::checked_extension(options.simulate, {".csv"}));
    record::keep_inputs(options.simulate, scenario::input_files(s));
    record::AtomicFile file(options.simulate);
    const sensor::Setup setup = sensor::set_up(s, options.threads);
    const bench::BenchLog log = options.places > 0
                                    ? bench::simulated_linearity_log(setup, options.places, options.threads)
                                    : bench::simulated_time_log(setup, options.threads);
    file.write(record::log_text(log, record::simulated_remark));
    file.commit();
    if (options.json) {
        print("{}\n", record::json_text(nlohmann::ordered_json{{"written", options.simulate}}));
    } else {
        print("  written    {}\n", options.simulate);
    }
}

}  // namespace

CLI::App* add_bench(CLI::App& app, BenchOptions& options) {
    CLI::App* bench = app.add_subcommand("bench", "a log recorded on the bench: statistics, and beside the prediction");
    bench->add_option("LOG", options.log,
                      "log (.csv): columns time_ms,reading_mm[,signal_share] or "
                      "reference_mm,reading_mm, separated by commas, semicolons or tabs");
    bench->add_option("--scenario", options.scenario, "compare the log with this scenario, and fit it")
        ->type_name("FILE");
    bench->add_option("--set", options.settings, "override a key of the scenario; repeatable")
        ->type_name("KEY=VALUE")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    const auto column = [&](const std::string& role, std::string& name, std::string& unit, const char* units) {
        bench->add_option("--" + role, name, "column of the " + role)->type_name("NAME");
        bench->add_option("--" + role + "-unit", unit, std::string("its unit: ") + units)->type_name("UNIT");
    };
    column("time", options.names.time, options.names.time_unit, "s, ms or us");
    column("reading", options.names.reading, options.names.reading_unit, "mm, um or nm");
    column("reference", options.names.reference, options.names.reference_unit, "mm, um or nm");
    bench
        ->add_option("--decimal", options.names.decimal,
                     "decimal mark of the numbers, point or comma; without it, found where the log leaves no doubt")
        ->type_name("MARK");
    bench->add_option("--simulate", options.simulate, "write a log as the scenario's sensor would record it")
        ->type_name("FILE");
    bench->add_option("--places", options.places, "simulate up and down over so many places of the range")
        ->type_name("N")
        ->check(CLI::Range(3, 10000));
    add_confine_option(*bench, options.confine);
    add_threads_option(*bench, options.threads);
    bench->add_flag("--json", options.json, "print one JSON object and nothing else");
    return bench;
}

int run_bench(const BenchOptions& options) {
    if (options.log.empty() == options.simulate.empty()) {
        reject_options("a log to read, or --simulate with a file to write", "one of them");
    }
    if (!options.simulate.empty()) {
        if (options.scenario.empty()) reject_options("--simulate needs the sensor", "--scenario FILE");
        simulate(options);
        return exit_done;
    }
    if (options.places > 0) reject_options("--places without --simulate", "--simulate FILE");
    if (options.scenario.empty() && !options.settings.empty()) {
        reject_options("--set without a scenario", "--scenario FILE");
    }
    const bench::BenchLog log = bench::load_log(options.log, options.names);
    if (log.reference.empty()) {
        report(options, log, bench::time_statistics(log));
    } else {
        report(options, log, bench::linearity_statistics(log));
    }
    return exit_done;
}

}  // namespace spotwright::cli
