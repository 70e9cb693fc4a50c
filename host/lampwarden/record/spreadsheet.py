"""Rows as CSV (RFC 4180) that a spreadsheet takes for what they are. Pure."""

import csv
import io
from collections.abc import Iterable, Sequence

MARK = "\ufeff"
"""At the beginning of a file it tells spreadsheets that the rest is UTF-8."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """The table, without the mark. None is an empty field, a number is given to 0.0001."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows([_plain(value) for value in row] for row in rows)
    return out.getvalue()


def _plain(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4f}".rstrip("0").rstrip(".")
    # A person's text that a spreadsheet would take for a formula is marked as text.
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value
