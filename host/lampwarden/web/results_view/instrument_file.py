"""An instrument's file: CSV with a head, or the keyword format of CGATS.17 and ISO 28178 (from memory)."""

import csv
import io
import re
from collections.abc import Mapping, Sequence

from ...errors import ProgramError

ROWS_MAX = 2000
NAMES = ("sample_name", "sample_id", "cell", "name", "sample", "id")
"""Columns that may name the cell, the likeliest first."""
PLACES = {"L": ("lab_l", "l*", "l"), "a": ("lab_a", "a*", "a"), "b": ("lab_b", "b*", "b")}


def parse(text: str, cells: Sequence[str]) -> dict[str, dict[str, str]]:
    """L, a, b as texts by cell, of those cells that the file names. Raises ProgramError with what to do."""
    head, rows = _keyword(text) if re.search(r"(?m)^\s*BEGIN_DATA_FORMAT\s*$", text) else _csv(text)
    columns = [name.strip().lower() for name in head]
    places = {
        key: next((columns.index(name) for name in names if name in columns), -1) for key, names in PLACES.items()
    }
    missing = [f"{key}*" for key, place in places.items() if place < 0]
    if missing:
        raise ProgramError(
            f"The file has no column for {' and '.join(missing)}. It needs LAB_L, LAB_A, LAB_B, or L*, a*, b*."
        )
    known = {cell.lower(): cell for cell in cells}
    best: dict[str, dict[str, str]] = {}
    for name in NAMES:
        if name not in columns:
            continue
        at = columns.index(name)
        found = _named(rows, at, places, known)
        if len(found) > len(best):
            best = found
    if not best:
        raise ProgramError(
            f"The file names none of the cells {', '.join(cells)}. Name each row's cell in a column 'cell'."
        )
    return best


def _named(
    rows: Sequence[Sequence[str]], at: int, places: Mapping[str, int], known: Mapping[str, str]
) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for row in rows:
        if max(at, *places.values()) < len(row) and row[at].strip().lower() in known:
            found[known[row[at].strip().lower()]] = {key: row[place].strip() for key, place in places.items()}
    return found


def _csv(text: str) -> tuple[list[str], list[list[str]]]:
    first = text.lstrip("\ufeff").partition("\n")[0]
    mark = max(";\t,", key=first.count)
    rows = [row for row in csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=mark) if row]
    if len(rows) < 2 or len(rows) > ROWS_MAX:
        raise ProgramError(f"The file has {max(len(rows) - 1, 0)} rows under its head; 1 to {ROWS_MAX} can be read.")
    return rows[0], rows[1:]


def _keyword(text: str) -> tuple[list[str], list[list[str]]]:
    parts = re.search(
        r"(?ms)^\s*BEGIN_DATA_FORMAT\s*$(.*?)^\s*END_DATA_FORMAT\s*$.*?^\s*BEGIN_DATA\s*$(.*?)^\s*END_DATA\s*$", text
    )
    if parts is None:
        raise ProgramError("The file begins a table of data but does not end it. Export it again.")
    head = parts[1].split()
    values = re.findall(r'"([^"]*)"|(\S+)', parts[2])
    flat = [quoted or plain for quoted, plain in values]
    if not head or len(flat) > ROWS_MAX * len(head):
        raise ProgramError(f"The file's table is empty or longer than {ROWS_MAX} rows.")
    return head, [flat[at : at + len(head)] for at in range(0, len(flat), len(head))]
