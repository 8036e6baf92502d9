"""Results of logs recorded on the bench."""

from __future__ import annotations

from spotwright._record import Record
from spotwright._results_common import Interval, Sometimes
from spotwright._results_study import Allan, LinearityFigures


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
