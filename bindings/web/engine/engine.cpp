#include "bindings/web/engine/engine.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "bindings/web/engine/check.hpp"
#include "bindings/web/engine/look.hpp"
#include "bindings/web/engine/readings.hpp"
#include "bindings/web/engine/scene.hpp"
#include "bindings/web/engine/studies.hpp"
#include "sim/drawing/drawings.hpp"

namespace spotwright::web {

namespace {

Answer plain(Json json) {
    return {std::move(json), {}};
}

Answer view_of(Shelf& shelf, const Json& question) {
    const scenario::Scenario s = scenario_in(question);
    Answer answer = look_at(shelf, s, question);
    for (NamedArray& array : answer.arrays) array.path.insert(array.path.begin(), "look");
    answer.json = {{"scene", scene_of(s)}, {"look", std::move(answer.json)}};
    return answer;
}

double seconds_in(const Json& question) {
    const auto found = question.find("seconds");
    return found != question.end() && found->is_number() ? found->get<double>() : 0.0;
}

struct Row {
    std::string_view kind;
    Answer (*answer)(Shelf& shelf, const Json& question);
};

constexpr std::array rows{
    Row{"tables", [](Shelf&, const Json&) { return plain(tables()); }},
    Row{"check", [](Shelf&, const Json& q) { return plain(check(q)); }},
    Row{"edit", [](Shelf&, const Json& q) { return plain(edit(q)); }},
    Row{"scene", [](Shelf&, const Json& q) { return plain(scene_of(scenario_in(q))); }},
    Row{"look", [](Shelf& shelf, const Json& q) { return look_at(shelf, scenario_in(q), q); }},
    Row{"view", [](Shelf& shelf, const Json& q) { return view_of(shelf, q); }},
    Row{"readings", [](Shelf& shelf, const Json& q) { return readings_of(shelf, scenario_in(q), q); }},
    Row{"read", [](Shelf& shelf, const Json& q) { return plain(read_answer(shelf, scenario_in(q))); }},
    Row{"budget", [](Shelf& shelf, const Json& q) { return plain(budget_answer(shelf, scenario_in(q))); }},
    Row{"advise", [](Shelf&, const Json& q) { return plain(advise_answer(scenario_in(q), seconds_in(q))); }},
    Row{"layoutSvg", [](Shelf&, const Json& q) { return plain(drawing::draw_geometry(scenario_in(q))); }},
    Row{"readingSvg", [](Shelf& shelf, const Json& q) { return plain(reading_picture(shelf, scenario_in(q))); }},
    Row{"report",
        [](Shelf& shelf, const Json& q) { return plain(report_page(shelf, scenario_in(q), text_in(q, "date"))); }},
    Row{"series",
        [](Shelf& shelf, const Json& q) { return plain(series_table(shelf, scenario_in(q), text_in(q, "date"))); }},
};

}  // namespace

Answer Engine::ask(std::string_view kind, const Json& question) {
    const auto* const row =
        std::find_if(rows.begin(), rows.end(), [kind](const Row& each) { return each.kind == kind; });
    if (row == rows.end()) throw base::InternalError(fmt::format("no such question: {}", kind));
    return row->answer(shelf_, question);
}

}  // namespace spotwright::web
