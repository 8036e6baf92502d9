#include "sim/record/bench_json.hpp"

#include <fmt/format.h>

#include <cmath>
#include <iterator>

#include "sim/base/units.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/statistics_json.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

using base::kHz, base::mm, base::um;
using nlohmann::ordered_json;

ordered_json ignored_json(const bench::BenchLog& log) {
    ordered_json list = ordered_json::array();
    for (const std::string& name : log.ignored) list.push_back(valid_utf8(name));
    return list;
}

ordered_json interval_in(const std::optional<study::Interval>& interval, double unit) {
    if (!interval) return nullptr;
    return ordered_json::array({json_number(interval->low, unit), json_number(interval->high, unit)});
}

ordered_json compared_json(const bench::Compared& compared) {
    const double unit = unit_size(compared.name);
    return {{"name", compared.name},
            {"measured", json_number(compared.measured, unit)},
            {"measured_interval", interval_in(compared.measured_interval, unit)},
            {"predicted", json_number(compared.predicted, unit)},
            {"predicted_interval", interval_in(compared.predicted_interval, unit)},
            {"difference", json_number(compared.measured - compared.predicted, unit)},
            {"ratio", json_number(compared.measured / compared.predicted)},
            {"agree", compared.agree ? ordered_json(*compared.agree) : ordered_json()}};
}

void add_cell(fmt::memory_buffer& text, double value, int digits) {
    if (!std::isnan(value)) fmt::format_to(std::back_inserter(text), "{:.{}f}", value, digits);
}

}  // namespace

double unit_size(const std::string& name) {
    return base::unit_of(name).factor;
}

ordered_json to_json(const bench::BenchLog& log, const bench::TimeStatistics& s) {
    ordered_json json{{"log", valid_utf8(log.file)},
                      {"kind", "time"},
                      {"ignored_columns", ignored_json(log)},
                      {"readings", s.readings},
                      {"valid_share", json_number(static_cast<double>(s.valid) / static_cast<double>(s.readings))},
                      {"duration_s", json_number(s.duration)},
                      {"sampling_kHz", json_number(1.0 / s.period, kHz)},
                      {"gaps", s.gaps},
                      {"mean_mm", json_number(s.mean, mm)},
                      {"still_sd_um", json_number(s.deviation, um)},
                      {"still_sd_interval_um", interval_json(s.interval)},
                      {"independent_readings", s.independent},
                      {"peak_to_peak_um", json_number(s.peak_to_peak, um)}};
    json["drift_um_per_s"] = json_number(s.drift, um);
    json["drift_standard_uncertainty_um_per_s"] = s.drift ? json_number(s.drift_uncertainty, um) : ordered_json();
    json["signal_share"] = json_number(s.signal);
    json["allan"] = to_json(s.allan);
    return json;
}

ordered_json to_json(const bench::BenchLog& log, const bench::LinearityStatistics& s) {
    ordered_json places = ordered_json::array();
    for (const bench::PlaceErrors& place : s.places) {
        places.push_back({{"reference_mm", json_number(place.reference, mm)},
                          {"error_um", json_number(place.error, um)},
                          {"rising_um", json_number(place.rising, um)},
                          {"falling_um", json_number(place.falling, um)}});
    }
    const double span = s.places.back().reference - s.places.front().reference;
    return {{"log", valid_utf8(log.file)},
            {"kind", "linearity"},
            {"ignored_columns", ignored_json(log)},
            {"readings", s.readings},
            {"valid_share", json_number(static_cast<double>(s.valid) / static_cast<double>(s.readings))},
            {"span_mm", json_number(span, mm)},
            {"figures", to_json(s.figures, span)},
            {"largest_error_um", json_number(s.largest_error, um)},
            {"hysteresis_um", json_number(s.hysteresis, um)},
            {"repeatability_sd_um", json_number(s.repeatability, um)},
            {"repeatability_sd_interval_um", interval_json(s.repeatability_interval)},
            {"places", places}};
}

ordered_json to_json(const bench::Bench& bench) {
    ordered_json compared = ordered_json::array();
    for (const bench::Compared& each : bench.compared) compared.push_back(compared_json(each));
    ordered_json parameters = ordered_json::array();
    for (const bench::Fitted& fitted : bench.fit.parameters) {
        const double unit = unit_size(fitted.name);
        parameters.push_back({{"name", fitted.name},
                              {"value", json_number(fitted.value, unit)},
                              {"standard_uncertainty", json_number(fitted.standard_uncertainty, unit)},
                              {"interval", interval_in(fitted.interval, unit)}});
    }
    ordered_json fit{{"basis", bench.fit.basis},
                     {"parameters", parameters},
                     {"remaining_sd_um", json_number(bench.fit.remaining, um)},
                     {"remarks", bench.fit.remarks}};
    return {{"compared", compared}, {"fit", fit}};
}

std::string log_text(const bench::BenchLog& log, const std::string& remark) {
    constexpr int of_nm = 6;  // digits after the point of a length in mm
    constexpr int of_us = 3;  // of a time in ms
    constexpr int of_share = 6;
    const bool linearity = !log.reference.empty();
    const bool share = !log.signal.empty();
    fmt::memory_buffer text;
    fmt::format_to(std::back_inserter(text), "# {}\n{},reading_mm{}\n", valid_utf8(remark),
                   linearity ? "reference_mm" : "time_ms", share ? ",signal_share" : "");
    for (std::size_t i = 0; i < log.reading.size(); ++i) {
        if (linearity) {
            add_cell(text, log.reference[i] / mm, of_nm);
        } else {
            add_cell(text, log.time[i] / base::ms, of_us);
        }
        text.push_back(',');
        add_cell(text, log.reading[i] / mm, of_nm);
        if (share) {
            text.push_back(',');
            add_cell(text, log.signal[i], of_share);
        }
        text.push_back('\n');
    }
    return fmt::to_string(text);
}

}  // namespace spotwright::record
