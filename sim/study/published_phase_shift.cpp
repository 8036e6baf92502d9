#include "sim/study/published.hpp"

namespace spotwright::study {

std::vector<Check> phase_shift_checks(int /*threads*/) {
    return {};
}

}  // namespace spotwright::study
