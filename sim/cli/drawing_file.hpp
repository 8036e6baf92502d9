// Drawings in the format that their file's name asks for.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace spotwright::cli {

/// Call it before long work. @param allowed  Extensions of the command; `.pdf` counts only in a build with it.
/// @return The extension.
/// @throws ScenarioError  Any other, with the allowed ones; `.pdf` in a build without it, which it says.
std::string checked_drawing(const std::string& file, const std::vector<std::string>& allowed);

/// Writes the whole of a file at once, as `.pdf` or as it is.
/// @param title  For the properties of a PDF.
/// @throws IoError
void write_drawing(const std::string& file, std::string_view svg, const std::string& title);

}  // namespace spotwright::cli
