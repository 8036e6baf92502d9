// From readings to the output: moving median, then moving average, then hold or mark.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>

#include "sim/scenario/scenario.hpp"

namespace spotwright::reading {

/// Smooths one series of readings in order. Only valid readings enter the median and the average (common practice).
class Smoother {
public:
    explicit Smoother(const scenario::Reading& options);
    ~Smoother();
    Smoother(Smoother&&) noexcept;
    Smoother& operator=(Smoother&&) noexcept;
    Smoother(const Smoother&) = delete;
    Smoother& operator=(const Smoother&) = delete;

    /// @param displacement  Of one reading; none if it is invalid. [m]
    /// @return The output after it; none if it is marked invalid, or if no earlier output exists to hold.
    std::optional<double> push(std::optional<double> displacement);

    /// Valid readings still needed until the windows are full.
    [[nodiscard]] std::int64_t readings_to_settle() const;

private:
    struct State;
    std::unique_ptr<State> state_;
};

/// Readings from a step of the part until the output has reached its new value:
/// (median - 1) / 2 + average. The exposure itself is the first of them.
[[nodiscard]] std::int64_t step_response_readings(const scenario::Reading& options);

}  // namespace spotwright::reading
