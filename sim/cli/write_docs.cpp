// For developers: writes the pages of docs/ that are made from the program, and the keys of tests/fuzz.
#include <fmt/format.h>

#include <string>

#include "sim/base/errors.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/pages.hpp"
#include "sim/validation/experiments.hpp"
#include "sim/validation/published.hpp"

int main(int argc, char** argv) {
    using namespace spotwright;
    if (argc != 2) {
        fmt::print(stderr, "usage: write_docs FOLDER\n");
        return 2;
    }
    const std::string folder = argv[1];
    try {
        record::write_text_file(folder + "/validation.md",
                                record::validation_page(validation::published_checks(0), validation::experiments(0)));
        record::write_text_file(folder + "/scenario.md", record::scenario_page());
        record::write_text_file(folder + "/materials.md", record::materials_page());
        record::write_text_file(folder + "/../tests/fuzz/keys.dict", record::fuzz_dictionary());
    } catch (const base::Error& error) {
        fmt::print(stderr, "{}\n", error.what());
        return 3;
    }
    return 0;
}
