#include "sim/drawing/dxf.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

#include "sim/base/errors.hpp"
#include "sim/record/text.hpp"

namespace spotwright::drawing {

namespace {

using Eigen::Vector2d;

// Pairs of lines: a code, which says what kind of value follows, and the value.
void put(std::string& out, int code, std::string_view value) {
    fmt::format_to(std::back_inserter(out), "{:3}\n{}\n", code, value);
}

void put(std::string& out, int code, int value) {
    put(out, code, fmt::format("{}", value));
}

void put(std::string& out, int code, double value) {
    if (!std::isfinite(value)) throw base::InternalError("a value of the drawing is not finite");
    constexpr double decimals = 1e6;
    put(out, code, fmt::format("{:.6f}", std::round(value * decimals) / decimals + 0.0));
}

const char* name_of(LineType type) {
    switch (type) {
        case LineType::dashed:
            return "DASHED";
        case LineType::chain:
            return "CHAIN";
        case LineType::solid:
            break;
    }
    return "CONTINUOUS";
}

// Dashes positive, gaps negative. [mm]
void line_type(std::string& out, LineType type, std::string_view description, std::span<const double> dashes) {
    put(out, 0, "LTYPE");
    put(out, 2, name_of(type));
    put(out, 70, 0);
    put(out, 3, description);
    put(out, 72, 65);
    put(out, 73, static_cast<int>(dashes.size()));
    double length = 0.0;
    for (const double dash : dashes) length += std::abs(dash);
    put(out, 40, length);
    for (const double dash : dashes) put(out, 49, dash);
}

void open_table(std::string& out, std::string_view name, std::size_t entries) {
    put(out, 0, "TABLE");
    put(out, 2, name);
    put(out, 70, static_cast<int>(entries));
}

// Code points of valid UTF-8.
std::vector<char32_t> code_points(std::string_view utf8) {
    std::vector<char32_t> points;
    for (const char c : utf8) {
        const auto byte = static_cast<unsigned char>(c);
        if ((byte & 0xC0U) == 0x80U && !points.empty()) {
            points.back() = (points.back() << 6U) | (byte & 0x3FU);
        } else {
            points.push_back(byte < 0x80U   ? byte
                             : byte < 0xE0U ? byte & 0x1FU
                             : byte < 0xF0U ? byte & 0x0FU
                                            : byte & 0x07U);
        }
    }
    return points;
}

std::string encoded(std::string_view words) {
    std::string text;
    for (const char32_t point : code_points(record::one_line(words))) {
        const auto value = static_cast<unsigned>(point);
        if (value < 0x80U) {
            text += static_cast<char>(value);
        } else {
            text += value > 0xFFFFU ? "?" : fmt::format("\\U+{:04X}", value);
        }
    }
    return text;
}

}  // namespace

DxfDrawing::DxfDrawing(std::vector<DxfLayer> layers) : layers_(std::move(layers)) {}

void DxfDrawing::head(std::string_view type, std::string_view layer) {
    const bool known = std::any_of(layers_.begin(), layers_.end(), [&](const DxfLayer& l) { return l.name == layer; });
    if (!known) throw base::InternalError(fmt::format("the drawing has no layer {}", layer));
    put(entities_, 0, type);
    put(entities_, 8, layer);
}

void DxfDrawing::place(int code, const Vector2d& at, bool counts) {
    put(entities_, code, at.x());
    put(entities_, code + 10, at.y());
    put(entities_, code + 20, 0.0);
    if (!counts) return;
    low_ = low_.cwiseMin(at);
    high_ = high_.cwiseMax(at);
}

void DxfDrawing::line(std::string_view layer, const Vector2d& from, const Vector2d& to) {
    head("LINE", layer);
    place(10, from);
    place(11, to);
}

void DxfDrawing::polyline(std::string_view layer, std::span<const Vector2d> points, bool closed) {
    head("POLYLINE", layer);
    put(entities_, 66, 1);
    place(10, {0.0, 0.0}, false);
    put(entities_, 70, closed ? 1 : 0);
    for (const Vector2d& point : points) {
        head("VERTEX", layer);
        place(10, point);
    }
    head("SEQEND", layer);
}

void DxfDrawing::circle(std::string_view layer, const Vector2d& centre, double radius) {
    head("CIRCLE", layer);
    place(10, centre);
    put(entities_, 40, radius);
}

void DxfDrawing::arc(std::string_view layer, const Vector2d& centre, double radius, double from_deg, double to_deg) {
    head("ARC", layer);
    place(10, centre);
    put(entities_, 40, radius);
    put(entities_, 50, from_deg);
    put(entities_, 51, to_deg);
}

void DxfDrawing::text(std::string_view layer, const Vector2d& at, double height, std::string_view words,
                      double turn_deg, bool centred) {
    head("TEXT", layer);
    place(10, at);
    put(entities_, 40, height);
    put(entities_, 1, encoded(words));
    put(entities_, 50, turn_deg);
    if (!centred) return;
    put(entities_, 72, 1);
    place(11, at);
}

std::string DxfDrawing::document() const {
    std::string out;
    put(out, 999, "1:1, lengths in millimetres");
    put(out, 0, "SECTION");
    put(out, 2, "HEADER");
    put(out, 9, "$ACADVER");
    put(out, 1, "AC1009");
    const bool is_empty = low_.x() > high_.x();
    for (const auto& [name, corner] : {std::pair("$EXTMIN", is_empty ? Vector2d(0.0, 0.0) : low_),
                                       std::pair("$EXTMAX", is_empty ? Vector2d(0.0, 0.0) : high_)}) {
        put(out, 9, name);
        put(out, 10, corner.x());
        put(out, 20, corner.y());
        put(out, 30, 0.0);
    }
    put(out, 0, "ENDSEC");
    put(out, 0, "SECTION");
    put(out, 2, "TABLES");
    open_table(out, "LTYPE", 3);
    line_type(out, LineType::solid, "solid", {});
    line_type(out, LineType::dashed, "dashed", std::array{3.0, -1.5});
    line_type(out, LineType::chain, "chain", std::array{6.0, -1.5, 0.5, -1.5});
    put(out, 0, "ENDTAB");
    open_table(out, "LAYER", layers_.size());
    for (const DxfLayer& layer : layers_) {
        put(out, 0, "LAYER");
        put(out, 2, layer.name);
        put(out, 70, 0);
        put(out, 62, layer.colour);
        put(out, 6, name_of(layer.line));
    }
    put(out, 0, "ENDTAB");
    put(out, 0, "ENDSEC");
    put(out, 0, "SECTION");
    put(out, 2, "ENTITIES");
    out += entities_;
    put(out, 0, "ENDSEC");
    put(out, 0, "EOF");
    return out;
}

}  // namespace spotwright::drawing
