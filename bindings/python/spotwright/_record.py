"""Results as records: attributes, items and JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any


class Record(Mapping[str, Any]):
    """A result of the program. Names carry their units; what does not exist is None.

    Entries are attributes (``result.verdict.level``) and items (``result["verdict"]["level"]``) alike, in the order in
    which the program prints them. A record does not change.
    """

    __slots__ = ("_entries", "_text")
    _entries: dict[str, object]
    _text: str | None

    def __init__(self, entries: Mapping[str, Any], text: str | None = None) -> None:
        object.__setattr__(self, "_entries", {key: _wrapped(value) for key, value in entries.items()})
        object.__setattr__(self, "_text", text)

    @classmethod
    def from_json(cls, text: str) -> Any:
        """The record, or list of records, of a JSON text."""
        value = json.loads(text)
        return cls(value, text) if isinstance(value, dict) else _wrapped(value)

    def to_json(self) -> str:
        """The JSON text that the command line prints for it, without the line break at its end."""
        return self._text if self._text is not None else json.dumps(self.to_dict(), indent=2, ensure_ascii=False)

    def to_dict(self) -> dict[str, Any]:
        """Plain dictionaries, lists and values."""
        return {key: _plain(value) for key, value in self._entries.items()}

    def __getitem__(self, name: str) -> Any:
        return self._entries[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    if not TYPE_CHECKING:  # to type checkers `spotwright.results` says which entries there are

        def __getattr__(self, name: str) -> Any:
            if name.startswith("_"):
                raise AttributeError(name)
            try:
                return self._entries[name]
            except KeyError:
                names = ", ".join(self._entries)
                raise AttributeError(f"no entry {name!r}; there are {names}") from None

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError("a record does not change")

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._entries]

    def __repr__(self) -> str:
        return "\n".join(_lines(self, ""))

    def __reduce__(self) -> tuple[Any, ...]:
        return Record, (self.to_dict(), self._text)


def _wrapped(value: Any) -> Any:
    if isinstance(value, dict):
        return Record(value)
    if isinstance(value, list):
        return [_wrapped(each) for each in value]
    return value


def _plain(value: Any) -> Any:
    if isinstance(value, Record):
        return value.to_dict()
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value


def _lines(record: Record, indent: str) -> list[str]:
    lines = []
    for key, value in record.items():
        if isinstance(value, Record):
            lines += [f"{indent}{key}:", *_lines(value, indent + "  ")]
        elif isinstance(value, list) and value and isinstance(value[0], Record):
            lines += [f"{indent}{key}: {len(value)} records"]
        else:
            lines += [f"{indent}{key}: {_shown(value)}"]
    return lines


def _shown(value: Any) -> str:
    """For people: numbers to six digits."""
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list):
        return f"[{', '.join(map(_shown, value))}]"
    return str(value)
