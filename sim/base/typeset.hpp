// Text for print: pages, pictures and charts show it so; terminals and files keep plain ASCII.
#pragma once

#include <string>
#include <string_view>

namespace spotwright::base {

/// The signs of print in a plain text: "+-" becomes a plus-minus sign, "um", "us" and "uW" that stand by themselves get
/// the micro sign, and a number keeps to the unit of length or time after it. Names of keys stay as they are.
[[nodiscard]] std::string typeset(std::string_view plain);

}  // namespace spotwright::base
