"""Results by name and type, for type checkers and editors.

Results are records (``spotwright.Record``), named and ordered as the program prints them. The classes below say what stands
in them; at run time every result is a plain record. Names end in their units. ``None`` means that something does not exist,
such as the mean of readings none of which is valid; ``Sometimes`` marks entries that only some scenarios have.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, TypeAlias, TypeVar

from spotwright._record import Record

SOMETIMES = "only some scenarios have it"
_T = TypeVar("_T")
Sometimes: TypeAlias = Annotated[_T, SOMETIMES]
Interval: TypeAlias = list[float]


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
    level: str
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


class Thickness(Record):
    index: float
    found_share: float
    true_mm: float | None
    mean_mm: float | None
    still_sd_um: float | None
    still_sd_interval_um: Interval | None


class Reading(Record):
    """Of ``read``, and of ``series``."""

    title: str
    seed: int
    principle: str
    model: str
    readings: int
    valid_share: float
    invalid: Mapping[str, float]
    true_mm: float
    mean_mm: float | None
    bias_um: float | None
    bias_without_speckle_um: float | None
    marking_error_um: float | None
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
    rays: Sometimes[int]
    model_standard_error_um: Sometimes[float | None]
    verdict: Verdict


class FrequencyLayout(Record):
    modulation_MHz: float
    mm_per_rad: float
    cyclic_error_period_mm: float | None


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
    laser_class_estimate: str
    laser_caution: str


class Contribution(Record):
    name: str
    kind: str
    standard_uncertainty_um: float
    degrees_of_freedom: float | None
    bias_um: float
    basis: str


class MonteCarlo(Record):
    trials: int
    without_result: int
    mean_um: float
    standard_uncertainty_um: float
    shortest_interval_um: Interval
    end_error_um: float


class Budget(Record):
    """Of ``budget``."""

    title: str
    contributions: list[Contribution]
    bias_um: float
    combined_um: float
    degrees_of_freedom: float | None
    coverage_factor: float
    expanded_um: float
    percent_of_span: float
    error_bound_um: float
    monte_carlo: MonteCarlo
    disagreement_um: float
    agreement_tolerance_um: float
    agrees: bool
    valid_share: float
    verdict: Verdict


class Trial(Record):
    """Some changes and what they lead to."""

    changes: list[str]
    settings: list[str]
    cost: float
    speed_lost: float
    range_lost: float
    parts_changed: int
    level: str
    expanded_uncertainty_um: float | None
    valid_share: float
    obstacle: str | None


class Advice(Record):
    """Of ``advise``."""

    title: str
    summary: str
    as_it_is: Trial
    reaching_stable: list[Trial]
    others: list[Trial]


class DriftCause(Record):
    name: str
    near_um_per_K: float | None
    here_um_per_K: float | None
    far_um_per_K: float | None
    here_percent_of_span_per_K: float | None


class DriftPoint(Record):
    time_s: float
    temperature_C: float
    error_um: float | None
    after_reset_um: float | None


class ResetInterval(Record):
    interval_s: float | None
    rms_um: float | None
    largest_um: float | None


class Drift(Record):
    """Of ``drift``."""

    causes: list[DriftCause]
    path: list[DriftPoint]
    resets: list[ResetInterval]


class AllanPoint(Record):
    averages: int
    time_s: float
    deviation_um: float
    interval_um: Interval


class AllanMinimum(AllanPoint):
    inside: bool


class Allan(Record):
    """Of ``allan``."""

    gaps: str
    readings: int
    missing: int
    used: int
    curve: list[AllanPoint]
    minimum: AllanMinimum | None


class NonLinearity(Record):
    largest_um: float
    percent_of_span: float
    offset_um: float
    slope_um_per_mm: float


class LinearityFigures(Record):
    terminal: NonLinearity
    zero_based: NonLinearity
    independent: NonLinearity
    least_squares: NonLinearity


class LinearityCurve(Record):
    """Of ``linearity``."""

    material: str
    displacement_mm: list[float]
    error_um: list[float]
    unread: int
    largest_error_um: float | None
    figures: LinearityFigures | None


class AveragedError(Record):
    """Of ``averaging``."""

    average: int
    output_response_ms: float
    still_um: float
    moved_um: float
    noise_um: float


class ErrorAtDistance(Record):
    expanded_uncertainty_um: float | None
    valid_share: float
    largest: Sometimes[str]
    obstacle: Sometimes[str]
    reason: Sometimes[str]


class CrossoverPoint(Record):
    distance_mm: float
    triangulation: ErrorAtDistance
    time_of_flight: ErrorAtDistance


class Crossover(Record):
    """Of ``crossover``."""

    crossover_mm: float | None
    baseline_mm: float
    mean_power_mW: float
    time_of_flight: str
    distances: list[CrossoverPoint]


class Compared(Record):
    """A figure of a log beside its prediction, in the unit at the end of its name."""

    name: str
    measured: float
    measured_interval: Interval | None
    predicted: float
    predicted_interval: Interval | None
    difference: float
    ratio: float | None
    agree: bool | None


class Fitted(Record):
    name: str
    value: float
    standard_uncertainty: float | None
    interval: Interval | None


class Fit(Record):
    basis: str
    parameters: list[Fitted]
    remaining_sd_um: float | None
    remarks: list[str]


class PlaceErrors(Record):
    reference_mm: float
    error_um: float
    rising_um: float | None
    falling_um: float | None


class Bench(Record):
    """Of ``bench``: of a log over time, or of one over places (``kind`` is linearity)."""

    log: str
    kind: str
    ignored_columns: list[str]
    readings: int
    valid_share: float
    duration_s: Sometimes[float]
    sampling_kHz: Sometimes[float]
    gaps: Sometimes[int]
    mean_mm: Sometimes[float | None]
    still_sd_um: Sometimes[float | None]
    still_sd_interval_um: Sometimes[Interval | None]
    independent_readings: Sometimes[int]
    peak_to_peak_um: Sometimes[float | None]
    drift_um_per_s: Sometimes[float | None]
    drift_standard_uncertainty_um_per_s: Sometimes[float | None]
    signal_share: Sometimes[float | None]
    allan: Sometimes[Allan]
    span_mm: Sometimes[float]
    figures: Sometimes[LinearityFigures]
    largest_error_um: Sometimes[float]
    hysteresis_um: Sometimes[float | None]
    repeatability_sd_um: Sometimes[float | None]
    repeatability_sd_interval_um: Sometimes[Interval | None]
    places: Sometimes[list[PlaceErrors]]
    compared: Sometimes[list[Compared]]
    fit: Sometimes[Fit]
