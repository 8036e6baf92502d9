"""Results by name and type, for type checkers and editors.

Results are records (``spotwright.Record``), named and ordered as the program prints them. The classes declare their
entries; at run time every result is a plain record. Names end in their units. ``None`` means that something does not exist,
such as the mean of readings none of which is valid; ``Sometimes`` marks entries that only some scenarios have.
"""

from spotwright._results_bench import (
    Bench as Bench,
    Compared as Compared,
    Fit as Fit,
    Fitted as Fitted,
    PlaceErrors as PlaceErrors,
)
from spotwright._results_common import SOMETIMES as SOMETIMES, Interval as Interval, Sometimes as Sometimes
from spotwright._results_reading import (
    ExposureControl as ExposureControl,
    Flight as Flight,
    Frequency as Frequency,
    FrequencyLayout as FrequencyLayout,
    Interface as Interface,
    Layout as Layout,
    Room as Room,
    Material as Material,
    Materials as Materials,
    Motion as Motion,
    RangeOfMaterial as RangeOfMaterial,
    Reading as Reading,
    Scan as Scan,
    Signal as Signal,
    SourcesOfInterface as SourcesOfInterface,
    SourcesOfMaterial as SourcesOfMaterial,
    Speckle as Speckle,
    Thickness as Thickness,
    Verdict as Verdict,
    VerdictContribution as VerdictContribution,
    Volume as Volume,
)
from spotwright._results_shelf import (
    BenchWorth as BenchWorth,
    Ensemble as Ensemble,
    Inference as Inference,
    JobPose as JobPose,
    LevelCounts as LevelCounts,
    PartOfJob as PartOfJob,
    RankedSensor as RankedSensor,
    SensorSetup as SensorSetup,
    SheetParameter as SheetParameter,
    SheetRow as SheetRow,
    Shortcoming as Shortcoming,
    Shortlist as Shortlist,
    Specimens as Specimens,
)
from spotwright._results_study import (
    Advice as Advice,
    Allan as Allan,
    AllanMinimum as AllanMinimum,
    AllanPoint as AllanPoint,
    AveragedError as AveragedError,
    Budget as Budget,
    Contribution as Contribution,
    Crossover as Crossover,
    CrossoverPoint as CrossoverPoint,
    Drift as Drift,
    DriftCause as DriftCause,
    DriftPoint as DriftPoint,
    ErrorAtDistance as ErrorAtDistance,
    LinearityCurve as LinearityCurve,
    LinearityFigures as LinearityFigures,
    MonteCarlo as MonteCarlo,
    NonLinearity as NonLinearity,
    ResetInterval as ResetInterval,
    Trial as Trial,
)
