#include "sim/record/sensors.hpp"

#include "sim/base/units.hpp"

namespace spotwright::record {

namespace {

using nlohmann::ordered_json;

ordered_json pair(const scenario::Pair& values, double unit) {
    return {values[0] / unit, values[1] / unit};
}

ordered_json to_json(const scenario::Offer& offer) {
    ordered_json json{{"key", offer.key}};
    if (offer.bounds) json["from_to"] = *offer.bounds;
    if (!offer.values.empty()) json["values"] = offer.values;
    if (!offer.words.empty()) json["words"] = offer.words;
    return json;
}

}  // namespace

ordered_json to_json(std::span<const sensor::Summary> sensors) {
    ordered_json list = ordered_json::array();
    for (const sensor::Summary& s : sensors) {
        ordered_json offers = ordered_json::array();
        for (const scenario::Offer& offer : s.offers) offers.push_back(to_json(offer));
        list.push_back({{"name", s.name},
                        {"title", s.title},
                        {"principle", s.principle},
                        {"mount", s.specular ? "specular" : "diffuse"},
                        {"reference_distance_mm", s.reference_distance / base::mm},
                        {"range_mm", pair(s.range, base::mm)},
                        {"spot_um", pair(s.spot, base::um)},
                        {"wavelength_nm", s.wavelength / base::nm},
                        {"laser_class", s.laser_class},
                        {"period_us", pair(s.period, base::us)},
                        {"offers", offers}});
    }
    return list;
}

}  // namespace spotwright::record
