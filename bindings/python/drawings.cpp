// Drawings, and the points they are made of.
#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>

#include <vector>

#include "bindings/python/bind.hpp"
#include "bindings/python/ndarray.hpp"
#include "bindings/python/values.hpp"
#include "sim/measure/read.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/cross_section.hpp"
#include "sim/drawing/drawings.hpp"
#include "sim/drawing/mounting.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using Eigen::Vector2d;
using scenario::Scenario;

namespace {

py::object drawing_of(const std::string& svg) {
    return py::module_::import("spotwright._drawing").attr("Drawing")(svg);
}

py::object drawing(const Scenario& s) {
    std::string svg;
    {
        const py::gil_scoped_release unlocked;
        svg = drawing::draw_geometry(s);
    }
    return drawing_of(svg);
}

py::object picture(const Scenario& s, int threads) {
    static_cast<void>(checked_threads(threads));
    std::string svg;
    {
        const py::gil_scoped_release unlocked;
        const sensor::Setup setup = sensor::set_up(s, threads);
        measure::ReadOptions options;
        options.threads = threads;
        svg = drawing::draw_reading(setup, measure::read(setup, options));
    }
    return drawing_of(svg);
}

// Points (x, z) in mm, one row each.
template <class Points>
py::array_t<double> in_mm(const Points& points) {
    std::vector<double> values;
    for (const Vector2d& point : points) {
        values.push_back(point.x() / base::mm);
        values.push_back(point.y() / base::mm);
    }
    const auto rows = static_cast<py::ssize_t>(values.size() / 2);
    return moved_to_numpy(std::move(values), {rows, 2});
}

std::vector<drawing::Outline> outlines(const drawing::PartView& part, double half_width) {
    drawing::CutWindow window;
    window.centre = part.spot;
    window.y = part.y;
    window.half_width = half_width;
    window.above = half_width;
    window.below = half_width;
    std::vector<drawing::Outline> lines = drawing::cut(part.shape, window);
    for (drawing::Outline& line : lines) {
        if (line.closed) line.points.push_back(line.points.front());
    }
    return lines;
}

// What a scene shows, before it is Python's.
struct Scene {
    sensor::Layout layout;
    drawing::Mounting mounting;
    std::vector<drawing::Outline> part;
};

Scene make_scene(const Scenario& s) {
    if (!scenario::abilities_of(s.principle).array) {
        scenario::reject(s, "principle", "there is no plane of a mounting", "triangulation");
    }
    Scene scene;
    scene.layout = sensor::make_layout(s);
    scene.mounting = drawing::make_mounting(s, scene.layout);
    if (scene.mounting.part) scene.part = outlines(*scene.mounting.part, 0.5 * scene.layout.span);
    return scene;
}

py::dict scene(const Scenario& s) {
    const auto [layout, mounting, part] = [&s] {
        const py::gil_scoped_release unlocked;
        return make_scene(s);
    }();
    const double half_array = 0.5 * static_cast<double>(s.detector.pixels) * s.detector.pitch;
    const std::vector<Vector2d> array{drawing::on_array(layout.receiver, -half_array),
                                      drawing::on_array(layout.receiver, half_array)};
    py::list lines;
    for (const drawing::Outline& line : part) lines.append(in_mm(line.points));
    py::dict points;
    points["emitter_mm"] = in_mm(std::vector{mounting.face});
    points["lens_mm"] = in_mm(std::vector{mounting.lens});
    points["aperture_mm"] = in_mm(mounting.rims);
    points["array_mm"] = in_mm(array);
    points["spots_mm"] = in_mm(mounting.spots);
    points["images_mm"] = in_mm(mounting.images);
    points["part_mm"] = lines;
    points["spot_mm"] = py::none();
    points["image_mm"] = py::none();
    if (!mounting.part) return points;
    points["spot_mm"] = in_mm(std::vector{mounting.part->spot});
    if (mounting.part->image) {
        points["image_mm"] = in_mm(std::vector{drawing::on_array(layout.receiver, *mounting.part->image)});
    }
    return points;
}

}  // namespace

void bind_drawings(py::module_& module) {
    module.def("drawing", &drawing, py::arg("scenario"), R"(The mounting drawn to scale.

Parameters
----------
scenario : Scenario

Returns
-------
Drawing
    What ``spotwright layout --out FILE.svg`` writes; notebooks show it.

Raises
------
ScenarioError
    The range is outside what the geometry can measure.
)");
    module.def("picture", &picture, py::arg("scenario"), py::kw_only(),
               py::arg("threads") = measure::ReadOptions{}.threads,
               R"(The first reading as a picture, with the verdict on all.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.

Returns
-------
Drawing
    What ``spotwright read --out FILE.svg`` writes; notebooks show it.

Raises
------
ScenarioError
    The setup cannot be built.
)");
    module.def("scene", &scene, py::arg("scenario"), R"(Points of the mounting in its own plane, to be drawn.

Parameters
----------
scenario : Scenario

Returns
-------
dict
    Arrays of shape (n, 2): x towards the receiver, z towards the setup. [mm] ``emitter_mm`` and ``lens_mm`` are
    centres, ``aperture_mm`` and ``array_mm`` ends; ``spots_mm`` and ``images_mm`` run near end of the range, reference,
    far end. ``part_mm`` is a list of outlines of the part, ``spot_mm`` and ``image_mm`` where its light lands: None
    where it does not.

Raises
------
ScenarioError
    The range is outside what the geometry can measure, or the setup is one of time of flight.
)");
}

}  // namespace spotwright::bindings
