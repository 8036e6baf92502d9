// The engine behind a plain C interface, for JavaScript: text in, text and arrays out.
#include <exception>
#include <string>

#include "bindings/web/engine/engine.hpp"
#include "sim/base/errors.hpp"
#include "sim/record/json_text.hpp"

using spotwright::web::Answer, spotwright::web::Engine, spotwright::web::Json, spotwright::web::NamedArray;

// An answer as it lies in memory until JavaScript has copied it.
struct Reply {
    std::string text;  // { "answer": ... }, { "problems": [...] } or { "error": "..." }
    Answer answer;
    std::string path;
};

namespace {

// Text that is no UTF-8 is written with marks in its place.
std::string text_of(const Json& json) {
    return spotwright::record::json_text(json, -1);
}

Reply reply_to(Engine& engine, const char* kind, const char* question) {
    try {
        Reply reply;
        reply.answer = engine.ask(kind, Json::parse(question));
        reply.text = text_of({{"answer", reply.answer.json}});
        return reply;
    } catch (const spotwright::base::ScenarioError& error) {
        return {text_of({{"problems", spotwright::web::to_json(error.problems())}}), {}, {}};
    } catch (const std::exception& error) {
        return {text_of({{"error", error.what()}}), {}, {}};
    }
}

}  // namespace

extern "C" {

Engine* spotwright_open() {
    return new Engine();
}

Reply* spotwright_ask(Engine* engine, const char* kind, const char* question) {
    return new Reply(reply_to(*engine, kind, question));
}

const char* spotwright_text(const Reply* reply) {
    return reply->text.c_str();
}

int spotwright_array_count(const Reply* reply) {
    return static_cast<int>(reply->answer.arrays.size());
}

// Names from the outside in, with blanks between.
const char* spotwright_array_path(Reply* reply, int i) {
    reply->path.clear();
    for (const std::string& name : reply->answer.arrays[static_cast<std::size_t>(i)].path) {
        reply->path += (reply->path.empty() ? "" : " ") + name;
    }
    return reply->path.c_str();
}

// 0: float, 1: double, 2: bytes.
int spotwright_array_type(const Reply* reply, int i) {
    return static_cast<int>(reply->answer.arrays[static_cast<std::size_t>(i)].values.index());
}

int spotwright_array_size(const Reply* reply, int i) {
    return std::visit([](const auto& values) { return static_cast<int>(values.size()); },
                      reply->answer.arrays[static_cast<std::size_t>(i)].values);
}

const void* spotwright_array_data(const Reply* reply, int i) {
    return std::visit([](const auto& values) { return static_cast<const void*>(values.data()); },
                      reply->answer.arrays[static_cast<std::size_t>(i)].values);
}

void spotwright_free(Reply* reply) {
    delete reply;
}

void spotwright_close(Engine* engine) {
    delete engine;
}
}
