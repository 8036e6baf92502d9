// Scenarios as objects: attributes mirror the keys of the file.
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <optional>

#include "bindings/python/bind.hpp"
#include "bindings/python/values.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using scenario::Scenario;

namespace {

using ScenarioPointer = std::shared_ptr<Scenario>;

// The keys below one heading of the file.
struct Section {
    ScenarioPointer scenario;
    std::string name;  // dotted; empty for the top level
};

std::string within(const std::string& section, std::string_view name) {
    return section.empty() ? std::string(name) : fmt::format("{}.{}", section, name);
}

const scenario::Key* find_key(const std::string& path) {
    for (const scenario::Key& key : scenario::schema()) {
        if (scenario::dotted(key) == path) return &key;
    }
    return nullptr;
}

// Keys of a section, and sections right below it.
std::vector<std::string> names_in(const std::string& section) {
    std::vector<std::string> names;
    const auto add = [&names](std::string name) {
        if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(std::move(name));
    };
    for (const scenario::Key& key : scenario::schema()) {
        if (key.section == section) add(std::string(key.name));
        const std::string head = section.empty() ? "" : section + ".";
        if (key.section.size() > head.size() && key.section.starts_with(head)) {
            const std::string_view rest = key.section.substr(head.size());
            add(std::string(rest.substr(0, rest.find('.'))));
        }
    }
    return names;
}

scenario::FileReach reach_of(bool confine) {
    return confine ? scenario::FileReach::beside_or_below : scenario::FileReach::anywhere;
}

std::optional<py::object> find_value(const ScenarioPointer& scenario, const std::string& path) {
    if (const scenario::Key* key = find_key(path)) return value_of(*key, *scenario);
    if (!names_in(path).empty()) return py::cast(Section{scenario, path});
    return std::nullopt;
}

std::string unknown(const std::string& section, const std::string& name) {
    const std::vector<std::string> names = names_in(section);
    const std::string nearest = base::nearest_word(name, names);
    return fmt::format("no key {}{}", within(section, name),
                       nearest.empty() ? "" : fmt::format("; did you mean {}?", within(section, nearest)));
}

py::object attribute(const Section& section, const std::string& name) {
    const auto value = find_value(section.scenario, within(section.name, name));
    if (!value) throw py::attribute_error(unknown(section.name, name));
    return *value;
}

py::object item(const ScenarioPointer& scenario, const std::string& path) {
    const auto value = find_value(scenario, path);
    if (!value) throw py::key_error(unknown("", path));
    return *value;
}

py::dict entries(const Section& section) {
    py::dict dict;
    for (const std::string& name : names_in(section.name)) {
        const auto value = find_value(section.scenario, within(section.name, name));
        dict[py::str(name)] = py::isinstance<Section>(*value) ? entries(value->cast<Section>()) : *value;
    }
    return dict;
}

// Keys that differ from what a scenario has that says nothing.
py::dict written(const Scenario& scenario) {
    const Scenario defaults;
    py::dict dict;
    for (const scenario::Key& key : scenario::schema()) {
        if (scenario::value_text(key, scenario) == scenario::value_text(key, defaults)) continue;
        dict[py::str(scenario::dotted(key))] = value_of(key, scenario);
    }
    return dict;
}

// What `make` reads and checks, without the interpreter's lock: scenarios may name long files.
template <class Make>
ScenarioPointer unlocked_scenario(const Make& make) {
    const py::gil_scoped_release unlocked;
    return std::make_shared<Scenario>(make());
}

ScenarioPointer varied(const Scenario& scenario, const py::dict& settings, const py::kwargs& more) {
    std::vector<std::string> all = settings_of(settings);
    for (std::string& setting : settings_of(more)) all.push_back(std::move(setting));
    return unlocked_scenario([&] { return scenario::with_settings(scenario, all); });
}

py::dict key_record(const scenario::Key& key) {
    const base::Unit unit = base::unit_of(key.name);
    const Scenario defaults;
    py::dict entry;
    entry["key"] = scenario::dotted(key);
    entry["unit"] = unit.symbol;
    entry["default"] = value_of(key, defaults);
    entry["limits"] = scenario::describe_limits(key);
    entry["meaning"] = key.meaning;
    entry["words"] = py::list();
    if (const auto* words = std::get_if<scenario::WordKey>(&key.access)) {
        entry["words"] = py::cast(std::vector<std::string>(words->words.begin(), words->words.end()));
    }
    return entry;
}

py::list keys() {
    py::list list;
    for (const scenario::Key& key : scenario::schema()) list.append(key_record(key));
    return list;
}

// Names of files need not be UTF-8; Python has its own encoding of such bytes.
py::object file_name(const Scenario& s) {
    PyObject* name = PyUnicode_DecodeFSDefaultAndSize(s.file.data(), static_cast<py::ssize_t>(s.file.size()));
    if (name == nullptr) throw py::error_already_set();
    return py::reinterpret_steal<py::object>(name);
}

[[noreturn]] void refuse_change() {
    throw py::attribute_error("a scenario does not change; vary() gives a changed copy");
}

void bind_section(py::module_& module) {
    py::class_<Section>(module, "Section", "Keys below one heading of a scenario, as attributes.")
        .def("__getattr__", &attribute, py::arg("name"))
        .def("__setattr__", [](const Section&, const std::string&, const py::object&) { refuse_change(); })
        .def("__dir__", [](const Section& section) { return names_in(section.name); })
        .def("__repr__", [](const Section& section) { return py::repr(entries(section)); })
        .def("__eq__",
             [](const Section& a, const py::object& other) {
                 return py::isinstance<Section>(other) && entries(a).equal(entries(other.cast<const Section&>()));
             })
        .def("__copy__", [](const py::object& self) { return self; })
        .def(
            "__deepcopy__", [](const py::object& self, const py::object&) { return self; }, py::arg("memo"))
        .def(py::pickle([](const Section& section) { return py::make_tuple(section.scenario, section.name); },
                        [](const py::tuple& state) {
                            return Section{state[0].cast<ScenarioPointer>(), state[1].cast<std::string>()};
                        }))
        .def("to_dict", &entries, "The keys as a dictionary, sections below as dictionaries of their own.");
}

}  // namespace

void bind_scenario(py::module_& module) {
    bind_section(module);
    py::class_<Scenario, ScenarioPointer>(module, "Scenario", R"(A sensor, a part before it, and how it is read.

Attributes mirror the keys of a scenario file: ``scenario.target.tilt_deg``, ``scenario.seed``. Values are in the unit
at the end of the key's name. A scenario does not change; ``vary`` gives a changed copy.

Parameters
----------
settings : dict, optional
    Keys that differ from their defaults, by dotted name. ``target.material`` is required.

Raises
------
ScenarioError
    With every problem of the settings.
)")
        .def(py::init([](const py::dict& settings) {
                 return unlocked_scenario(
                     [texts = settings_of(settings)] { return scenario::parse("", "scenario", texts); });
             }),
             py::arg("settings"))
        .def("__getattr__",
             [](const ScenarioPointer& s, const std::string& name) {
                 return attribute(Section{s, ""}, name);
             })
        .def("__setattr__", [](const Scenario&, const std::string&, const py::object&) { refuse_change(); })
        .def("__getitem__", &item, py::arg("key"), "The value of a dotted key.")
        .def("__dir__",
             [](const py::object& self) {
                 py::list names = py::module_::import("builtins").attr("object").attr("__dir__")(self);
                 for (const std::string& name : names_in("")) names.append(name);
                 return names;
             })
        .def("vary", &varied, py::arg("settings") = py::dict(), R"(A copy with some keys changed.

Parameters
----------
settings : dict, optional
    New values by dotted key, in the key's unit. ``key[0]`` is the first number of a key of several.
**more
    The same as keywords: ``scenario.vary(**{"target.tilt_deg": (5, 0)})``.

Returns
-------
Scenario

Raises
------
ScenarioError
    With every problem of the new scenario.
)")
        .def("to_toml", &scenario::to_toml, "The whole scenario as TOML, with every key.")
        .def(
            "to_dict",
            [](const ScenarioPointer& s) {
                return entries(Section{s, ""});
            },
            "All keys as a dictionary, sections as dictionaries of their own.")
        .def_property_readonly("file", &file_name, "Where it was read from.")
        .def("__copy__", [](const py::object& self) { return self; })
        .def(
            "__deepcopy__", [](const py::object& self, const py::object&) { return self; }, py::arg("memo"))
        .def("__repr__", [](const Scenario& s) { return "Scenario(" + py::repr(written(s)).cast<std::string>() + ")"; })
        .def("__eq__",
             [](const Scenario& a, const py::object& other) {
                 return py::isinstance<Scenario>(other) &&
                        scenario::to_toml(a) == scenario::to_toml(other.cast<const Scenario&>());
             })
        .def("__hash__", [](const Scenario& s) { return py::hash(py::str(scenario::to_toml(s))); })
        .def(py::pickle(
            [](const Scenario& s) {
                const scenario::WrittenScenario written = scenario::as_written(s);
                return py::make_tuple(written.toml, file_name(s), written.settings,
                                      s.reach == scenario::FileReach::beside_or_below);
            },
            [](const py::tuple& state) {
                return std::make_shared<Scenario>(
                    scenario::parse(text_of("a pickle", state[0]), path_of(state[1]).string(),
                                    state[2].cast<std::vector<std::string>>(), reach_of(state[3].cast<bool>())));
            }));

    module.def(
        "load",
        [](const py::object& path, const py::dict& settings, bool confine) {
            return unlocked_scenario([file = path_of(path), texts = settings_of(settings), reach = reach_of(confine)] {
                return scenario::load(file, texts, reach);
            });
        },
        py::arg("path"), py::arg("settings") = py::dict(), py::kw_only(), py::arg("confine") = false,
        R"(Reads a scenario file.

Parameters
----------
path : str or os.PathLike
    TOML file.
settings : dict, optional
    Keys to override, by dotted name.
confine : bool, optional
    Refuse files that the scenario names and that stand neither in its folder nor below: for scenarios of
    somebody else. Holds for what `vary` and sweeps make of it.

Returns
-------
Scenario

Raises
------
ScenarioError
    With every problem of the file and the settings.
OSError
    The file cannot be read.
)");
    module.def(
        "parse",
        [](const py::object& text, const py::object& file) {
            return unlocked_scenario(
                [toml = text_of("text", text), name = path_of(file).string()] { return scenario::parse(toml, name); });
        },
        py::arg("text"), py::arg("file") = "scenario", R"(Reads a scenario from TOML text.

Parameters
----------
text : str
    TOML.
file : str or os.PathLike, optional
    Name shown in errors; files that the scenario names are looked up beside it.

Returns
-------
Scenario

Raises
------
ScenarioError
    With every problem of the text.
)");
    module.def("keys", &keys, R"(Every key that a scenario may have.

Returns
-------
list of dict
    ``key`` (dotted), ``unit``, ``default``, ``limits`` (in words), ``meaning``, and ``words`` where it takes one of a
    few.
)");
}

}  // namespace spotwright::bindings
