#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::cli {

namespace {

std::string reflectance_text(const scenario::Material& material, double wavelength) {
    try {
        return fmt::format("{:.3f}", scenario::reflectance_at(material, wavelength));
    } catch (const base::DomainError&) {
        return "unknown";
    }
}

}  // namespace

int run_materials(const Options& options) {
    const double wavelength = options.scenario.empty()
                                  ? scenario::Scenario{}.emitter.wavelength
                                  : scenario::load(options.scenario, options.settings).emitter.wavelength;
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    std::vector<std::vector<std::string>> rows{
        {"material", fmt::format("reflectance at {:g} nm", wavelength / base::nm), "slope (deg)", "description"}};
    std::string sources;
    for (const std::string& name : scenario::material_names()) {
        const scenario::Material material = scenario::library_material(name);
        list.push_back(record::to_json(material, wavelength));
        rows.push_back({name, reflectance_text(material, wavelength),
                        fmt::format("{:g}", material.slope.deviation / base::degree), material.title});
        sources += fmt::format(
            "  {}: {}\n", name,
            wrapped("reflectance: " + material.reflectance.source + "; slope: " + material.slope.source, 4));
    }
    if (options.json) {
        fmt::print("{}\n",
                   nlohmann::ordered_json{{"wavelength_nm", wavelength / base::nm}, {"materials", list}}.dump(2));
    } else {
        fmt::print("{}\nsources\n{}", table(rows), sources);
    }
    return exit_done;
}

}  // namespace spotwright::cli
