#include "sim/report/html.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "sim/base/errors.hpp"
#include "sim/base/typeset.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::report {

namespace {

bool looks_like_number(const std::string& cell) {
    const std::size_t start = cell.find_first_not_of("+-~<> ");
    if (cell.rfind("\u2212", 0) == 0) return true;
    return start != std::string::npos && std::isdigit(static_cast<unsigned char>(cell[start])) != 0 &&
           cell.find_first_not_of("0123456789.eE+-~<> \xE2\x88\x92%") == std::string::npos;
}

std::vector<bool> numeric_columns(std::size_t columns, const std::vector<TextRow>& rows) {
    std::vector<bool> numeric(columns, false);
    for (std::size_t column = 0; column < columns; ++column) {
        const auto fits = [column](const TextRow& row) {
            return row.size() <= 1 || row[column].empty() || row[column] == "none" || row[column] == "infinite" ||
                   looks_like_number(row[column]);
        };
        const auto is_number = [column](const TextRow& row) {
            return row.size() > 1 && looks_like_number(row[column]);
        };
        numeric[column] =
            std::all_of(rows.begin(), rows.end(), fits) && std::any_of(rows.begin(), rows.end(), is_number);
    }
    return numeric;
}

}  // namespace

std::string html_paragraph(std::string_view words, std::string_view kind) {
    if (kind.empty()) return fmt::format("<p>{}</p>\n", drawing::escape(words));
    return fmt::format("<p class=\"{}\">{}</p>\n", kind, drawing::escape(words));
}

std::string html_list(const std::vector<std::string>& items) {
    if (items.empty()) return {};
    std::string text = "<ul>\n";
    for (const std::string& item : items) text += fmt::format("<li>{}</li>\n", drawing::escape(item));
    return text + "</ul>\n";
}

std::string html_table(std::string_view caption, const TextRow& head, const std::vector<TextRow>& rows) {
    const std::vector<bool> numeric = numeric_columns(head.size(), rows);
    std::string text = "<table>\n";
    if (!caption.empty()) text += fmt::format("<caption>{}</caption>\n", drawing::escape(caption));
    text += "<thead><tr>";
    for (std::size_t i = 0; i < head.size(); ++i) {
        text +=
            fmt::format("<th scope=\"col\"{}>{}</th>", numeric[i] ? " class=\"number\"" : "", drawing::escape(head[i]));
    }
    text += "</tr></thead>\n<tbody>\n";
    for (const TextRow& row : rows) {
        if (row.size() == 1) {
            text += fmt::format("<tr class=\"group\"><th scope=\"rowgroup\" colspan=\"{}\">{}</th></tr>\n", head.size(),
                                drawing::escape(row.front()));
            continue;
        }
        if (row.size() != head.size()) throw base::InternalError("a row of a table has other columns than its head");
        text += "<tr>";
        for (std::size_t i = 0; i < row.size(); ++i) {
            if (i == 0 && !numeric[i]) {
                text += fmt::format("<th scope=\"row\">{}</th>", drawing::escape(row[i]));
            } else {
                text += fmt::format("<td{}>{}</td>", numeric[i] ? " class=\"number\"" : "", drawing::escape(row[i]));
            }
        }
        text += "</tr>\n";
    }
    return text + "</tbody></table>\n";
}

std::string html_details(std::string_view summary, std::string_view kind, std::string_view body) {
    return fmt::format("<details class=\"{}\"><summary>{}</summary>\n{}</details>\n", kind, drawing::escape(summary),
                       body);
}

std::string html_drawing(std::string_view svg, std::string_view prefix, std::string_view description) {
    const std::size_t start = svg.find("<svg ");
    if (start == std::string_view::npos) throw base::InternalError("a drawing of the report is no SVG");
    std::string text =
        fmt::format("<svg class=\"sheet\" role=\"img\" aria-label=\"{}\" ", drawing::escape(description));
    // Within tags alone: a text may say anything. Values of attributes are escaped, so `>` ends a tag.
    for (std::size_t at = start + std::string_view("<svg ").size(); at < svg.size();) {
        const std::size_t end = std::min(svg.find('>', at), svg.size() - 1);
        std::string_view tag = svg.substr(at, end + 1 - at);
        constexpr std::string_view identifier = "id=\"";
        for (std::size_t found = tag.find(identifier); found != std::string_view::npos; found = tag.find(identifier)) {
            const bool whole_name = found == 0 || tag[found - 1] == ' ';
            text += tag.substr(0, found + identifier.size());
            if (whole_name) text += prefix;
            tag.remove_prefix(found + identifier.size());
        }
        text += tag;
        const std::size_t next = std::min(svg.find('<', end), svg.size());
        text += svg.substr(end + 1, next - end - 1);
        at = next;
    }
    return text;
}

std::string typeset_page(std::string_view html) {
    std::string text;
    text.reserve(html.size() + html.size() / 16);
    for (std::size_t at = 0; at < html.size();) {
        const std::size_t tag = std::min(html.find('<', at), html.size());
        text += base::typeset(html.substr(at, tag - at));
        if (tag == html.size()) break;
        std::size_t end = std::min(html.find('>', tag), html.size() - 1) + 1;
        for (const std::string_view whole : {"style", "script", "pre"}) {
            if (html.substr(tag + 1, whole.size()) != whole) continue;
            const std::string close = fmt::format("</{}>", whole);
            end = std::min(html.find(close, end), html.size() - close.size()) + close.size();
        }
        text += html.substr(tag, end - tag);
        at = end;
    }
    return text;
}

}  // namespace spotwright::report
