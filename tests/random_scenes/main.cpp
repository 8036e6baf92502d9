// Holds the spot model against rays on as many random scenes as wanted, of triangulation or of time of flight: the long
// form of the tests that CI runs on a few.
#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "random_scenes/compare_models.hpp"
#include "random_scenes/compare_timed.hpp"
#include "random_scenes/draw_scene.hpp"
#include "sim/scenario/reader.hpp"

namespace {

using namespace spotwright;

struct Tally {
    int agree = 0;
    int dark = 0;
    int blunt = 0;
    int fail = 0;
    std::vector<double> left_out;
    double spot_seconds = 0.0;
    double ray_seconds = 0.0;
    std::map<std::string, int> rejected;
};

void add(const test::DrawnScene& scene, const test::Comparison& c, Tally& tally) {
    for (const auto& [key, count] : scene.rejected_for) tally.rejected[key] += count;
    tally.spot_seconds += c.spot_seconds;
    tally.ray_seconds += c.ray_seconds;
    if (!c.sharp) ++tally.blunt;
    if (c.is_dark()) ++tally.dark;
    ++(c.agrees() ? tally.agree : tally.fail);
    if (!c.left_out) return;
    tally.left_out.push_back(*c.left_out);
}

void print_settings(const test::DrawnScene& scene) {
    fmt::print("   ");
    for (const std::string& setting : scene.settings) fmt::print(" --set '{}'", setting);
    fmt::print("\n");
}

int run(std::uint64_t seed, int count, int first, std::int64_t most_rays, std::int64_t most_rays_inside) {
    const std::filesystem::path folder = std::filesystem::temp_directory_path() / fmt::format("random-scenes-{}", seed);
    std::filesystem::create_directories(folder);
    test::ComparePlan plan;
    plan.scenes = count;
    plan.threads = 0;
    plan.most_rays = most_rays;
    plan.most_rays_inside = most_rays_inside;
    plan.measures_left_out = true;
    Tally tally;
    fmt::print("{}\n", test::comparison_heading());
    for (int index = first; index < first + count; ++index) {
        const test::DrawnScene scene = test::draw_scene(seed, index, folder);
        const test::Comparison c = test::compare_models(scene.scenario, plan);
        add(scene, c, tally);
        fmt::print("{}\n", test::describe(index, scene.scenario, c));
        if (!c.agrees() || count == 1) print_settings(scene);
        static_cast<void>(std::fflush(stdout));
    }
    int rejected = 0;
    for (const auto& [key, times] : tally.rejected) rejected += times;
    fmt::print(
        "\n{} scenes of seed {} from {}: {} agree ({} of them dark), {} fail; {} judged "
        "less sharply than asked for\n",
        count, seed, first, tally.agree, tally.dark, tally.fail, tally.blunt);
    fmt::print("allowed: 1 % of light and 0.05 px beyond {:.1f} standard errors, false alarm {:g} for all\n",
               test::allowed_errors(plan), plan.false_alarm);
    std::sort(tally.left_out.begin(), tally.left_out.end());
    if (!tally.left_out.empty()) {
        fmt::print(
            "left out by design (further meetings with the part or with what lies behind a plate), {} lit scenes "
            "where there is any: median {:+.1f} %, most {:+.1f} %\n",
            tally.left_out.size(), 100.0 * tally.left_out[tally.left_out.size() / 2], 100.0 * tally.left_out.back());
    }
    fmt::print("processor time: spot model {:.1f} s, ray model {:.1f} s\n", tally.spot_seconds, tally.ray_seconds);
    fmt::print("drawn anew because the program rejects them: {}", rejected);
    for (const auto& [key, times] : tally.rejected) fmt::print(", {} {}", key.empty() ? "(no key)" : key, times);
    fmt::print("\n");
    return tally.fail == 0 ? 0 : 1;
}

int run_timed(std::uint64_t seed, int count, int first, std::int64_t most_rays) {
    const std::filesystem::path folder =
        std::filesystem::temp_directory_path() / fmt::format("random-scenes-timed-{}", seed);
    std::filesystem::create_directories(folder);
    test::TimedPlan plan;
    plan.scenes = count;
    plan.threads = 0;
    plan.most_rays = most_rays;
    Tally tally;
    fmt::print("{}\n", test::timed_heading());
    for (int index = first; index < first + count; ++index) {
        const test::DrawnScene scene = test::draw_timed_scene(seed, index, folder);
        const test::TimedComparison c = test::compare_timed(scene.scenario, plan);
        for (const auto& [key, times] : scene.rejected_for) tally.rejected[key] += times;
        tally.spot_seconds += c.spot_seconds;
        tally.ray_seconds += c.ray_seconds;
        if (!c.sharp) ++tally.blunt;
        if (c.is_dark()) ++tally.dark;
        ++(c.agrees() ? tally.agree : tally.fail);
        fmt::print("{}\n", test::describe(index, scene.scenario, c));
        if (!c.agrees() || count == 1) print_settings(scene);
        static_cast<void>(std::fflush(stdout));
    }
    fmt::print(
        "\n{} time-of-flight scenes of seed {} from {}: {} agree ({} of them dark), {} fail; {} judged less sharply "
        "than asked for\n",
        count, seed, first, tally.agree, tally.dark, tally.fail, tally.blunt);
    fmt::print(
        "allowed: 1 % of light, 0.02 mm of mean and phase, 0.06 mm of spread and 1 % of the spread beyond {:.1f} "
        "standard errors, false alarm {:g} for all\n",
        test::allowed_errors(plan), plan.false_alarm);
    fmt::print("processor time: spot model {:.1f} s, rays {:.1f} s\n", tally.spot_seconds, tally.ray_seconds);
    fmt::print("drawn anew because the program rejects them:");
    for (const auto& [key, times] : tally.rejected) fmt::print(" {} {};", key.empty() ? "(no key)" : key, times);
    fmt::print("\n");
    return tally.fail == 0 ? 0 : 1;
}

// A scenario of one's own.
int compare_file(const std::filesystem::path& file, const std::vector<std::string>& settings) {
    const scenario::Scenario scenario = scenario::load(file, settings);
    if (scenario::abilities_of(scenario.principle).timing) {
        test::TimedPlan timed;
        timed.threads = 0;
        const test::TimedComparison c = test::compare_timed(scenario, timed);
        fmt::print("{}\n{}\n", test::timed_heading(), test::describe(0, scenario, c));
        return c.agrees() ? 0 : 1;
    }
    test::ComparePlan plan;
    plan.threads = 0;
    plan.most_rays_inside = std::int64_t{1} << 17;  // a dense white takes minutes
    const test::Comparison c = test::compare_models(scenario, plan);
    fmt::print("{}\n{}\n", test::comparison_heading(), test::describe(0, scenario, c));
    return c.agrees() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    std::vector<std::string> words(argv + 1, argv + argc);
    const bool is_file = !words.empty() && words.front().ends_with(".toml");
    const bool timed = !words.empty() && words.front() == "flight";
    if (timed) words.erase(words.begin());
    if (!is_file && (words.size() < 2 || words.size() > (timed ? 4 : 5))) {
        fmt::print(stderr,
                   "usage: random_scenes SEED COUNT [FIRST] [MOST_RAYS] [MOST_RAYS_INSIDE]\n"
                   "       random_scenes flight SEED COUNT [FIRST] [MOST_RAYS]\n"
                   "       random_scenes SCENARIO.toml [KEY=VALUE ...]\n");
        return 2;
    }
    try {
        if (is_file) return compare_file(words.front(), {words.begin() + 1, words.end()});
        const auto number = [&words](std::size_t i, std::int64_t otherwise) {
            return i < words.size() ? std::atoll(words[i].c_str()) : otherwise;
        };
        const std::uint64_t seed = std::strtoull(words[0].c_str(), nullptr, 10);
        const int count = std::max(1, static_cast<int>(number(1, 1)));
        const int first = static_cast<int>(number(2, 0));
        const std::int64_t most_rays = number(3, std::int64_t{1} << 22);
        if (timed) return run_timed(seed, count, first, most_rays);
        return run(seed, count, first, most_rays, number(4, most_rays));
    } catch (const std::exception& error) {
        fmt::print(stderr, "{}\n", error.what());
        return 3;
    }
}
