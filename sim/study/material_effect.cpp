#include "sim/study/material_effect.hpp"

#include <cstdint>
#include <optional>

#include "sim/base/cases.hpp"
#include "sim/base/parallel.hpp"
#include "sim/measure/inside_error.hpp"
#include "sim/study/draw.hpp"

namespace spotwright::study {

namespace {

// The sensor before the part of another material, without speckle.
sensor::Setup with_material(sensor::Setup setup, const scenario::Material& material) {
    const auto change = [&material](scenario::Scenario& s) {
        s.target.made_of = material;
        s.run.speckle = scenario::SpeckleModel::off;
    };
    std::visit(base::Cases{[&](sensor::TriangulationSetup& each) {
                               const bool same_volume = each.scenario.target.made_of.volume == material.volume;
                               change(each.scenario);
                               if (!same_volume) each.walk.reset();
                           },
                           [&](sensor::FlightSetup& each) { change(each.scenario); }},
               setup);
    return setup;
}

std::optional<double> error_of(const sensor::Setup& setup) {
    const auto error = ErrorModel(setup).error_at(nominal_draw(sensor::scenario_of(setup)));
    return error ? std::optional(*error + measure::inside_error_of(setup)) : std::nullopt;
}

}  // namespace

std::vector<MaterialEffect> material_effects(const sensor::Setup& setup, int threads) {
    const scenario::Scenario& s = sensor::scenario_of(setup);
    const scenario::Material& material = s.target.made_of;
    const double share = s.uncertainty.material;
    std::vector<MaterialEffect> effects;
    if (!material.range || share <= 0.0) return effects;
    const auto base = error_of(with_material(setup, material));
    if (!base) return effects;
    std::vector<scenario::Material> ends;
    for (const scenario::RangedProperty& property : scenario::ranged_properties) {
        const auto& factors = (*material.range).*property.factors;
        if (!factors) continue;
        effects.push_back({property.name, 0.0, 0.0});
        for (const double factor : *factors) {
            ends.push_back(scenario::with_factor(material, property, 1.0 + share * (factor - 1.0)));
        }
    }
    base::parallel_for(static_cast<std::int64_t>(ends.size()), threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        const auto error = error_of(with_material(setup, ends[k]));
        if (error) (k % 2 == 0 ? effects[k / 2].at_from : effects[k / 2].at_to) = *error - *base;
    });
    return effects;
}

}  // namespace spotwright::study
