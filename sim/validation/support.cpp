#include "sim/validation/support.hpp"

#include <cmath>

#include "sim/base/units.hpp"

namespace spotwright::validation {

scenario::Scenario worked_example_sensor() {
    using base::mm, base::um, base::degree;
    scenario::Scenario s;
    s.title = "worked example";
    s.file = "worked example";
    s.mount.range = {-5.0 * mm, 5.0 * mm};
    s.mount.reference_distance = 60.0 * mm;
    s.receiver.angle = 30.0 * degree;
    s.receiver.distance = 60.0 * mm;
    s.receiver.focal_length = 20.0 * mm;
    s.receiver.aperture = scenario::round_aperture(8.0 * mm);
    s.detector.pixels = 1024;
    s.detector.pitch = 10.0 * um;
    s.target.made_of = scenario::library_material("white-ceramic");
    s.reading.reference = s.target.made_of;
    s.target.material = s.target.made_of.name;
    s.run.speckle = scenario::SpeckleModel::off;
    return s;
}

double half_last_digit(double value, int digits) {
    return 0.5 * std::pow(10.0, std::floor(std::log10(std::abs(value))) + 1.0 - digits);
}

Check printed(std::string id, std::string claim, std::string source, std::string unit, double expected, int digits,
              double got) {
    return {std::move(id),
            std::move(claim),
            std::move(source),
            std::move(unit),
            expected,
            got,
            half_last_digit(expected, digits),
            "half of the published value's last digit"};
}

Check worked(std::string id, std::string claim, std::string source, std::string unit, double expected, double got) {
    Check check = printed(std::move(id), std::move(claim), std::move(source), std::move(unit), expected, 7, got);
    check.why = "half of the last digit of the worked value";
    return check;
}

std::vector<Check> joined(const std::vector<std::vector<Check>>& parts) {
    std::vector<Check> all;
    for (const std::vector<Check>& part : parts) all.insert(all.end(), part.begin(), part.end());
    return all;
}

double relative_error_of_deviation(double count) {
    return 1.0 / std::sqrt(2.0 * (count - 1.0));
}

}  // namespace spotwright::validation
