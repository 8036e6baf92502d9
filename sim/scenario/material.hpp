// What a target is made of: optical properties, each with its source.
#pragma once

#include <array>
#include <complex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/material_range.hpp"

namespace spotwright::scenario {

/// Diffuse reflectance against wavelength: the share of power at normal incidence that is scattered back into the whole
/// half-space (directional-hemispherical, as a sphere instrument with light at 8 deg tells it, gloss excluded: common
/// practice). Under an interface in share of what passes that at normal incidence.
struct ReflectanceTable {
    std::vector<double> wavelength;  ///< ascending, at least two. [m]
    std::vector<double> value;       ///< same length, in [0, 1]. [1]
    std::string source;
    bool operator==(const ReflectanceTable&) const = default;
};

/// Spread of the surface's facet slopes, 0 for a Lambertian surface.
struct FacetSlope {
    double deviation = 0.0;  ///< standard deviation of the slope angle. [rad]
    std::string source;
    bool operator==(const FacetSlope&) const = default;
};

/// Complex refractive index of the interface against air, n + i k.
struct IndexTable {
    std::vector<double> wavelength;  ///< ascending, at least two. [m]
    std::vector<double> n;           ///< [1]
    std::vector<double> k;           ///< [1]
    std::string source;
    bool operator==(const IndexTable&) const = default;
};

enum class FacetDistribution { beckmann, ggx };

/// Roughness of the interface: heights weaken its mirror part, slopes widen its lobe.
struct Roughness {
    double rms_height = 0.0;                    ///< Rq. [m]
    std::array<double, 2> rms_slope{0.1, 0.1};  ///< along the lay, across it. [1]
    FacetDistribution distribution = FacetDistribution::beckmann;
    std::string source;
    bool operator==(const Roughness&) const = default;
};

/// Haze of a polished interface: its fine roughness, by the two-dimensional power spectral density
/// S = Rq^2 B^2 (C - 1) / (2 pi) (1 + (B f)^2)^(-(C + 1) / 2) at the spatial frequency f, in addition to `Roughness`.
struct Haze {
    double rms_height = 0.0;     ///< Rq of the whole spectrum. [m]
    double corner_length = 0.0;  ///< B: the spectrum is level below the frequency 1 / B and falls above it. [m]
    double exponent = 2.0;       ///< C > 1: the spectrum of a profile falls as f^-C, that of the face as f^-(C + 1)
    std::string source;
    bool operator==(const Haze&) const = default;
};

/// What light meets below the surface of a translucent part, by transport coefficients. A base beside it stands for the
/// same light, scattered at the face: for shapes whose inside is not modelled.
struct VolumeTable {
    std::vector<double> wavelength;          ///< ascending, at least two. [m]
    std::vector<double> reduced_scattering;  ///< sigma_s' = sigma_s (1 - g), > 0. [1/m]
    std::vector<double> absorption;          ///< sigma_a. [1/m]
    std::vector<double> anisotropy;          ///< g, the mean cosine of a scatter. [1]
    std::string source;
    bool operator==(const VolumeTable&) const = default;
};

/// A volume that ends: a coat of paint, an anodic film, a sheet. Below it, in contact with it, lies a backing that
/// sends light back to all sides.
struct Layer {
    double thickness = 0.0;                   ///< [m]
    double backing_reflectance = 0.0;         ///< of the backing, where no material is named. [1]
    std::string backing;                      ///< a material of the library, by its name; empty: by its reflectance
    ReflectanceTable backing_base;            ///< of that material; empty: a metal
    std::optional<IndexTable> backing_index;  ///< of a metal
    std::string source;
    bool operator==(const Layer&) const = default;
};

/// Grains of a volume: places of more and of less light, as the crystals of a stone make them.
struct Grain {
    double size = 0.0;       ///< diameter. [m]
    double variation = 0.0;  ///< standard deviation of the light that a grain sends back, over its mean. [1]
    std::string source;
    bool operator==(const Grain&) const = default;
};

/// Transport coefficients at one wavelength.
struct VolumeCoefficients {
    double reduced_scattering = 0.0;  ///< [1/m]
    double absorption = 0.0;          ///< [1/m]
    double anisotropy = 0.0;          ///< [1]
};

/// What scattering below the surface leaves of the light's coherence: of a diffuse base or a volume.
struct ScatterCoherence {
    double polarisation_degree = 0.0;  ///< of light sent back where polarised light came in. [1]
    double path_deviation = 0.0;       ///< standard deviation of its optical path; a volume's follows from itself. [m]
    std::string source;                ///< empty: the defaults, a base that depolarises and adds no path
    bool operator==(const ScatterCoherence&) const = default;
};

/// A matt part has a diffuse base alone, a metal an interface alone, a glossy part both; a translucent part has a
/// volume in place of the base, or beside it.
struct Material {
    std::string name;              ///< as written in `target.material`
    std::string title;             ///< a line for people
    ReflectanceTable reflectance;  ///< of the diffuse base, below the interface where there is one; may be empty
    FacetSlope slope;              ///< of the diffuse base
    std::optional<IndexTable> index;
    Roughness roughness;                 ///< counts where there is an index
    std::optional<Haze> haze;            ///< only with an index; none: the interface has no fine roughness
    ScatterCoherence coherence;          ///< of the diffuse base or volume
    std::optional<VolumeTable> volume;   ///< its index is that of the interface; porous to its face without one
    std::optional<Layer> layer;          ///< only with a volume
    std::optional<Grain> grain;          ///< only with a volume
    std::optional<MaterialRange> range;  ///< how far a real part may differ
    bool operator==(const Material&) const = default;
};

/// Reflectance of the diffuse base at a wavelength, linear between the table's points; 0 for an interface alone. [1]
/// @throws DomainError  Outside the wavelengths of the table: nothing is extrapolated.
[[nodiscard]] double reflectance_at(const Material& material, double wavelength);

/// Refractive index at a wavelength, linear between the table's points. [1]
/// @throws DomainError  Outside the wavelengths of the table, or the material has no interface.
[[nodiscard]] std::complex<double> index_at(const Material& material, double wavelength);

/// Transport coefficients at a wavelength, linear between the table's points.
/// @throws DomainError  Outside the wavelengths of the table, or the material has no volume.
[[nodiscard]] VolumeCoefficients volume_at(const Material& material, double wavelength);

/// Index of the volume: the real part of the interface's; 1 for a part that is porous to its face. [1]
/// @throws DomainError  Outside the wavelengths of the table.
[[nodiscard]] double volume_index_at(const Material& material, double wavelength);

/// What lies below a layer: a diffuse reflectance, or a metal's index.
struct LayerBacking {
    double reflectance = 0.0;                   ///< [1]
    std::optional<std::complex<double>> index;  ///< against air. [1]
};

/// @throws DomainError  Outside the wavelengths of the backing's table.
[[nodiscard]] LayerBacking layer_backing_at(const Layer& layer, double wavelength);

/// Whether the material has a diffuse base.
[[nodiscard]] bool has_base(const Material& material);
/// The wavelength nearest to this one that all tables of the material know: for light of many wavelengths, whose
/// reflection beyond a table is taken as that at its end. [m]
[[nodiscard]] double nearest_known_wavelength(const Material& material, double wavelength);

/// Names of the built-in library, sorted.
[[nodiscard]] std::vector<std::string> material_names();

/// Names of the library that may have been meant by another: of "white-plastic" the white plastics of the library.
[[nodiscard]] std::vector<std::string> similar_materials(std::string_view name);

/// Names of the library whose name or title holds a word, or that belong to the family it names ("plastic"); case is
/// ignored. Where there is none, those that may have been meant.
[[nodiscard]] std::vector<std::string> materials_like(std::string_view word);

/// The file of a material of the library. @throws InternalError  There is none.
[[nodiscard]] std::string_view library_material_text(std::string_view name);

/// A material of the built-in library (the files of scenarios/materials, built in).
/// @throws InternalError  The name is not in the library: ask `material_names` first.
[[nodiscard]] Material library_material(std::string_view name);

/// A material from the text of a file.
/// @throws ScenarioError  With every problem of the text.
[[nodiscard]] Material parse_material(std::string_view text, const std::string& file);

}  // namespace spotwright::scenario
