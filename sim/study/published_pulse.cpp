#include "sim/study/published.hpp"

namespace spotwright::study {

std::vector<Check> pulse_checks(int /*threads*/) {
    return {};
}

}  // namespace spotwright::study
