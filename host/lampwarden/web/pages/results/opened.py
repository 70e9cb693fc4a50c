"""What one session's page shows, as read from the records."""

from collections.abc import Mapping
from dataclasses import dataclass

from ....domain.finding import FOLLOW_UP, FollowUpPlan
from ....domain.reading import Way
from ....domain.sheet import Sheet
from ....errors import LampwardenError, UnknownName
from ....findings.conclude import Conclusions
from ....service import Service
from ....service.by_hand import KeptFinding
from ....service.seen import Look
from ....store.records import Session
from ...results_view.moments import ways

OTHERS_MAX = 6
"""Other sessions of the sheet that are compared."""


@dataclass(frozen=True, slots=True)
class Opened:
    """One session."""

    session: Session
    sheet: Sheet | None
    """As it was described then; None: none was."""
    looks: tuple[Look, ...]
    """Its readings, then those after its end."""
    followed: tuple[Look, ...]
    """Of these, the ones after its end."""
    hand: tuple[KeptFinding, ...]
    found: Mapping[Way, Conclusions]
    """By way of reading, the one with most readings first."""
    follow_up: FollowUpPlan = FOLLOW_UP
    """Days on which the sheet is looked at again."""
    seq: int = 0
    """Place in the chamber's journal up to which it was read."""

    @property
    def ended_utc(self) -> str | None:
        return None if self.session.ended is None else self.session.ended.utc


def opened(service: Service, chamber_id: str, session_id: str) -> Opened:
    """Reads a session. Blocks. Raises UnknownName, StoreError."""
    session = service.session(session_id)
    if session.chamber_id != chamber_id:
        raise UnknownName(f"Chamber '{chamber_id}' has no session '{session_id}'.")
    if session.sheet is None:
        return Opened(session, None, (), (), (), {})
    last = service.last_lines(chamber_id, 1)
    followed = tuple(service.followed(session_id))
    looks = (*service.looks(session_id), *followed)
    return Opened(
        session=session,
        sheet=service.sheet_of(session_id),
        looks=looks,
        followed=followed,
        hand=tuple(service.hand_findings(session_id)),
        found={way: service.conclusions(session_id, way) for way in ways(looks)},
        follow_up=service.follow_up_plan(),
        seq=last[-1].seq if last else 0,
    )


def others(service: Service, one: Opened) -> list[tuple[Session, Conclusions]]:
    """This session and the newest others of its sheet that were read, the oldest first. Blocks."""
    assert one.sheet is not None
    ids = [key for key in service.sessions_with(one.sheet.id) if key != one.session.id][-OTHERS_MAX:]
    compared = []
    for key in [*ids, one.session.id]:
        try:
            found = service.conclusions(key)
        except LampwardenError:
            continue  # its own page says why
        if found.cells:
            compared.append((service.session(key), found))
    return sorted(compared, key=lambda pair: pair[0].began_utc)
