"""The table of cells at one reading, in the order a person asks for."""

import re
from collections.abc import Sequence
from dataclasses import replace

from ...domain.reading import Reading
from ...domain.sheet import Sheet
from ...findings.conclude import Conclusions
from ..photos_view import CellRow, reading_view

HEADS = {
    "cell": "Cell",
    "lab": "Before and now",
    "change": "Change ΔE00",
    "control": "Whiter than control, ΔE00",
    "verdict": "Verdict",
}
"""Columns that can be sorted by, and what they are called."""
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


def rows(
    reading: Reading, sheet: Sheet, found: Conclusions | None, key: str = "cell", *, down: bool = False
) -> tuple[CellRow, ...]:
    """The cells at a reading, sorted by a column of HEADS; those without a value come last either way."""
    watched = {cell.name: cell.ink or "an ink" for cell in sheet.cells if cell.role == "ink watch"}
    shown = [
        # An ink is compared with itself, not with bare paper.
        replace(row, about=f"watches {watched[row.cell]}", control="") if row.cell in watched else row
        for row in reading_view(reading, sheet, found).rows
    ]
    return in_order(shown, key, down=down)


def in_order(cells: Sequence[CellRow], key: str, *, down: bool = False) -> tuple[CellRow, ...]:
    """Rows sorted by a column. 'cell' is the sheet's own order."""
    if key == "cell":
        return tuple(reversed(cells) if down else cells)
    if key == "verdict":
        return tuple(sorted(cells, key=lambda row: row.verdict, reverse=down))

    def number(row: CellRow) -> float | None:
        found = _NUMBER.search(getattr(row, key).partition(" ")[2] if key == "lab" else getattr(row, key))
        return float(found[0]) if found else None

    known = sorted((row for row in cells if number(row) is not None), key=lambda row: number(row) or 0.0, reverse=down)
    return (*known, *(row for row in cells if number(row) is None))
