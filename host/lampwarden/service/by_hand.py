"""What people found by hand and eye: kept, shown, and withdrawn by a line of its own."""

from dataclasses import dataclass

from ..domain.finding import ASPECTS, HandFinding
from ..errors import NotNow, ProgramError, UnknownName
from ..findings.hand import in_words
from ..store.gallery import SavedFinding, Withdrawn
from .seen import Seen

WHY_MAX = 500


@dataclass(frozen=True, slots=True)
class KeptFinding:
    """One finding as it was written, and whether it was withdrawn."""

    number: int
    finding: HandFinding
    by: str
    withdrawn: Withdrawn | None
    """None: it stands."""


class ByHand(Seen):
    """The part of the service that keeps what hand and eye find."""

    def add_finding(
        self, finding: HandFinding, by: str, *, chamber_id: str, session_id: str | None = None, sheet_id: str = ""
    ) -> None:
        """Keeps what somebody found. Raises UnknownName or ProgramError for what there is not."""
        moment = self._moment(chamber_id, session_id, sheet_id or None, finding.checkpoint)
        if finding.cell not in {cell.name for cell in moment.sheet.cells}:
            raise UnknownName(f"The sheet has no cell '{finding.cell}'. Correct the name.")
        in_words(moment.sheet, [finding], ASPECTS)  # refuses an aspect or a value that there is not
        utc = self._utc()
        kept = finding.model_copy(update={"found_utc": utc, "checkpoint": moment.checkpoint})
        line = self._beside(moment, "found_by_hand", f"Cell {_told(kept)} ({by}).", utc, {})
        saved = SavedFinding(0, moment.session_id, moment.sheet.id, by, kept.model_dump(mode="json"))
        self._gallery.add_finding(saved, chamber_id, utc, line)

    def hand_findings(self, session_id: str) -> list[KeptFinding]:
        """All findings of a session, those withdrawn too, the first written first."""
        return [_kept(saved) for saved in self._gallery.findings(session_id=session_id)]

    def withdraw_finding(self, number: int, why: str, by: str, *, chamber_id: str, session_id: str) -> None:
        """Withdraws a finding of a session: it stays as it was written, and conclusions leave it out.

        Raises UnknownName, NotNow if it is withdrawn already, ProgramError without a reason, StoreError.
        """
        said = why.strip()
        if not 0 < len(said) <= WHY_MAX:
            raise ProgramError(f"Say why, in 1 to {WHY_MAX} letters: whoever reads the record later will ask.")
        moment = self._moment(chamber_id, session_id, None, "")
        kept = next((each for each in self.hand_findings(session_id) if each.number == number), None)
        if kept is None:
            raise UnknownName(f"Session '{session_id}' has no hand finding {number}.")
        if kept.withdrawn is not None:
            raise NotNow(f"It was withdrawn already, by {kept.withdrawn.by}.")
        utc = self._utc()
        text = f"Withdrawn by {by}: cell {_told(kept.finding)} ({kept.by}). Why: {said}"
        line = self._beside(moment, "finding_withdrawn", text, utc, {"finding": number, "by": by})
        self._gallery.withdraw_finding(number, Withdrawn(utc, by, said), chamber_id, line)


def _kept(saved: SavedFinding) -> KeptFinding:
    return KeptFinding(saved.number, HandFinding.model_validate(saved.data), saved.saved_by, saved.withdrawn)


def _told(finding: HandFinding) -> str:
    return f"{finding.cell}, {finding.aspect}: {finding.note or f'{finding.value:g}'}"
