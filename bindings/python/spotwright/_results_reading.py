"""Results of readings, of their materials and of layouts."""

from __future__ import annotations

from collections.abc import Mapping

from spotwright._record import Record
from spotwright._results_common import Interval, Sometimes
from spotwright._results_shelf import Ensemble, Specimens


class SourcesOfMaterial(Record):
    reflectance: str
    slope: str


class SourcesOfInterface(Record):
    index: str
    roughness: str


class Interface(Record):
    reflectance: float
    mirror_share: float
    rms_height_um: float
    rms_slope: list[float]
    sources: SourcesOfInterface


class Volume(Record):
    reduced_scattering_per_mm: float
    absorption_per_mm: float
    anisotropy: float
    source: str


class RangeOfMaterial(Record):
    """From and to of each value; ``rms_slope`` along the lay, across it."""

    reflectance: Interval | None
    rms_slope: list[Interval] | None
    rms_height_um: Interval | None
    reduced_scattering_per_mm: Interval | None
    absorption_per_mm: Interval | None
    source: str


class Material(Record):
    name: str
    title: str
    reflectance: float | None
    known_nm: list[float]
    slope_deg: float
    interface: Interface | None
    volume: Volume | None
    range: RangeOfMaterial | None
    sources: SourcesOfMaterial


class Materials(Record):
    """Of ``materials``."""

    wavelength_nm: float
    materials: list[Material]


class VerdictContribution(Record):
    name: str
    size_um: float
    systematic: bool


class Verdict(Record):
    """``allowed_um`` is the error that a stable part may have, ``found_um`` the one found; ``covers`` says of what."""

    level: str
    explanation: str
    covers: str
    allowed_um: float
    found_um: float | None
    valid_share: float
    reasons: list[str]
    expanded_uncertainty_um: float | None
    percent_of_span: float | None
    tolerance_um: float
    contributions: list[VerdictContribution]


class Signal(Record):
    peak_e: float
    peak_share: float | None
    background_e: float
    exposure_us: float
    received_power_uW: float


class Speckle(Record):
    model: str
    patches: int
    contrast: float
    pattern_contrast: float
    size_um: float
    size_px: float
    sd_um: float | None
    sd_interval_um: Interval | None
    grain_sd_um: float | None
    offset_um: float | None
    limit_um: float | None


class Motion(Record):
    outputs: int
    mean_error_um: float | None
    error_sd_um: float | None
    rms_error_um: float | None
    largest_error_um: float | None
    delay_ms: float
    age_ms: float
    bandwidth_Hz: float | None
    rms_speed_mm_per_s: float
    lag_um: float
    rms_smear_um: float
    outside_share: float
    unresolved_share: float


class ExposureControl(Record):
    changes: int
    dark_readings_per_change: float | None
    saturated_readings_per_change: float | None
    late_readings: float | None
    blind_length_mm: float | None
    mean_rate_kHz: float
    least_rate_kHz: float
    shortest_exposure_us: float
    longest_exposure_us: float


class Scan(Record):
    """Of a shaft that turns (run-out), a roll or a step that passes."""

    kind: str
    readings: int
    revolutions: Sometimes[float]
    readings_per_revolution: Sometimes[float]
    eccentricity_um: Sometimes[float]
    eccentricity_u_um: Sometimes[float]
    high_spot_deg: Sometimes[float]
    high_spot_u_deg: Sometimes[float]
    total_run_out_um: Sometimes[float]
    out_of_roundness_um: Sometimes[float]
    residual_sd_um: Sometimes[float]
    diameter_mm: Sometimes[float]
    diameter_u_mm: Sometimes[float]
    height_um: Sometimes[float]
    height_u_um: Sometimes[float]
    edge_mm: Sometimes[float]


class Frequency(Record):
    modulation_MHz: float
    phase_rad: float | None
    amplitude_e: float | None
    offset_e: float
    phase_sd_rad: float | None


class Flight(Record):
    unambiguous_range_mm: float
    depth_sd_mm: float
    grains: float
    wrap_error_chance: Sometimes[float | None]
    wrong_wrap_share: Sometimes[float]
    frequencies: Sometimes[list[Frequency]]
    electrons_per_pulse: Sometimes[float]
    peak_over_noise: Sometimes[float | None]
    answered_share: Sometimes[float]
    pulse_sd_ps: Sometimes[float | None]
    overload: Sometimes[float]


class Thickness(Record):
    index: float
    found_share: float
    true_mm: float | None
    mean_mm: float | None
    still_sd_um: float | None
    still_sd_interval_um: Interval | None


class Glare(Record):
    """Where the mirrored beam of a part with gloss goes; the tilts are null where the lit face is a slope of a shape."""

    tilt_deg: float | None
    out_of_plane_deg: float | None
    reach_deg: float
    away_deg: float
    off_lens_deg: float


class GlareOfLayout(Record):
    """Likewise; ``tilt_deg`` in-plane and out-of-plane."""

    tilt_deg: list[float] | None
    reach_deg: float
    away_deg: float
    off_lens_deg: float


class Reading(Record):
    """Of ``read``, and of ``series``."""

    title: str
    seed: int
    principle: str
    model: str
    readings: int
    valid_share: float
    independent_outputs: int
    replaced_valid_share: float | None
    invalid: Mapping[str, float]
    true_mm: float
    mean_mm: float | None
    bias_um: float | None
    bias_without_speckle_um: float | None
    marking_error_um: float | None
    inside_error_um: float | None
    lens_error_um: float | None
    still_sd_um: float | None
    still_sd_interval_um: Interval | None
    replaced_sd_um: float | None
    replaced_sd_interval_um: Interval | None
    sampling_kHz: float
    output_response_ms: float
    signal: Signal
    speckle: Speckle | None
    motion: Sometimes[Motion]
    exposure_control: Sometimes[ExposureControl]
    scan: Sometimes[Scan | None]
    flight: Sometimes[Flight]
    thickness: Sometimes[Thickness]
    glare: Sometimes[Glare]
    rays: Sometimes[int]
    model_standard_error_um: Sometimes[float | None]
    verdict: Verdict
    ensemble: Sometimes[Ensemble]
    specimens: Sometimes[Specimens]


class FrequencyLayout(Record):
    modulation_MHz: float
    mm_per_rad: float
    cyclic_error_period_mm: float | None


class Room(Record):
    """Around the sensor's housing, for a part at the reference point and at the near end."""

    clearance_mm: float
    near_clearance_mm: float
    height_mm: float
    width_mm: float
    thickness_mm: float


class Layout(Record):
    """Of ``layout``. Lists run near end of the range, reference point, far end."""

    distance_mm: list[float]
    span_mm: float
    detector_tilt_deg: Sometimes[float]
    magnification: Sometimes[float]
    sensitivity_um_per_um: Sometimes[float]
    pixel_um: Sometimes[float]
    image_position_mm: Sometimes[list[float]]
    measurable_range_mm: Sometimes[list[float]]
    measurable_limits: Sometimes[list[str]]
    object_side_na: Sometimes[float]
    speckle_limit_um: Sometimes[float]
    glare: Sometimes[GlareOfLayout | None]
    principle: Sometimes[str]
    unambiguous_range_mm: Sometimes[float]
    frequencies: Sometimes[list[FrequencyLayout]]
    field_radius_mm: Sometimes[list[float]]
    full_field_radius_mm: Sometimes[list[float]]
    field_offset_mm: Sometimes[list[float]]
    spot_within_field: Sometimes[list[bool]]
    collected_power_nW: Sometimes[list[float]]
    received_power_nW: Sometimes[list[float]]
    mean_power_mW: Sometimes[float]
    beam_radius_um: list[float]
    room: Room | None
    warnings: Sometimes[list[str]]
    laser_class_estimate: str
    laser_caution: str
