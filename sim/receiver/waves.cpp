#include "sim/receiver/waves.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

WaveGrid make_wave_grid(std::size_t rows, std::size_t columns) {
    WaveGrid grid;
    grid.stride = (columns + wave_columns - 1) / wave_columns * wave_columns;
    grid.re.assign(rows * grid.stride, 0.0F);
    grid.im.assign(rows * grid.stride, 0.0F);
    return grid;
}

WaveTransform make_wave_transform(std::size_t size) {
    WaveTransform transform;
    transform.size = size;
    std::size_t rest = size;
    std::size_t stride = 1;
    for (const std::size_t radix : {4U, 2U, 3U, 5U}) {
        while (rest % radix == 0 && rest > 1) {
            const std::size_t count = rest / radix;
            transform.passes.push_back({radix, count, stride, transform.twiddles.size()});
            for (std::size_t p = 0; p < count; ++p) {
                for (std::size_t k = 1; k < radix; ++k) {
                    const double phase = -2.0 * base::pi * static_cast<double>(p * k) / static_cast<double>(rest);
                    transform.twiddles.push_back(static_cast<float>(std::cos(phase)));
                    transform.twiddles.push_back(static_cast<float>(std::sin(phase)));
                }
            }
            rest = count;
            stride *= radix;
        }
    }
    return transform;
}

WaveScratch make_wave_scratch(const WaveTrain& train) {
    const std::size_t longest = std::max(train.along.size, train.across.size);
    const std::size_t columns = (train.along.size + wave_columns - 1) / wave_columns * wave_columns;
    return {make_wave_grid(columns, train.pupil_rows.size()), make_wave_grid(3 * longest, wave_columns)};
}

}  // namespace spotwright::receiver
