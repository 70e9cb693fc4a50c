"""The chambers of one host: what they do now, what they did, and what they are told to do."""

import threading
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from ..domain.chamber import Chamber
from ..domain.program import Program
from ..engine import events as e
from ..errors import NotNow, UnknownName
from ..keeper import Clock, Keeper, Snapshot
from ..keeper.keeper import Unfinished, facts_of
from ..store.records import Batch, Line, SavedLine, Stretch
from ..store.records import Session as SavedSession
from ..store.store import Store
from .base import certain
from .diary import Diary
from .kept import Kept
from .made_with import KIND as MADE_WITH
from .made_with import made_with, same_host
from .measured import Measured
from .rehearsals import Rehearsals
from .starting import GRACE_S, Notified, Starting, no_messages
from .turns import Turns

TEND_EVERY = timedelta(hours=1)
"""How often a chamber's records are looked after: reminders, and what is to be thinned."""


class Service(Starting, Rehearsals, Kept, Measured, Diary):
    """All chambers of one host."""

    def __init__(
        self, store: Store, clock: Clock, *, start_grace_s: float = GRACE_S, notified: Notified = no_messages
    ) -> None:
        """`start_grace_s`: how late a planned start is still made, s; `notified`: whether messages come through."""
        super().__init__(store, clock, start_grace_s=start_grace_s, notified=notified)
        self._watchers: dict[str, Callable[[Snapshot], None]] = {}
        self._threads: list[threading.Thread] = []
        self._turns_of: dict[str, Turns] = {}

    # --- life ---------------------------------------------------------------------------------------------------------

    def add(self, keeper: Keeper, watch: Callable[[Snapshot], None] = lambda snapshot: None) -> None:
        """Minds one more chamber; takes up its unfinished session. Raises ValueError if the id is in use.

        `watch` sees each snapshot in the keeper's thread.
        """
        chamber_id = keeper.chamber.id
        if chamber_id in self._keepers:
            raise ValueError(f"two chambers are called '{chamber_id}'; give each its own id")
        self._take_calibrations(keeper)
        unfinished = self.unfinished(chamber_id)
        if unfinished is not None:
            self._say_what_goes_on(chamber_id, unfinished)
            keeper.adopt(unfinished)
        self._keepers[chamber_id] = keeper
        self._watchers[chamber_id] = self._watching(chamber_id, watch)

    def run(self) -> None:
        """Starts each keeper in a thread of its own."""
        for chamber_id, keeper in self._keepers.items():
            self._turns_of[chamber_id] = Turns(self._clock.now_s())
            thread = threading.Thread(
                target=keeper.run, args=(self._watchers[chamber_id],), name=f"keeper-{chamber_id}", daemon=True
            )
            self._threads.append(thread)
            thread.start()
        self._later.open()

    def close(self) -> None:
        """Stops all keepers; each leaves its chamber dark."""
        self._rehearsing.close()
        self._later.close()
        for keeper in self._keepers.values():
            keeper.close()
        for thread in self._threads:
            thread.join(timeout=10)
        self._reading_photos.close()

    def _watching(self, chamber_id: str, watch: Callable[[Snapshot], None]) -> Callable[[Snapshot], None]:
        """What a keeper calls at each turn: looks for starts that are due, and at a session's end for worn lamps."""
        looked_at: str | None = ""
        tended_utc: datetime | None = None

        def at_each_turn(snapshot: Snapshot) -> None:
            nonlocal looked_at, tended_utc
            answered = snapshot.board.trouble is None
            self._turns_of[chamber_id] = self._turns_of[chamber_id].after(self._clock.now_s(), answered=answered)
            self._later.look()
            at_rest = snapshot.session is None or not snapshot.session.active
            if at_rest and snapshot.session_id != looked_at:
                looked_at = snapshot.session_id
                self._later.soon(lambda: self.remind(chamber_id))
            utc = self._clock.utc()
            if tended_utc is None or abs(utc - tended_utc) >= TEND_EVERY:
                tended_utc = utc
                self._later.soon(lambda: self.tend(chamber_id))
            self.mind_camera(snapshot)
            watch(snapshot)

        return at_each_turn

    def unfinished(self, chamber_id: str) -> Unfinished | None:
        """The chamber's session that has not ended, folded from the store; None if there is none."""
        saved = self._store.open_session(chamber_id)
        if saved is None:
            return None
        lines = list(self._all_lines(saved))
        progress = self._store.progress(saved.id)
        last = max([*(line.utc for line in lines), *([progress.pop("utc")] if progress else [])], default=None)
        return Unfinished(
            saved.id,
            Program.model_validate(saved.program),
            Chamber.model_validate(saved.chamber),
            saved.began_utc,
            facts_of([(line.kind, line.data) for line in lines], progress),
            datetime.fromisoformat(last) if last else None,
        )

    # --- looking ------------------------------------------------------------------------------------------------------

    def chambers(self) -> list[Snapshot]:
        """The newest snapshot of each chamber."""
        return [keeper.snapshot for keeper in self._keepers.values()]

    def snapshot(self, chamber_id: str) -> Snapshot:
        """The newest snapshot of a chamber. Raises UnknownName."""
        return self._keeper(chamber_id).snapshot

    def session_under_way(self, chamber_id: str) -> str | None:
        """Id of the session that has not ended; None: there is none, or no such chamber."""
        keeper = self._keepers.get(chamber_id)
        session = keeper.snapshot.session if keeper is not None else None
        return keeper.snapshot.session_id if keeper is not None and session is not None and session.active else None

    def sessions(self, chamber_id: str, limit: int = 50, before: str | None = None) -> list[SavedSession]:
        """Sessions of a chamber, the newest first. Raises UnknownName."""
        self._keeper(chamber_id)
        return self._store.sessions(chamber_id, limit, before)

    def session(self, session_id: str) -> SavedSession:
        """One session as planned and ended. Raises UnknownName, also for one that was deleted."""
        session = self._store.session(session_id)
        if session.removed_utc is not None:
            raise UnknownName(f"Session '{session_id}' was deleted on {session.removed_utc[:10]} with its sheet.")
        return session

    def journal(
        self, chamber_id: str, session_id: str | None = None, after_seq: int = 0, limit: int = 200
    ) -> list[SavedLine]:
        """Journal lines, oldest first, after a sequence number. Raises UnknownName."""
        self._keeper(chamber_id)
        return self._store.journal(session_id, chamber_id, after_seq, limit)

    def last_lines(self, chamber_id: str, limit: int = 20) -> list[SavedLine]:
        """The newest journal lines of a chamber, oldest first. Raises UnknownName."""
        self._keeper(chamber_id)
        return self._store.last_lines(None, chamber_id, limit)

    def readings(self, session_id: str, points_max: int = 500) -> list[Stretch]:
        """The session's readings in at most `points_max` stretches. Raises UnknownName."""
        return self._store.readings(session_id, points_max)

    def at_work(self) -> bool:
        """True while every keeper turns and the journal reaches the disk."""
        now_s = self._clock.now_s()
        minded = len(self._threads) == len(self._keepers) and all(thread.is_alive() for thread in self._threads)
        turning = not any(turns.stands(now_s) for turns in self._turns_of.values())
        return minded and turning and all(snapshot.storage_trouble is None for snapshot in self.chambers())

    def turns(self, chamber_id: str) -> tuple[Turns, float]:
        """How regularly a chamber's keeper turns, and the time since its last turn, s. Raises UnknownName."""
        self._keeper(chamber_id)
        now_s = self._clock.now_s()
        turns = self._turns_of.get(chamber_id, Turns(now_s))
        return turns, turns.gap_s(now_s)

    # --- orders -------------------------------------------------------------------------------------------------------

    def hold(self, chamber_id: str, by: str) -> None:
        """Pauses the session in the dark. Raises NotNow without one."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.AskHold(run_s, by)))

    def go_on(self, chamber_id: str, by: str) -> None:
        """Lets a held session go on. Raises NotNow if that is not up to a person."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.AskContinue(run_s, by)))

    def answer(self, chamber_id: str, checkpoint: str, by: str, note: str = "") -> None:
        """Answers the checkpoint that waits. Raises NotNow if it does not."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.Answer(run_s, by, checkpoint, note)))

    def change_plan(self, chamber_id: str, program: Program, by: str) -> None:
        """Replaces what is still to come. Raises ProgramError if it would rewrite the past."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.ChangePlan(run_s, by, program)))

    def annotate(self, chamber_id: str, text: str, by: str) -> None:
        """Adds a line to the session's journal. Raises NotNow without one."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.Annotate(run_s, by, text)))

    def end(self, chamber_id: str, by: str, why: str = "") -> None:
        """Ends the session for good. Raises NotNow without one."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.AskEnd(run_s, by, why)))

    def stop(self, chamber_id: str, by: str) -> None:
        """Darkens the chamber at once; a session is held and can go on later. Never refused for want of a session."""
        try:
            certain(self._keeper(chamber_id).stop(by))
        except NotNow:
            return  # no session to hold: the board was darkened all the same

    def clear_trip(self, chamber_id: str) -> None:
        """Asks the board to clear its trip outside a session. Raises NotNow or BoardRefused while the cause lasts."""
        certain(self._keeper(chamber_id).clear_trip())

    def report(self, kind: str, text: str) -> None:
        """Adds a line to the journal of each chamber, outside any session. Raises StoreError."""
        self._store.commit(Batch(None, [self._line(chamber_id, kind, text, {}) for chamber_id in self._keepers]))

    # --- inside -------------------------------------------------------------------------------------------------------

    def _say_what_goes_on(self, chamber_id: str, unfinished: Unfinished) -> None:
        """A line if a session is taken up by another version than began it."""
        before = self._store.said(chamber_id, MADE_WITH)
        text, data = made_with(None)
        if before is not None and not same_host(before, data):
            line = Line(MADE_WITH, 0.0, self.utc(), data, text, chamber_id, unfinished.session_id)
            self._store.commit(Batch(unfinished.session_id, [line]))

    def _all_lines(self, saved: SavedSession) -> Iterable[SavedLine]:
        after = 0
        while lines := self._store.journal(saved.id, saved.chamber_id, after, 1000):
            yield from lines
            after = lines[-1].seq
