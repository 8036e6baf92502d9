#include "bindings/web/engine/studies.hpp"

#include <chrono>
#include <filesystem>

#include "sim/drawing/drawings.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/json.hpp"
#include "sim/record/series_file.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/record/text.hpp"
#include "sim/report/read_report.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/scenario/toml_source.hpp"
#include "sim/study/advice.hpp"
#include "sim/study/budget.hpp"

namespace spotwright::web {

namespace {

using scenario::Scenario;

measure::ReadOptions one_thread() {
    measure::ReadOptions options;
    options.threads = 1;
    return options;
}

Json sentences(const measure::Verdict& verdict, const Scenario& s) {
    Json reasons = Json::array();
    for (const measure::Reason& reason : verdict.reasons) {
        reasons.push_back(record::valid_utf8(measure::in_words(reason)));
    }
    return {{"level", measure::name_of(verdict.level)},
            {"verdict", measure::explanation(verdict, s.requirement)},
            {"next_step", measure::next_step(verdict, s)},
            {"covers", measure::name_of(verdict.covers)},
            {"reasons", reasons}};
}

// Settings may have texts and words without quotes.
Json value_of_setting(const std::string& key, const std::string& value) {
    const scenario::Key* row = scenario::find_key_of(
        key.starts_with(scenario::design_prefix) ? key.substr(scenario::design_prefix.size()) : key);
    const bool is_bare = !value.starts_with('"') && !value.starts_with('[');
    const bool is_text = row != nullptr && (std::holds_alternative<scenario::TextKey>(row->access) ||
                                            std::holds_alternative<scenario::WordKey>(row->access));
    const bool is_word = value.find_first_of("0123456789") == std::string::npos;
    return is_bare && (is_text || is_word) ? Json(value) : value_json(value);
}

Json settings_json(const std::vector<std::string>& settings) {
    Json set = Json::object();
    for (const std::string& setting : settings) {
        const std::size_t equals = setting.find('=');
        const std::string key = setting.substr(0, equals);
        set[key] = value_of_setting(key, setting.substr(equals + 1));
    }
    return set;
}

Json suggestion(const Json& tried, const study::Trialled& trial) {
    std::string text;
    for (const std::string& change : trial.changes) text += (text.empty() ? "" : "; ") + change;
    return {{"text", record::valid_utf8(text)},
            {"set", settings_json(trial.settings)},
            {"level", measure::name_of(trial.level)},
            {"json", tried}};
}

// A file of this run alone, gone when it has been read.
class Scratchpad {
public:
    explicit Scratchpad(const std::string& extension)
        : path_(std::filesystem::temp_directory_path() / ("spotwright-answer" + extension)) {}
    ~Scratchpad() {
        std::error_code ignored;
        std::filesystem::remove(path_, ignored);
    }
    Scratchpad(const Scratchpad&) = delete;
    Scratchpad& operator=(const Scratchpad&) = delete;

    [[nodiscard]] const std::filesystem::path& path() const { return path_; }
    [[nodiscard]] std::string text() const {
        constexpr std::uintmax_t largest = std::uintmax_t{1} << 30U;
        return scenario::read_text_file(path_.string(), largest);
    }

private:
    std::filesystem::path path_;
};

}  // namespace

Json read_answer(Shelf& shelf, const Scenario& s) {
    const measure::ReadResult result = measure::read(shelf.set_up(s), one_thread());
    return {{"json", record::to_json(result, s)}, {"sentences", sentences(result.verdict, s)}};
}

Json budget_answer(Shelf& shelf, const Scenario& s) {
    study::BudgetOptions options;
    options.threads = 1;
    const study::Budget budget = study::budget(shelf.set_up(s), options);
    return {{"json", record::to_json(budget, s)}, {"sentences", sentences(budget.verdict, s)}};
}

Json advise_answer(const Scenario& s, double seconds) {
    study::AdviceOptions options;
    options.threads = 1;
    options.seconds = seconds;
    const auto begin = std::chrono::steady_clock::now();
    options.elapsed = [begin] {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    };
    const study::Advice advice = study::advise(s, options);
    const Json json = record::to_json(advice, s);
    Json suggestions = Json::array();
    for (std::size_t i = 0; i < advice.reaching.size(); ++i) {
        suggestions.push_back(suggestion(json["reaching_stable"][i], advice.reaching[i]));
    }
    for (std::size_t i = 0; i < advice.others.size(); ++i) {
        suggestions.push_back(suggestion(json["others"][i], advice.others[i]));
    }
    return {{"json", json},
            {"summary", record::valid_utf8(advice.summary)},
            {"level", measure::name_of(advice.as_it_is.level)},
            {"suggestions", suggestions}};
}

std::string reading_picture(Shelf& shelf, const Scenario& s) {
    const sensor::Setup setup = shelf.set_up(s);
    return drawing::draw_reading(setup, measure::read(setup, one_thread()));
}

std::string report_page(Shelf& shelf, const Scenario& s, const std::string& date) {
    const Scratchpad file(".html");
    report::ReadReport report(file.path(), s, date);
    report.read_and_fill(shelf.set_up(s), 1);
    report.commit();
    return file.text();
}

std::string series_table(Shelf& shelf, const Scenario& s, const std::string& date) {
    const Scratchpad file(".csv");
    record::SeriesFile series = record::open_series_file(file.path(), s, date);
    measure::ReadOptions options = one_thread();
    options.sink = [&series](const measure::SeriesBlock& block) { series.append(block); };
    series.commit(measure::read(shelf.set_up(s), options));
    return file.text();
}

}  // namespace spotwright::web
