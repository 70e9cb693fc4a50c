"""What a page says of a reading: a row a cell, in words and numbers. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..domain.reading import CellColour, Lab, Reading, Way
from ..domain.sheet import Sheet
from ..findings.change import Change
from ..findings.conclude import CellFindings, Conclusions

WAYS = {
    Way.PHONE: "one photo by hand",
    Way.FIXED: "one photo by the fixed camera",
    Way.BRACKETED: "several photos by the fixed camera",
    Way.LOSSLESS: "a photo by the fixed camera, kept without loss",
    Way.INSTRUMENT: "an instrument",
}


@dataclass(frozen=True, slots=True)
class CellRow:
    """One cell at one moment."""

    cell: str
    about: str
    """Its treatment."""
    before: str
    """Colour at the baseline as CSS; empty: not read."""
    now: str
    """Colour now as CSS; empty: not read."""
    lab: str
    change: str
    """Against the baseline."""
    control: str
    """Against the control at the same moment."""
    verdict: str
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One reading."""

    id: str
    refused: str
    warnings: tuple[str, ...]
    limit: str
    """What can be told from none, in a sentence."""
    rows: tuple[CellRow, ...]
    advice: str
    reason: str


def css(lab: Lab) -> str:
    """CIELAB as CSS writes it (CSS Color 4: D50, like ours)."""
    return f"lab({lab[0]:.2f}% {lab[1]:.2f} {lab[2]:.2f})"


def lab_text(lab: Lab) -> str:
    return f"L* {lab[0]:.1f}, a* {lab[1]:.1f}, b* {lab[2]:.1f}"


def amount(change: Change) -> str:
    """A change with its 95 % interval."""
    return f"{change.de00.value:.1f} ({change.de00.low:.1f} to {change.de00.high:.1f})"


def reading_view(reading: Reading, sheet: Sheet, found: Conclusions | None) -> ReadingView:
    """A reading for a page. `found`: the conclusions that count it; None: none could be drawn."""
    findings: Mapping[str, CellFindings] = {each.cell: each for each in found.cells} if found is not None else {}
    controls = [cell.name for cell in sheet.cells if cell.role == "control"]
    rows = []
    for cell in sheet.cells:
        colour = reading.cell(cell.name)
        finding = findings.get(cell.name)
        rows.append(_row(cell.name, cell.treatment.label, colour, finding, reading, findings, controls))
    first, said = found is not None and not found.cells, found.advice.reason if found is not None else ""
    return ReadingView(
        id=reading.id,
        refused=reading.refused,
        warnings=reading.warnings,
        limit=(
            f"Read from {WAYS[reading.way]}: a change under {reading.detection_limit_de00:.1f} ΔE00 cannot be told from"
            " none."
        ),
        rows=tuple(rows) if not reading.refused else (),
        advice="" if found is None else "nothing to compare yet" if first else found.advice.kind.value,
        reason="" if found is None else "The next photo of this sheet is compared with this one." if first else said,
    )


def _row(
    name: str,
    about: str,
    colour: CellColour | None,
    finding: CellFindings | None,
    reading: Reading,
    findings: Mapping[str, CellFindings],
    controls: Sequence[str],
) -> CellRow:
    change = _change(finding, reading)
    baseline = finding is not None and finding.series.baseline == reading.id
    against = [c for c in (_change(findings.get(control), reading) for control in controls) if c is not None]
    verdict = "not read" if colour is None else "not usable" if not colour.usable else ""
    if not verdict:
        if baseline:
            verdict = "baseline"
        elif change is not None:
            verdict = "changed" if change.de00.value > change.limit_de00 else "no change found"
    control = ""
    if change is not None and against and name not in controls:
        control = f"{change.gain.value - sum(c.gain.value for c in against) / len(against):+.1f}"
    return CellRow(
        cell=name,
        about=about,
        before=css(finding.series.start.lab_d50) if finding is not None else "",
        now=css(colour.lab_d50) if colour is not None else "",
        lab=lab_text(colour.lab_d50) if colour is not None else "",
        change=amount(change) if change is not None else "",
        control=control,
        verdict=verdict,
        marks=colour.marks if colour is not None else (),
    )


def _change(finding: CellFindings | None, reading: Reading) -> Change | None:
    if finding is None:
        return None
    return next((change for change in finding.series.changes if change.reading == reading.id), None)
