#include <cairo-pdf.h>
#include <librsvg/rsvg.h>

#include <memory>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/cli/pdf.hpp"

namespace spotwright::cli {

namespace {

struct Release {
    void operator()(RsvgHandle* handle) const { g_object_unref(handle); }
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
    void operator()(cairo_t* context) const { cairo_destroy(context); }
    void operator()(GError* error) const { g_error_free(error); }
};

template <class T>
using Owned = std::unique_ptr<T, Release>;

cairo_status_t append(void* closure, const unsigned char* data, unsigned length) {
    static_cast<std::string*>(closure)->append(data, data + length);
    return CAIRO_STATUS_SUCCESS;
}

void fail_on(GError* error) {
    if (error == nullptr) return;
    const Owned<GError> owned(error);
    throw base::InternalError(std::string("the drawing does not become a PDF: ") + owned->message);
}

void fail_on(cairo_status_t status) {
    if (status == CAIRO_STATUS_SUCCESS) return;
    throw base::InternalError(std::string("the drawing does not become a PDF: ") + cairo_status_to_string(status));
}

}  // namespace

bool has_pdf() {
    return true;
}

std::string pdf_of(std::string_view svg, const std::string& title, const std::string& date) {
    // A4 in points of 1/72 inch, as all drawings.
    constexpr double points_per_mm = 72.0 / 25.4;
    constexpr double width = 297.0 * points_per_mm;
    constexpr double height = 210.0 * points_per_mm;
    GError* error = nullptr;
    const std::vector<unsigned char> bytes(svg.begin(), svg.end());
    const Owned<RsvgHandle> handle(rsvg_handle_new_from_data(bytes.data(), bytes.size(), &error));
    fail_on(error);
    std::string pdf;
    const Owned<cairo_surface_t> surface(cairo_pdf_surface_create_for_stream(append, &pdf, width, height));
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, title.c_str());
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATE_DATE, date.c_str());
    const Owned<cairo_t> context(cairo_create(surface.get()));
    const RsvgRectangle page{0.0, 0.0, width, height};
    rsvg_handle_render_document(handle.get(), context.get(), &page, &error);
    fail_on(error);
    cairo_show_page(context.get());
    fail_on(cairo_status(context.get()));
    cairo_surface_finish(surface.get());
    fail_on(cairo_surface_status(surface.get()));
    return pdf;
}

}  // namespace spotwright::cli
