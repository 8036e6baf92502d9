#include "bindings/python/values.hpp"

#include <fmt/format.h>

#include <memory>
#include <utility>

#include <toml++/toml.h>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::bindings {

namespace py = pybind11;

namespace {

// Whole numbers by their own account; a bool is none.
bool is_integer(const py::handle& value) {
    return PyIndex_Check(value.ptr()) != 0 && !py::isinstance<py::bool_>(value);
}

// Scalars and arrays of NumPy as what Python itself has for them.
py::object without_numpy(const py::handle& value) {
    static const char* const types[] = {"generic", "ndarray"};
    const py::module_ numpy = py::module_::import("numpy");
    for (const char* type : types) {
        if (py::isinstance(value, numpy.attr(type))) return value.attr("tolist")();
    }
    return py::reinterpret_borrow<py::object>(value);
}

std::string number_text(double number) {
    const std::string text = fmt::format("{}", number);
    // TOML distinguishes whole numbers from others by their form.
    return text.find_first_of(".en") == std::string::npos ? text + ".0" : text;
}

std::string type_name(const py::handle& value) {
    return py::str(py::type::of(value).attr("__name__")).cast<std::string>();
}

bool is_list(const py::handle& value) {
    return !py::isinstance<py::str>(value) && !py::isinstance<py::bytes>(value) && py::isinstance<py::sequence>(value);
}

// A number or a text.
std::string single_text(const std::string& key, const py::handle& value) {
    if (py::isinstance<py::str>(value)) return scenario::toml_string(text_of(key, value));
    if (py::isinstance<py::bool_>(value)) return value.cast<bool>() ? "true" : "false";
    if (is_integer(value)) return py::str(py::int_(py::reinterpret_borrow<py::object>(value))).cast<std::string>();
    if (PyFloat_Check(value.ptr()) != 0 || py::hasattr(value, "__float__")) {
        return number_text(py::float_(py::reinterpret_borrow<py::object>(value)).cast<double>());
    }
    throw py::type_error(fmt::format("{}: must be a number, text, or a list of them, got {}", key, type_name(value)));
}

py::object python_value(const toml::node& node) {
    if (const auto* text = node.as_string()) return py::str(text->get());
    if (const auto* whole = node.as_integer()) return py::int_(whole->get());
    if (const auto* number = node.as_floating_point()) return py::float_(number->get());
    const toml::array& array = *node.as_array();
    py::list list;
    for (const toml::node& entry : array) list.append(python_value(entry));
    return array.empty() || array.front().is_string() ? py::object(list) : py::object(py::tuple(list));
}

}  // namespace

std::string text_of(std::string_view name, const py::handle& value) {
    if (!py::isinstance<py::str>(value)) {
        throw py::type_error(fmt::format("{} must be a str, got {}", name, type_name(value)));
    }
    py::ssize_t size = 0;
    const char* text = PyUnicode_AsUTF8AndSize(value.ptr(), &size);
    if (text == nullptr) throw py::error_already_set();
    return {text, static_cast<std::size_t>(size)};
}

py::str to_python(std::string_view text) {
    PyObject* decoded = PyUnicode_DecodeUTF8(text.data(), static_cast<py::ssize_t>(text.size()), "replace");
    if (decoded == nullptr) throw py::error_already_set();
    return py::reinterpret_steal<py::str>(decoded);
}

std::filesystem::path path_of(const py::handle& value) {
    PyObject* bytes = nullptr;
    if (PyUnicode_FSConverter(value.ptr(), &bytes) == 0) throw py::error_already_set();
    return {py::reinterpret_steal<py::bytes>(bytes).cast<std::string>()};
}

int checked_threads(int threads) {
    if (threads >= 0 && threads <= base::most_threads) return threads;
    throw py::value_error(
        fmt::format("threads must be 0 (all cores) or up to {}, got {}", base::most_threads, threads));
}

std::string setting_text(const std::string& key, const py::handle& value) {
    const py::object plain = without_numpy(value);
    if (!is_list(plain)) return single_text(key, plain);
    // No key takes more; a list by mistake shall not fill the memory.
    constexpr std::size_t most_entries = 1000;
    if (const std::size_t entries = py::len(plain); entries > most_entries) {
        throw py::value_error(fmt::format("{}: takes a few values, got {}", key, entries));
    }
    std::string text;
    for (const py::handle entry : py::iter(plain)) {
        text += (text.empty() ? "" : ", ") + single_text(key, without_numpy(entry));
    }
    return "[" + text + "]";
}

std::vector<std::string> settings_of(const py::dict& values) {
    std::vector<std::string> settings;
    std::vector<base::Problem> problems;
    for (const auto& [name, value] : values) {
        const std::string key = text_of("a key", name);
        if (key.find('=') != std::string::npos) {
            // As a setting it would name another key.
            base::SourceLocation place;
            place.file = fmt::format("<--set {}>", scenario::printable(key));
            place.key = scenario::printable(key);
            problems.push_back({place, "no such key", "", ""});
            continue;
        }
        settings.push_back(fmt::format("{}={}", key, setting_text(key, value)));
    }
    if (!problems.empty()) throw base::ScenarioError(std::move(problems));
    return settings;
}

py::object value_of(const scenario::Key& key, const scenario::Scenario& scenario) {
    const toml::table table = toml::parse("value = " + scenario::value_text(key, scenario));
    const py::object value = python_value(*table.get("value"));
    // A whole number where any number may stand is a number all the same.
    const bool any_number = std::holds_alternative<scenario::NumberKey>(key.access) ||
                            py::isinstance<py::tuple>(value) ||
                            std::holds_alternative<scenario::NumberOrWordKey>(key.access) ||
                            std::holds_alternative<scenario::ApertureKey>(key.access);
    if (!any_number) return value;
    if (py::isinstance<py::int_>(value)) return py::float_(value);
    if (!py::isinstance<py::tuple>(value)) return value;
    py::list numbers;
    for (const py::handle each : value) numbers.append(py::float_(py::reinterpret_borrow<py::object>(each)));
    return py::tuple(numbers);
}

py::object record_of(const nlohmann::ordered_json& json) {
    const std::string text = json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
    return py::module_::import("spotwright._record").attr("Record").attr("from_json")(to_python(text));
}

Progress progress_of(const py::object& callback) {
    // Copies of the function are made and dropped without the lock; they must not touch the object's count.
    const auto give_up = [](py::object* object) {
        const py::gil_scoped_acquire lock;
        delete object;
    };
    const std::shared_ptr<py::object> shared(new py::object(callback), give_up);
    return [shared](std::int64_t done, std::int64_t all) {
        const py::gil_scoped_acquire lock;
        if (PyErr_CheckSignals() != 0) throw py::error_already_set();
        if (!shared->is_none()) (*shared)(done, all);
    };
}

}  // namespace spotwright::bindings
