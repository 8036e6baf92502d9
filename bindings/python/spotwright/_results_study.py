"""Results of studies: budget, advice, drift, averaging, linearity and crossover."""

from __future__ import annotations

from spotwright._record import Record
from spotwright._results_common import Interval, Sometimes
from spotwright._results_reading import Verdict
from spotwright._results_shelf import Ensemble


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
    conclusive: bool
    valid_share: float
    verdict: Verdict
    ensemble: Sometimes[Ensemble]


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
    ensemble: Sometimes[Ensemble]


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
