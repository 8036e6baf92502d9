#include "sim/report/series_trace.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/reading/smoothing.hpp"

namespace spotwright::report {

Thinning::Thinning(std::int64_t values, std::int64_t most) {
    if (values > most) {
        const std::int64_t pairs = std::max<std::int64_t>(1, most / 2);
        stretch_ = (values + pairs - 1) / pairs;
    }
}

void Thinning::add(double value) {
    const std::int64_t index = next_++;
    const std::int64_t start = index - index % stretch_;
    if (std::isnan(value)) {
        ++missing_;
        if (with_missing_.empty() || with_missing_.back() != start) with_missing_.push_back(start);
    } else if (!any_) {
        least_ = greatest_ = {index, value};
        any_ = true;
    } else {
        if (value < least_.value) least_ = {index, value};
        if (value > greatest_.value) greatest_ = {index, value};
    }
    if (next_ % stretch_ == 0) {
        end_stretch(points_);
        any_ = false;
    }
}

void Thinning::end_stretch(std::vector<TracePoint>& points) const {
    if (!any_) {
        points.push_back({(next_ - 1) - (next_ - 1) % stretch_, std::numeric_limits<double>::quiet_NaN()});
        return;
    }
    const bool falls = greatest_.reading < least_.reading;
    points.push_back(falls ? greatest_ : least_);
    if (greatest_.reading != least_.reading) points.push_back(falls ? least_ : greatest_);
}

std::vector<TracePoint> Thinning::points() const {
    std::vector<TracePoint> points = points_;
    if (next_ % stretch_ != 0) end_stretch(points);
    return points;
}

SeriesCollector::SeriesCollector(const scenario::Scenario& scenario)
    : readings_(scenario.run.readings),
      to_settle_(reading::Smoother(scenario.reading).readings_to_settle()),
      output_(scenario.run.readings) {}

void SeriesCollector::add(const measure::SeriesBlock& block) {
    period_ = block.period;
    const bool moves = !block.moment.empty();
    if (moves && !truth_) truth_.emplace(readings_);
    for (std::size_t i = 0; i < block.output.size(); ++i) {
        output_.add(block.output[i]);
        if (moves) truth_->add(block.moment[i].truth);
        const bool valid = block.validity[i] == reading::Validity::valid;
        if (valid && to_settle_ > 0) --to_settle_;
        if (to_settle_ > 0 || outputs_.size() == most_kept) continue;
        const double truth = moves ? block.moment[i].truth : 0.0;
        outputs_.push_back(valid ? block.output[i] - truth : std::numeric_limits<double>::quiet_NaN());
    }
}

SeriesTrace SeriesCollector::trace() const {
    SeriesTrace trace;
    trace.readings = readings_;
    trace.period = period_;
    trace.stretch = output_.stretch();
    trace.missing = output_.missing();
    trace.output = output_.points();
    trace.with_missing = output_.with_missing();
    if (truth_) trace.truth = truth_->points();
    return trace;
}

bool SeriesCollector::whole() const {
    return readings_ <= static_cast<std::int64_t>(most_kept);
}

}  // namespace spotwright::report
