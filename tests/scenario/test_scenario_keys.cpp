// The table of keys: defaults, reading, writing, and back again to the same bits.

#include <cmath>
#include <numeric>
#include <random>

#include <fmt/format.h>

#include "tests/support/scenario.hpp"

#include "sim/scenario/sensor_keys.hpp"

using namespace spotwright;
using scenario::Key;
using scenario::Scenario;
using test::minimal;
using test::value_of;

namespace {

// How many keys a section has.
std::size_t keys_in(std::string_view section) {
    const auto keys = scenario::schema();
    return static_cast<std::size_t>(
        std::count_if(keys.begin(), keys.end(), [&](const Key& key) { return key.section == section; }));
}

std::string line_for(const Key& key, const std::string& value) {
    const std::string assignment = fmt::format("{} = {}\n", key.name, value);
    if (key.section.empty()) return assignment + minimal;
    if (key.section == "target") return minimal + assignment;
    return minimal + fmt::format("[{}]\n", key.section) + assignment;
}

// Keys that say nothing without another one, name a file, or give other keys their values.
bool needs_company(const Key& key) {
    const std::string name = scenario::dotted(key);
    for (const char* one : {"target.material", "reading.calibrated_on", "target.segments.material",
                            "target.segments.length_mm", "target.segments.height_mm", "motion.rotation_rpm",
                            "motion.eccentricity_um", "motion.path", "surroundings.temperature_path",
                            "target.pattern.kind", "sensor", "mount.reference_distance_mm", "mount.baseline_mm"}) {
        if (name == one) return true;
    }
    return false;
}

double written_default(const Key& key) {
    Scenario defaults;
    return base::from_si(base::unit_of(key.name), std::get<scenario::NumberKey>(key.access).value(defaults));
}

// A value that differs from the default by so little that no rule between keys is broken, as TOML text.
std::string other_value(const Key& key) {
    const auto near_to = [&key](double value) {
        return fmt::format("{:.17g}", value == 0.0 ? 0.25 : value == key.limits.low ? 1.0005 * value : 0.9995 * value);
    };
    Scenario defaults;
    if (std::holds_alternative<scenario::NumberKey>(key.access)) return near_to(written_default(key));
    if (std::holds_alternative<scenario::NumberOrWordKey>(key.access)) return "2.5";
    if (const auto* pair = std::get_if<scenario::PairKey>(&key.access)) {
        const base::Unit unit = base::unit_of(key.name);
        const scenario::Pair value = pair->value(defaults);
        return fmt::format("[{}, {}]", near_to(base::from_si(unit, value[0])), near_to(base::from_si(unit, value[1])));
    }
    if (std::holds_alternative<scenario::ListKey>(key.access)) return "[2.5, 4.5]";
    if (std::holds_alternative<scenario::TextListKey>(key.access)) return "[\"white-ceramic\", \"mirror\"]";
    if (std::holds_alternative<scenario::ApertureKey>(key.access)) return "[2.5, 4.5]";
    if (const auto* integer = std::get_if<scenario::IntegerKey>(&key.access)) {
        return std::to_string(integer->value(defaults) + 2);  // 2: the median stays odd
    }
    if (const auto* word = std::get_if<scenario::WordKey>(&key.access)) {
        return fmt::format("\"{}\"",
                           word->words[(static_cast<std::size_t>(word->get(defaults)) + 1) % word->words.size()]);
    }
    if (std::holds_alternative<scenario::ChoiceKey>(key.access)) return "3";
    return "\"caf\u00e9 \\\"7\\\" \\\\ \\t end\"";
}

// A number as people write them (few digits), or with all digits, anywhere within the limits.
double random_number(std::mt19937_64& random, double low, double high) {
    std::uniform_real_distribution<double> share(0.0, 1.0);
    double value = low + share(random) * (high - low);
    if (share(random) < 0.5 && low >= 0.0 && high > 0.0) {
        const double smallest = std::max(low, high * 1e-9);
        value = smallest * std::pow(high / smallest, share(random));
    }
    if (share(random) < 0.5) value = std::stod(fmt::format("{:.3g}", value));
    return std::clamp(value, low, high);
}

double si(const Key& key, double written) {
    return base::to_si(base::unit_of(key.name), written);
}

void randomise(Scenario& s, const Key& key, std::mt19937_64& random) {
    const double low = key.limits.low_open ? key.limits.high * 1e-6 : key.limits.low;
    const double high = key.limits.high;
    const auto integer = [&] {
        const auto top = std::isinf(high) ? std::numeric_limits<std::int64_t>::max() : static_cast<std::int64_t>(high);
        return std::uniform_int_distribution<std::int64_t>(static_cast<std::int64_t>(low), top)(random);
    };
    if (const auto* number = std::get_if<scenario::NumberKey>(&key.access)) {
        number->value(s) = si(key, random_number(random, low, high));
    } else if (const auto* either = std::get_if<scenario::NumberOrWordKey>(&key.access)) {
        either->value(s).reset();
        if (random() % 2 == 0) either->value(s) = si(key, random_number(random, low, high));
    } else if (const auto* pair = std::get_if<scenario::PairKey>(&key.access)) {
        pair->value(s)[0] = si(key, random_number(random, low, high));
        pair->value(s)[1] = si(key, random_number(random, low, high));
    } else if (const auto* list = std::get_if<scenario::ListKey>(&key.access)) {
        list->value(s).resize(list->least + random() % (list->most + 1 - list->least));
        for (double& value : list->value(s)) value = si(key, random_number(random, low, high));
    } else if (const auto* texts = std::get_if<scenario::TextListKey>(&key.access)) {
        texts->value(s).assign(random() % 3, "white-ceramic");
    } else if (const auto* stop = std::get_if<scenario::ApertureKey>(&key.access)) {
        stop->value(s) = scenario::round_aperture(si(key, random_number(random, low, high)));
        if (random() % 2 == 0) {
            stop->value(s).shape = scenario::ApertureShape::rectangular;
            stop->value(s).out_of_plane = si(key, random_number(random, low, high));
        }
    } else if (const auto* whole = std::get_if<scenario::IntegerKey>(&key.access)) {
        whole->value(s) = integer();
    } else if (const auto* word = std::get_if<scenario::WordKey>(&key.access)) {
        word->set(s, static_cast<int>(random() % word->words.size()));
    } else if (const auto* choice = std::get_if<scenario::ChoiceKey>(&key.access)) {
        choice->value(s).rule = static_cast<scenario::PeakRule>(random() % 4);
        choice->value(s).index = choice->value(s).rule == scenario::PeakRule::index ? integer() : 0;
    } else if (const auto* text = std::get_if<scenario::TextKey>(&key.access)) {
        text->value(s).clear();
        for (auto length = random() % 20; length > 0; --length) text->value(s) += static_cast<char>(random() % 128);
    }
}

// Every key anywhere within its limits, and no rule between keys broken.
Scenario random_scenario(std::mt19937_64& random) {
    Scenario s;
    for (const Key& key : scenario::schema()) randomise(s, key, random);
    if (s.target.shape == scenario::ShapeKind::relief) s.target.shape = scenario::ShapeKind::plane;  // wants a file
    s.target.material = s.target.shape == scenario::ShapeKind::plate ? "clear-glass" : "white-ceramic";
    s.target.plate.backing = "none";
    if (s.target.shape != scenario::ShapeKind::plane) s.target.segments.material.clear();
    s.target.segments.length.resize(s.target.segments.material.size(), base::mm);
    s.target.segments.height.resize(s.target.segments.material.size(), 0.0);
    if (s.target.pattern.kind == scenario::PatternKind::picture) s.target.pattern.kind = scenario::PatternKind::bars;
    s.target.pattern.material = "black-rubber";
    // A value that a file in mm can hold: not every number of metres is one.
    const double steep = base::mm * std::ceil(2.1 * s.target.feed_marks.spacing / base::mm);
    s.target.feed_marks.tool_radius = std::max(s.target.feed_marks.tool_radius, steep);
    if (s.target.shape == scenario::ShapeKind::plate) s.target.feed_marks = {};
    if (random() % 2 == 0) scenario::remove_markings(s.target);
    if (scenario::has_markings(s.target)) {
        s.target.segments.material.clear();
        s.target.segments.length.clear();
        s.target.segments.height.clear();
    }
    s.motion.path.clear();  // wants a file, as the next one does
    s.surroundings.temperature_path.clear();
    s.motion.rotation = 0.0;  // wants a cylinder, as the next one does
    s.motion.eccentricity = 0.0;
    s.run.model = scenario::LightModel::spot;
    s.reading.calibrated_on = "white-ceramic";
    s.reading.threshold = std::min(s.reading.threshold, 0.5 * s.exposure.level);
    std::sort(s.exposure.period.begin(), s.exposure.period.end());
    s.exposure.exposure = std::min(s.exposure.exposure, s.exposure.period[0]);
    std::sort(s.flight.intensity_range.begin(), s.flight.intensity_range.end());
    if (s.flight.intensity_points < 4) s.flight.intensity_points = 0;
    s.flight.taps = std::gcd(s.flight.taps, s.flight.buckets);
    if (s.exposure.exposure > 0.24 * s.exposure.period[0]) s.flight.modulation.resize(1);  // frequencies share a period
    if (s.mount.range[0] > s.mount.range[1]) std::swap(s.mount.range[0], s.mount.range[1]);
    if (s.mount.range[0] <= -s.mount.reference_distance) s.mount.range[0] = -0.5 * s.mount.reference_distance;
    if (s.mount.range[1] <= s.mount.range[0]) s.mount.range = {-0.5 * s.mount.reference_distance, 0.0};
    if (s.receiver.focal_length > 0.99 * s.receiver.distance) s.receiver.focal_length = 18.0 * base::mm;
    if (s.receiver.focal_length > 0.99 * s.receiver.distance) s.receiver.distance = 45.0 * base::mm;
    if (s.principle != scenario::Principle(scenario::Triangulation{})) {
        s.run.model = scenario::LightModel::spot;
        s.reading.thickness_index.reset();
        std::sort(s.flight.modulation.begin(), s.flight.modulation.end());
        const auto repeated = std::unique(s.flight.modulation.begin(), s.flight.modulation.end());
        s.flight.modulation.erase(repeated, s.flight.modulation.end());
        if (s.receiver.focal_length > 0.99 * s.mount.reference_distance) {
            s.principle = scenario::Triangulation{};
        }
    }
    s.neighbour.power = 0.0;  // a second sensor is followed before parts at rest only
    s.surroundings.hot_air_scales = scenario::Surroundings{}.hot_air_scales;
    s.receiver.focus_error = s.making.focus = 0.0;  // within the image distance, as the next within the room
    s.cover.glass = 0.0;
    s.reading.median |= 1;
    s.run.readings = std::max(s.run.readings, s.reading.average + s.reading.median);
    if (s.requirement.marginal_valid_share > s.requirement.stable_valid_share) {
        std::swap(s.requirement.marginal_valid_share, s.requirement.stable_valid_share);
    }
    return s;
}

}  // namespace

TEST_CASE("a scenario that names only its material has the defaults of the structs", "[scenario][unit]") {
    const Scenario read = scenario::parse(minimal);
    Scenario defaults;
    defaults.target.material = "white-ceramic";
    for (const Key& key : scenario::schema()) {
        INFO(scenario::dotted(key));
        CHECK(value_of(key, read) == value_of(key, defaults));
    }
    CHECK(read.target.made_of.name == "white-ceramic");
    CHECK(read.locations.size() == 1);
}

TEST_CASE("every field of every section has a key", "[scenario][unit]") {
    // A structured binding must name every field: a new one stops the compiler here until it is counted.
    // Sections with a file or material have one field more than keys: what was read from it.
    const Scenario s;
    [[maybe_unused]] const auto& [m1, m2, m3, m4] = s.mount;
    [[maybe_unused]] const auto& [bb1, bb2, bb3, bb4, bb5] = s.housing;
    [[maybe_unused]] const auto& [e1, e2, e3, e4, e5, e6, e7, e8, e9, e10, e11] = s.emitter;
    [[maybe_unused]] const auto& [c1, c2, c3, c4, c5, c6, c7, c8, c9, c10, c11, c12, c13, c14, c15, c16] = s.receiver;
    [[maybe_unused]] const auto& [cm1, cm2, cm3, cm4, cm5] = s.making;
    [[maybe_unused]] const auto& [cv1, cv2, cv3, cv4, cv5, cv6] = s.cover;
    [[maybe_unused]] const auto& [d1, d2, d3, d4, d5, d6, d7, d8, d9, d10, d11] = s.detector;
    [[maybe_unused]] const auto& [x1, x2, x3, x4, x5, x6, x7] = s.exposure;
    [[maybe_unused]] const auto& [t1, t2, t3, t4, t5, t6, t7, t8, t9, t10, t11, t12, t13, t14, t15, t16, t17, t18, t19,
                                  t20] = s.target;
    [[maybe_unused]] const auto& [k1, k2, k3, k4, k5, k6, k7, k8, k9, k10, k11, k12] = s.target.pattern;
    [[maybe_unused]] const auto& [z1, z2] = s.target.texture;
    [[maybe_unused]] const auto& [j1, j2, j3, j4] = s.target.feed_marks;
    [[maybe_unused]] const auto& [aa1, aa2, aa3] = s.target.post;
    [[maybe_unused]] const auto& [o1, o2, o3, o4, o5] = s.target.segments;
    [[maybe_unused]] const auto& [v1, v2, v3, v4, v5, v6, v7, v8, v9, v10, v11, v12] = s.motion;
    [[maybe_unused]] const auto& [w1, w2, w3, w4, w5, w6, w7, w8, w9, w10, w11, w12] = s.thermal;
    [[maybe_unused]] const auto& [y1, y2, y3, y4, y5, y6, y7] = s.uncertainty;
    [[maybe_unused]] const auto& [a1, a2, a3] = s.target.step;
    [[maybe_unused]] const auto& [b1, b2, b3, b4] = s.target.cylinder;
    [[maybe_unused]] const auto& [f1, f2, f3] = s.target.sphere;
    [[maybe_unused]] const auto& [g1, g2, g3, g4] = s.target.groove;
    [[maybe_unused]] const auto& [h1, h2, h3, h4] = s.target.wave;
    [[maybe_unused]] const auto& [i1, i2, i3, i4] = s.target.relief;
    [[maybe_unused]] const auto& [p1, p2, p3, p4] = s.target.plate;
    [[maybe_unused]] const auto& [l1, l2, l3, l4, l5, l6, l7, l8, l9, l10, l11, l12, l13, l14, l15, l16, l17, l18, l19,
                                  l20, l21, l22, l23, l24, l25, l26, l27, l28, l29, l30, l31, l32, l33, l34, l35] =
        s.flight;
    [[maybe_unused]] const auto& [u1, u2, u3, u4, u5, u6, u7, u8, u9, u10, u11, u12, u13, u14, u15, u16, u17] =
        s.surroundings;
    [[maybe_unused]] const auto& [bc1, bc2, bc3, bc4, bc5, bc6, bc7, bc8] = s.neighbour;
    [[maybe_unused]] const auto& [r1, r2, r3, r4, r5, r6, r7, r8, r9, r10, r11, r12] = s.reading;
    [[maybe_unused]] const auto& [q1, q2, q3, q4, q5] = s.requirement;
    [[maybe_unused]] const auto& [n1, n2, n3, n4, n5, n6, n7] = s.run;
    CHECK(keys_in("mount") == 4);
    CHECK(keys_in("housing") == 5);
    CHECK(keys_in("emitter") == 11);
    CHECK(keys_in("receiver") == 16);
    CHECK(keys_in("making") == 5);
    CHECK(keys_in("cover") == 6);
    CHECK(keys_in("detector") == 11);
    CHECK(keys_in("exposure") == 7);
    CHECK(keys_in("target") == 7);  // and twelve sections
    CHECK(keys_in("target.step") == 3);
    CHECK(keys_in("target.cylinder") == 4);
    CHECK(keys_in("target.sphere") == 3);
    CHECK(keys_in("target.groove") == 4);
    CHECK(keys_in("target.wave") == 4);
    CHECK(keys_in("target.relief") == 3);
    CHECK(keys_in("target.plate") == 3);
    CHECK(keys_in("target.segments") == 4);
    CHECK(keys_in("target.post") == 3);
    CHECK(keys_in("target.pattern") == 10);
    CHECK(keys_in("target.texture") == 2);
    CHECK(keys_in("target.feed_marks") == 4);
    CHECK(keys_in("motion") == 11);
    CHECK(keys_in("thermal") == 12);
    CHECK(keys_in("uncertainty") == 7);
    CHECK(keys_in("flight") == 35);
    CHECK(keys_in("surroundings") == 16);
    CHECK(keys_in("neighbour") == 8);
    CHECK(keys_in("reading") == 11);
    CHECK(keys_in("requirement") == 5);
    CHECK(keys_in("run") == 7);
    CHECK(keys_in("") == 4);
}

TEST_CASE("another value of a key makes another sensor exactly where it is a sensor key", "[scenario][unit]") {
    const scenario::SensorKeys plain = scenario::sensor_keys(scenario::parse(minimal));
    for (const Key& key : scenario::schema()) {
        if (needs_company(key)) continue;
        const std::string text = line_for(key, other_value(key));
        INFO(text);
        const bool another = scenario::sensor_keys(scenario::parse(text)) != plain;
        CHECK(another == scenario::is_sensor_key(scenario::dotted(key)));
    }
}

TEST_CASE("every default lies within the limits of its key", "[scenario][unit]") {
    for (const Key& key : scenario::schema()) {
        if (!std::holds_alternative<scenario::NumberKey>(key.access)) continue;
        INFO(scenario::dotted(key));
        const double value = written_default(key);
        CHECK((key.limits.low_open ? value > key.limits.low : value >= key.limits.low));
        CHECK(value <= key.limits.high);
        CHECK_FALSE(key.meaning.empty());
    }
}

TEST_CASE("every key is read from the file, alone, in its unit, and its place is kept", "[scenario][unit]") {
    const Scenario plain = scenario::parse(minimal);
    for (const Key& key : scenario::schema()) {
        if (needs_company(key)) continue;
        const std::string text = line_for(key, other_value(key));
        INFO(text);
        const Scenario read = scenario::parse(text);
        for (const Key& each : scenario::schema()) {
            INFO(scenario::dotted(each));
            const auto* word = std::get_if<scenario::WordKey>(&each.access);
            const bool has_other = word == nullptr || word->words.size() > 1;
            CHECK((value_of(each, read) == value_of(each, plain)) == (&each != &key || !has_other));
        }
        const base::SourceLocation place = scenario::location_of(read, scenario::dotted(key));
        CHECK(place.line == (key.section.empty() ? 1 : key.section == "target" ? 3 : 4));
        CHECK(place.column == static_cast<int>(key.name.size()) + 4);
    }
}

TEST_CASE("a number is converted by the unit in its name and by nothing else", "[scenario][unit]") {
    for (const Key& key : scenario::schema()) {
        if (!std::holds_alternative<scenario::NumberKey>(key.access) || needs_company(key)) continue;
        INFO(scenario::dotted(key));
        const std::string written = other_value(key);
        Scenario read = scenario::parse(line_for(key, written));
        CHECK(std::get<scenario::NumberKey>(key.access).value(read) == si(key, std::stod(written)));
    }
    // One example by hand: 0.3 mW are 3e-4 W, 30 deg are pi/6, 20 C are 293.15 K.
    const Scenario s = scenario::parse(minimal);
    CHECK(s.emitter.power == 0.3 * 1e-3);
    CHECK(std::abs(s.receiver.angle - 0.52359877559829887) < 1e-16);
    CHECK(s.surroundings.temperature == 293.15);
}

TEST_CASE("keys that need each other are read together, and one alone is refused", "[scenario][unit]") {
    const std::string pieces = minimal + "[target.segments]\nmaterial = [\"mirror\", \"black-rubber\"]\n";
    const Scenario s = scenario::parse(pieces + "length_mm = [2.5, 4]\nheight_mm = [0, -0.5]\n");
    CHECK(s.target.segments.length == std::vector<double>{2.5 * base::mm, 4.0 * base::mm});
    CHECK(s.target.segments.height == std::vector<double>{0.0, -0.5 * base::mm});
    REQUIRE(s.target.segments.made_of.size() == 2);
    CHECK(s.target.segments.made_of[1].name == "black-rubber");
    CHECK_THROWS_WITH(scenario::parse(pieces), Catch::Contains("0 lengths for 2 materials"));
    CHECK_THROWS_WITH(scenario::parse(pieces + "length_mm = [1, 1]\nheight_mm = [0]\n"),
                      Catch::Contains("1 heights for 2 materials"));
    CHECK_THROWS_WITH(scenario::parse(minimal + "[target.segments]\nmaterial = [\"miror\"]\nlength_mm = [1]\n"),
                      Catch::Contains("no such material") && Catch::Contains("did you mean `mirror`?"));
    CHECK_THROWS_WITH(scenario::parse(minimal + "[target.segments]\nmaterial = [1, 2]\n"),
                      Catch::Contains("texts in quotes"));

    const std::string turning = "[motion]\nrotation_rpm = 90\neccentricity_um = 30\n";
    const Scenario shaft = scenario::parse(minimal + "shape = \"cylinder\"\n" + turning);
    CHECK(shaft.motion.rotation == 90.0 * (1.0 / 60.0));
    CHECK(shaft.motion.eccentricity == 30.0 * base::um);
    CHECK_THROWS_WITH(scenario::parse(minimal +
                                      "shape = \"cylinder\"\n[target.pattern]\nkind = \"bars\"\n"
                                      "material = \"black-ink\"\n" +
                                      turning),
                      Catch::Contains("target.pattern.kind") && Catch::Contains("does not turn with a cylinder") &&
                          Catch::Contains("target.segments, whose lengths lie around the cylinder"));
    CHECK_THROWS_WITH(scenario::parse(minimal + turning), Catch::Contains("only a convex cylinder turns"));
    CHECK_THROWS_WITH(scenario::parse(minimal + "[motion]\npath = \"nowhere.csv\"\n"), Catch::Contains("nowhere.csv"));
}

TEST_CASE("a whole number is accepted where a decimal is meant", "[scenario][unit]") {
    CHECK(scenario::parse(minimal + "[mount]\nreference_distance_mm = 60\nrange_mm = [-3, 4]\n").mount.range[1] ==
          4.0 * base::mm);
}

TEST_CASE("words and indices of the peak choice are read", "[scenario][unit]") {
    const auto choose = [](const std::string& value) {
        return scenario::parse(minimal + "[reading]\nchoose = " + value + "\n").reading.choose;
    };
    CHECK(choose("\"strongest\"").rule == scenario::PeakRule::strongest);
    CHECK(choose("\"nearest\"").rule == scenario::PeakRule::nearest);
    CHECK(choose("\"farthest\"").rule == scenario::PeakRule::farthest);
    CHECK(choose("2").rule == scenario::PeakRule::index);
    CHECK(choose("2").index == 2);
}

TEST_CASE("the tilt of the array is a number, or worked out", "[scenario][unit]") {
    const auto tilt = [](const std::string& value) {
        return scenario::parse(minimal + "[receiver]\ndetector_tilt_deg = " + value + "\n").receiver.detector_tilt;
    };
    CHECK_FALSE(tilt("\"scheimpflug\"").has_value());
    CHECK(tilt("0") == 0.0);
    CHECK(tilt("45.0") == 45.0 * base::degree);
}

TEST_CASE("the aperture is a diameter, or the two widths of a rectangle", "[scenario][unit]") {
    const auto aperture = [](const std::string& value) {
        return scenario::parse(minimal + "[receiver]\naperture_mm = " + value + "\n").receiver.aperture;
    };
    CHECK(aperture("3").shape == scenario::ApertureShape::round);
    CHECK(aperture("3").in_plane == 3.0 * base::mm);
    CHECK(aperture("3").out_of_plane == 3.0 * base::mm);
    CHECK(aperture("[4.0, 2]").shape == scenario::ApertureShape::rectangular);
    CHECK(aperture("[4.0, 2]").in_plane == 4.0 * base::mm);
    CHECK(aperture("[4.0, 2]").out_of_plane == 2.0 * base::mm);
    // A square is no disc.
    CHECK(aperture("[4, 4]").shape == scenario::ApertureShape::rectangular);
    const auto written = [](const std::string& value) {
        return scenario::to_toml(scenario::parse(minimal + "[receiver]\naperture_mm = " + value + "\n"));
    };
    CHECK(written("3").find("\naperture_mm = 3.0\n") != std::string::npos);
    CHECK(written("[4, 2.5]").find("\naperture_mm = [4.0, 2.5]\n") != std::string::npos);
}

TEST_CASE("a scenario written as TOML reads back to the same bits", "[scenario][unit][slow]") {
    std::mt19937_64 random(20240229);
    for (int i = 0; i < 400; ++i) {
        Scenario original = i == 0 ? scenario::parse(minimal) : random_scenario(random);
        original.sensor.clear();  // the text holds what these two give other keys
        original.mount.baseline.reset();
        const std::string text = scenario::to_toml(original);
        INFO(text);
        const Scenario back = scenario::parse(text);
        for (const Key& key : scenario::schema()) {
            INFO(scenario::dotted(key));
            REQUIRE(value_of(key, back) == value_of(key, original));
        }
        CHECK(scenario::to_toml(back) == text);
        CHECK(back.locations.size() == scenario::schema().size());
    }
}

TEST_CASE("written numbers are short where a short one will do", "[scenario][unit]") {
    const std::string text = scenario::to_toml(scenario::parse(minimal));
    for (const char* line : {"reference_distance_mm = 50.0\n", "wavelength_nm = 655.0\n", "power_mW = 0.3\n",
                             "angle_deg = 30.0\n", "temperature_C = 20.0\n", "waist_radius_um = [40.0, 40.0]\n",
                             "detector_tilt_deg = \"scheimpflug\"\n", "pixels = 1024\n", "schema = 1\n"}) {
        INFO(line);
        CHECK(text.find(line) != std::string::npos);
    }
}
