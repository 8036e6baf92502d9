"""Types that the declarations of results share."""

from __future__ import annotations

from typing import Annotated, TypeAlias, TypeVar

SOMETIMES = "only some scenarios have it"
_T = TypeVar("_T")
Sometimes: TypeAlias = Annotated[_T, SOMETIMES]
Interval: TypeAlias = list[float]
