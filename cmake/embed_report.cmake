# Writes OUTPUT, a C++ file that holds what every report carries: LIBRARY (charts), STYLE, SCRIPT, and how many published
# checks the page VALIDATION tells of.

# A text as pieces of raw strings, none longer than every compiler takes.
function(pieces_of file separator result)
  file(READ ${file} text)
  # The text will stand in a script or style element, which its end tag would close; `<!--` would keep it open.
  string(REPLACE "</script" "<\\/script" text "${text}")
  string(FIND "${text}" "<!--" comment)
  string(FIND "${text}" "</style" end_of_style)
  string(FIND "${text}" ")${separator}\"" end_of_literal)
  if(NOT comment EQUAL -1 OR NOT end_of_style EQUAL -1 OR NOT end_of_literal EQUAL -1)
    message(FATAL_ERROR "${file} has a text that cannot be embedded: <!--, </style or )${separator}\"")
  endif()
  string(LENGTH "${text}" left)
  set(begin 0)
  set(list "")
  while(left GREATER 0)
    string(SUBSTRING "${text}" ${begin} 30000 piece)
    string(APPEND list "        R\"${separator}(${piece})${separator}\",\n")
    math(EXPR begin "${begin} + 30000")
    math(EXPR left "${left} - 30000")
  endwhile()
  set(${result} "${list}" PARENT_SCOPE)
endfunction()

pieces_of(${LIBRARY} library library)
pieces_of(${STYLE} style style)
pieces_of(${SCRIPT} script script)

file(READ ${VALIDATION} page LIMIT 2000)
if(NOT page MATCHES "([0-9]+) checks, ([0-9]+) failed")
  message(FATAL_ERROR "${VALIDATION} does not say how many checks there are")
endif()
set(made ${CMAKE_MATCH_1})
set(failed ${CMAKE_MATCH_2})

file(WRITE ${OUTPUT} "// Made by cmake/embed_report.cmake.
#include \"sim/report/embedded_report.hpp\"

#include <array>

namespace spotwright::report {

std::span<const std::string_view> chart_library() {
    static constexpr auto pieces = std::to_array<std::string_view>({
${library}    });
    return pieces;
}

std::span<const std::string_view> report_style() {
    static constexpr auto pieces = std::to_array<std::string_view>({
${style}    });
    return pieces;
}

std::span<const std::string_view> report_script() {
    static constexpr auto pieces = std::to_array<std::string_view>({
${script}    });
    return pieces;
}

RecordedChecks recorded_checks() {
    return {${made}, ${failed}};
}

}  // namespace spotwright::report
")
