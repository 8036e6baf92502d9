// Reasons and causes are values; one place puts them into words.
#include <catch2/catch.hpp>

#include <limits>
#include <set>
#include <string>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/measure/reason.hpp"

using namespace spotwright;
using base::mm, base::ms, base::um;

namespace {

template <class Variant, class Take, std::size_t... I>
void for_each_kind(const Take& take, std::index_sequence<I...> /*kinds*/) {
    (take(Variant(std::in_place_index<I>)), ...);
}

template <class Variant, class Take>
void for_each_kind(const Take& take) {
    for_each_kind<Variant>(take, std::make_index_sequence<std::variant_size_v<Variant>>());
}

}  // namespace

TEST_CASE("every kind of reason has words of its own", "[verdict][unit]") {
    std::set<std::string> texts;
    std::size_t kinds = 0;
    const auto take = [&](const measure::Reason& reason) {
        ++kinds;
        const std::string text = in_words(reason);
        INFO(text);
        CHECK(text.size() > 10);
        CHECK(text.find("{") == std::string::npos);
        CHECK(text.back() != '.');
        texts.insert(text);
    };
    for_each_kind<measure::Reason>(take);
    for_each_kind<measure::WhyLost>([&](measure::WhyLost why) {
        take(measure::ReadingsLost{reading::Validity::too_dark, 0.25, std::move(why)});
    });
    CHECK(texts.size() == kinds);
}

TEST_CASE("words of a reason bear its numbers in the units of the trade", "[verdict][unit]") {
    CHECK(in_words(measure::ResponseTooLong{12.3 * ms, 5.0 * ms}) ==
          "the output needs 12.3 ms to follow a step; 5 ms are required");
    CHECK(in_words(measure::ReadingsLost{reading::Validity::out_of_range, 0.5,
                                         measure::PartOutside{6.0 * mm, -5.0 * mm, 5.0 * mm}}) ==
          "50 % of readings are out of range: the part is at 6 mm, outside the range of -5 to 5 mm");
    CHECK(
        in_words(measure::LargestError{8.0 * um, 0.08, 20.0 * um, {measure::Cause::speckle, 3.5 * um, false}}) ==
        "expanded uncertainty 8.0 um (0.08 % of span) against a tolerance of +-20 um; largest: speckle, the same while "
        "the part stands still, standard deviation 3.5 um");
    // What is off is told to the place of the expanded uncertainty; the tolerance as it is asked for.
    CHECK(in_words(measure::LargestError{8.04 * um, 0.08, 12.5 * um, {measure::Cause::tilt, 3.456 * um, true}}) ==
          "expanded uncertainty 8.0 um (0.08 % of span) against a tolerance of +-12.5 um; largest: tilt of the part, "
          "bias, off by 3.5 um");
}

TEST_CASE("causes have names of their own, and a systematic part of one that scatters says so", "[verdict][unit]") {
    std::set<std::string_view> names;
    const auto count = static_cast<std::size_t>(measure::Cause::reference) + 1;
    for (std::size_t i = 0; i < count; ++i) names.insert(name_of(static_cast<measure::Cause>(i)));
    CHECK(names.size() == count);
    CHECK(name_of(measure::Contribution{measure::Cause::tilt, 1.0, true}) == "tilt of the part, bias");
    CHECK(name_of(measure::Contribution{measure::Cause::tilt, 1.0, false}) == "tilt of the part");
    CHECK(name_of(measure::Contribution{measure::Cause::bias, 1.0, true}) == "bias of this part");
}
