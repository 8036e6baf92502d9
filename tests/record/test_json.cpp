// Results as JSON of fixed names, and text fit for it.
#include <limits>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/record/json.hpp"
#include "sim/record/text.hpp"
#include "tests/support/record.hpp"

using namespace spotwright;
using test::some_readings, test::some_result, test::some_scenario;

namespace {

std::vector<std::string> keys_of(const nlohmann::ordered_json& json) {
    std::vector<std::string> keys;
    for (const auto& item : json.items()) keys.push_back(item.key());
    return keys;
}

using Words = std::vector<std::string>;

}  // namespace

TEST_CASE("text from the user becomes valid UTF-8 without a change to what is valid", "[record][unit]") {
    CHECK(record::valid_utf8("a\u00b5\U0001f600\"\\\n") == "a\u00b5\U0001f600\"\\\n");
    CHECK(record::valid_utf8("a\xff"
                             "b\xc3") ==
          "a\ufffd"
          "b\ufffd");
    CHECK(record::one_line(std::string("a\0b\tc\nd\x7f", 8)) == "a b c d ");
}

TEST_CASE("the JSON of a result has the promised keys in order", "[record][unit]") {
    const nlohmann::ordered_json json = record::to_json(some_result(), some_scenario());
    CHECK(keys_of(json) == Words{"title",
                                 "seed",
                                 "principle",
                                 "model",
                                 "readings",
                                 "valid_share",
                                 "independent_outputs",
                                 "replaced_valid_share",
                                 "invalid",
                                 "true_mm",
                                 "mean_mm",
                                 "bias_um",
                                 "bias_without_speckle_um",
                                 "marking_error_um",
                                 "inside_error_um",
                                 "lens_error_um",
                                 "still_sd_um",
                                 "still_sd_interval_um",
                                 "replaced_sd_um",
                                 "replaced_sd_interval_um",
                                 "sampling_kHz",
                                 "output_response_ms",
                                 "signal",
                                 "speckle",
                                 "verdict"});
    CHECK(keys_of(json["speckle"]) == Words{"model", "patches", "contrast", "pattern_contrast", "size_um", "size_px",
                                            "sd_um", "sd_interval_um", "grain_sd_um", "offset_um", "limit_um"});
    CHECK(keys_of(json["signal"]) == Words{"peak_e", "peak_share", "background_e", "exposure_us", "received_power_uW"});
    CHECK(keys_of(json["verdict"]) == Words{"level", "explanation", "covers", "allowed_um", "found_um", "valid_share",
                                            "reasons", "expanded_uncertainty_um", "percent_of_span", "tolerance_um",
                                            "contributions"});
    CHECK(keys_of(json["verdict"]["contributions"][1]) == Words{"name", "size_um", "systematic"});
}

TEST_CASE("the JSON of a result tells values in the units of their names", "[record][unit]") {
    const nlohmann::ordered_json json = record::to_json(some_result(), some_scenario());
    CHECK(json["title"] == "A trial");
    CHECK(json["seed"] == 7);
    CHECK(json["principle"] == "triangulation");
    CHECK(json["readings"] == some_readings);
    CHECK(json["valid_share"] == 0.9);
    CHECK(json["invalid"] == nlohmann::ordered_json{{"saturated", 0.1}});
    CHECK(json["true_mm"] == 1e-3 / 1e-3);
    CHECK(json["mean_mm"] == 1.001e-3 / 1e-3);
    CHECK(json["bias_um"] == 1e-6 / 1e-6);
    CHECK(json["still_sd_um"] == 2e-7 / 1e-6);
    CHECK(json["sampling_kHz"] == 1.0 / 133e-6 / 1e3);
    CHECK(json["output_response_ms"] == 133e-6 / 1e-3);
    CHECK(json["signal"]["exposure_us"] == 2.5e-6 / 1e-6);
    CHECK(json["signal"]["received_power_uW"] == 1e-6 / 1e-6);
    CHECK(json["bias_without_speckle_um"] == 0.5e-6 / 1e-6);
    CHECK(json["replaced_sd_um"] == 2.5e-6 / 1e-6);
    CHECK(json["speckle"]["model"] == "coherent");
    CHECK(json["speckle"]["contrast"] == 0.25);
    CHECK(json["speckle"]["size_um"] == 7e-6 / 1e-6);
    CHECK(json["speckle"]["size_px"] == 7e-6 / 7e-6);
    CHECK(json["speckle"]["sd_um"] == 2e-6 / 1e-6);
    CHECK(json["speckle"]["limit_um"] == 1.5e-6 / 1e-6);
    CHECK(json["verdict"]["level"] == "unstable");
    CHECK(json["verdict"]["percent_of_span"] == 100.0 * 4e-6 / (5e-3 - -5e-3));
    CHECK(json["verdict"]["tolerance_um"] == 20.0 * 1e-6 / 1e-6);
    CHECK(json["verdict"]["allowed_um"] == Approx(5.0));
    CHECK(json["verdict"]["found_um"] == json["verdict"]["expanded_uncertainty_um"]);
    CHECK(json["verdict"]["valid_share"] == 0.9);
    CHECK(json["verdict"]["explanation"] == "only 90 % of readings are valid, and marginal asks for 99 %");
    CHECK(json["verdict"]["covers"] == "the part as it stands, on any patch of its surface");
    CHECK(json["verdict"]["contributions"][1]["systematic"] == true);
}

TEST_CASE("what a result does not have is null in JSON, or left out", "[record][unit]") {
    measure::ReadResult result;
    result.timing.period = 133e-6;
    result.signal.peak_share = std::numeric_limits<double>::infinity();
    const nlohmann::ordered_json json = record::to_json(result, some_scenario());
    for (const char* key : {"valid_share", "mean_mm", "bias_um", "still_sd_um"}) {
        CAPTURE(key);
        CHECK(json.at(key).is_null());
    }
    CHECK(json["signal"]["peak_share"].is_null());
    CHECK(json["verdict"]["expanded_uncertainty_um"].is_null());
    CHECK(json["verdict"]["percent_of_span"].is_null());
    CHECK(json["invalid"] == nlohmann::ordered_json::object());
    CHECK(json["speckle"].is_null());
}

TEST_CASE("JSON is valid whatever bytes a title holds", "[record][unit]") {
    const std::string title("nul \0 quote \" line \n byte \xff end", 32);
    const std::string text = record::to_json(some_result(), some_scenario(title)).dump();
    CHECK(nlohmann::json::parse(text)["title"] == std::string("nul \0 quote \" line \n byte \ufffd end", 34));
}

TEST_CASE("the JSON of a layout has the promised keys, and null for an endless range", "[record][unit]") {
    const scenario::Scenario s = some_scenario();
    sensor::Layout layout = sensor::make_layout(s);
    layout.measurable.far = std::numeric_limits<double>::infinity();
    const nlohmann::ordered_json json = record::to_json(layout, s);
    CHECK(keys_of(json) == Words{"distance_mm", "span_mm", "detector_tilt_deg", "magnification",
                                 "sensitivity_um_per_um", "pixel_um", "image_position_mm", "measurable_range_mm",
                                 "measurable_limits", "object_side_na", "speckle_limit_um", "beam_radius_um", "glare",
                                 "laser_class_estimate", "laser_caution", "room", "warnings"});
    CHECK(json["distance_mm"] ==
          nlohmann::ordered_json{layout.distance[0] / 1e-3, layout.distance[1] / 1e-3, layout.distance[2] / 1e-3});
    CHECK(json["span_mm"] == layout.span / 1e-3);
    CHECK(json["image_position_mm"].size() == 3);
    CHECK(json["beam_radius_um"][1] == layout.beam_radius[1] / 1e-6);
    CHECK(json["measurable_range_mm"][0] == layout.measurable.near / 1e-3);
    CHECK(json["measurable_range_mm"][1].is_null());
    CHECK(json["measurable_limits"] ==
          nlohmann::ordered_json{layout.measurable.near_limit, layout.measurable.far_limit});
    CHECK(json["laser_class_estimate"] == "1");
}

TEST_CASE("the JSON of a material has null for a reflectance that is not known", "[record][unit]") {
    const scenario::Material material = scenario::library_material("white-ceramic");
    const nlohmann::ordered_json json = record::to_json(material, 655e-9);
    CHECK(keys_of(json) ==
          Words{"name", "title", "known_nm", "reflectance", "slope_deg", "interface", "volume", "range", "sources"});
    CHECK(json["reflectance"] == scenario::reflectance_at(material, 655e-9));
    CHECK(json["sources"]["slope"] == material.slope.source);
    CHECK(record::to_json(material, 2e-6)["reflectance"].is_null());
}

TEST_CASE("the JSON of a material has from and to of what is ranged, and null for the rest", "[record][unit]") {
    scenario::Material material = scenario::library_material("marble");
    material.range = scenario::MaterialRange{{}, {{0.5, 2.0}}, {}, {{0.25, 4.0}}, {}, "s"};
    const nlohmann::ordered_json range = record::to_json(material, 650e-9)["range"];
    CHECK(keys_of(range) == Words{"reflectance", "rms_slope", "rms_height_um", "reduced_scattering_per_mm",
                                  "absorption_per_mm", "source"});
    CHECK(range["reflectance"].is_null());
    CHECK(range["rms_height_um"].is_null());
    CHECK(range["absorption_per_mm"].is_null());
    const auto& slope = material.roughness.rms_slope;
    CHECK(range["rms_slope"] ==
          nlohmann::ordered_json{{0.5 * slope[0], 2.0 * slope[0]}, {0.5 * slope[1], 2.0 * slope[1]}});
    const double scattering = scenario::volume_at(material, 650e-9).reduced_scattering / 1000.0;
    CHECK(range["reduced_scattering_per_mm"][0].get<double>() == Approx(0.25 * scattering));  // rounding of the unit
    CHECK(range["reduced_scattering_per_mm"][1].get<double>() == Approx(4.0 * scattering));
    CHECK(record::to_json(material, 2e-6)["range"]["reduced_scattering_per_mm"].is_null());
    material.range.reset();
    CHECK(record::to_json(material, 650e-9)["range"].is_null());
}
