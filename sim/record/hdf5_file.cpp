#include "sim/record/hdf5_file.hpp"

#include <hdf5_hl.h>

#include <array>
#include <vector>

#include "sim/base/errors.hpp"

namespace spotwright::record {

namespace {

constexpr hsize_t chunk_length = 4096;

// HDF5 prints its errors unless that is switched off. It is switched off only during our calls, as others in the same
// process may want it to.
class Silence {
public:
    Silence() noexcept {
        H5Eget_auto2(H5E_DEFAULT, &print_, &data_);
        H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
    }
    ~Silence() { H5Eset_auto2(H5E_DEFAULT, print_, data_); }
    Silence(const Silence&) = delete;
    Silence& operator=(const Silence&) = delete;

private:
    H5E_auto2_t print_ = nullptr;
    void* data_ = nullptr;
};

herr_t store_first(unsigned position, const H5E_error2_t* error, void* reason) {
    if (position == 0 && error->desc != nullptr) *static_cast<std::string*>(reason) = error->desc;
    return 0;
}

// The innermost message; of one about a system call, the system's words.
std::string innermost_reason() {
    std::string reason;
    H5Ewalk2(H5E_DEFAULT, H5E_WALK_UPWARD, store_first, &reason);
    constexpr std::string_view mark = "error message = '";
    if (const std::size_t begin = reason.find(mark); begin != std::string::npos) {
        const std::size_t text = begin + mark.size();
        reason = reason.substr(text, reason.find('\'', text) - text);
    }
    return reason.empty() ? "HDF5 gives no reason" : reason;
}

// The result of a call of HDF5, where a negative one is a failure.
template <class Result>
Result checked(Result result, const std::string& path) {
    if (result < 0) throw base::IoError("write", path, innermost_reason(), base::FileUse::output);
    return result;
}

Hdf5Handle property_list(hid_t kind, const std::string& path) {
    return {checked(H5Pcreate(kind), path), H5Pclose};
}

template <class T>
hid_t memory_type();
template <>
hid_t memory_type<double>() {
    return H5T_NATIVE_DOUBLE;
}
template <>
hid_t memory_type<float>() {
    return H5T_NATIVE_FLOAT;
}
template <>
hid_t memory_type<std::int64_t>() {
    return H5T_NATIVE_INT64;
}
template <>
hid_t memory_type<std::uint8_t>() {
    return H5T_NATIVE_UINT8;
}
template <>
hid_t memory_type<std::uint16_t>() {
    return H5T_NATIVE_UINT16;
}

template <class T>
hid_t file_type();
template <>
hid_t file_type<double>() {
    return H5T_IEEE_F64LE;
}
template <>
hid_t file_type<float>() {
    return H5T_IEEE_F32LE;
}
template <>
hid_t file_type<std::int64_t>() {
    return H5T_STD_I64LE;
}
template <>
hid_t file_type<std::uint8_t>() {
    return H5T_STD_U8LE;
}
template <>
hid_t file_type<std::uint16_t>() {
    return H5T_STD_U16LE;
}

constexpr unsigned in_order = H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED;

}  // namespace

Hdf5Handle& Hdf5Handle::operator=(Hdf5Handle&& other) noexcept {
    if (this == &other) return *this;
    static_cast<void>(close());
    id_ = std::exchange(other.id_, H5I_INVALID_HID);
    close_ = other.close_;
    return *this;
}

bool Hdf5Handle::close() noexcept {
    if (id_ < 0) return true;
    const Silence silence;
    return close_(std::exchange(id_, H5I_INVALID_HID)) >= 0;
}

Hdf5Object create_hdf5_file(const std::filesystem::path& path, const std::string& shown) {
    // A file that could not be written out stays open inside HDF5, which at exit tries again and crashes (1.10.8).
    // We close what we open, so it has nothing to do then. Without effect where others have started HDF5 before.
    static_cast<void>(H5dont_atexit());
    const Silence silence;
    const Hdf5Handle creation = property_list(H5P_FILE_CREATE, shown);
    checked(H5Pset_link_creation_order(creation.id(), in_order), shown);
    checked(H5Pset_attr_creation_order(creation.id(), in_order), shown);
    checked(H5Pset_obj_track_times(creation.id(), false), shown);
    const Hdf5Handle access = property_list(H5P_FILE_ACCESS, shown);
    checked(H5Pset_libver_bounds(access.id(), H5F_LIBVER_V18, H5F_LIBVER_LATEST), shown);
    checked(H5Pset_fclose_degree(access.id(), H5F_CLOSE_STRONG), shown);
    const hid_t file = H5Fcreate(path.c_str(), H5F_ACC_TRUNC, creation.id(), access.id());
    return {{checked(file, shown), H5Fclose}, shown};
}

template <class T>
Hdf5Object create_variable(const Hdf5Object& file, const std::string& name, std::optional<T> missing) {
    const Silence silence;
    const std::string& path = file.path;
    const Hdf5Handle creation = property_list(H5P_DATASET_CREATE, path);
    checked(H5Pset_attr_creation_order(creation.id(), in_order), path);
    checked(H5Pset_obj_track_times(creation.id(), false), path);
    checked(H5Pset_chunk(creation.id(), 1, &chunk_length), path);
    checked(H5Pset_shuffle(creation.id()), path);
    checked(H5Pset_deflate(creation.id(), 1), path);
    if (missing) checked(H5Pset_fill_value(creation.id(), memory_type<T>(), &*missing), path);
    const hsize_t empty = 0;
    const hsize_t unlimited = H5S_UNLIMITED;
    const Hdf5Handle space(checked(H5Screate_simple(1, &empty, &unlimited), path), H5Sclose);
    const hid_t dataset =
        H5Dcreate2(file.handle.id(), name.c_str(), file_type<T>(), space.id(), H5P_DEFAULT, creation.id(), H5P_DEFAULT);
    Hdf5Object variable{{checked(dataset, path), H5Dclose}, path};
    if (missing) write_attribute(variable, "_FillValue", std::span<const T>(&*missing, 1));
    return variable;
}

void make_dimension(const Hdf5Object& variable, const std::string& name) {
    const Silence silence;
    checked(H5DSset_scale(variable.handle.id(), name.c_str()), variable.path);
}

void attach_dimension(const Hdf5Object& variable, const Hdf5Object& dimension, unsigned axis) {
    const Silence silence;
    checked(H5DSattach_scale(variable.handle.id(), dimension.handle.id(), axis), variable.path);
}

template <class T>
void write_values(const Hdf5Object& variable, std::int64_t first, std::span<const T> values) {
    if (values.empty()) return;
    const Silence silence;
    const std::string& path = variable.path;
    const auto start = static_cast<hsize_t>(first);
    const hsize_t count = values.size();
    const hsize_t length = start + count;
    checked(H5Dset_extent(variable.handle.id(), &length), path);
    const Hdf5Handle target(checked(H5Dget_space(variable.handle.id()), path), H5Sclose);
    checked(H5Sselect_hyperslab(target.id(), H5S_SELECT_SET, &start, nullptr, &count, nullptr), path);
    const Hdf5Handle source(checked(H5Screate_simple(1, &count, nullptr), path), H5Sclose);
    checked(H5Dwrite(variable.handle.id(), memory_type<T>(), source.id(), target.id(), H5P_DEFAULT, values.data()),
            path);
}

namespace {

// UTF-8 of variable length.
Hdf5Handle text_type(const std::string& path) {
    Hdf5Handle type(checked(H5Tcopy(H5T_C_S1), path), H5Tclose);
    checked(H5Tset_size(type.id(), H5T_VARIABLE), path);
    checked(H5Tset_cset(type.id(), H5T_CSET_UTF8), path);
    return type;
}

std::vector<hsize_t> sizes_of(std::span<const std::int64_t> counts) {
    return {counts.begin(), counts.end()};
}

Hdf5Object create_grid_of(const Hdf5Object& file, const std::string& name, std::span<const std::int64_t> shape,
                          hid_t type, const Hdf5Handle& creation) {
    const std::string& path = file.path;
    checked(H5Pset_attr_creation_order(creation.id(), in_order), path);
    checked(H5Pset_obj_track_times(creation.id(), false), path);
    const std::vector<hsize_t> sizes = sizes_of(shape);
    const Hdf5Handle space(checked(H5Screate_simple(static_cast<int>(sizes.size()), sizes.data(), nullptr), path),
                           H5Sclose);
    const hid_t dataset =
        H5Dcreate2(file.handle.id(), name.c_str(), type, space.id(), H5P_DEFAULT, creation.id(), H5P_DEFAULT);
    return {{checked(dataset, path), H5Dclose}, path};
}

void write_block_of(const Hdf5Object& variable, std::span<const std::int64_t> start,
                    std::span<const std::int64_t> count, hid_t type, const void* values) {
    const std::string& path = variable.path;
    const std::vector<hsize_t> from = sizes_of(start);
    const std::vector<hsize_t> sizes = sizes_of(count);
    const Hdf5Handle target(checked(H5Dget_space(variable.handle.id()), path), H5Sclose);
    checked(H5Sselect_hyperslab(target.id(), H5S_SELECT_SET, from.data(), nullptr, sizes.data(), nullptr), path);
    const Hdf5Handle source(checked(H5Screate_simple(static_cast<int>(sizes.size()), sizes.data(), nullptr), path),
                            H5Sclose);
    checked(H5Dwrite(variable.handle.id(), type, source.id(), target.id(), H5P_DEFAULT, values), path);
}

}  // namespace

template <class T>
Hdf5Object create_grid(const Hdf5Object& file, const std::string& name, std::span<const std::int64_t> shape,
                       std::span<const std::int64_t> chunk, const std::optional<T>& missing) {
    const Silence silence;
    const std::string& path = file.path;
    const Hdf5Handle creation = property_list(H5P_DATASET_CREATE, path);
    const std::vector<hsize_t> sizes = sizes_of(chunk);
    checked(H5Pset_chunk(creation.id(), static_cast<int>(sizes.size()), sizes.data()), path);
    checked(H5Pset_shuffle(creation.id()), path);
    checked(H5Pset_deflate(creation.id(), 1), path);
    if (missing) checked(H5Pset_fill_value(creation.id(), memory_type<T>(), &*missing), path);
    Hdf5Object variable = create_grid_of(file, name, shape, file_type<T>(), creation);
    if (missing) write_attribute(variable, "_FillValue", std::span<const T>(&*missing, 1));
    return variable;
}

template <>
Hdf5Object create_grid(const Hdf5Object& file, const std::string& name, std::span<const std::int64_t> shape,
                       std::span<const std::int64_t> /*chunk*/, const std::optional<std::string>& /*missing*/) {
    const Silence silence;
    const Hdf5Handle type = text_type(file.path);
    return create_grid_of(file, name, shape, type.id(), property_list(H5P_DATASET_CREATE, file.path));
}

template <class T>
void write_block(const Hdf5Object& variable, std::span<const std::int64_t> start, std::span<const std::int64_t> count,
                 std::span<const T> values) {
    const Silence silence;
    write_block_of(variable, start, count, memory_type<T>(), values.data());
}

template <>
void write_block(const Hdf5Object& variable, std::span<const std::int64_t> start, std::span<const std::int64_t> count,
                 std::span<const std::string> values) {
    const Silence silence;
    std::vector<const char*> pointers;
    pointers.reserve(values.size());
    for (const std::string& value : values) pointers.push_back(value.c_str());
    const Hdf5Handle type = text_type(variable.path);
    write_block_of(variable, start, count, type.id(), pointers.data());
}

void write_attribute(const Hdf5Object& object, const std::string& name, std::string_view text) {
    const Silence silence;
    const std::string& path = object.path;
    const Hdf5Handle type = text_type(path);
    const Hdf5Handle space(checked(H5Screate(H5S_SCALAR), path), H5Sclose);
    const hid_t created = H5Acreate2(object.handle.id(), name.c_str(), type.id(), space.id(), H5P_DEFAULT, H5P_DEFAULT);
    const Hdf5Handle attribute(checked(created, path), H5Aclose);
    const std::string terminated(text);
    const char* const pointer = terminated.c_str();
    checked(H5Awrite(attribute.id(), type.id(), &pointer), path);
}

template <class T>
void write_attribute(const Hdf5Object& object, const std::string& name, std::span<const T> values) {
    const Silence silence;
    const std::string& path = object.path;
    const hsize_t count = values.size();
    const Hdf5Handle space(checked(H5Screate_simple(1, &count, nullptr), path), H5Sclose);
    const hid_t created =
        H5Acreate2(object.handle.id(), name.c_str(), file_type<T>(), space.id(), H5P_DEFAULT, H5P_DEFAULT);
    const Hdf5Handle attribute(checked(created, path), H5Aclose);
    checked(H5Awrite(attribute.id(), memory_type<T>(), values.data()), path);
}

void close_hdf5_file(Hdf5Object& file) {
    const Silence silence;
    checked(H5Fflush(file.handle.id(), H5F_SCOPE_GLOBAL), file.path);
    if (!file.handle.close()) throw base::IoError("write", file.path, innermost_reason(), base::FileUse::output);
}

template Hdf5Object create_variable(const Hdf5Object&, const std::string&, std::optional<double>);
template Hdf5Object create_variable(const Hdf5Object&, const std::string&, std::optional<float>);
template Hdf5Object create_variable(const Hdf5Object&, const std::string&, std::optional<std::int64_t>);
template Hdf5Object create_variable(const Hdf5Object&, const std::string&, std::optional<std::uint8_t>);
template void write_values(const Hdf5Object&, std::int64_t, std::span<const double>);
template void write_values(const Hdf5Object&, std::int64_t, std::span<const float>);
template void write_values(const Hdf5Object&, std::int64_t, std::span<const std::int64_t>);
template void write_values(const Hdf5Object&, std::int64_t, std::span<const std::uint8_t>);
template Hdf5Object create_grid(const Hdf5Object&, const std::string&, std::span<const std::int64_t>,
                                std::span<const std::int64_t>, const std::optional<double>&);
template Hdf5Object create_grid(const Hdf5Object&, const std::string&, std::span<const std::int64_t>,
                                std::span<const std::int64_t>, const std::optional<std::int64_t>&);
template Hdf5Object create_grid(const Hdf5Object&, const std::string&, std::span<const std::int64_t>,
                                std::span<const std::int64_t>, const std::optional<std::uint8_t>&);
template Hdf5Object create_grid(const Hdf5Object&, const std::string&, std::span<const std::int64_t>,
                                std::span<const std::int64_t>, const std::optional<std::uint16_t>&);
template void write_block(const Hdf5Object&, std::span<const std::int64_t>, std::span<const std::int64_t>,
                          std::span<const double>);
template void write_block(const Hdf5Object&, std::span<const std::int64_t>, std::span<const std::int64_t>,
                          std::span<const std::uint16_t>);
template void write_block(const Hdf5Object&, std::span<const std::int64_t>, std::span<const std::int64_t>,
                          std::span<const std::int64_t>);
template void write_block(const Hdf5Object&, std::span<const std::int64_t>, std::span<const std::int64_t>,
                          std::span<const std::uint8_t>);
template void write_attribute(const Hdf5Object&, const std::string&, std::span<const double>);
template void write_attribute(const Hdf5Object&, const std::string&, std::span<const float>);
template void write_attribute(const Hdf5Object&, const std::string&, std::span<const std::int64_t>);
template void write_attribute(const Hdf5Object&, const std::string&, std::span<const std::uint8_t>);

}  // namespace spotwright::record
