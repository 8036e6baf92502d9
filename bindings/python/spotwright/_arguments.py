"""Wrong arguments of the compiled functions, answered in words of the package."""

from __future__ import annotations

import difflib
import functools
import inspect
import os
import re
from collections.abc import Callable
from typing import Any

from spotwright import _core

# What a parameter takes, by its type in the signature that pybind11 writes; other types take anything.
_KINDS: dict[str, tuple[tuple[type, ...], str]] = {
    "spotwright._core.Scenario": ((_core.Scenario,), "a Scenario, as sw.load or sw.parse make it"),
    "int": ((int,), "a whole number"),
    "float": ((int, float), "a number"),
    "str": ((str,), "text"),
    "bool": ((bool,), "True or False"),
    "dict": ((dict,), "a dict of keys and values, as in {'target.tilt_deg': (5, 0)}"),
    "os.PathLike": ((str, bytes, os.PathLike), "a path"),
}


class _Parameter:
    def __init__(self, text: str) -> None:
        head, _, default = text.partition(" = ")
        self.name, _, kind = head.partition(": ")
        self.required = not default
        self.optional_none = "None" in kind or default == "None"
        bare = re.sub(r"^Optional\[(.*)\]$", r"\1", kind)
        self.kind = _KINDS.get(bare)

    def rejects(self, value: object) -> bool:
        if self.kind is None or (value is None and self.optional_none):
            return False
        types, _ = self.kind
        if isinstance(value, bool) and bool not in types:
            return True
        if int in types and not isinstance(value, (bool, float, str)) and hasattr(value, "__index__"):
            return False
        return not isinstance(value, types)


def _split(parameters: str) -> list[str]:
    """Parameters at the commas that stand outside of brackets."""
    parts, depth = [""], 0
    for character in parameters:
        depth += character in "[({"
        depth -= character in "])}"
        if character == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += character
    return [part.strip() for part in parts if part.strip()]


def _signature(function: Any, name: str) -> tuple[list[_Parameter], list[_Parameter]] | None:
    """Parameters by position and those by name alone, from the first line of the docstring."""
    found = re.search(rf"^{re.escape(name)}\((.*)\) -> ", inspect.getdoc(function) or "")
    if found is None:
        return None
    positional: list[_Parameter] = []
    by_name: list[_Parameter] = []
    current = positional
    for part in _split(found.group(1)):
        if part == "*":
            current = by_name
        elif not part.startswith(("self", "**")):
            current.append(_Parameter(part))
    return positional, by_name


def _shown(value: object) -> str:
    text = repr(value)
    return f"{type(value).__name__} {text if len(text) <= 40 else text[:37] + '...'}"


def _reason(where: str, function: Any, name: str, args: tuple[Any, ...], kwargs: dict[str, Any]) -> str | None:
    signature = _signature(function, name)
    if signature is None:
        return None
    positional, by_name = signature
    known = {parameter.name: parameter for parameter in positional + by_name}
    if len(args) > len(positional):
        names = ", ".join(parameter.name for parameter in by_name)
        more = f"; give {names} by name" if names else ""
        return f"{where}: takes {len(positional)} argument{'s' if len(positional) != 1 else ''} by position, got {len(args)}{more}"
    given = dict(zip((parameter.name for parameter in positional), args))
    for key, value in kwargs.items():
        if key not in known:
            near = difflib.get_close_matches(key, known, 1)
            return f"{where}: no argument {key!r}" + (f"; did you mean {near[0]!r}?" if near else
                                                       f"; there are {', '.join(known)}")
        if key in given:
            return f"{where}: {key} is given twice, by position and by name"
        given[key] = value
    for parameter in known.values():
        if parameter.name not in given:
            if parameter.required:
                words = parameter.kind[1] if parameter.kind else "a value"
                return f"{where}: {parameter.name} is missing: must be {words}"
        elif parameter.rejects(given[parameter.name]):
            assert parameter.kind is not None
            return f"{where}: {parameter.name} must be {parameter.kind[1]}, got {_shown(given[parameter.name])}"
    return None


def in_words(function: Any, where: str, *, method: bool = False) -> Callable[..., Any]:
    """The function; a TypeError of pybind11's own says which argument is wrong, what it got and what it takes."""
    name = where.rpartition(".")[2]

    @functools.wraps(function, updated=())
    def called(*args: Any, **kwargs: Any) -> Any:
        try:
            return function(*args, **kwargs)
        except TypeError as error:
            if "incompatible" not in str(error):
                raise
            reason = _reason(where, function, "__init__" if method and name == "Scenario" else name,
                             args[1:] if method else args, kwargs)
            if reason is None:
                raise
        raise TypeError(reason)

    called.__module__ = "spotwright"
    called.__qualname__ = where
    return called
