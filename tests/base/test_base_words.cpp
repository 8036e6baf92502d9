// Words that people mistype, and the text of errors.

#include <algorithm>
#include <limits>
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

TEST_CASE("an uncertainty shows two significant digits, whatever rounding does to it", "[base][unit]") {
    CHECK(two_digits(0.0995) == "0.10");  // not "0.100", nor "0.1"
    CHECK(two_digits(0.0994) == "0.099");
    CHECK(two_digits(9.96) == "10");  // not "10.0"
    CHECK(two_digits(9.94) == "9.9");
    CHECK(two_digits(99.6) == "100");
    CHECK(two_digits(123.0) == "120");
    CHECK(two_digits(2.0) == "2.0");
    CHECK(two_digits(-0.25) == "-0.25");
    CHECK(two_digits(0.0) == "0");
    CHECK(two_digits(1e-8) == "0.000000010");
    CHECK(two_digits(1e-300) == "0");  // no three hundred zeros
    CHECK(two_digits(1e300) == "1e+300");
    CHECK(two_digits(std::numeric_limits<double>::infinity()) == "inf");
    CHECK(two_digits(std::numeric_limits<double>::quiet_NaN()) == "nan");
}

TEST_CASE("an uncertainty of a length has the unit of its rounded size", "[base][unit]") {
    CHECK(uncertainty_text(2.347e-6) == "2.3 um");
    CHECK(uncertainty_text(0.0996e-6) == "0.10 um");
    CHECK(uncertainty_text(9.96e-6) == "10 um");
    CHECK(uncertainty_text(994e-6) == "990 um");
    CHECK(uncertainty_text(996e-6) == "1.0 mm");  // not "1000 um"
    CHECK(uncertainty_text(0.0336) == "34 mm");
    CHECK(uncertainty_text(0.0) == "0 um");
    CHECK(uncertainty_text(1e-300) == "0 um");
    CHECK(uncertainty_text(std::numeric_limits<double>::quiet_NaN()) == "nan mm");
}

TEST_CASE("decimals are those of the uncertainty as it is told", "[base][unit]") {
    CHECK(decimals_for(0.0995, 1.0) == 2);
    CHECK(decimals_for(0.0994, 1.0) == 3);
    CHECK(decimals_for(9.96, 1.0) == 0);
    CHECK(decimals_for(9.94, 1.0) == 1);
    CHECK(decimals_for(4.6e-6, 1e-3) == 4);
    CHECK(decimals_for(123.0, 1.0) == -1);  // rounded to tens
    CHECK(decimals_for(1234.0, 1.0) == -2);
    CHECK(decimals_for(99.6, 1.0) == -1);  // 100
    CHECK(decimals_for(1e-300, 1.0) == 9);
    for (const double none :
         {0.0, -1.0, std::numeric_limits<double>::infinity(), std::numeric_limits<double>::quiet_NaN()}) {
        CHECK_FALSE(decimals_for(none, 1.0));
    }
    // Both tell the same place.
    for (double u = 1.03e-7; u < 1e8; u *= 1.37) {
        const std::string text = two_digits(u);
        const std::size_t point = text.find('.');
        const std::size_t digits = text.size();
        const int decimals = static_cast<int>(point == std::string::npos ? 2 : digits - point + 1) -
                             static_cast<int>(point == std::string::npos ? digits : 2);
        INFO(text);
        CHECK(decimals_for(u, 1.0) == decimals);
    }
}

TEST_CASE("a value is rounded to the decimal place of its uncertainty", "[base][unit]") {
    CHECK(value_text(12.345678e-3, 4.6e-6, 1e-3, 6) == "12.3457");
    CHECK(value_text(12.3e-3, 4.6e-6, 1e-3, 6) == "12.3000");
    CHECK(value_text(-0.04, 4.6, 1.0, 6) == "0.0");  // no sign of a zero
    CHECK(value_text(-0.06, 4.6, 1.0, 6) == "-0.1");
    CHECK(value_text(1.5, 0.0, 1.0, 3) == "1.500");
    CHECK(value_text(1.5, std::numeric_limits<double>::quiet_NaN(), 1.0, 3) == "1.500");
    CHECK(value_text(1.5, 1e-300, 1.0, 3) == "1.500000000");

    CHECK(with_sign("0.1 um") == "+0.1 um");
    CHECK(with_sign("-0.1 um") == "-0.1 um");
    CHECK(with_sign("0.0 um") == "0.0 um");

    CHECK(rounded_length_text(1.2345e-6, 0.46e-6) == "1.23 um");
    CHECK(rounded_length_text(-1.23456e-3, 4.6e-6) == "-1.2346 mm");
    CHECK(rounded_length_text(1.23456e-6, std::nullopt) == "1.235 um");
    CHECK(rounded_length_text(1.23456e-6, 0.0) == "1.235 um");
    CHECK(rounded_length_text(0.0, 4.6e-6) == "0 um");
}

TEST_CASE("a value whose uncertainty exceeds 99 units is rounded to tens, hundreds or more (GUM 7.2.6)",
          "[base][unit]") {
    CHECK(value_text(4321.0, 1234.0, 1.0, 3) == "4300");  // u = 1200
    CHECK(value_text(-4351.0, 1234.0, 1.0, 3) == "-4400");
    CHECK(value_text(49.0, 1234.0, 1.0, 3) == "0");
    CHECK(value_text(-49.0, 1234.0, 1.0, 3) == "0");
    CHECK(value_text(123456.0, 123.0, 1.0, 3) == "123460");
    CHECK(value_text(1.5, 1e300, 1.0, 3) == "0");
    CHECK(rounded_length_text(345e-6, 1234e-6) == "300 um");
    CHECK(rounded_length_text(-12345e-6, 1234e-6) == "-12.3 mm");
    CHECK(rounded_length_text(12345e-3, 123e-3) == "12350 mm");
}

TEST_CASE("a number for people has an exponent only where it would be a row of zeros", "[base][unit]") {
    CHECK(number_text(79594.3, 4) == "79590");
    CHECK(number_text(0.0672, 3) == "0.0672");
    CHECK(number_text(7.5, 4) == "7.5");
    CHECK(number_text(99.996, 4) == "100");
    CHECK(number_text(-0.25, 4) == "-0.25");
    CHECK(number_text(0.0, 4) == "0");
    CHECK(number_text(1.25e-4, 3) == "0.000125");
    CHECK(number_text(1.25e-5, 3) == "1.25e-05");
    CHECK(number_text(2e9, 4) == "2e+09");
    CHECK(number_text(std::numeric_limits<double>::infinity(), 4) == "inf");
    CHECK(number_text(std::numeric_limits<double>::quiet_NaN(), 4) == "nan");
}

TEST_CASE("names that contain a word are found, short ones first", "[base][unit]") {
    const std::vector<std::string> names{
        "white-coat-on-steel", "polished-steel",    "blasted-steel",    "brass",
        "clear-glass",         "sandblasted-glass", "milled-aluminium", "matt-paint-mid-grey"};
    CHECK(names_with("steel", names) ==
          std::vector<std::string>{"blasted-steel", "polished-steel", "white-coat-on-steel"});
    CHECK(names_with("Steel", names).size() == 3);
    CHECK(names_with("polished steel", names) == std::vector<std::string>{"polished-steel"});
    CHECK(names_with("steel_polished", names) == std::vector<std::string>{"polished-steel"});  // any order
    CHECK(names_with("alu", names) == std::vector<std::string>{"milled-aluminium"});
    CHECK(names_with("aluminum", names) == std::vector<std::string>{"milled-aluminium"});  // one letter of many
    CHECK(names_with("glas", names).size() == 2);
    CHECK(names_with("lass", names).empty());   // within a part
    CHECK(names_with("glaze", names).empty());  // short words must be whole
    CHECK(names_with("on", names).empty());     // too short to say anything
    CHECK(names_with("---", names).empty());
    CHECK(names_with("steel rubber", names).empty());
}

TEST_CASE("similar names are those with the word in them, else the nearest in spelling", "[base][unit]") {
    const std::vector<std::string> names{"brass", "clear-glass", "sandblasted-glass", "polished-steel"};
    CHECK(similar_names("glass", names) == std::vector<std::string>{"clear-glass", "sandblasted-glass"});
    CHECK(similar_names("glass", names, 1) == std::vector<std::string>{"clear-glass"});
    CHECK(similar_names("bras", names) == std::vector<std::string>{"brass"});
    CHECK(similar_names("brsas", names) == std::vector<std::string>{"brass"});
    CHECK(similar_names("porcelain", names).empty());
    CHECK(did_you_mean(similar_names("glass", names)) == "did you mean `clear-glass` or `sandblasted-glass`?");
    CHECK(did_you_mean(similar_names("porcelain", names)).empty());
}

TEST_CASE("a key without its unit is found by the word", "[base][unit]") {
    const std::vector<std::string> keys{"reference_distance_mm", "range_mm", "tilt_deg"};
    CHECK(nearest_word("reference_distance", keys) == "reference_distance_mm");
    CHECK(nearest_word("distance", keys) == "reference_distance_mm");
    CHECK(nearest_word("speed", keys).empty());
}

TEST_CASE("a number is read only if it fills the text", "[base][unit]") {
    CHECK(number_of("1.5") == 1.5);
    CHECK(number_of("-2e-3") == -2e-3);
    CHECK(number_of(".5") == 0.5);
    CHECK(number_of("0.1") == 0.1);
    for (const char* text : {"", " 1", "1 ", "+1", "1,5", "0x10", "1e", "x", "--1", "1e999"}) {
        INFO(text);
        CHECK_FALSE(number_of(text));
    }
    CHECK_FALSE(number_of(std::string_view("1\0", 2)));
}

TEST_CASE("no control character, mark of direction or broken UTF-8 leaves in printable text", "[base][unit]") {
    CHECK(printable("a\x1b[31mb\tc\nd\x7f") == "a [31mb c d ");
    CHECK(printable("\xC2\x80|\xC2\x9B|\xC2\x9F|\xC2\xA0") == " | | |\xC2\xA0");  // U+00A0 stays
    const std::string mark = "\xEF\xBF\xBD";
    for (const char* misleading : {"\xD8\x9C", "\xE2\x80\x8E", "\xE2\x80\x8F", "\xE2\x80\xA8", "\xE2\x80\xA9",
                                   "\xE2\x80\xAA", "\xE2\x80\xAE", "\xE2\x81\xA6", "\xE2\x81\xA9"}) {
        CHECK(printable(std::string("x") + misleading + "y") == "x" + mark + "y");
    }
    CHECK(printable("\xE2\x80\xA7\xE2\x80\xAF\xE2\x81\xA5\xE2\x81\xAA") ==
          "\xE2\x80\xA7\xE2\x80\xAF\xE2\x81\xA5\xE2\x81\xAA");
    // A byte alone, a cut character, an overlong form, a surrogate, beyond the last character.
    CHECK(printable("\xFF") == mark);
    CHECK(printable("a\xE2\x82") == "a" + mark + mark);
    CHECK(printable("\xC0\xAF") == mark + mark);
    CHECK(printable("\xED\xA0\x80") == mark + mark + mark);
    CHECK(printable("\xF4\x90\x80\x80") == mark + mark + mark + mark);
    CHECK(printable("\xC3\xA9\xE2\x82\xAC\xF0\x9F\x94\xA7") == "\xC3\xA9\xE2\x82\xAC\xF0\x9F\x94\xA7");
    CHECK(printable_lines("a\nb\rc\x1b") == "a\nb c ");
    CHECK(with_escapes("\x7f\xC2\x9B\xE2\x80\xAE\n\xFF\xC3\xA9") == "\\u007f\\u009b\\u202e\n\xFF\xC3\xA9");
}

TEST_CASE("a long text is shortened between characters, and both its ends are shown", "[base][unit]") {
    CHECK(shortened("short", 20) == "short");
    const std::string cut = shortened(std::string(10'000, 'a') + std::string(10'000, 'z'), 200);
    CHECK(cut.size() == 200);
    CHECK(cut.starts_with("aaa"));
    CHECK(cut.ends_with("zzz"));
    CHECK(cut.find("a...z") != std::string::npos);
    std::string euros;
    for (int i = 0; i < 300; ++i) euros += "\xE2\x82\xAC";
    CHECK(shortened(euros, 300) == euros);
    CHECK(printable(shortened(euros, 100)).find("\xEF\xBF\xBD") == std::string::npos);
}

TEST_CASE("errors quote at most 200 characters, and describe 20 problems at most", "[base][unit]") {
    SourceLocation place;
    place.file = std::string(5'000, 'f');
    place.key = std::string(5'000, 'k');
    const std::string one = describe({place, "no such material: \"" + std::string(100'000, 'm') + "\"", "", ""});
    CHECK(one.size() < 650);
    const std::string many = ScenarioError(std::vector<Problem>(53, {{}, "wrong", "", ""})).what();
    CHECK(std::count(many.begin(), many.end(), '\n') == 20);
    CHECK(many.ends_with("and 33 more problems"));
    const std::string few = ScenarioError(std::vector<Problem>(20, {{}, "wrong", "", ""})).what();
    CHECK(few.find("more problems") == std::string::npos);
    CHECK(std::string(IoError("read", "a\x1b[2J\n" + std::string(5'000, 'b'), "no such file").what()).size() < 250);
    CHECK_THAT(IoError("read", "a\x1b[2J\xC2\x9B\nb\xFF", "no such file").what(),
               Catch::Equals("cannot read a [2J  b\xEF\xBF\xBD: no such file"));
    place.file = "a\x1b\n.toml";
    place.key = "";
    CHECK(describe({place, "x\xC2\x9B", "y\x1b", "z\xE2\x80\xAE"}) ==
          "a  .toml: x \n  allowed: y \n  hint: z\xEF\xBF\xBD");
}
