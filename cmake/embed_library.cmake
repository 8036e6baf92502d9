# Writes OUTPUT, a C++ file that holds every TOML file of DIRECTORY as text: the function FUNCTION of
# sim/scenario/embedded_library.hpp.
file(GLOB files ${DIRECTORY}/*.toml)
list(SORT files)
set(entries "")
foreach(file IN LISTS files)
  get_filename_component(name ${file} NAME_WE)
  file(READ ${file} text)
  string(APPEND entries "    EmbeddedFile{\"${name}\", R\"toml(${text})toml\"},\n")
endforeach()
list(LENGTH files count)
file(WRITE ${OUTPUT} "// Made by cmake/embed_library.cmake from a folder of scenarios/.
#include \"sim/scenario/embedded_library.hpp\"

#include <array>

namespace spotwright::scenario {

std::span<const EmbeddedFile> ${FUNCTION}() {
    static constexpr std::array<EmbeddedFile, ${count}> files{
${entries}    };
    return files;
}

}  // namespace spotwright::scenario
")
