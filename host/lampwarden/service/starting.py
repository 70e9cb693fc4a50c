"""Starting: the checks before it, at once or later."""

import shutil
from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import UTC, datetime, timedelta

from ..domain.plan import Plan
from ..domain.program import Program
from ..domain.sheet import Sheet
from ..errors import LampwardenError, NotNow, ProgramError, StoreError, UnknownName
from ..keeper import Clock, Preflight, PreflightLine
from ..keeper.clock import utc_text
from ..keeper.preflight import board_lines
from ..starts import Confirmed
from ..starts.later import Later
from ..starts.lines import Host, confirmation_lines, host_lines, plan_lines
from ..store.records import Batch, Ended, Line, Planned, PlannedStart
from ..store.store import Store
from .base import certain, log
from .made_with import KIND as MADE_WITH
from .made_with import made_with
from .shelf import Shelf, as_data

GRACE_S = 1800.0
"""A planned start that is late by more than this, s, is not made up for. Chosen: half an hour, a short power cut."""
AHEAD_MAX = timedelta(days=60)
"""Farthest ahead a start is set: what was confirmed should still be remembered."""
REACH_AGAIN_S = 2.0
"""How soon a start that is due looks again for a board that was not reached yet, s."""
RECORD_AGAIN_S = 10.0
"""How soon it tries again when the record cannot be read or written, s."""

Notified = Callable[[], tuple[bool, str]]
"""Whether a message was tried and came through, and what is known of it as a sentence."""


def no_messages() -> tuple[bool, str]:
    """Before any channel is set up."""
    return False, "No way to send you messages is set up."


class Starting(Shelf):
    """The part of the service that starts sessions."""

    def __init__(
        self, store: Store, clock: Clock, *, start_grace_s: float = GRACE_S, notified: Notified = no_messages
    ) -> None:
        super().__init__(store, clock)
        self._grace = timedelta(seconds=start_grace_s)
        self.notified = notified
        """Whether messages come through; may be set once channels are there."""
        self._later = Later(self._starts, clock, self._ring)

    # --- at once ------------------------------------------------------------------------------------------------------

    def start(self, chamber_id: str, program: Program, by: str) -> str:
        """Begins a session of a bare program; returns its id. Raises NotNow with all that forbids it, or StoreError."""
        self._keeper(chamber_id)
        with self._starting:
            return self._begin(chamber_id, program, by)

    def preflight(self, chamber_id: str, plan: Plan, confirmed: Sequence[Confirmed] = ()) -> Preflight:
        """All checks before a start of this plan, saved or not. Raises UnknownName.

        The plan's limits are written to the board and read back, so it is asked: it may take a second. Lines with
        `confirm` pass once `confirmed` has a yes to them.
        """
        return self._preflight(chamber_id, plan, self._sheet_of(plan), confirmed)

    def start_plan(self, plan_id: str, by: str, confirmed: Sequence[Confirmed] = ()) -> str:
        """Begins a session of a plan; returns its id. The session keeps plan and sheet as they are now.

        Raises NotNow with everything that forbids it, UnknownName or StoreError.
        """
        with self._starting:
            return self._start_plan(self.plan(plan_id).plan, by, confirmed, None)

    # --- later --------------------------------------------------------------------------------------------------------

    def start_later(self, plan_id: str, at: datetime, by: str, confirmed: Sequence[Confirmed] = ()) -> PlannedStart:
        """Sets a start of a plan for later. Until then its plan and sheet can not be changed.

        At its time the checks are made anew: if one fails nothing is lit, and the journal says why. Raises NotNow if
        the plan could not be started now for reasons that are not the board's or the host's, or for a time that is past
        or too far ahead, ProgramError for a time without a zone.
        """
        if at.tzinfo is None:
            raise ProgramError("The time of a start needs its zone, such as 2031-03-03T22:00+01:00.")
        at_utc = utc_text(at)
        with self._starting:
            saved = self.plan(plan_id)
            plan, now = saved.plan, self._clock.utc()
            if not now < at <= now + AHEAD_MAX:
                raise NotNow(
                    f"A start can be set up to {AHEAD_MAX.days} days ahead; it is {_shown(utc_text(now))} now, and"
                    f" {_shown(at_utc)} was asked for."
                )
            keeper = self._keeper(plan.chamber)
            ready = Preflight(plan_lines(plan, keeper.chamber, self._sheet_of(plan), at.astimezone(UTC), confirmed))
            if not ready.may_start:
                raise NotNow("\n".join(ready.wrong))
            line = self._line(
                plan.chamber,
                "start_set",
                f"A start of '{plan.title}' was set for {_shown(at_utc)} by {by}.",
                {"plan": plan_id, "at_utc": at_utc, "by": by},
            )
            number = self._starts.add(
                plan.chamber,
                (plan_id, saved.revision),
                at_utc,
                by,
                line.utc,
                [asdict(yes) for yes in confirmed],
                line,
            )
        self._later.set(number, at)
        return self._starts.one(number)

    def planned_starts(self, chamber_id: str) -> list[PlannedStart]:
        """Starts set for a chamber and what came of them, the latest set first. Raises UnknownName."""
        self._keeper(chamber_id)
        return self._starts.of(chamber_id)

    def planned_start(self, start_id: int) -> PlannedStart:
        """One of them. Raises UnknownName."""
        return self._starts.one(start_id)

    def cancel_start(self, start_id: int, by: str) -> None:
        """Takes a start back. Raises NotNow if it does not wait any more, UnknownName."""
        start = self._starts.one(start_id)
        self._settle(start, "cancelled", f"The start set for {_shown(start.at_utc)} was cancelled by {by}.")
        self._later.drop(start_id)

    def _ring(self, number: int) -> float | None:
        """A start is due, or is to be looked at: begins it, or says why not. Returns when to ring again, s."""
        try:
            with self._starting:
                return self._due(self._starts.one(number))
        except StoreError as error:
            log.warning("planned start %d: %s", number, error)
            return RECORD_AGAIN_S

    def _due(self, start: PlannedStart) -> float | None:
        """Called with the lock held, or a start rung twice would find its own session under way."""
        if start.state != "waiting":
            return None
        now, at = self._clock.utc(), datetime.fromisoformat(start.at_utc)
        if now < at:  # the clock was set back, or runs at another speed than the alarm's
            return (at - now).total_seconds()
        try:
            if now > at + self._grace:
                self._settle(
                    start,
                    "missed",
                    f"The start set for {_shown(start.at_utc)} was missed and is not made up for. Until"
                    f" {_shown(utc_text(now))} this program did not run, could not write its record, or had a wrong"
                    " clock.",
                )
                return None
            if self._keeper(start.chamber_id).board.live is None and now < at + self._grace / 2:
                return REACH_AGAIN_S  # a daemon that just came up
            plan = self.plan(start.plan_id, start.plan_revision).plan
            confirmed = tuple(Confirmed(**yes) for yes in start.confirmed)
            session_id = self._start_plan(plan, f"{start.by}, set for {_shown(start.at_utc)}", confirmed, start.id)
            said = f"The start set for {_shown(start.at_utc)} began session {session_id}."
            self._store.commit(Batch(None, [self._start_line(start, "start_began", said)]))
        except StoreError:
            raise
        except LampwardenError as error:
            self._refused(start, str(error))
        except Exception as error:  # a mistake here must not leave a start without a word
            log.exception("planned start %d failed", start.id)
            self._refused(start, f"{error!r}. This is a mistake in the program: please report it.")
        return None

    def _refused(self, start: PlannedStart, why: str) -> None:
        # The keeper may have refused what the service found well: then the start counts as started already.
        state = self._starts.one(start.id).state
        if state in ("waiting", "started"):
            text = f"The start set for {_shown(start.at_utc)} was refused, and nothing was lit: {' '.join(why.split())}"
            self._settle(start, "refused", text, state)

    def _settle(self, start: PlannedStart, state: str, says: str, was: str = "waiting") -> None:
        self._starts.settle(start.id, state, says, self._start_line(start, f"start_{state}", says), was)

    def _start_line(self, start: PlannedStart, kind: str, says: str) -> Line:
        data = {"start": start.id, "plan": start.plan_id, "at_utc": start.at_utc}
        return self._line(start.chamber_id, kind, says, data)

    # --- inside -------------------------------------------------------------------------------------------------------

    def _sheet_of(self, plan: Plan) -> Sheet | None:
        try:
            return None if plan.sheet is None else self.sheet(plan.sheet).sheet
        except UnknownName:  # the checks say it
            return None

    def _preflight(self, chamber_id: str, plan: Plan, sheet: Sheet | None, confirmed: Sequence[Confirmed]) -> Preflight:
        keeper = self._keeper(chamber_id)
        lines: list[PreflightLine] = []
        try:
            certain(keeper.try_limits(plan.program.limits))
        except NotNow:
            says = "A session is under way in this chamber."
            lines.append(PreflightLine("session", "Session", "fail", says, "Wait for its end, or end it."))
        lines += board_lines(plan.program, keeper.chamber, keeper.board, keeper.snapshot.storage_trouble)
        lines += plan_lines(plan, keeper.chamber, sheet, self._clock.utc(), confirmed)
        lines += host_lines(plan, keeper.chamber, sheet, self._host(sheet))
        return Preflight(tuple(lines))

    def _host(self, sheet: Sheet | None) -> Host:
        newest = self._store.last_lines(None, None, 1)
        notified, says = self.notified()
        return Host(
            utc=self._utc(),
            last_utc=newest[0].utc if newest else "",
            disk_free_bytes=shutil.disk_usage(self._store.path.parent).free,
            tested_first=sheet is not None and self._store.tested(sheet.paper.value),
            notified=notified,
            notify_says=says,
        )

    def _start_plan(self, plan: Plan, by: str, confirmed: Sequence[Confirmed], start: int | None) -> str:
        """Begins a session of a plan; called with the lock held."""
        sheet = self._sheet_of(plan)
        found = self._preflight(plan.chamber, plan, sheet, confirmed)
        if not found.may_start:
            raise NotNow("\n".join(found.wrong))
        planned = Planned(plan.id, as_data(plan), None if sheet is None else as_data(sheet), start)

        def lines(session_id: str, utc: str) -> list[Line]:
            return confirmation_lines(found.lines, confirmed, plan.chamber, session_id, utc)

        return self._begin(plan.chamber, plan.program, by, planned, lines)

    def _begin(
        self,
        chamber_id: str,
        program: Program,
        by: str,
        planned: Planned | None = None,
        lines: Callable[[str, str], list[Line]] = lambda session_id, utc: [],
    ) -> str:
        """Begins a session; called with the lock held. `lines` are its first, made of its id and the time."""
        keeper = self._keeper(chamber_id)
        now = self._clock.utc()
        session_id, began_utc = self._free_id(now), utc_text(now)
        says, data = made_with(keeper.board.identity)
        made = Line(MADE_WITH, 0.0, began_utc, data, says, chamber_id, session_id)
        self._store.begin_session(
            session_id,
            chamber_id,
            program.title if planned is None else planned.plan["title"],
            program.model_dump(mode="json", by_alias=True, exclude_none=True),
            keeper.chamber.model_dump(mode="json", by_alias=True),
            began_utc,
            planned,
            [made, *lines(session_id, began_utc)],
        )
        try:
            certain(keeper.start(session_id, program, by, began_utc))
        except LampwardenError as error:
            if isinstance(error, NotNow):
                self._store.commit(Batch(session_id, ended=Ended("not begun", str(error), began_utc)))
            raise
        return session_id

    def _free_id(self, now: datetime) -> str:
        """A session id from the UTC date and a number, such as 2026-05-04-2."""
        day = now.strftime("%Y-%m-%d")
        number = 1
        while True:
            try:
                self._store.session(f"{day}-{number}")
            except UnknownName:
                return f"{day}-{number}"
            number += 1


def _shown(utc: str) -> str:
    """A time for people, to the minute: 2031-03-03 22:00 UTC."""
    return f"{utc[:16].replace('T', ' ')} UTC"
