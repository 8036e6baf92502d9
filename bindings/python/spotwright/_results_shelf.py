"""Results of sheets and jobs: sensors that fit, and sensors that suit."""

from __future__ import annotations

from typing import Any

from spotwright._record import Record
from spotwright._results_common import Sometimes


class SheetRow(Record):
    """A stated value and how it fares; ``sensors`` is least, median and greatest of all sensors."""

    name: str
    outcome: str
    stated: list[float] | None
    stated_words: str
    best: float | None
    best_words: str
    sensors: list[float] | None
    remark: str


class SheetParameter(Record):
    """A parameter of the sensor, as far as the sheet determines it."""

    name: str
    best: float
    sensors: list[float]
    determined: bool
    narrowed_to: float | None
    basis: str


class BenchWorth(Record):
    """A measurement and how well it would tell the sensors apart."""

    measurement: str
    what: str
    statistic: str
    predicted: list[float]
    spread_over_error: float


class Inference(Record):
    """Of ``infer``."""

    title: str
    sensors: int
    candidates: int
    sheet: list[SheetRow]
    parameters: list[SheetParameter]
    measure_next: list[BenchWorth]
    logs: list[Any]
    before_logs: int
    sensor_toml: str


class LevelCounts(Record):
    stable: int
    marginal: int
    unstable: int
    unreadable: int


class Ensemble(Record):
    """All sensors that fit a sheet; each list is least, median and greatest."""

    members: int
    same_level: int
    levels: LevelCounts
    most_common_level: str
    bias_um: list[float] | None
    still_sd_um: list[float] | None
    replaced_sd_um: list[float] | None
    expanded_uncertainty_um: list[float] | None
    hindered: int
    first_obstacle: str


class Specimens(Ensemble):
    """Of ``read``: specimens of the sensor within the tolerances of its making."""

    bias_sd_um: float | None


class Shortcoming(Record):
    kind: str
    factor: float | None
    words: str


class SensorSetup(Record):
    mount: str
    tilt_deg: float
    displacement_mm: float
    clearance_mm: float
    settings: list[str]


class JobPose(Record):
    """A part of the job at one of its poses; without the rest where it was not computed."""

    part: str
    pose: str
    displacement_mm: float
    tilt_deg: list[float]
    computed: bool
    level: Sometimes[str]
    expanded_uncertainty_um: Sometimes[float | None]
    valid_share: Sometimes[float]
    peak_share: Sometimes[float]
    response_ms: Sometimes[float]
    largest: Sometimes[str]


class RankedSensor(Record):
    sensor: str
    title: str
    level: str
    margin: float | None
    expanded_uncertainty_um: float | None
    valid_share: float | None
    response_ms: float | None
    largest: str | None
    setup: SensorSetup
    shortcomings: list[Shortcoming]
    ensemble: Ensemble | None
    poses: list[JobPose]


class PartOfJob(Record):
    title: str
    material: str
    tolerance_um: float
    allowed_um: float


class Shortlist(Record):
    """Of ``shortlist``."""

    title: str
    clearance_mm: list[float]
    span_mm: float
    parts: list[PartOfJob]
    sensors: list[RankedSensor]
