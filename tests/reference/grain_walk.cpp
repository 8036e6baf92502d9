// By how much grains whose scattering differs shift the centroid of a spot: photons traced through a random medium. A
// program by itself that shares no code with the simulator; docs/theory/speckle.md quotes its figures.
//
//     g++ -O2 grain_walk.cpp -o grain_walk
//     ./grain_walk GRAIN_MM VARIATION SPOT_MM WINDOW_MM MEDIA PHOTONS SEED
//
// The medium is made of cubes that scatter (1 + v) or (1 - v) times 2.19 per mm, to all sides, without a change of
// index; absorption 0.02 per mm. Each medium is looked at by two sets of photons: the product of their centroids has
// the mean square of what the medium does, without the photons' own noise.
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <random>

namespace {

constexpr double scattering = 2.19;  // 1/mm
constexpr double absorption = 0.02;  // 1/mm

using Random = std::mt19937_64;

double uniform(Random& random) {
    return std::uniform_real_distribution<double>()(random);
}

std::uint64_t mixed(std::uint64_t x) {
    x = (x ^ (x >> 33)) * 0xff51afd7ed558ccdULL;
    x = (x ^ (x >> 33)) * 0xc4ceb9fe1a85ec53ULL;
    return x ^ (x >> 33);
}

struct Medium {
    double grain;      // mm
    double variation;  // of scattering
    std::uint64_t seed;
    double offset[3];

    double relative(const double (&place)[3]) const {
        std::uint64_t hash = seed;
        for (int i = 0; i < 3; ++i) {
            const auto cell = static_cast<std::int64_t>(std::floor(place[i] / grain + offset[i]));
            hash = mixed(hash ^ static_cast<std::uint64_t>(cell * 73856093 + i));
        }
        return (hash & 1) != 0 ? 1.0 + variation : 1.0 - variation;
    }
};

struct Exit {
    double x;
    double y;
    double weight;
};

// Steps for the densest cubes; a scatter happens with the share of the cube it falls into.
std::optional<Exit> trace(Random& random, const Medium& medium, double x, double y) {
    double place[3] = {x, y, 0.0};
    double way[3] = {0.0, 0.0, 1.0};
    double weight = 1.0;
    const double densest = scattering * (1.0 + medium.variation);
    while (weight > 1e-3) {
        double step = -std::log(1.0 - uniform(random)) / densest;
        const bool leaves = place[2] + step * way[2] < 0.0;
        if (leaves) step = -place[2] / way[2];
        for (int i = 0; i < 3; ++i) place[i] += step * way[i];
        weight *= std::exp(-absorption * step);
        if (leaves) return Exit{place[0], place[1], weight};
        if (uniform(random) * (1.0 + medium.variation) >= medium.relative(place)) continue;
        way[2] = 2.0 * uniform(random) - 1.0;
        const double sine = std::sqrt(1.0 - way[2] * way[2]);
        const double angle = 6.283185307179586 * uniform(random);
        way[0] = sine * std::cos(angle);
        way[1] = sine * std::sin(angle);
    }
    return std::nullopt;
}

}  // namespace

int main(int count, char** words) {
    if (count != 8) return std::fprintf(stderr, "seven numbers, see the head of this file\n"), 2;
    const auto number = [words](int i) { return std::atof(words[i]); };
    const double spot = number(3);
    const double window = number(4);
    const int media = std::atoi(words[5]);
    const int photons = std::atoi(words[6]);
    Random random(static_cast<std::uint64_t>(std::atoll(words[7])));
    std::normal_distribution<double> normal;
    double sum = 0.0;
    double squares = 0.0;
    double spread = 0.0;
    double light = 0.0;
    for (int m = 0; m < media; ++m) {
        const Medium medium{number(1), number(2), random(), {uniform(random), uniform(random), uniform(random)}};
        double product = 1.0;
        for (int half = 0; half < 2; ++half) {
            double weight = 0.0;
            double moment = 0.0;
            for (int i = 0; i < photons; ++i) {
                const double x = spot * normal(random);
                const auto exit = trace(random, medium, x, spot * normal(random));
                if (!exit || std::abs(exit->x) > window || std::abs(exit->y) > window) continue;
                weight += exit->weight;
                moment += exit->weight * exit->x;
                spread += exit->weight * exit->x * exit->x;
                light += exit->weight;
            }
            product *= moment / weight;
        }
        sum += product;
        squares += product * product;
    }
    const double mean = sum / media;
    const double error = std::sqrt((squares / media - mean * mean) / media);
    std::printf("mean square of the centroid %.3g +- %.2g um2; light on the face, standard deviation %.3f mm\n",
                1e6 * mean, 1e6 * error, std::sqrt(spread / light));
}
