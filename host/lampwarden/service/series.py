"""Series of sheets: the same treatments on several sheets, each sheet one trial of its own."""

from dataclasses import dataclass

from ..errors import LampwardenError, UnknownName
from ..findings.conclude import Conclusions
from ..findings.sheets import OverSheets, over_sheets
from .follow_up import FollowUps


@dataclass(frozen=True, slots=True)
class SheetOfSeries:
    """One sheet of a series, and the session its effects are from."""

    id: str
    title: str
    session_id: str
    """The first in which it was read before and after: later ones start from a treated sheet. Empty: none yet."""
    chamber_id: str
    way: str
    """How its colours were taken."""
    why_not: str
    """Why it has no effects to compare, as a sentence; empty: it has."""


@dataclass(frozen=True, slots=True)
class Series:
    """What is known of a series."""

    name: str
    sheets: tuple[SheetOfSeries, ...]
    treatments: tuple[OverSheets, ...]


class SeriesOfSheets(FollowUps):
    """The part of the service that compares sheets."""

    def series_names(self) -> tuple[str, ...]:
        """The series that sheets name, in order of the alphabet."""
        return tuple(sorted({saved.sheet.series for saved in self.sheets() if saved.sheet.series}, key=str.casefold))

    def series(self, name: str) -> Series:
        """The sheets of a series and what each treatment did over them. Raises UnknownName, StoreError."""
        of = [saved.sheet for saved in self.sheets() if saved.sheet.series == name]
        if not name or not of:
            raise UnknownName(f"No sheet belongs to a series '{name[:40]}'. Name it on the page Sheets.")
        sheets, found = [], []
        for sheet in sorted(of, key=lambda sheet: sheet.title.casefold()):
            session_id, concluded = self._first_read(sheet.id)
            why = _why_not(concluded)
            chamber_id = self._store.session(session_id).chamber_id if session_id else ""
            way = concluded.way.value if concluded is not None and concluded.way is not None else ""
            sheets.append(SheetOfSeries(sheet.id, sheet.title, session_id, chamber_id, way, why))
            if concluded is not None and not why:
                found.append((sheet.id, concluded))
        return Series(name, tuple(sheets), over_sheets(found))

    def _first_read(self, sheet_id: str) -> tuple[str, Conclusions | None]:
        for session_id in self.sessions_with(sheet_id):
            try:
                found = self.conclusions(session_id)
            except LampwardenError:
                continue  # its own page says why
            if found.cells:
                return session_id, found
        return "", None


def _why_not(found: Conclusions | None) -> str:
    if found is None:
        return "It was not yet read before and after."
    if found.comparison is None:
        return "Fewer than two treatments on it were read before and after."
    if found.comparison.control is None:
        return "It has no control among its cells, so no effect can be told from drift and time."
    return ""
