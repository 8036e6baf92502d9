#include "sim/cli/drawing_file.hpp"

#include <algorithm>
#include <filesystem>

#include "sim/base/errors.hpp"
#include "sim/cli/pdf.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/date.hpp"

namespace spotwright::cli {

std::string checked_drawing(const std::string& file, const std::vector<std::string>& allowed) {
    std::string extension = record::checked_extension(file, allowed);
    if (extension != ".pdf" || has_pdf()) return extension;
    std::vector<std::string> others = allowed;
    std::erase(others, ".pdf");
    base::SourceLocation place;
    place.file = file;
    throw base::ScenarioError({{place, "this program was built without librsvg, which writes PDF",
                                base::alternatives(others), "install librsvg2-dev and build again"}});
}

void write_drawing(const std::string& file, std::string_view svg, const std::string& title) {
    if (std::filesystem::path(file).extension() != ".pdf") {
        record::write_text_file(file, svg);
        return;
    }
    record::write_text_file(file, pdf_of(svg, title, record::current_date()));
}

}  // namespace spotwright::cli
