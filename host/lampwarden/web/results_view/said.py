"""Headline, advice, the conclusions in groups, and what the trial cannot show."""

from dataclasses import dataclass

from ...findings.advice import Kind
from ...findings.conclude import CellFindings, Conclusions
from ...findings.sentences import reversion_sentences
from ...findings.words import listed, size

ORDER = (Kind.FADING, Kind.DARKER, Kind.GO_ON, Kind.UNCLEAR, Kind.ENOUGH)
"""The gravest first."""
FOR = {
    Kind.GO_ON: "Go on with",
    Kind.ENOUGH: "Nothing more to gain for",
    Kind.UNCLEAR: "Cannot tell yet for",
    Kind.DARKER: "Getting darker:",
}


@dataclass(frozen=True, slots=True)
class CellAdvice:
    """What more light would do for one cell."""

    cell: str
    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class Group:
    """Conclusions about one matter."""

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Said:
    """All that is said of a session in words."""

    headline: str
    advice: str
    cells: tuple[CellAdvice, ...]
    reason: str
    """Of the advice, where no cell has one of its own."""
    groups: tuple[Group, ...]
    limits: tuple[tuple[str, str], ...]
    """What cannot be shown, and how that is known."""


def headline(found: Conclusions) -> str:
    """The result in a line."""
    fading = [ink for ink in found.inks if ink.fading]
    if fading:
        return f"An ink is fading: {listed([f'{ink.ink or ink.cell} in {ink.cell}' for ink in fading])}"
    if not found.cells:
        return "Nothing to compare yet"
    watched = {ink.cell for ink in found.inks}
    changed = [cell for cell in found.cells if cell.changed and cell.cell not in watched]
    whiter = [cell for cell in changed if cell.end.gain.low > 0]
    darker = [cell for cell in changed if cell.end.gain.high < 0]
    if darker and not whiter:
        worst = min(darker, key=lambda cell: cell.end.gain.value)
        return f"Darker by up to {_much(worst)}"
    if whiter:
        best = max(whiter, key=lambda cell: cell.end.gain.value)
        more = f"; darker: {listed([cell.cell for cell in darker])}" if darker else ""
        return f"Whiter by up to {_much(best)}{more}"
    if changed:
        return f"Changed, but neither whiter nor darker: {listed([cell.cell for cell in changed])}"
    return "No change found"


def _much(cell: CellFindings) -> str:
    arm = f", {cell.arm}" if cell.arm else ""
    return f"{size(cell.end.gain)} ΔE00 in {cell.cell}{arm}"


def advice(found: Conclusions) -> str:
    """The advice in a line, cell by cell where cells differ."""
    if found.advice.kind is Kind.FADING:
        return f"Advice: {Kind.FADING}. Stop, or cover it, before anything else."
    told = [cell.advice for cell in found.cells if cell.advice is not None]
    parts = []
    for kind in ORDER:
        names = [name for one in told if one.kind is kind for name in one.cells]
        if names and kind in FOR:
            parts.append(f"{FOR[kind]} {listed(names)}.")
    return f"Advice: {' '.join(parts)}" if parts else f"Advice: {found.advice.kind}."


def said(found: Conclusions) -> Said:
    """Everything in words."""
    cells = tuple(
        CellAdvice(cell.cell, cell.advice.kind.value, cell.advice.reason) for cell in found.cells if cell.advice
    )
    watched = {ink.cell for ink in found.inks}
    after = reversion_sentences([cell.reversions for cell in found.cells if cell.cell not in watched])
    other = tuple(each for each in found.sentences if " by the other way, " in each)
    checks = tuple(dict.fromkeys([*([found.drift.sentence] if found.drift else []), *(i.sentence for i in found.inks)]))
    ends = tuple(cell.sentence for cell in found.cells if cell.cell not in watched)
    told = {*checks, *ends, *after, *other, *found.hand}
    between = tuple(each for each in found.sentences[1:] if each not in told)
    groups = (
        Group("What became of each cell", ends),
        Group("Treatments against each other", between),
        Group("Since the end", after),
        Group("By another way of reading", other),
        Group("By hand and eye", found.hand),
    )
    return Said(
        headline=headline(found),
        advice=advice(found),
        cells=cells,
        reason="" if cells and found.advice.kind is not Kind.FADING else found.advice.reason,
        groups=tuple(group for group in groups if group.sentences),
        limits=limits(found),
    )


def limits(found: Conclusions) -> tuple[tuple[str, str], ...]:
    """What the trial cannot show, each with its source."""
    return tuple((each.text, f"{each.status}: {each.source}") for each in found.limits)


NOTHING = Said(
    headline="Nothing was read yet",
    advice="Photograph the sheet under its mask at a checkpoint, on the page Now, or enter an instrument’s reading.",
    cells=(),
    reason="",
    groups=(),
    limits=(),
)
"""Before the first reading."""
