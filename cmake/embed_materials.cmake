# Writes OUTPUT, a C++ file that holds every material file of DIRECTORY as text.
file(GLOB files ${DIRECTORY}/*.toml)
list(SORT files)
set(entries "")
foreach(file IN LISTS files)
  get_filename_component(name ${file} NAME_WE)
  file(READ ${file} text)
  string(APPEND entries "    EmbeddedFile{\"${name}\", R\"toml(${text})toml\"},\n")
endforeach()
list(LENGTH files count)
file(WRITE ${OUTPUT} "// Made from scenarios/materials by cmake/embed_materials.cmake.
#include \"sim/scenario/embedded_materials.hpp\"

#include <array>

namespace spotwright::scenario {

std::span<const EmbeddedFile> embedded_materials() {
    static constexpr std::array<EmbeddedFile, ${count}> files{
${entries}    };
    return files;
}

}  // namespace spotwright::scenario
")
