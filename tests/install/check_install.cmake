# Installs BUILD under FOLDER, and builds a user's program against what is there: by find_package and by pkg-config.
# Both must tell the bias that the installed program tells.
# Wanted: BUILD, FOLDER, READER (sources of the user's program), VERSION, COMPILER, FLAGS, BUILD_TYPE, GENERATOR; PYTHON
# where the Python package is built.

set(prefix ${FOLDER}/prefix)
file(REMOVE_RECURSE ${FOLDER})

# Runs a command and gives what it prints.
function(run result)
  execute_process(COMMAND ${ARGN} OUTPUT_VARIABLE printed ERROR_VARIABLE complaints RESULT_VARIABLE code
                  OUTPUT_STRIP_TRAILING_WHITESPACE)
  if(NOT code EQUAL 0)
    message(FATAL_ERROR "${ARGN}: ${code}\n${printed}\n${complaints}")
  endif()
  set(${result} "${printed}" PARENT_SCOPE)
endfunction()

function(expect_bias from printed)
  if(NOT printed MATCHES "^bias_um (-?[0-9.e-]+)$" OR NOT CMAKE_MATCH_1 EQUAL bias)
    message(FATAL_ERROR "by ${from}: ${printed}, where the installed program tells ${bias}")
  endif()
endfunction()

run(ignored ${CMAKE_COMMAND} --install ${BUILD} --prefix ${prefix})

# The program, and what lies beside it.
set(scenario ${prefix}/share/spotwright/scenarios/01-white-tile.toml)
run(version ${prefix}/bin/spotwright --version)
string(REPLACE "." "\\." pattern "${VERSION}")
if(NOT version MATCHES "^spotwright ${pattern} \\(revision (unknown|[-+.~_A-Za-z0-9]+)\\)$")
  message(FATAL_ERROR "no version and revision: ${version}")
endif()
run(answer ${prefix}/bin/spotwright read ${scenario} --json)
if(NOT answer MATCHES "\"bias_um\": *(-?[0-9.e-]+)")
  message(FATAL_ERROR "no bias in ${answer}")
endif()
set(bias ${CMAKE_MATCH_1})
foreach(file LICENSE README.md CHANGELOG.md docs/README.md)
  if(NOT EXISTS ${prefix}/share/doc/spotwright/${file})
    message(FATAL_ERROR "not installed: ${file}")
  endif()
endforeach()

# By CMake: a station that computes, in a project without C, and one that writes files.
foreach(station measure report)
  run(ignored ${CMAKE_COMMAND} -S ${READER} -B ${FOLDER}/by-${station} -G ${GENERATOR} -DCMAKE_PREFIX_PATH=${prefix}
      -DSTATION=${station} -DCMAKE_CXX_COMPILER=${COMPILER} "-DCMAKE_CXX_FLAGS=${FLAGS}"
      -DCMAKE_BUILD_TYPE=${BUILD_TYPE})
endforeach()
run(ignored ${CMAKE_COMMAND} --build ${FOLDER}/by-measure)
run(printed ${FOLDER}/by-measure/reader ${scenario})
expect_bias(find_package "${printed}")

# By pkg-config.
find_program(PKG_CONFIG pkg-config REQUIRED)
set(ENV{PKG_CONFIG_PATH} ${prefix}/lib/pkgconfig:$ENV{PKG_CONFIG_PATH})
run(flags ${PKG_CONFIG} --cflags --libs --static spotwright)
separate_arguments(flags UNIX_COMMAND "${flags}")
separate_arguments(own_flags UNIX_COMMAND "${FLAGS}")
run(ignored ${COMPILER} ${own_flags} -std=c++20 ${READER}/main.cpp -o ${FOLDER}/by-pkg-config ${flags})
run(printed ${FOLDER}/by-pkg-config ${scenario})
expect_bias(pkg-config "${printed}")
run(version ${PKG_CONFIG} --modversion spotwright)
if(NOT version STREQUAL VERSION)
  message(FATAL_ERROR "pkg-config tells version ${version}")
endif()

# The Python package.
if(PYTHON)
  set(ENV{PYTHONPATH} ${prefix}/lib/python3/dist-packages)
  run(printed ${PYTHON} -c "import spotwright as sw\nprint('bias_um', sw.read(sw.load('${scenario}')).bias_um)")
  expect_bias(Python "${printed}")
endif()

file(REMOVE_RECURSE ${FOLDER})
