// Drawings as PDF, where the program was built with librsvg.
#pragma once

#include <string>
#include <string_view>

namespace spotwright::cli {

/// Whether `pdf_of` can do its work in this build.
[[nodiscard]] bool has_pdf();

/// A PDF of one page with the drawing in its own size on paper; text stays text.
/// @param svg  A drawing of ours.  @param title  For the file's properties.
/// @param date  ISO 8601; of the file's creation.
/// @throws InternalError  The drawing cannot be rendered, or `has_pdf` is false.
[[nodiscard]] std::string pdf_of(std::string_view svg, const std::string& title, const std::string& date);

}  // namespace spotwright::cli
