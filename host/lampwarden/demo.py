"""The demo: a session on the simulated chamber, faster than real, with the daemon's own keeper, store and pages."""

import threading
from datetime import datetime
from pathlib import Path

from .domain.program import Program
from .engine import Phase
from .keeper import Keeper, Snapshot
from .rehearsal import Person, Rig, chamber_for
from .service import Service
from .store.store import Store
from .store.writer import DirectWriter

BOOT_S = 10.0
"""Virtual time given to the simulated board before its session begins, s."""


class Demo:
    """One simulated chamber with its service. Call `begin` once the keepers run."""

    def __init__(
        self, program: Program, database: Path, *, seed: int, speed: float, hands_off: bool, start_utc: datetime
    ) -> None:
        self._program, self._speed, self._hands_off = program, speed, hands_off
        self.chamber = chamber_for(program)
        self._store = Store.open(database)
        # Virtual time ran ahead in an earlier demo over this record: the clock goes on from there, not from before it.
        for newest in self._store.last_lines(None, None, 1):
            start_utc = max(start_utc, datetime.fromisoformat(newest.utc))
        self.rig = Rig.build(self.chamber, program, seed, None, start_utc)
        self.rig.world.advance(BOOT_S)
        self.rig.clock.speed = speed
        # Virtual time stands still during a commit, as it must: a slow disk is no slow chamber.
        self._writer = DirectWriter(self._store)
        self.keeper = Keeper(self.chamber, self.rig.board, self.rig.clock, self._writer)
        self._person = Person(self.keeper, program.rehearsal.answer_after_s)
        self.service = Service(self._store, self.rig.clock)
        self.service.add(self.keeper, self._watch)
        self.ended = threading.Event()
        """Set once the session has ended."""

    def begin(self) -> None:
        """Starts the session, unless one was taken up from the database. Raises what Service.start raises."""
        session = self.keeper.snapshot.session
        if session is None or not session.active:
            self.service.start(self.chamber.id, self._program, "the demo")

    def outcome(self) -> str:
        """How the session ended; empty if it has not."""
        session = self.keeper.snapshot.session
        return session.outcome if session else ""

    def _watch(self, snapshot: Snapshot) -> None:
        session = snapshot.session
        if session is None:
            return
        if self._hands_off:
            self._person.mind(snapshot)
        called = session.waiting is not None and session.waiting.called_s is not None
        waits = any(hold.needs_person for hold in session.holds) and (called or session.waiting is None)
        # A real person needs real time to read and answer; an idle chamber has no reason to hurry either.
        slow = session.phase is Phase.ENDED or (waits and not self._hands_off)
        self.rig.clock.speed = 1.0 if slow else self._speed
        if session.phase is Phase.ENDED:
            self.ended.set()
