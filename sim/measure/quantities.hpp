// The numbers that reading a part gives, by name: one place for their values and units, whoever shows them.
#pragma once

#include <span>
#include <string_view>

#include "sim/measure/read.hpp"

namespace spotwright::measure {

/// A number that each point of a sweep gives, and each `read`.
struct SweepQuantity {
    std::string_view name;       ///< ends in its unit
    std::string_view units;      ///< "1" for a pure number
    std::string_view long_name;  ///< what it is, for people
    std::string_view place;      ///< in what `read --json` prints, as a JSON pointer (RFC 6901)
    double (*value)(const ReadResult& result, const scenario::Scenario& scenario);  ///< in its units; NaN: none
};

/// All of them, in the order in which they are shown.
[[nodiscard]] std::span<const SweepQuantity> sweep_quantities();

/// One by its name, in its units; NaN where it does not exist. @throws InternalError  There is no such quantity.
[[nodiscard]] double quantity(std::string_view name, const ReadResult& result, const scenario::Scenario& scenario);

}  // namespace spotwright::measure
