"""All colours of a session as a table: a row a cell and reading. Pure."""

from collections.abc import Iterator, Mapping, Sequence

from ..domain.reading import CellColour, Way
from ..domain.sheet import Sheet
from ..findings.change import Change
from ..findings.conclude import Conclusions
from .concluded import concluded
from .gather import Look, Record

COLOURS = (
    "session", "reading", "checkpoint", "taken_utc", "session_s", "way", "counts", "cell", "role", "treatment", "arm",
    "dose_j_cm2", "L_d50", "a_d50", "b_d50", "u_L", "u_a", "u_b", "r457_pct", "u_r457_pct", "spread_de00", "usable",
    "de00", "de00_low", "de00_high", "gain_de00", "u_gain_de00", "delta_L", "delta_a", "delta_b",
    "detection_limit_de00", "remarks",
)  # fmt: skip
"""u_ are standard uncertainties; low and high are 95 % bounds."""
SWATCH = "swatch kept in the dark"


def colours(record: Record) -> Iterator[Sequence[object]]:
    """Every colour that was read, refused readings too; changes where they could be reckoned. Columns as in COLOURS."""
    if record.sheet is None:
        return
    ways = {look.reading.way for look in record.looks}
    found = {way: each for way in ways if (each := concluded(record, way)) is not None}
    for row in _rows(record.id, record.sheet, record.looks, found):
        yield [row.get(name) for name in COLOURS]


def _rows(
    session_id: str, sheet: Sheet, looks: Sequence[Look], found: Mapping[Way, Conclusions]
) -> Iterator[dict[str, object]]:
    changes = {
        (change.reading, cell.cell): change
        for each in found.values()
        for cell in each.cells
        for change in cell.series.changes
    }
    arms = {name: arm.name for each in found.values() for arm in each.arms for name in arm.cells}
    about = {cell.name: (cell.role, cell.treatment.label) for cell in sheet.cells}
    for look in looks:
        reading = look.reading
        whole: dict[str, object] = {
            "session": session_id,
            "reading": reading.id,
            "checkpoint": reading.checkpoint,
            "taken_utc": reading.taken_utc,
            "session_s": reading.session_s,
            "way": reading.way.value,
            "counts": not (reading.refused or reading.superseded),
        }
        if reading.refused:
            yield whole | {"remarks": reading.refused}
            continue
        for colour in (*reading.cells, *reading.swatches):
            role, treatment = about.get(colour.cell, (SWATCH, ""))
            yield whole | {
                "cell": colour.cell,
                "role": role,
                "treatment": treatment,
                "arm": arms.get(colour.cell, ""),
                "dose_j_cm2": look.doses_j_cm2.get(colour.cell),
                "detection_limit_de00": reading.detection_limit_de00,
            } | _colour(colour) | _change(changes.get((reading.id, colour.cell)))  # fmt: skip


def _colour(colour: CellColour) -> dict[str, object]:
    lab, u = colour.lab_d50, colour.u_lab
    return {
        **dict(zip(("L_d50", "a_d50", "b_d50"), lab, strict=True)),
        **dict(zip(("u_L", "u_a", "u_b"), u, strict=True)),
        "r457_pct": colour.r457_pct,
        "u_r457_pct": colour.r457_u_pct,
        "spread_de00": colour.spread_de00,
        "usable": colour.usable,
        "remarks": " ".join(colour.marks),
    }


def _change(change: Change | None) -> dict[str, object]:
    if change is None:
        return {}
    return {
        "de00": change.de00.value,
        "de00_low": change.de00.low,
        "de00_high": change.de00.high,
        "gain_de00": change.gain.value,
        "u_gain_de00": change.gain.u,
        "delta_L": change.lightness.value,
        "delta_a": change.redness.value,
        "delta_b": change.yellowness.value,
    }
