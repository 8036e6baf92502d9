// The command `new`: a commented scenario file from a few decisions.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/scenario/commented.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

namespace {

// What a flag or an answer decides: settings, and the remarks that stand beside their keys.
struct Decisions {
    std::vector<std::string> settings;
    scenario::DecidedKeys keys;

    void add(const std::string& key, const std::string& value, const std::string& remark = {}) {
        settings.push_back(fmt::format("{}={}", key, value));
        keys[key] = remark;
    }
};

[[noreturn]] void reject(const std::string& place, const std::string& message, const std::string& allowed) {
    base::SourceLocation location;
    location.file = fmt::format("<{}>", place);
    throw base::ScenarioError({{location, message, allowed, ""}});
}

// A number or two of a flag, separated by a comma.
std::vector<double> numbers_of(const std::string& place, const std::string& text) {
    std::vector<double> numbers;
    for (std::size_t begin = 0; begin <= text.size();) {
        const std::size_t end = std::min(text.find(',', begin), text.size());
        const std::string part = text.substr(begin, end - begin);
        char* last = nullptr;
        const double number = std::strtod(part.c_str(), &last);
        if (part.empty() || *last != '\0') reject(place, fmt::format("not a number: \"{}\"", part), "5 or -5,5");
        numbers.push_back(number);
        begin = end + 1;
    }
    return numbers;
}

void add_range(const std::string& text, Decisions& decisions) {
    const std::vector<double> ends = numbers_of("--range-mm", text);
    if (ends.size() > 2) reject("--range-mm", fmt::format("{} numbers", ends.size()), "5 for plus or minus, or -5,5");
    const double near = ends.size() == 2 ? ends[0] : -ends[0];
    decisions.add("mount.range_mm", fmt::format("[{}, {}]", near, ends.back()));
}

void add_reference_distance(const std::string& text, Decisions& decisions) {
    const std::vector<double> distance = numbers_of("--reference-distance-mm", text);
    if (distance.size() != 1) reject("--reference-distance-mm", fmt::format("{} numbers", distance.size()), "one");
    decisions.add("mount.reference_distance_mm", fmt::format("{}", distance[0]));
}

void add_mount(const std::string& word, bool has_range, Decisions& decisions) {
    if (word == "diffuse") {
        decisions.add("emitter.angle_deg", "0");
        return;
    }
    if (word != "specular") reject("--mount", fmt::format("no such mount: \"{}\"", word), "diffuse or specular");
    constexpr const char* remark = "Follows from the specular mount.";
    decisions.add("emitter.angle_deg", "-30", remark);
    decisions.add("reading.calibrated_on", "mirror", remark);
    constexpr const char* little_light =
        "Follows from the specular mount: a mirror sends nearly all light to the lens.";
    decisions.add("emitter.power_mW", "0.002", little_light);
    decisions.add("exposure.mode", "automatic", little_light);
    decisions.add("exposure.exposure_us", "0.05", little_light);
    if (!has_range) decisions.add("mount.range_mm", "[-1, 1]", "Follows from the specular mount: the lens limits it.");
}

Decisions decisions_of(const NewOptions& o) {
    Decisions d;
    const auto add = [&d](const std::string& key, const std::string& value) {
        if (!value.empty()) d.add(key, value);
    };
    if (!o.sensor.empty()) d.add("sensor", scenario::toml_string(o.sensor));
    if (!o.title.empty()) d.add("title", scenario::toml_string(o.title));
    add("target.material", o.material);
    add("target.shape", o.shape);
    add("requirement.tolerance_um", o.tolerance);
    if (!o.reference_distance.empty()) add_reference_distance(o.reference_distance, d);
    if (!o.range.empty()) add_range(o.range, d);
    if (!o.mount.empty()) add_mount(o.mount, !o.range.empty(), d);
    if (!o.speed.empty()) d.add("motion.across_mm_per_s", fmt::format("[{}, 0]", o.speed));
    for (const std::string& setting : o.settings) {
        d.settings.push_back(setting);
        std::string key = setting.substr(0, setting.find_first_of("=["));
        key.erase(key.find_last_not_of(' ') + 1);
        d.keys[key] = "";
    }
    return d;
}

scenario::Scenario scenario_of(const NewOptions& o, const Decisions& decisions) {
    if (o.material.empty())
        reject("--material", "required, but missing", "--material NAME (`spotwright materials` lists them)");
    return scenario::parse("schema = 1\n", o.out.empty() ? "new" : o.out, decisions.settings);
}

struct Question {
    const char* text;
    std::string NewOptions::*answer;
    const char* key;  ///< whose default is shown; empty: none
};

constexpr std::array questions{
    Question{"sensor (`spotwright sensors` lists them); empty: one of your own", &NewOptions::sensor, ""},
    Question{"material of the part (`spotwright materials` lists them)", &NewOptions::material, ""},
    Question{"shape of the part", &NewOptions::shape, "target.shape"},
    Question{"permitted error in um, plus or minus", &NewOptions::tolerance, "requirement.tolerance_um"},
    Question{"mount, diffuse or specular; empty: diffuse", &NewOptions::mount, ""},
    Question{"reference distance in mm", &NewOptions::reference_distance, "mount.reference_distance_mm"},
    Question{"measuring range in mm: 5 for plus or minus 5, or -5,8", &NewOptions::range, "mount.range_mm"},
    Question{"speed of the part across the beam in mm/s", &NewOptions::speed, "motion.across_mm_per_s"},
};

std::string default_of(const Question& question) {
    const scenario::Key* key = scenario::find_key_of(question.key);
    return key == nullptr ? std::string() : fmt::format("; empty: {}", scenario::value_text(*key, {}));
}

// What a chosen sensor decides already.
bool is_of_sensor(const Question& question) {
    return question.answer == &NewOptions::mount || question.answer == &NewOptions::reference_distance ||
           question.answer == &NewOptions::range;
}

// Asks for what no flag decided, again after an answer that is not possible; an empty answer leaves the default.
void ask(NewOptions& options) {
    for (const Question& question : questions) {
        std::string& answer = options.*question.answer;
        if (!options.sensor.empty() && is_of_sensor(question)) continue;
        while (answer.empty()) {
            print_error("{}{}: ", question.text, default_of(question));
            if (!std::getline(std::cin, answer) || (answer.empty() && question.answer != &NewOptions::material)) break;
            try {
                NewOptions so_far = options;
                if (so_far.material.empty()) so_far.material = "white-ceramic";  // asked for later
                static_cast<void>(scenario_of(so_far, decisions_of(so_far)));
            } catch (const base::Error& error) {
                print_error("{}\n", error.what());
                answer.clear();
            }
        }
    }
}

// Whether a sensor of this geometry can be built; if not, why.
std::string obstacle_of(const scenario::Scenario& s) {
    try {
        static_cast<void>(sensor::set_up(s, 0));
        return {};
    } catch (const base::Error& error) {
        return error.what();
    }
}

}  // namespace

void keep_existing(const std::string& out, bool force) {
    if (force || !std::filesystem::exists(out)) return;
    reject("--out", fmt::format("{} exists", printable(out)), "another name, or --force to replace it");
}

void add_force_option(CLI::App& command, bool& force) {
    command.add_flag("--force", force, "replace FILE if it exists");
}

CLI::App* add_new(CLI::App& app, NewOptions& o) {
    CLI::App* command =
        app.add_subcommand("new", "a commented scenario file from a few decisions; asks for the others on a terminal");
    const auto add = [command](const char* name, std::string& value, const char* help, const char* type) {
        add_value_option(*command, name, value, help, type);
    };
    add("--sensor", o.sensor, "sensor of the library (`spotwright sensors`), or a sensor file", "NAME");
    add("--material", o.material, "material of the part", "NAME");
    add("--shape", o.shape, "shape of the part, such as plane or cylinder", "WORD");
    add("--tolerance-um", o.tolerance, "permitted error, plus or minus", "UM");
    add("--mount", o.mount, "diffuse or specular", "WORD");
    add("--reference-distance-mm", o.reference_distance, "emitter face to reference point", "MM");
    add("--range-mm", o.range, "measuring range: 5 for plus or minus 5, or -5,8 for near and far end", "MM");
    add("--speed-mm-per-s", o.speed, "speed of the part across the beam", "MM_PER_S");
    add("--title", o.title, "a line that names the job", "TEXT");
    command->add_option("--set", o.settings, "decide another key, as in --set emitter.power_mW=0.5; repeatable")
        ->type_name("KEY=VALUE")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    add("--out", o.out, "write to FILE (.toml) and not to standard output", "FILE");
    add_force_option(*command, o.force);
    command->add_flag("--no-questions", o.no_questions, "ask nothing, on a terminal neither");
    return command;
}

int run_new(NewOptions options) {
    if (!options.out.empty()) {
        static_cast<void>(record::checked_extension(options.out, {".toml"}));
        keep_existing(options.out, options.force);  // before any question
    }
    if (!options.no_questions && isatty(STDIN_FILENO) != 0) ask(options);
    const Decisions decisions = decisions_of(options);
    const scenario::Scenario s = scenario_of(options, decisions);
    const std::string text = scenario::commented_toml(s, decisions.keys);
    const std::string obstacle = obstacle_of(s);
    if (options.out.empty()) {
        print("{}", text);
        if (!obstacle.empty()) print_error("no sensor can be built so yet: {}\n", obstacle);
        return exit_done;
    }
    record::keep_inputs(options.out, scenario::files_named_by(s));
    keep_existing(options.out, options.force);
    record::write_text_file(options.out, text);
    print("  written    {}\n", options.out);
    if (obstacle.empty()) {
        print("  next       spotwright layout {0}; spotwright read {0}\n", options.out);
    } else {
        print("  no sensor can be built so yet: {}\n", obstacle);
    }
    return exit_done;
}

}  // namespace spotwright::cli
