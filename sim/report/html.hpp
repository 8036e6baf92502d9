// Elements of a page in HTML. Every text is escaped here, except parameters that are stated to be markup.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace spotwright::report {

using TextRow = std::vector<std::string>;

/// A paragraph. @param kind  Class of the element; none when empty.
[[nodiscard]] std::string html_paragraph(std::string_view words, std::string_view kind = {});

/// A list with bullets; nothing without items.
[[nodiscard]] std::string html_list(const std::vector<std::string>& items);

/// A table with one head; columns in which every cell is a number or "none" are right-aligned.
/// A row of one cell heads a group of rows.
[[nodiscard]] std::string html_table(std::string_view caption, const TextRow& head, const std::vector<TextRow>& rows);

/// Content that opens on a click. @param kind  "whole" is open on paper, "data" left out. @param body  Markup.
[[nodiscard]] std::string html_details(std::string_view summary, std::string_view kind, std::string_view body);

/// A drawing made by `Canvas`, for a page with others: without its XML declaration, sized by the page's
/// style, its identifiers made its own, and described for those who do not see it.
/// @param prefix  Put before each identifier, unique within the page.
[[nodiscard]] std::string html_drawing(std::string_view svg, std::string_view prefix, std::string_view description);

/// The page with the signs of print in every text that people read (`base::typeset`): what stands in tags, styles,
/// scripts and preformatted text stays as it is.
[[nodiscard]] std::string typeset_page(std::string_view html);

}  // namespace spotwright::report
