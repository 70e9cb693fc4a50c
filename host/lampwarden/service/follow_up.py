"""Reminds of the looks after a treatment's end: each planned day once, however the daemon was stopped meanwhile."""

from collections.abc import Sequence
from datetime import datetime

from pydantic import ValidationError

from ..domain.finding import FollowUpPlan, days_text
from ..errors import ProgramError
from ..findings.words import listed
from ..store.records import Batch, Line
from ..store.records import Session as SavedSession
from .by_hand import ByHand
from .seen import FOLLOW_UP_DAYS

KIND = "follow_up_due"
DAY_S = 86_400.0
SESSIONS_MAX = 200
"""Sessions looked at, the newest first: more than anybody treats in a year."""


class FollowUps(ByHand):
    """The part of the service that reminds of later looks."""

    def set_follow_up_days(self, days: Sequence[float], chamber_id: str, by: str) -> None:
        """Sets the days after the end on which sheets are looked at again, for all sessions of this host.

        Raises ProgramError for days that do not rise, UnknownName, StoreError.
        """
        self._keeper(chamber_id)
        try:
            plan = FollowUpPlan(days=tuple(days))
        except ValidationError as error:
            raise ProgramError(_why(error)) from None
        said = ", ".join(f"{day:g}" for day in plan.days) or "none"
        text = f"Days after the end for another look, set by {by}: {said}."
        line = self._line(chamber_id, "follow_up_days_set", text, {"by": by, "days": list(plan.days)})
        self._choices.set(FOLLOW_UP_DAYS, {"days": list(plan.days)}, line)

    def mind_follow_ups(self, chamber_id: str) -> None:
        """A line in the journal for each session whose sheet should be looked at again. Raises StoreError."""
        plan, now = self.follow_up_plan(), self._clock.utc()
        last_day = max((day + plan.leeway_days(day) for day in plan.days), default=0.0)
        for session in self._store.sessions(chamber_id, SESSIONS_MAX):
            if session.ended is None or session.sheet is None:
                continue
            elapsed_days = _days(session.ended.utc, now)
            if not 0 <= elapsed_days <= last_day:
                continue
            told = [
                float(day) for line in self._gallery.lines(session.id, (KIND,)) for day in line.data.get("days", ())
            ]
            fresh = plan.fresh(elapsed_days, (), told)
            if fresh and self._worth_another_look(session):
                fresh = plan.fresh(elapsed_days, self._looked_at(session), told)
                if fresh:
                    self._store.commit(Batch(None, [self._reminder(session, fresh, elapsed_days)]))

    def _worth_another_look(self, session: SavedSession) -> bool:
        """Its sheet was read in it, so that a later look tells something, and was not treated again since."""
        assert session.ended is not None
        assert session.sheet is not None
        saved = self._gallery.readings(sheet_id=session.sheet["id"])
        good = any(each.session_id == session.id and not each.data.get("refused") for each in saved)
        again = any(each.session_id not in (None, session.id) and each.saved_utc > session.ended.utc for each in saved)
        return good and not again

    def _looked_at(self, session: SavedSession) -> tuple[float, ...]:
        """Days after the end at which its sheet was read again."""
        assert session.ended is not None
        good = [look.reading for look in self.followed(session.id) if not look.reading.refused]
        return tuple(_days(session.ended.utc, datetime.fromisoformat(reading.taken_utc)) for reading in good)

    def _reminder(self, session: SavedSession, days: Sequence[float], elapsed_days: float) -> Line:
        assert session.sheet is not None
        title, newest = session.sheet["title"], days[-1]
        text = (
            f"'{title}' of session {session.id}: {days_text(newest)} have passed since the end. Photograph it under its"
            " mask, to see how much yellowing came back."
        )
        if newest == 1:
            text = text.replace("have passed", "has passed")
        if days[:-1]:
            text += f" It was not looked at after {listed([days_text(day) for day in days[:-1]])} either."
        data = {"days": list(days), "sheet": session.sheet["id"], "elapsed_days": round(elapsed_days, 3)}
        return Line(KIND, 0.0, self.utc(), data, text, session.chamber_id, session.id)


def _days(since_utc: str, then: datetime) -> float:
    return (then - datetime.fromisoformat(since_utc)).total_seconds() / DAY_S


def _why(error: ValidationError) -> str:
    first = error.errors()[0]
    if first["type"] == "value_error":
        return str(first["ctx"]["error"])
    return f"A day is a number above 0 and at most 36525; {first['input']!r} is none."
