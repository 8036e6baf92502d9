// The engine as the page asks it.
#pragma once

#include <string_view>

#include "bindings/web/engine/question.hpp"
#include "bindings/web/engine/shelf.hpp"

namespace spotwright::web {

class Engine {
public:
    /// @param kind  One of `Questions` in bindings/web/page/engine.ts.
    /// @throws ScenarioError  The scenario cannot be read or set up. @throws InternalError  There is no such kind.
    [[nodiscard]] Answer ask(std::string_view kind, const Json& question);

private:
    Shelf shelf_;
};

}  // namespace spotwright::web
