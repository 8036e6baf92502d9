#include "sim/validation/published.hpp"

#include <array>
#include <cmath>

#include "sim/validation/support.hpp"

namespace spotwright::validation {

bool passes(const Check& check) {
    const double excess = check.got - check.expected;
    switch (check.relation) {
        case Relation::equal:
            return std::abs(excess) <= check.tolerance;
        case Relation::at_least:
            return excess >= -check.tolerance;
        case Relation::at_most:
            return excess <= check.tolerance;
    }
    return false;
}

std::string_view symbol_of(Relation relation) {
    static constexpr std::array<std::string_view, 3> symbols{"", ">= ", "<= "};
    return symbols[static_cast<std::size_t>(relation)];
}

std::vector<Check> published_checks(int threads) {
    return joined({geometry_checks(), light_checks(), lens_checks(), target_checks(), marking_checks(),
                   detector_checks(), peak_checks(), over_time_checks(), system_checks(threads),
                   speckle_checks(threads), temperature_checks(), surroundings_checks(), phase_shift_checks(threads),
                   pulse_checks(threads), uncertainty_checks(threads), statistics_checks()});
}

}  // namespace spotwright::validation
