# Writes OUTPUT, a C++ file that holds VERSION and the revision of SOURCE: REVISION where that is given, else what git
# says, else `unknown`. A file that would not change is left alone, so that nothing is compiled again.
set(revision "${REVISION}")
# A folder above, of which the sources are no part, may be a checkout of something else.
if(NOT revision AND GIT AND EXISTS ${SOURCE}/.git)
  execute_process(COMMAND ${GIT} --no-optional-locks -C ${SOURCE} describe --always --dirty --abbrev=10 --exclude=*
                  OUTPUT_VARIABLE revision OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET RESULT_VARIABLE failed)
  if(failed)
    set(revision "")
  endif()
endif()
if(NOT revision)
  set(revision unknown)
endif()
if(NOT revision MATCHES "^[-+.~_A-Za-z0-9]+$")
  message(FATAL_ERROR "no name of a revision: ${revision}")
endif()
file(CONFIGURE OUTPUT ${OUTPUT} @ONLY CONTENT [[
// Made by cmake/write_version.cmake.
#include "sim/base/version.hpp"

namespace spotwright::base {

std::string_view version() {
    return "@VERSION@";
}

std::string_view revision() {
    return "@revision@";
}

}  // namespace spotwright::base
]])
