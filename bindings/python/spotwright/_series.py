"""A series of readings as arrays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import xarray
    from numpy.typing import NDArray

    from spotwright import results


class Series:
    """Readings one by one: an attribute for each column of a series file, named like it.

    ``reading``, ``time_ms``, ``displacement_mm`` (of single readings), ``output_mm`` (after median and average) and
    ``validity`` are always there; ``position_px`` and ``peak_e`` for triangulation, ``phase_rad`` and ``amplitude_e``
    by phase, ``delay_ns`` and ``answered_pulses`` for pulses; ``true_mm`` and ``exposure_us`` for a part that moves.
    What does not exist is NaN.

    Attributes
    ----------
    result : results.Reading
        What ``read`` returns.
    validity_words : list of str
        What the numbers of ``validity`` mean.
    """

    # Columns, for type checkers; `__getattr__` finds them.
    reading: NDArray[np.int64]
    time_ms: NDArray[np.float64]
    displacement_mm: NDArray[np.float64]
    output_mm: NDArray[np.float64]
    validity: NDArray[np.uint8]
    position_px: NDArray[np.float64]
    peak_e: NDArray[np.float32]
    phase_rad: NDArray[np.float64]
    amplitude_e: NDArray[np.float32]
    delay_ns: NDArray[np.float64]
    answered_pulses: NDArray[np.float32]
    true_mm: NDArray[np.float64]
    exposure_us: NDArray[np.float64]

    def __init__(
        self,
        columns: list[tuple[str, str, str, NDArray[Any]]],
        words: list[str],
        result: results.Reading,
        scenario_toml: str,
    ) -> None:
        self._columns = {name: values for name, _, _, values in columns}
        self._labels = {name: {"units": units, "long_name": long_name} for name, units, long_name, _ in columns}
        self._scenario_toml = scenario_toml
        self.validity_words = words
        self.result = result

    @property
    def columns(self) -> list[str]:
        """Names of the columns."""
        return list(self._columns)

    @property
    def valid(self) -> NDArray[np.bool_]:
        """Whether each reading is valid."""
        valid: NDArray[np.bool_] = self.validity == self.validity_words.index("valid")
        return valid

    if not TYPE_CHECKING:  # the annotations above have them

        def __getattr__(self, name: str) -> Any:
            if name.startswith("_"):
                raise AttributeError(name)
            try:
                return self._columns[name]
            except KeyError:
                raise AttributeError(f"no column {name!r}; there are {', '.join(self._columns)}") from None

    def __getitem__(self, name: str) -> NDArray[Any]:
        return self._columns[name]

    def __len__(self) -> int:
        return len(self._columns["reading"])

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._columns]

    def __repr__(self) -> str:
        return f"Series of {len(self)} readings: {', '.join(self._columns)}"

    def units_of(self, name: str) -> str:
        """Units of a column."""
        return self._labels[name]["units"]

    def to_xarray(self) -> xarray.Dataset:
        """The columns as labelled data along ``reading``, as in a series file."""
        import xarray

        variables = {
            name: xarray.Variable("reading", values, self._labels[name])
            for name, values in self._columns.items()
            if name not in ("reading", "time_ms")
        }
        variables["validity"].attrs.update(
            flag_values=np.arange(len(self.validity_words), dtype=np.uint8), flag_meanings=" ".join(self.validity_words)
        )
        coordinates = {
            name: xarray.Variable("reading", self._columns[name], self._labels[name]) for name in ("reading", "time_ms")
        }
        return xarray.Dataset(variables, coordinates, {"scenario_toml": self._scenario_toml})
