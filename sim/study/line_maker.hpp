// Makes the lines of a budget one after another; for budget_lines.cpp and budget_noise.cpp alone.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "sim/measure/cause.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/budget_lines.hpp"
#include "sim/study/real_error.hpp"

namespace spotwright::study {

using measure::Cause;

struct ErrorMoments {
    double mean = 0.0;
    double deviation = 0.0;
};

// Words of a line, and of the error where it cannot be had.
struct Doubt {
    Cause cause;
    const char* key;
    const char* obstacle;
    std::string basis;
};

class LineMaker {
public:
    LineMaker(const ErrorModel& model, const std::vector<MaterialEffect>& material, int threads)
        : model_(model),
          material_(material),
          s_(sensor::scenario_of(model.setup())),
          nominal_(nominal_draw(s_)),
          threads_(threads) {}

    std::vector<BudgetLine> lines();

private:
    void add(Cause cause, Evaluation evaluation, const ErrorMoments& moments, double freedom, std::string basis) {
        lines_.push_back({cause,
                          {std::string(name_of(cause)), evaluation, real_error(moments.deviation), freedom},
                          real_error(moments.mean),
                          std::move(basis)});
    }
    ErrorMoments over(const std::vector<std::pair<Draw, double>>& draws, const std::string& key,
                      const std::string& what) const;
    void add_noise(const sensor::TriangulationSetup& setup);
    void add_noise(const sensor::FlightSetup& setup);
    void add_series(Cause cause, double period, const measure::TakeReading& take);
    void add_background(const sensor::TriangulationSetup& setup, const sensor::Pose& pose);
    void add_digitising(const sensor::TriangulationSetup& setup);
    void add_speckle();
    void add_part();
    void add_tilt();
    void add_markings();
    void add_material();
    void add_inside();
    void add_doubt(double Draw::*what, double half_width, const Doubt& doubt);
    void add_flicker();
    void add_surroundings();
    void add_motion();
    void add_around();
    void add_making();

    const ErrorModel& model_;
    const std::vector<MaterialEffect>& material_;
    const scenario::Scenario& s_;
    Draw nominal_;
    int threads_;
    double base_ = 0.0;  // error at the nominal draw. [m]
    std::vector<BudgetLine> lines_;
};

}  // namespace spotwright::study
