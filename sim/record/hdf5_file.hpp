// The one layer over the HDF5 C API: handles that close themselves, failures as IoError, labels that netCDF-4 and
// xarray understand.
#pragma once

#include <hdf5.h>

#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

namespace spotwright::record {

/// An identifier of the HDF5 library and the call that closes it. Move-only.
class Hdf5Handle {
public:
    using Close = herr_t (*)(hid_t);

    Hdf5Handle(hid_t id, Close closer) noexcept : id_(id), close_(closer) {}
    ~Hdf5Handle() { static_cast<void>(close()); }
    Hdf5Handle(Hdf5Handle&& other) noexcept : id_(std::exchange(other.id_, H5I_INVALID_HID)), close_(other.close_) {}
    Hdf5Handle& operator=(Hdf5Handle&& other) noexcept;
    Hdf5Handle(const Hdf5Handle&) = delete;
    Hdf5Handle& operator=(const Hdf5Handle&) = delete;

    [[nodiscard]] hid_t id() const { return id_; }

    /// @return False if HDF5 could not close it, for example on a full disk.
    [[nodiscard]] bool close() noexcept;

private:
    hid_t id_;
    Close close_;
};

/// A file, or a variable in it.
struct Hdf5Object {
    Hdf5Handle handle;
    std::string path;  ///< of the file, as errors show it
};

// Every function below throws IoError with that path and HDF5's own innermost reason. Nothing is ever printed.

/// A new file; an existing one is replaced. Keeps the order of creation and no times, so that equal content
/// gives equal bytes.
/// @param shown  Path for error messages.
[[nodiscard]] Hdf5Object create_hdf5_file(const std::filesystem::path& path, const std::string& shown);

/// An empty variable along one unlimited dimension, compressed in chunks.
/// T is double, float, std::int64_t or std::uint8_t, stored little-endian.
/// @param missing  Value for "none", also written as the attribute `_FillValue` (CF conventions, 2.5.1).
template <class T>
[[nodiscard]] Hdf5Object create_variable(const Hdf5Object& file, const std::string& name, std::optional<T> missing);

/// Makes a variable the dimension of its own name (a coordinate variable).
void make_dimension(const Hdf5Object& variable, const std::string& name);

/// Attaches an axis of a variable to a dimension. Every axis needs one, or readers reject the file.
void attach_dimension(const Hdf5Object& variable, const Hdf5Object& dimension, unsigned axis = 0);

/// Writes values from position `first` on, and extends the variable to their end.
template <class T>
void write_values(const Hdf5Object& variable, std::int64_t first, std::span<const T> values);

/// A variable of a fixed shape, compressed in chunks. T as for `create_variable`, std::uint16_t, or std::string: UTF-8
/// of variable length, which is not compressed.
/// @param shape, chunk  Of equal length, each chunk within the shape.
template <class T>
[[nodiscard]] Hdf5Object create_grid(const Hdf5Object& file, const std::string& name,
                                     std::span<const std::int64_t> shape, std::span<const std::int64_t> chunk,
                                     const std::optional<T>& missing = std::nullopt);

template <>
Hdf5Object create_grid(const Hdf5Object& file, const std::string& name, std::span<const std::int64_t> shape,
                       std::span<const std::int64_t> chunk, const std::optional<std::string>& missing);

/// Writes a block of such a variable, the last axis fastest.
template <class T>
void write_block(const Hdf5Object& variable, std::span<const std::int64_t> start, std::span<const std::int64_t> count,
                 std::span<const T> values);
template <>
void write_block(const Hdf5Object& variable, std::span<const std::int64_t> start, std::span<const std::int64_t> count,
                 std::span<const std::string> values);

/// A text attribute, UTF-8 of variable length. A zero byte would end it.
void write_attribute(const Hdf5Object& object, const std::string& name, std::string_view text);

/// An attribute of numbers. T as for `create_variable`.
template <class T>
void write_attribute(const Hdf5Object& object, const std::string& name, std::span<const T> values);

/// Writes out and closes a file with everything opened in it.
void close_hdf5_file(Hdf5Object& file);

}  // namespace spotwright::record
