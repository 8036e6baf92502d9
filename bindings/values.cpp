#include "bindings/values.hpp"

#include <fmt/format.h>

#include <memory>

#include <toml++/toml.h>

namespace spotwright::bindings {

namespace py = pybind11;

namespace {

// Numbers of NumPy are numbers of Python by their own account.
bool is_integer(const py::handle& value) {
    return PyIndex_Check(value.ptr()) != 0 && !py::isinstance<py::bool_>(value);
}

std::string number_text(double number) {
    const std::string text = fmt::format("{}", number);
    // TOML tells whole numbers from others by their form.
    return text.find_first_of(".en") == std::string::npos ? text + ".0" : text;
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

std::string setting_text(const std::string& key, const py::handle& value) {
    if (py::isinstance<py::str>(value)) return scenario::toml_string(value.cast<std::string>());
    if (py::isinstance<py::bool_>(value)) return value.cast<bool>() ? "true" : "false";
    if (is_integer(value)) return py::str(py::int_(py::reinterpret_borrow<py::object>(value))).cast<std::string>();
    if (PyFloat_Check(value.ptr()) != 0 || py::hasattr(value, "__float__")) {
        return number_text(py::float_(py::reinterpret_borrow<py::object>(value)).cast<double>());
    }
    if (py::isinstance<py::sequence>(value) || py::hasattr(value, "__array__")) {
        std::string text;
        for (const py::handle entry : py::iter(value)) text += (text.empty() ? "" : ", ") + setting_text(key, entry);
        return "[" + text + "]";
    }
    throw py::type_error(fmt::format("{}: must be a number, text, or a list of them, got {}", key,
                                     py::str(py::type::of(value).attr("__name__")).cast<std::string>()));
}

std::vector<std::string> settings_of(const py::dict& values) {
    std::vector<std::string> settings;
    for (const auto& [name, value] : values) {
        const auto key = name.cast<std::string>();
        settings.push_back(fmt::format("{}={}", key, setting_text(key, value)));
    }
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
    return py::module_::import("spotwright._record").attr("Record").attr("from_json")(json.dump(2));
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
