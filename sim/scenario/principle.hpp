// The principles by which distance is measured, and what each of them has. DEVELOPERS.md says how to add one.
#pragma once

#include <array>
#include <cstddef>
#include <string_view>
#include <variant>

namespace spotwright::scenario {

/// Which keys, commands and studies apply to a principle. Each must be set: there are no defaults.
struct Abilities {
    /// Light falls on a line array: there are frames, a profile, frozen speckle, two faces to tell apart, the ray
    /// model.
    bool array;
    bool exposure;  ///< `[exposure]` sets for how long light is gathered
    bool timing;    ///< `[flight]` applies: light is timed on its way
};

/// Where the spot stands on an array.
struct Triangulation {
    static constexpr std::string_view word = "triangulation";
    static constexpr Abilities abilities{.array = true, .exposure = true, .timing = false};
    bool operator==(const Triangulation&) const = default;
};

/// Time of flight by the phase of modulated light.
struct PhaseShift {
    static constexpr std::string_view word = "phase-shift";
    static constexpr Abilities abilities{.array = false, .exposure = true, .timing = true};
    bool operator==(const PhaseShift&) const = default;
};

/// Time of flight of single pulses.
struct Pulsed {
    static constexpr std::string_view word = "pulsed";
    static constexpr Abilities abilities{.array = false, .exposure = false, .timing = true};
    bool operator==(const Pulsed&) const = default;
};

/// Add a principle here; the compiler then reports every visit that needs a case for it.
using Principle = std::variant<Triangulation, PhaseShift, Pulsed>;

[[nodiscard]] constexpr Abilities abilities_of(const Principle& principle) {
    return std::visit([](const auto& each) { return each.abilities; }, principle);
}

/// As written in scenarios.
[[nodiscard]] constexpr std::string_view word_of(const Principle& principle) {
    return std::visit([](const auto& each) { return each.word; }, principle);
}

template <class Variant>
struct PrincipleTable;

/// All principles and their words, in the order of the variant.
template <class... Kinds>
struct PrincipleTable<std::variant<Kinds...>> {
    static constexpr std::array<std::string_view, sizeof...(Kinds)> words{Kinds::word...};
    static constexpr std::array<std::variant<Kinds...>, sizeof...(Kinds)> all{std::variant<Kinds...>(Kinds{})...};
};
using Principles = PrincipleTable<Principle>;

}  // namespace spotwright::scenario
