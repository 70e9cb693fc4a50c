"""What a person types: hand findings, and an instrument's readings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from ...domain.finding import ASPECTS, Aspect, HandFinding
from ...domain.reading import CellColour, Reading, Way
from ...domain.sheet import Sheet
from ...errors import ProgramError
from ...service.by_hand import KeptFinding
from .. import wording as w
from ..typed import number
from ..wording import Taste
from .when import date_text

KEYS = ("L", "a", "b")
RANGES = {"L": (0.0, 100.0), "a": (-130.0, 130.0), "b": (-130.0, 130.0)}
CHI_3_95 = 2.795
"""95 % of the distances of points that scatter alike in three directions lie within this many of their standard
deviations (square root of chi-square with three degrees of freedom)."""


class Wrong(Exception):
    """Fields that cannot be taken, each with a sentence."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        super().__init__(" ".join(fields.values()))
        self.fields = fields


@dataclass(frozen=True, slots=True)
class HandRow:
    """One hand finding in the list."""

    cell: str
    what: str
    value: str
    note: str
    when: str
    by: str
    number: int
    gone: str
    """When, by whom and why it was withdrawn; empty: it stands."""


def aspect_of(key: str) -> Aspect:
    """The aspect of this key. Raises ProgramError."""
    found = next((aspect for aspect in ASPECTS if aspect.key == key), None)
    if found is None:
        raise ProgramError("Choose what you found.")
    return found


def hand_finding(cell: str, aspect: Aspect, value: str, note: str, checkpoint: str, utc: str) -> HandFinding:
    """A hand finding as typed. Raises Wrong."""
    wrong: dict[str, str] = {}
    found: float | None = None
    if not cell:
        wrong["cell"] = "Choose the cell."
    if value.strip() and not aspect.words_only:
        low, high = (0.0 if aspect.low is None else aspect.low), (1000.0 if aspect.high is None else aspect.high)
        try:
            found = aspect.checked(
                float(value) if aspect.steps else number(value, aspect.title.lower(), low, high, aspect.unit)
            )
        except (ProgramError, ValueError) as error:
            wrong["value"] = str(error)
    elif not note.strip():
        wrong["note" if aspect.words_only else "value"] = "Give a value, or write a note."
    if len(note) > 1000:
        wrong["note"] = f"The note has {len(note)} letters; up to 1000 are kept."
    if wrong:
        raise Wrong(wrong)
    return HandFinding(
        cell=cell, aspect=aspect.key, value=found, note=note.strip(), checkpoint=checkpoint, found_utc=utc
    )


def hand_rows(findings: Sequence[KeptFinding], sheet: Sheet, taste: Taste) -> tuple[HandRow, ...]:
    """Hand findings by cell in the sheet's order, the newest of each cell first."""
    known = {aspect.key: aspect for aspect in ASPECTS}
    order = {cell.name: number for number, cell in enumerate(sheet.cells)}
    newest_first = sorted(findings, key=lambda kept: w.moment(kept.finding.found_utc), reverse=True)
    rows = []
    for kept in sorted(newest_first, key=lambda kept: order.get(kept.finding.cell, len(order))):
        each, gone = kept.finding, ""
        if kept.withdrawn is not None:
            on = date_text(w.moment(kept.withdrawn.utc), taste)
            gone = f"Withdrawn {on} by {kept.withdrawn.by}: {kept.withdrawn.why}"
        aspect = known.get(each.aspect)
        value = "" if each.value is None else aspect.text(each.value) if aspect else f"{each.value:g}"
        when = date_text(w.moment(each.found_utc), taste)
        at = f"{each.checkpoint}, {when}" if each.checkpoint else when
        what = aspect.title if aspect else each.aspect
        rows.append(HandRow(each.cell, what, value, each.note, at, kept.by, kept.number, gone))
    return tuple(rows)


def instrument_reading(typed: Mapping[str, Mapping[str, str]], repeat: str, sheet: Sheet, utc: str) -> Reading:
    """A reading as typed: by cell, then L, a, b. Cells left empty are not in it.

    `repeat`: how far readings of one place scatter, ΔE. Raises Wrong with fields named 'A1 L', 'repeat' or 'cells'.
    """
    wrong: dict[str, str] = {}
    scatter = 0.0
    try:
        scatter = number(repeat, "repeatability", 0.01, 10, "ΔE")
    except ProgramError as error:
        wrong["repeat"] = str(error)
    # Alike in three directions: their root sum of squares is the scatter.
    u = max(scatter, 0.01) / sqrt(3)
    cells = []
    for cell in sheet.cells:
        texts = typed.get(cell.name, {})
        if not any(texts.get(key, "").strip() for key in KEYS):
            continue
        values = []
        for key in KEYS:
            try:
                values.append(number(texts.get(key, ""), f"{cell.name} {key}*", *RANGES[key], unit=""))
            except ProgramError as error:
                wrong[f"{cell.name} {key}"] = str(error)
        if len(values) == len(KEYS):
            lab = (values[0], values[1], values[2])
            cells.append(CellColour(cell=cell.name, lab_d50=lab, u_lab=(u, u, u), u_abs_de00=max(scatter, 0.01)))
    if not cells and not wrong:
        wrong["cells"] = "Type L*, a* and b* of at least one cell."
    if wrong:
        raise Wrong(wrong)
    return Reading(
        id="typed",
        sheet=sheet.id,
        taken_utc=utc,
        way=Way.INSTRUMENT,
        cells=tuple(cells),
        detection_limit_de00=round(CHI_3_95 * sqrt(2) * u, 2),
    )
