// Arrays handed to Python without a copy.
#pragma once

#include <pybind11/numpy.h>

#include <memory>
#include <utility>
#include <vector>

namespace spotwright::bindings {

/// An array that owns the values: they live as long as it, or a view of it, does.
/// @param shape  Its product is the number of values.
template <class T>
[[nodiscard]] pybind11::array_t<T> moved_to_numpy(std::vector<T> values, std::vector<pybind11::ssize_t> shape) {
    auto owned = std::make_unique<std::vector<T>>(std::move(values));
    T* data = owned->data();
    const pybind11::capsule owner(owned.get(), [](void* p) { delete static_cast<std::vector<T>*>(p); });
    static_cast<void>(owned.release());
    return pybind11::array_t<T>(std::move(shape), data, owner);
}

template <class T>
[[nodiscard]] pybind11::array_t<T> moved_to_numpy(std::vector<T> values) {
    const auto size = static_cast<pybind11::ssize_t>(values.size());
    return moved_to_numpy(std::move(values), {size});
}

}  // namespace spotwright::bindings
