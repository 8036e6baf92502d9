// The table of published checks as a page of the documentation.
#pragma once

#include <string>
#include <vector>

#include "sim/study/published.hpp"

namespace spotwright::record {

/// Markdown, one table per subject (the part of the id before the first dot). The same checks give the same bytes.
[[nodiscard]] std::string validation_page(const std::vector<study::Check>& checks);

}  // namespace spotwright::record
