"""Hand findings checked and put into words, cell by cell, beside the colour."""

from collections.abc import Sequence

from ..domain.finding import Aspect, HandFinding
from ..domain.sheet import Sheet
from ..errors import UnknownName
from .change import days_utc
from .words import listed


def in_words(sheet: Sheet, hand: Sequence[HandFinding], aspects: Sequence[Aspect]) -> tuple[str, ...]:
    """One sentence per cell and aspect, in the sheet's order, oldest finding first.

    Raises UnknownName for a cell or an aspect that there is not, and ProgramError for a value off the aspect's scale.
    """
    known = {aspect.key: aspect for aspect in aspects}
    cells = [cell.name for cell in sheet.cells]
    for finding in hand:
        if finding.cell not in cells:
            raise UnknownName(f"The sheet has no cell '{finding.cell}'. Its cells are {listed(cells)}.")
        if finding.aspect not in known:
            raise UnknownName(f"There is no aspect '{finding.aspect}'. Choose one of {listed(list(known))}.")
        if finding.value is not None:
            known[finding.aspect].checked(finding.value)
    ordered = sorted(hand, key=lambda finding: days_utc(finding.found_utc))
    said = []
    for cell in cells:
        for key, aspect in known.items():
            those = [f for f in ordered if f.cell == cell and f.aspect == key]
            if those:
                said.append(f"{cell}, {aspect.title}: {'; '.join(_told(f, aspect) for f in those)}.")
    return tuple(said)


def _told(finding: HandFinding, aspect: Aspect) -> str:
    at = f" ({finding.checkpoint})" if finding.checkpoint else ""
    value = "" if finding.value is None else aspect.text(finding.value)
    return ", ".join(part for part in (value, finding.note.strip().rstrip(".")) if part) + at
