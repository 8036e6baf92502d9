// Words that people mistype, and the text of errors.

#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/base/errors.hpp"
#include "sim/base/words.hpp"

using namespace spotwright::base;

TEST_CASE("the nearest word is the one with the fewest changes", "[base][unit]") {
    const std::vector<std::string> words{"pixels", "pitch_um", "height_um", "bits"};
    CHECK(nearest_word("pixels", words) == "pixels");
    CHECK(nearest_word("pixel", words) == "pixels");    // one missing
    CHECK(nearest_word("pixxels", words) == "pixels");  // one too many
    CHECK(nearest_word("pixals", words) == "pixels");   // one wrong
    CHECK(nearest_word("pitch_mm", words) == "pitch_um");
    CHECK(nearest_word("PITCH_UM", words) == "pitch_um");
    CHECK(nearest_word("bit", words) == "bits");
}

TEST_CASE("control characters become spaces, and nothing else changes", "[base][unit]") {
    CHECK(printable(std::string("a\0b\tc\nd\x7f\x1b[2J", 12)) == "a b c d  [2J");
    CHECK(printable("\u00B5m, \u6E2C") == "\u00B5m, \u6E2C");
    for (int c = 0; c < 256; ++c) CHECK(is_control(static_cast<char>(c)) == (c < 32 || c == 127));
}

TEST_CASE("nothing far-fetched is offered", "[base][unit]") {
    const std::vector<std::string> words{"pixels", "bits"};
    CHECK(nearest_word("temperature", words).empty());
    // A third of the length plus one: for six letters three changes are near enough, four are not.
    CHECK(nearest_word("pixabc", words) == "pixels");
    CHECK(nearest_word("piabcd", words).empty());
    CHECK(nearest_word("anything", std::vector<std::string>{}).empty());
    CHECK(nearest_word(std::string(65, 'x'), std::vector<std::string>{std::string(65, 'x')}).empty());
}

TEST_CASE("of equally near words the first is taken", "[base][unit]") {
    CHECK(nearest_word("cat", std::vector<std::string>{"bat", "hat"}) == "bat");
}

TEST_CASE("alternatives are listed as one would say them", "[base][unit]") {
    CHECK(alternatives(std::vector<std::string>{}).empty());
    CHECK(alternatives(std::vector<std::string>{"a"}) == "a");
    CHECK(alternatives(std::vector<std::string>{"a", "b"}) == "a or b");
    CHECK(alternatives(std::vector<std::string>{"a", "b", "c"}) == "a, b or c");
}

TEST_CASE("a problem is described with location, caret, what is allowed and a hint, as far as they are known",
          "[base][unit]") {
    const SourceLocation location{"job.toml", 12, 9, "mount.tilt_deg", "tilt_deg = 95"};
    CHECK(describe({location, "too steep", "less", "turn it"}) ==
          "job.toml:12:9: mount.tilt_deg: too steep\n"
          "   12 | tilt_deg = 95\n"
          "      |         ^ allowed: less\n"
          "  hint: turn it");
    CHECK(describe({{"<--set seed>", 0, 0, "seed", ""}, "negative", "0 or more", ""}) ==
          "<--set seed>: seed: negative\n  allowed: 0 or more");
    CHECK(describe({{"job.toml", 0, 0, "", ""}, "empty", "", ""}) == "job.toml: empty");
    CHECK(describe({{"job.toml", 3, 900, "a", "a = [1, 2"}, "cut", "b", ""}) ==
          "job.toml:3:900: a: cut\n    3 | a = [1, 2\n  allowed: b");
}

TEST_CASE("an error of several problems names them all, one after the other", "[base][unit]") {
    const ScenarioError error(
        {{{"a.toml", 0, 0, "x", ""}, "first", "", ""}, {{"a.toml", 0, 0, "y", ""}, "second", "", ""}});
    CHECK(std::string(error.what()) == "a.toml: x: first\na.toml: y: second");
    CHECK(error.problems().size() == 2);
}

TEST_CASE("errors of values and files say what, where and why", "[base][unit]") {
    CHECK(std::string(DomainError("angle", 2.5, "below 1").what()) == "angle is 2.5; allowed: below 1");
    const IoError full("write", "out.h5", "disk full", FileUse::output);
    CHECK(std::string(full.what()) == "cannot write out.h5: disk full");
    CHECK(full.use() == FileUse::output);
    const IoError missing("read", "a.toml", "no such file");
    CHECK(std::string(missing.what()) == "cannot read a.toml: no such file");
    CHECK(missing.use() == FileUse::input);
}

TEST_CASE("a length is told in the unit that people use for its size", "[base]") {
    CHECK(length_text(2.347e-6, 3) == "2.35 um");
    CHECK(length_text(-0.00065e-6, 4) == "-0.00065 um");
    CHECK(length_text(999e-6, 3) == "999 um");
    CHECK(length_text(999.6e-6, 3) == "1 mm");  // not "1e+03 um"
    CHECK(length_text(0.0336, 3) == "33.6 mm");
    CHECK(length_text(3e-15, 4) == "0 um");
    CHECK(length_text(0.0, 4) == "0 um");
}
