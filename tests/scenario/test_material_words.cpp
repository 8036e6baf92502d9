// Words that a practitioner has for a material lead to the nearest one of the library.

#include <algorithm>
#include <set>
#include <sstream>

#include "sim/base/spelling.hpp"
#include "sim/scenario/material_words.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using scenario::material_hint;
using scenario::similar_materials;

namespace {

std::vector<std::string> split(std::string_view text, char separator) {
    std::istringstream stream{std::string(text)};
    std::vector<std::string> parts;
    for (std::string part; std::getline(stream, part, separator);) {
        part.erase(0, part.find_first_not_of(' '));
        if (!part.empty()) parts.push_back(part);
    }
    return parts;
}

std::string first_of(const std::string& word) {
    const std::vector<std::string> found = similar_materials(word);
    return found.empty() ? std::string() : found.front();
}

struct Expected {
    const char* word;
    const char* material;  // what is nearest by colour, gloss and depth of the light, as a practitioner expects
};

}  // namespace

TEST_CASE("words of a workshop lead to the material that is nearest in colour, gloss and depth", "[material][unit]") {
    for (const Expected& each : {
             // wood and paper
             Expected{"spruce", "wood-pine"},
             {"fir", "wood-pine"},
             {"softwood", "wood-pine"},
             {"maple", "wood-beech"},
             {"beech", "wood-beech"},
             {"oak", "wood-oak"},
             {"walnut", "wood-walnut"},
             {"teak", "wood-walnut"},
             {"plywood", "wood-pine"},
             {"chipboard", "mdf"},
             {"parquet", "varnished-wood"},
             {"carton", "white-cardboard"},
             {"corrugated", "cardboard"},
             {"label", "white-label"},
             {"sticker", "white-label"},
             {"toner", "black-ink"},
             {"newspaper", "newsprint"},
             {"office paper", "white-paper"},
             {"brown paper", "kraft-paper"},
             // plastics
             {"nylon", "polyamide-natural"},
             {"PA6", "polyamide-natural"},
             {"polyamide", "polyamide-natural"},
             {"acetal", "white-pom"},
             {"POM", "white-pom"},
             {"PTFE", "white-ptfe"},
             {"HDPE", "polyethylene-white"},
             {"PP", "polypropylene-natural"},
             {"PEEK", "peek-natural"},
             {"PMMA", "clear-acrylic"},
             {"acrylic", "clear-acrylic"},
             {"polycarbonate", "clear-polycarbonate"},
             {"PVC", "pvc-grey"},
             {"bottle", "clear-pet"},
             {"PET film", "clear-pet"},
             {"black plastic", "abs-black"},
             {"white plastic", "white-pom"},
             {"transparent plastic", "clear-pet"},
             {"lid", "polypropylene-natural"},
             {"IC package", "black-epoxy-moulding"},
             {"epoxy", "black-epoxy-moulding"},
             // rubber, foam, silicone
             {"foam", "epdm-foam"},
             {"white foam", "polystyrene-foam"},
             {"EPS", "polystyrene-foam"},
             {"rubber seal", "epdm-rubber"},
             {"gasket", "epdm-rubber"},
             {"O-ring", "epdm-rubber"},
             {"EPDM", "epdm-rubber"},
             {"tyre", "black-rubber"},
             {"tire", "black-rubber"},
             {"NBR", "blue-nitrile"},
             {"latex", "natural-rubber"},
             {"silicone", "white-silicone"},
             {"clear silicone", "translucent-silicone"},
             // metals
             {"steel", "ground-steel"},
             {"stainless", "stainless-steel"},
             {"1.4301", "stainless-steel"},
             {"304", "stainless-steel"},
             {"brushed steel", "brushed-stainless-steel"},
             {"tool steel", "ground-steel"},
             {"shaft", "turned-steel"},
             {"galvanized", "galvanised-steel"},
             {"mill scale", "hot-rolled-steel"},
             {"rust", "rusty-steel"},
             {"casting", "cast-iron-machined"},
             {"raw casting", "cast-iron-raw"},
             {"aluminum", "milled-aluminium"},
             {"anodized", "clear-anodised-aluminium"},
             {"black anodized aluminum", "black-anodised-aluminium"},
             {"aluminium foil", "rolled-aluminium"},
             {"busbar", "copper"},
             {"machined copper", "milled-copper"},
             {"bronze", "brass"},
             {"tinplate", "tin-plated"},
             {"food can", "tin-plated"},
             {"chrome", "chrome-plated"},
             {"piston rod", "hard-chrome-ground"},
             {"titanium", "titanium-machined"},
             {"battery electrode", "graphite"},
             // glass, ceramics, minerals
             {"glass", "clear-glass"},
             {"frosted glass", "sandblasted-glass"},
             {"ceramic", "white-ceramic"},
             {"zirconia", "alumina"},
             {"porcelain", "white-ceramic"},
             {"drywall", "gypsum-board"},
             {"granite", "concrete"},
             {"brick", "red-brick"},
             {"road", "asphalt"},
             // electronics and composites
             {"wafer", "silicon-wafer"},
             {"PCB", "solder-mask-green"},
             {"FR4", "printed-board"},
             {"solder joint", "solder"},
             {"CFRP", "carbon-fibre-laminate"},
             {"fiberglass", "glass-fibre-laminate"},
             // coats, textile, food
             {"white paint", "white-glossy-paint"},
             {"red paint", "glossy-red-paint"},
             {"car body", "white-glossy-paint"},
             {"powder coating", "black-powder-coat"},
             {"cotton", "textile-white"},
             {"black fabric", "textile-black"},
             {"dough", "bread-dough"},
             {"leaf", "green-leaf"},
         }) {
        INFO(each.word);
        CHECK(first_of(each.word) == each.material);
        CHECK_THAT(material_hint(each.word), Contains(std::string("`") + each.material + "`"));
    }
}

TEST_CASE("colours and finishes narrow what a word means", "[material][unit]") {
    CHECK(similar_materials("blue paint") == std::vector<std::string>{"glossy-blue-paint", "matt-blue-paint"});
    CHECK(similar_materials("gray_cardboard") == std::vector<std::string>{"grey-cardboard"});
    CHECK(similar_materials("Black Silicone") == similar_materials("silicone"));  // there is none: all are shown
    for (const std::string& name : similar_materials("black rubber part")) {
        INFO(name);
        CHECK((name == "black-rubber" || name == "epdm-rubber" || name == "epdm-foam"));
    }
}

TEST_CASE("a misspelled name of the library is told as such, a word of the table as nearest", "[material][unit]") {
    CHECK(material_hint("black-ruber") == "did you mean `black-rubber`?");
    CHECK(material_hint("whit-ceramics") == "did you mean `white-ceramic`?");
    CHECK(material_hint("spruce") == "nearest in the library: `wood-pine` or `wood-beech`");
    CHECK(material_hint("spruse").find("`wood-pine`") != std::string::npos);
    // Granite is two letters from graphite, glass from brass: as words they are others.
    CHECK(material_hint("granite").find("graphite") == std::string::npos);
    CHECK(material_hint("glass").find("brass") == std::string::npos);
    CHECK(material_hint("xqzv").empty());
    CHECK(material_hint("").empty());
    CHECK(material_hint(std::string(100000, 'm')).empty());
}

TEST_CASE("the table names materials of the library alone, each word once, and every material", "[material][unit]") {
    const std::vector<std::string> names = scenario::material_names();
    std::set<std::string> named;
    std::set<std::string> words;
    for (const scenario::MaterialWords& row : scenario::material_words()) {
        for (const std::string& material : split(row.materials, ' ')) {
            INFO(material);
            CHECK(std::find(names.begin(), names.end(), material) != names.end());
            named.insert(material);
        }
        for (const std::string& word : split(row.words, ',')) {
            INFO(word);
            CHECK(words.insert(word).second);
            CHECK(std::none_of(word.begin(), word.end(), [](char c) { return c >= 'A' && c <= 'Z'; }));
            // A word leads to its own row.
            CHECK(first_of(word) == split(row.materials, ' ').front());
        }
    }
    for (const std::string& name : names) {
        INFO(name);
        CHECK(named.count(name) == 1);
    }
}

TEST_CASE("`materials --like` finds by name, by title and by word", "[material][unit]") {
    const auto has = [](const std::vector<std::string>& found, const char* name) {
        return std::find(found.begin(), found.end(), name) != found.end();
    };
    CHECK(has(scenario::materials_like("nylon"), "polyamide-natural"));
    CHECK(has(scenario::materials_like("seal"), "epdm-foam"));
    CHECK(has(scenario::materials_like("seal"), "epdm-rubber"));
    CHECK(has(scenario::materials_like("ceramic"), "alumina"));
    CHECK(scenario::materials_like("xqzv").empty());
}

TEST_CASE("a slip of the pen is one letter in a word of six, two in one of twelve", "[base][unit]") {
    CHECK(base::is_misspelled("ruber", "rubber"));
    CHECK(base::is_misspelled("Alumnia", "alumina") == false);  // two letters changed places: two edits
    CHECK(base::is_misspelled("white-ceremics", "white-ceramic"));
    CHECK_FALSE(base::is_misspelled("glass", "brass"));
    CHECK_FALSE(base::is_misspelled("granite", "graphite"));
    CHECK_FALSE(base::is_misspelled(std::string(65, 'a'), std::string(65, 'a')));
    CHECK(base::edit_distance("", "abc") == 3);
    CHECK(base::edit_distance("kitten", "sitting") == 3);
}
