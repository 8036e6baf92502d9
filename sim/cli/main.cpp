// The program: parse, run a command, and turn errors into messages and exit codes.
#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <functional>
#include <new>
#include <sstream>
#include <string>
#include <system_error>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/printable.hpp"
#include "sim/base/version.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/options.hpp"
#include "sim/cli/signals.hpp"
#include "sim/cli/terminal.hpp"

namespace {

using namespace spotwright;

constexpr const char* footer =
    "Exit codes: 0 done; 1 verdict not stable (with --strict); 2 bad input; 3 could not write; 4 defect of the "
    "program; 5 not enough memory\n"
    "Examples:\n"
    "  spotwright new --material black-rubber --tolerance-um 30 --out seal.toml\n"
    "  spotwright read scenarios/01-white-tile.toml\n"
    "  spotwright read scenarios/01-white-tile.toml --set target.material=black-rubber --json\n"
    "  spotwright sweep scenarios/01-white-tile.toml --over target.displacement_mm=-3:3:25 --out sweep.h5\n"
    "  spotwright advise scenarios/02-black-seal-too-dark.toml --out report.html\n";

// Only here do exceptions become text and an exit code.
int guarded(const std::function<int()>& command) {
    try {
        return command();
    } catch (const base::IoError& error) {
        cli::print_error("{}\n", error.what());
        return error.use() == base::FileUse::input ? cli::exit_bad_input : cli::exit_not_written;
    } catch (const base::InternalError& error) {
        cli::print_error("defect of the program: {}\n", error.what());
        return cli::exit_defect;
    } catch (const base::Error& error) {
        cli::print_error("{}\n", error.what());
        return cli::exit_bad_input;
    } catch (const std::bad_alloc&) {
        std::fputs("not enough memory: less work at a time needs less (run.readings, run.patches, detector.pixels)\n",
                   stderr);
        return cli::exit_no_memory;
    } catch (const std::exception& error) {
        cli::print_error("defect of the program: {}\n", error.what());
        return cli::exit_defect;
    }
}

// Output that was not written (a full disk behind standard output) is an error.
int flushed(int code) {
    if (code == cli::exit_not_written) return code;  // has been said
    if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return code;
    cli::print_error("cannot write standard output: {}\n", std::generic_category().message(errno));
    return cli::exit_not_written;
}

// CLI11 says that a command is missing where one is misspelt.
void reject_unknown_command(const CLI::App& app, int argc, char** argv) {
    if (argc < 2 || argv[1][0] == '-') return;
    std::vector<std::string> names;
    for (const CLI::App* command : app.get_subcommands({})) names.push_back(command->get_name());
    const std::string word = argv[1];
    if (std::find(names.begin(), names.end(), word) != names.end()) return;
    throw base::ScenarioError({{{},
                                fmt::format("no such command: \"{}\"", base::printable(word)),
                                base::alternatives(names),
                                base::did_you_mean(base::nearest_word(word, names))}});
}

// Reads the command line and runs its command.
int run(int argc, char** argv) {
    CLI::App app("Spotwright predicts what an optical displacement sensor will read on a part, before it is mounted.",
                 "spotwright");
    app.footer(footer);
    app.require_subcommand(1);
    app.set_version_flag("--version", fmt::format("spotwright {} (revision {})", base::version(), base::revision()));

    cli::Options options;
    std::function<int()> chosen;

    CLI::App* read = app.add_subcommand("read", "readings of a part: statistics, reasons, verdict");
    cli::add_scenario_options(*read, options);
    read->add_option(
            "--out", options.out,
            "write the series (.h5 or .csv), a picture of one reading (.svg) or a report to hand on (.html) to FILE")
        ->type_name("FILE");
    read->add_option(
            "--averaging", options.averaging,
            "study averages of 1 to 256 readings, the part still and moved, and write the chart to FILE (.svg)")
        ->type_name("FILE");
    read->add_option("--crossover", options.crossover,
                     "study the error of triangulation and of time of flight from 0.05 to 10 m, and write the chart to "
                     "FILE (.svg)")
        ->type_name("FILE");
    read->add_option_function<std::string>(
            "--model", [&options](const std::string& word) { options.settings.push_back("run.model=" + word); },
            "model of the light: `spot`, or ray by ray (`ray`); as --set run.model=...")
        ->check(CLI::IsMember({"spot", "ray"}))
        ->type_name("MODEL");
    read->add_option("--frames", options.frames, "keep the raw frames of the first N readings in the .h5 of --out")
        ->type_name("N");
    read->add_flag("--all", options.all, "print every number; else the verdict, its causes and what was read");
    read->add_flag("--drift", options.drift, "add what the sensor's temperature does: per kelvin, and over a path");
    read->add_flag("--allan", options.allan, "study how the outputs scatter with the time they are averaged over");
    read->add_flag("--linearity", options.linearity,
                   "study the linearity of the part's material and of some others over the range");
    read->add_flag("--strict", options.strict, "exit with 1 unless the verdict is `stable`");
    read->callback([&] { chosen = [&options] { return cli::run_read(options); }; });

    CLI::App* budget = app.add_subcommand("budget", "uncertainty of a reading, cause by cause");
    cli::add_scenario_options(*budget, options);
    budget->add_option("--out", options.out, "write a report to hand on to FILE (.html)")->type_name("FILE");
    budget->add_flag("--strict", options.strict, "exit with 1 unless the verdict is `stable`");
    budget->callback([&] { chosen = [&options] { return cli::run_budget(options); }; });

    CLI::App* advise = app.add_subcommand("advise", "changes that would make the part read stably, tried and ranked");
    cli::add_scenario_options(*advise, options);
    advise->add_option("--out", options.out, "write a report to hand on to FILE (.html)")->type_name("FILE");
    advise->add_flag("--strict", options.strict, "exit with 1 unless the part reads stably as it is");
    advise->add_option("--seconds", options.seconds, "try nothing new after N seconds; 0: no limit")
        ->type_name("N")
        ->check(CLI::Range(0.0, 1e6));
    advise->callback([&] { chosen = [&options] { return cli::run_advise(options); }; });

    cli::add_sweep(app, options)->callback([&] { chosen = [&options] { return cli::run_sweep(options); }; });

    CLI::App* layout = app.add_subcommand("layout", "geometry of the mounting: numbers and a drawing to scale");
    cli::add_scenario_options(*layout, options);
    layout->add_option("--out", options.out, "write the drawing to FILE (.svg, .pdf or, for CAD, .dxf)")
        ->type_name("FILE");
    layout->callback([&] { chosen = [&options] { return cli::run_layout(options); }; });

    CLI::App* materials = app.add_subcommand("materials", "library of materials with reflectance and sources");
    materials->add_option("NAME", options.materials,
                          "print these in full; a file (.toml) is a scenario that gives the wavelength");
    materials->add_option("--like", options.like, "list those with WORD in name or title")->type_name("WORD");
    materials->add_flag("--template", options.material_template,
                        "print a commented material file to begin with, and nothing else");
    cli::add_json_option(*materials, options);
    materials->callback([&] { chosen = [&options] { return cli::run_materials(options); }; });

    CLI::App* sensors = app.add_subcommand("sensors", "library of sensors, and what a user of each may set");
    sensors->add_option("SENSOR", options.sensor, "only this sensor, with what it offers");
    sensors->add_option("--sensors", options.folder, "take the sensor files of FOLDER instead of the library")
        ->type_name("FOLDER");
    sensors->add_option("--out", options.out, "draw them to scale on one sheet, in FILE (.svg or .pdf)")
        ->type_name("FILE");
    cli::add_json_option(*sensors, options);
    sensors->callback([&] { chosen = [&options] { return cli::run_sensors(options); }; });

    cli::add_shortlist(app, options)->callback([&] { chosen = [&options] { return cli::run_shortlist(options); }; });

    CLI::App* validate = app.add_subcommand("validate", "check the models against published values");
    cli::add_json_option(*validate, options);
    validate->add_option("--out", options.out, "write the table as a page (.md)")->type_name("FILE");
    cli::add_threads_option(*validate, options.threads);
    validate->callback([&] { chosen = [&options] { return cli::run_validate(options); }; });

    cli::NewOptions new_options;
    cli::add_new(app, new_options)->callback([&] { chosen = [&new_options] { return cli::run_new(new_options); }; });

    cli::DemoOptions demo_options;
    CLI::App* demo = app.add_subcommand("demo", "read every demonstration scenario and draw it");
    demo->add_option("--scenarios", demo_options.scenarios, "folder of scenarios")->capture_default_str();
    demo->add_option("--out", demo_options.out, "folder for series and drawings")->capture_default_str();
    cli::add_threads_option(*demo, demo_options.threads);
    demo->callback([&] { chosen = [&demo_options] { return cli::run_demo(demo_options); }; });

    cli::BenchOptions bench_options;
    cli::add_bench(app, bench_options)->callback([&] {
        chosen = [&bench_options] { return cli::run_bench(bench_options); };
    });

    cli::InferOptions infer_options;
    cli::add_infer(app, infer_options)->callback([&] {
        chosen = [&infer_options] { return cli::run_infer(infer_options); };
    });

    reject_unknown_command(app, argc, argv);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        constexpr std::size_t longest_message = 400;
        std::ostringstream out;
        std::ostringstream message;
        const int code = app.exit(error, out, message);
        if (out.str().empty()) cli::print_error_text(base::shortened(message.str(), longest_message));
        if (code == 0) cli::print_text(out.str());
        return code == 0 ? cli::exit_done : cli::exit_bad_input;
    }
    return chosen();
}

}  // namespace

int main(int argc, char** argv) {
    cli::handle_signals();
    return flushed(guarded([&] { return run(argc, argv); }));
}
