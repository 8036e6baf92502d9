// The numbers of a reading by name: the one table of their units, names for people and digits. Files, JSON, text,
// reports and pictures take them from here.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>

#include "sim/measure/read.hpp"

namespace spotwright::measure {

/// What a number is about. People see the numbers of a group together, in the order of `quantity_groups`.
enum class Group {
    signal,
    well,
    readings,
    output,
    markings,
    inside,
    lens,
    still,
    speckle,
    grain,
    glare,
    motion,
    exposure,
    changes,
    scan,
    run_out,
    roll,
    step,
    thickness,
    light,
    phase,
    pulses,
    model,
    uncertainty
};

/// How a number is rounded for people. Files and JSON hold all digits.
struct Rounding {
    enum class Rule {
        digits,         ///< significant digits: no uncertainty is known
        whole,          ///< a number of things
        percent,        ///< a share, in per cent, with so many significant digits
        probability,    ///< two significant digits; very small ones only say that they are
        deviation,      ///< an uncertainty or a standard deviation: two significant digits (GUM 7.2.6)
        to_uncertainty  ///< a value: to the second digit of its uncertainty
    };
    Rule rule = Rule::digits;
    int digits = 4;
    std::string_view uncertainty;  ///< name of the quantity that is its uncertainty
};

/// Fewer valid outputs that share no reading than these are few: the standard deviation of 30 is known to 13 %. Texts
/// then say how many there are, or give the interval of the standard deviation.
inline constexpr std::int64_t few_outputs = 30;

/// Standard uncertainty of the standard deviation of so many independent values, over itself.
/// Source: JCGM 100:2008, E.4.3, note: (2 (n - 1))^(-1/2). @param count  At least 2. [1]
[[nodiscard]] double relative_error_of_deviation(std::int64_t count);

/// A number of a reading.
struct Quantity {
    std::string_view name;       ///< ends in its unit
    std::string_view units;      ///< "1" for a pure number
    std::string_view long_name;  ///< label for people, the same wherever the number is shown
    std::string_view place;      ///< in the output of `read --json`, as a JSON pointer (RFC 6901)
    double (*value)(const ReadResult& result, const scenario::Scenario& scenario);  ///< in its units; NaN: none
    Group group = Group::signal;
    Rounding rounding;
    bool in_sweeps = true;                                            ///< each point of a sweep has it
    std::int64_t (*independent)(const ReadResult& result) = nullptr;  ///< values behind it, if few may matter
};

/// All numbers of a reading, in the order of their columns in files.
[[nodiscard]] std::span<const Quantity> quantities();

/// Those that each point of a sweep has, in the same order.
[[nodiscard]] std::span<const Quantity> sweep_quantities();

/// Groups of one title are next to each other.
struct QuantityGroup {
    Group group;
    std::string_view title;
    bool (*exists)(const ReadResult& result, const scenario::Scenario& scenario);
};

/// All groups, in the order in which people see them.
[[nodiscard]] std::span<const QuantityGroup> quantity_groups();

/// Whether results of a principle may have this quantity; false: it is always NaN there.
[[nodiscard]] bool may_exist(const Quantity& quantity, const scenario::Principle& principle);

/// One by its name. @throws InternalError  There is no such quantity.
[[nodiscard]] const Quantity& quantity_named(std::string_view name);

/// The value of one, in its units; NaN where it does not exist. @throws InternalError  There is no such quantity.
[[nodiscard]] double quantity(std::string_view name, const ReadResult& result, const scenario::Scenario& scenario);

}  // namespace spotwright::measure
