// Values between Python and the program: settings in, results out.
#pragma once

#include <pybind11/pybind11.h>

#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json.hpp>

#include "sim/scenario/schema.hpp"

namespace spotwright::bindings {

/// A str as UTF-8.
/// @param name  Of the argument, for the error.
/// @throws TypeError  Anything but a str, bytes included.  @throws ValueError  Half a surrogate pair in it.
[[nodiscard]] std::string text_of(std::string_view name, const pybind11::handle& value);

/// Text for Python; what is not UTF-8 in it (names of files need not be) is replaced.
[[nodiscard]] pybind11::str to_python(std::string_view text);

/// A path: str, bytes or os.PathLike.
/// @throws TypeError  Anything else.  @throws ValueError  A zero in it, or what no file system can name.
[[nodiscard]] std::filesystem::path path_of(const pybind11::handle& value);

/// @throws ValueError  Not 0 (all cores) to `base::most_threads`.
[[nodiscard]] int checked_threads(int threads);

/// A Python value as the right side of a setting: number, text, or a list of them; numbers of NumPy and arrays too.
/// @throws TypeError  Anything else, with the key.
[[nodiscard]] std::string setting_text(const std::string& key, const pybind11::handle& value);

/// `key=value` for each entry of a mapping of dotted keys.
/// @throws ScenarioError  A key that no setting can name.
[[nodiscard]] std::vector<std::string> settings_of(const pybind11::dict& values);

/// A key's value as Python has it, in the key's unit: number, text, tuple of numbers, list of texts.
[[nodiscard]] pybind11::object value_of(const scenario::Key& key, const scenario::Scenario& scenario);

/// A result as a `spotwright.Record`, which keeps the very text that the program would print.
[[nodiscard]] pybind11::object record_of(const nlohmann::ordered_json& json);

using Progress = std::function<void(std::int64_t done, std::int64_t all)>;

/// Calls back, and lets an interrupt from the keyboard end the work. May be called without the interpreter's lock.
/// @param callback  `callback(done, all)`, or None.
[[nodiscard]] Progress progress_of(const pybind11::object& callback);

}  // namespace spotwright::bindings
