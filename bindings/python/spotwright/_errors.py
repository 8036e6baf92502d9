"""What the program rejects, with its place."""

from __future__ import annotations

from typing import NamedTuple


class Problem(NamedTuple):
    """One thing wrong in a scenario, a material, a log or a setting.

    Attributes
    ----------
    file : str
        Where it stands: a path, or a description such as ``<--set target.tilt_deg>``.
    line, column : int
        Counted from 1; 0 where they are not known.
    key : str
        Dotted, as in ``detector.pitch_um``.
    message : str
        What is wrong, with the offending value.
    allowed : str
        What would be accepted; may be empty.
    hint : str
        The nearest known name, or what to try; may be empty.
    """

    file: str
    line: int
    column: int
    key: str
    message: str
    allowed: str
    hint: str


class ScenarioError(ValueError):
    """The user's input is wrong: every problem found, in the words of the command line.

    Attributes
    ----------
    problems : list of Problem
        All of them; empty where an argument is outside what a model knows.
    file, line, key
        Of the first problem; ``""``, 0 and ``""`` without one.
    """

    def __init__(self, text: str, problems: list[Problem]) -> None:
        super().__init__(text)
        self.problems = list(problems)

    def __reduce__(self) -> tuple[type, tuple[str, list[Problem]]]:
        return type(self), (self.args[0], self.problems)

    @property
    def file(self) -> str:
        return self.problems[0].file if self.problems else ""

    @property
    def line(self) -> int:
        return self.problems[0].line if self.problems else 0

    @property
    def key(self) -> str:
        return self.problems[0].key if self.problems else ""
