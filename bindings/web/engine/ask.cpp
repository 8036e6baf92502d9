// The engine on this machine, for tests and benchmarks of the page: each line of the input is a question,
// {"kind": ..., "question": ...}, each line of the output its answer, arrays in their places, and how long it took.
#include <chrono>
#include <cstdio>
#include <exception>
#include <iostream>
#include <string>

#include "bindings/web/engine/engine.hpp"
#include "sim/base/errors.hpp"
#include "sim/record/json_text.hpp"

namespace {

using spotwright::web::Answer, spotwright::web::Engine, spotwright::web::Json, spotwright::web::NamedArray;

Json whole(Answer answer) {
    for (const NamedArray& array : answer.arrays) {
        Json* place = &answer.json;
        for (const std::string& name : array.path) place = &(*place)[name];
        std::visit([place](const auto& values) { *place = values; }, array.values);
    }
    return std::move(answer.json);
}

Json reply_to(Engine& engine, const std::string& line) {
    const Json asked = Json::parse(line);
    const auto begin = std::chrono::steady_clock::now();
    const auto milliseconds = [begin] {
        return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin).count();
    };
    try {
        Answer answer = engine.ask(asked.at("kind").get<std::string>(), asked.at("question"));
        const double ms = milliseconds();
        return {{"ms", ms}, {"answer", whole(std::move(answer))}};
    } catch (const spotwright::base::ScenarioError& error) {
        return {{"ms", milliseconds()}, {"problems", spotwright::web::to_json(error.problems())}};
    }
}

}  // namespace

int main() {
    try {
        Engine engine;
        for (std::string line; std::getline(std::cin, line);) {
            std::cout << spotwright::record::json_text(reply_to(engine, line), -1) << '\n' << std::flush;
        }
        return 0;
    } catch (const std::exception& error) {
        std::fprintf(stderr, "%s\n", error.what());
        return 1;
    }
}
