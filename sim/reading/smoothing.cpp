#include "sim/reading/smoothing.hpp"

#include <boost/circular_buffer.hpp>

#include <algorithm>
#include <numeric>
#include <vector>

namespace spotwright::reading {

namespace {

// Median of the last n values; the window is also kept sorted, so a step costs one insertion.
class MovingMedian {
public:
    explicit MovingMedian(std::size_t length) : window_(length) { sorted_.reserve(length); }

    double push(double value) {
        if (window_.full()) sorted_.erase(std::lower_bound(sorted_.begin(), sorted_.end(), window_.front()));
        window_.push_back(value);
        sorted_.insert(std::upper_bound(sorted_.begin(), sorted_.end(), value), value);
        const std::size_t n = sorted_.size();
        return n % 2 == 1 ? sorted_[n / 2] : 0.5 * (sorted_[n / 2 - 1] + sorted_[n / 2]);
    }

private:
    boost::circular_buffer<double> window_;
    std::vector<double> sorted_;
};

// Mean of the last n values. The running sum is made anew each time the window has been replaced, so that rounding
// does not build up over long series.
class MovingAverage {
public:
    explicit MovingAverage(std::size_t length) : window_(length) {}

    double push(double value) {
        if (window_.full()) sum_ -= window_.front();
        window_.push_back(value);
        sum_ += value;
        if (++since_resummed_ == window_.capacity()) {
            sum_ = std::accumulate(window_.begin(), window_.end(), 0.0);
            since_resummed_ = 0;
        }
        return sum_ / static_cast<double>(window_.size());
    }

private:
    boost::circular_buffer<double> window_;
    double sum_ = 0.0;
    std::size_t since_resummed_ = 0;
};

}  // namespace

struct Smoother::State {
    explicit State(const scenario::Reading& options)
        : median(static_cast<std::size_t>(options.median)),
          average(static_cast<std::size_t>(options.average)),
          median_length(options.median),
          average_length(options.average),
          on_invalid(options.on_invalid),
          to_settle(options.average + options.median - 1) {}

    MovingMedian median;
    MovingAverage average;
    std::int64_t median_length;
    std::int64_t average_length;
    scenario::OnInvalid on_invalid;
    std::int64_t to_settle;
    std::optional<double> last;
};

Smoother::Smoother(const scenario::Reading& options) : state_(std::make_unique<State>(options)) {}
Smoother::~Smoother() = default;
Smoother::Smoother(Smoother&&) noexcept = default;
Smoother& Smoother::operator=(Smoother&&) noexcept = default;

std::optional<double> Smoother::push(std::optional<double> displacement) {
    State& s = *state_;
    if (!displacement) return s.on_invalid == scenario::OnInvalid::hold ? s.last : std::nullopt;
    double value = *displacement;
    if (s.median_length > 1) value = s.median.push(value);
    if (s.average_length > 1) value = s.average.push(value);
    s.to_settle = std::max<std::int64_t>(s.to_settle - 1, 0);
    s.last = value;
    return value;
}

std::int64_t Smoother::readings_to_settle() const {
    return state_->to_settle;
}

// Equation (reading.8).
std::int64_t step_response_readings(const scenario::Reading& options) {
    return (options.median - 1) / 2 + options.average;
}

}  // namespace spotwright::reading
