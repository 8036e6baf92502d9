#include "sim/record/date.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <charconv>
#include <cstdint>
#include <cstdlib>
#include <ctime>

#include "sim/base/errors.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

std::string current_date() {
    std::time_t when = std::time(nullptr);
    if (const char* fixed = std::getenv("SOURCE_DATE_EPOCH")) {  // reproducible files, see reproducible-builds.org
        constexpr std::int64_t end_of_year_9999 = 253402300799;
        const std::string text(fixed);
        std::int64_t seconds = -1;
        const auto parsed = std::from_chars(text.data(), text.data() + text.size(), seconds);
        if (parsed.ec != std::errc() || parsed.ptr != text.data() + text.size() || seconds < 0 ||
            seconds > end_of_year_9999) {
            base::SourceLocation place;
            place.file = "<environment>";
            place.key = "SOURCE_DATE_EPOCH";
            throw base::ScenarioError({{place, fmt::format("no such time: \"{}\"", one_line(text)),
                                        "whole seconds since 1970, up to the year 9999", ""}});
        }
        when = static_cast<std::time_t>(seconds);
    }
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(when));
}

}  // namespace spotwright::record
