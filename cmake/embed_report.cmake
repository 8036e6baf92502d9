# Writes OUTPUT, a C++ file that holds what every report carries: STYLE, SCRIPT, and how many published checks the
# page VALIDATION tells of.

# A text as a raw string. It will stand in a script or style element, which its end tag would close; `<!--` would keep it
# open.
function(literal_of file separator result)
  file(READ ${file} text)
  string(LENGTH "${text}" length)
  if(text MATCHES "<!--|</script|</style" OR length GREATER 30000)
    message(FATAL_ERROR "${file} cannot be embedded: it has <!--, </script or </style, or more characters than every "
                        "compiler takes in a literal")
  endif()
  set(${result} "R\"${separator}(${text})${separator}\"" PARENT_SCOPE)
  string(SHA256 hash "${text}")
  base64_of(${hash} base64)
  set(${result}_hash ${base64} PARENT_SCOPE)
endfunction()

# The 64 hexadecimal digits of a SHA-256 in base64 (RFC 4648): three digits make two characters, and the last makes one.
function(base64_of digits result)
  set(alphabet ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/)
  set(text "")
  foreach(begin RANGE 0 63 3)
    string(SUBSTRING "${digits}00" ${begin} 3 three)
    math(EXPR high "0x${three} >> 6")
    math(EXPR low "0x${three} & 63")
    string(SUBSTRING ${alphabet} ${high} 1 first)
    string(SUBSTRING ${alphabet} ${low} 1 second)
    string(APPEND text ${first}${second})
  endforeach()
  string(SUBSTRING ${text} 0 43 text)
  set(${result} "${text}=" PARENT_SCOPE)
endfunction()

literal_of(${STYLE} style style)
literal_of(${SCRIPT} script script)

file(READ ${VALIDATION} page LIMIT 2000)
if(NOT page MATCHES "([0-9]+) checks, ([0-9]+) failed")
  message(FATAL_ERROR "${VALIDATION} does not say how many checks there are")
endif()
set(made ${CMAKE_MATCH_1})
set(failed ${CMAKE_MATCH_2})

file(WRITE ${OUTPUT} "// Made by cmake/embed_report.cmake.
#include \"sim/report/embedded_report.hpp\"

namespace spotwright::report {

std::string_view report_style() {
    return ${style};
}

std::string_view report_script() {
    return ${script};
}

std::string_view style_hash() {
    return \"${style_hash}\";
}

std::string_view script_hash() {
    return \"${script_hash}\";
}

RecordedChecks recorded_checks() {
    return {${made}, ${failed}};
}

}  // namespace spotwright::report
")
