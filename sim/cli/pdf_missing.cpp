#include "sim/base/errors.hpp"
#include "sim/cli/pdf.hpp"

namespace spotwright::cli {

bool has_pdf() {
    return false;
}

std::string pdf_of(std::string_view, const std::string&, const std::string&) {
    throw base::InternalError("this program was built without librsvg, which writes PDF");
}

}  // namespace spotwright::cli
