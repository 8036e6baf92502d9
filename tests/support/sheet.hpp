// What the tests of data sheets share.
#pragma once

#include <string>

#include "sim/base/errors.hpp"
#include "sim/scenario/sheet.hpp"
#include "sim/study/infer.hpp"

namespace spotwright::test {

/// The message with which a sheet is rejected; "no error" if it is accepted.
inline std::string message_of_sheet(const std::string& text) {
    try {
        static_cast<void>(study::infer(scenario::parse_sheet(text, "sheet.toml"), {}));
    } catch (const base::ScenarioError& error) {
        return error.what();
    }
    return "no error";
}

}  // namespace spotwright::test
