"""Drawings of the program, for notebooks and files."""

from __future__ import annotations

import os
from pathlib import Path


class Drawing:
    """A drawing as scalable vector graphics. A notebook shows it."""

    def __init__(self, svg: str) -> None:
        self.svg = svg

    def save(self, path: str | os.PathLike[str]) -> None:
        """Writes it to a file (.svg)."""
        Path(path).write_text(self.svg, encoding="utf-8")

    def _repr_svg_(self) -> str:
        return self.svg

    def __repr__(self) -> str:
        return f"Drawing({len(self.svg)} characters of SVG)"
