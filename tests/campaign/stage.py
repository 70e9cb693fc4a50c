"""Runs a case: the real keeper, store, link and firmware in virtual time, through as many host lives as it takes.

A host dies by an exception that no part of the program catches, raised in one of its doors to the outside (wire,
clock, disk) or by the world while the host waits in one. From then on every door raises it again, so that nothing of
the dead host can act any more, not even its `finally` blocks. Its folder is copied as it is, and a new store, keeper
and board client take up what they find there.
"""

import threading
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from lampwarden.engine import Fact, Phase, Session, planned, replay
from lampwarden.errors import StoreError
from lampwarden.keeper import Keeper, Snapshot
from lampwarden.keeper.keeper import facts_of
from lampwarden.link.board import Board
from lampwarden.link.transport import WireTransport
from lampwarden.rig.clock import VirtualClock
from lampwarden.rig.wire import Wire
from lampwarden.rig.world import World
from lampwarden.service import Service
from lampwarden.store.queries import Queries
from lampwarden.store.records import SavedLine

from .disk import Disk
from .draw import SETTLE_S, Case
from .faults import TABLE, Strike
from .line import Line
from .person import PROMPT_S, Person
from .second_master import SecondMaster
from .witness import EVER_S, Witness

BOOT_S = 2.5
"""Longest that a board takes to boot, s."""
AFTER_END_S = 20.0
"""The run goes on this long after the session's end, s, so that late light is seen."""
OPEN_AGAIN_S = 5.0
"""A database that does not open is tried again by the service manager, s."""
ENOUGH_S = 3600.0
"""Phase two may last this long beyond what the plan itself needs, s."""


class HostDied(BaseException):
    """kill -9: nothing of the program may catch it."""


@dataclass(slots=True)
class Life:
    """One life of the host."""

    born_s: float
    died_s: float | None = None
    zero_s: float | None = None
    """Virtual time of the session's run time 0 in this life; None: it had no session."""
    after_seq: int = 0
    """Journal lines above this one were written in this life."""
    gap_s: float | None = None
    """How long nobody minded the session before it, by the true clock; None: there was none."""
    wall_gap_s: float | None = None
    """The same by the wall clock and the file; None: the file does not tell."""


@dataclass(slots=True)
class Shown:
    """What the person saw last before a death, and what the next life found."""

    session: Session
    session_id: str
    program_facts: list[Fact]
    taken: list[tuple[str, str]]
    """Kind and mark of each order that was acknowledged by then."""
    lines: list[SavedLine]


@dataclass(slots=True)
class Run:
    """All that a run left behind, for the checkers."""

    case: Case
    witness: Witness
    lives: list[Life]
    shown: list[Shown]
    person: Person
    second_master: SecondMaster
    began_s: float | None
    """Virtual time at which the session began; None: it never did."""
    began_lit_s: tuple[float, ...]
    """Light of each zone by then, s."""
    session: Session | None
    """As the keeper had it last."""
    session_id: str | None
    lines: list[SavedLine]
    """The session's journal, from the file."""
    replayed: Session | None
    """The session, folded from the file; without its totals once it has ended."""
    recorded_lit_s: tuple[float, ...]
    """Light of each zone, s, as the file has it."""
    outcome: str
    """As the file's row of the session says; "" while it is open."""
    end_s: float
    struck: list[tuple[float, Strike]]
    """Strikes with the time they took hold."""
    asks_s: list[float]
    """When the host sent a heartbeat."""
    stalls: list[tuple[float, float]]
    jumped: bool
    digest: str
    disk_lag_s: float
    stuck: str = ""
    """Why phase two did not end, if it did not."""
    firmware_errors: list[Exception] = field(default_factory=list)

    def line_s(self, line: SavedLine) -> float:
        """Virtual time of a journal line."""
        life = next(life for life in reversed(self.lives) if life.zero_s is not None and line.seq > life.after_seq)
        assert life.zero_s is not None
        return life.zero_s + line.run_s

    def deaths(self) -> list[tuple[float, float]]:
        """When each life ended and the next began."""
        pairs = zip(self.lives, [*self.lives[1:], None], strict=True)
        return [(a.died_s, b.born_s if b else self.end_s) for a, b in pairs if a.died_s is not None]


class _HostWire:
    """The wire as the present host holds it."""

    def __init__(self, stage: "Stage", life: Life) -> None:
        self._stage, self._life = stage, life

    def exchange(self, frame: bytes, timeout_s: float) -> bytes:
        stage = self._stage
        stage.door(self._life, "before asking")
        if frame[:1] == b"\x01" and frame[1:2] == b"\x10" and frame[2:4] == b"\x00\x00":
            stage.asks_s.append(stage.world.now_s)
        answer = stage.wire.exchange(frame, timeout_s)
        stage.door(self._life, "after answer")
        return answer


class _HostClock(VirtualClock):
    def __init__(self, stage: "Stage", life: Life) -> None:
        super().__init__(stage.world)
        self._stage, self._life = stage, life
        self.utc_shift = stage.utc_shift

    def wait(self, until_s: float, wake: threading.Event) -> None:
        super().wait(until_s, wake)
        self._stage.door(self._life, "clock")


class Stage:
    """One run of a case. `jumps`: False leaves out what befalls the wall clock, for the twin run."""

    def __init__(self, case: Case, folder: Path, *, jumps: bool = True) -> None:
        self.case = case
        self.world = World(case.design, case.seed, case.chamber)
        self.wire = Wire(self.world)
        self.witness = Witness(self.world)
        self.line = Line(self.world, self.wire, case.seed, self.witness.arrived)
        self.disk = Disk(folder, self.world)
        self.utc_shift = timedelta(0)
        self.person = Person(self, case.seed, case.patience_s)
        self.second_master = SecondMaster(self, case.seed)
        self.keeper: Keeper | None = None
        self.clock: VirtualClock
        self.asks_s: list[float] = []
        self.last_strike_s = 0.0
        self._jumps = jumps
        self._jumped = False
        self._struck: list[tuple[float, Strike]] = []
        self._stalls: list[tuple[float, float]] = []
        self._stalled_until_s = 0.0
        self._kill_at: tuple[str, float, bool] | None = None
        self._alive: Life | None = None
        self._down_until_s = 0.0
        self._lives: list[Life] = []
        self._shown: list[Shown] = []
        self._began_s: float | None = None
        self._began_lit_s: tuple[float, ...] = ()
        self._ended_s: float | None = None
        self._calm = False
        self._stuck = ""
        self._lag_s = 0.0
        self._session: Session | None = None
        self._session_id: str | None = None

    @property
    def ended(self) -> bool:
        """The person has seen the session's end."""
        return self._ended_s is not None

    # --- what faults ask for ------------------------------------------------------------------------------------------
    def stall(self, until_s: float) -> None:
        """The host stops in its tracks at its next door, until then."""
        self._stalled_until_s = max(self._stalled_until_s, until_s)

    def kill(self, down_s: float) -> None:
        """The host dies now. Nothing happens if it is dead."""
        if self._alive is None:
            return
        self._alive.died_s = self.world.now_s
        self._alive = None
        self._down_until_s = self.world.now_s + down_s
        raise HostDied

    def kill_at(self, door: str, down_s: float, *, with_board: bool = False) -> None:
        """The host dies the next time it goes through this door."""
        self._kill_at = (door, down_s, with_board)

    def jump(self, by: timedelta) -> None:
        """The wall clock jumps."""
        if not self._jumps:
            return
        self._jumped = True
        self.utc_shift += by
        self.clock.utc_shift = self.utc_shift

    def door(self, life: Life, name: str) -> None:
        """The host goes through one of its doors: here it can be stopped or killed."""
        if self._alive is life and self._stalled_until_s > self.world.now_s:
            self._stalls.append((self.world.now_s, self._stalled_until_s))
            self.world.advance(self._stalled_until_s)
        if self._alive is not life:
            raise HostDied
        if self._kill_at is not None and self._kill_at[0] == name:
            _, down_s, with_board = self._kill_at
            self._kill_at = None
            if with_board:
                self.world.reboot()
            self.kill(down_s)

    # --- the run ------------------------------------------------------------------------------------------------------
    def run(self) -> Run:
        world = self.world
        for strike in sorted(
            self.case.strikes, key=lambda strike: strike.name == "old_board"
        ):  # needs a board that runs
            if TABLE[strike.name].at_start:
                self._strike(strike)
                world.advance(world.now_s + BOOT_S)
            else:
                world.at(strike.at_s, lambda strike=strike: self._strike(strike))
        world.at(self.case.calm_s, self._become_calm)
        world.advance(max(SETTLE_S, world.now_s + BOOT_S))
        while True:
            life = Life(world.now_s)
            try:
                self._live(life)
                break
            except HostDied:
                self._bury()
            except StoreError:
                life.died_s = world.now_s
                self._alive = None
                self._down_until_s = world.now_s + OPEN_AGAIN_S
            world.advance(max(self._down_until_s, world.now_s + 0.01))
        return self._leave()

    def _live(self, life: Life) -> None:
        """One life of the host, from opening the database to the end of the run."""
        self._lives.append(life)
        self._alive = life
        self.disk.open(lambda name: self.door(life, name))
        self.clock = _HostClock(self, life)
        board = Board(WireTransport(_HostWire(self, life)))
        chamber_id = self.case.chamber.id
        life.after_seq = max((line.seq for line in self.disk.store.last_lines(None, chamber_id, 1)), default=0)
        keeper = Keeper(self.case.chamber, board, self.clock, self.disk.writer)
        service = Service(self.disk.store, self.clock)
        unfinished = service.unfinished(chamber_id)
        if unfinished is not None:
            last_s = self._lives[-2].died_s if len(self._lives) > 1 else None
            life.gap_s = life.born_s - last_s if last_s is not None else None
            if unfinished.last_utc is not None:
                life.wall_gap_s = (self.clock.utc() - unfinished.last_utc).total_seconds()
            if self._shown and self._shown[-1].session_id == unfinished.session_id:
                self._shown[-1].program_facts = unfinished.facts
        elif self._began_s is not None and self._ended_s is None:
            # It died with the end on disk, before anybody saw it: there is nothing to take up.
            self._ended_s, self._session = life.born_s, None
        self.keeper = keeper
        service.add(keeper)
        keeper.run(self._watch)
        life.died_s = None

    def _watch(self, snapshot: Snapshot) -> None:
        """After every turn of the keeper."""
        session, life, now_s = snapshot.session, self._lives[-1], self.world.now_s
        if session is not None and session.active and life.zero_s is None:
            life.zero_s = now_s - snapshot.run_s
        if session is not None:
            self._session, self._session_id = session, snapshot.session_id
            if session.phase is not Phase.PLANNED and self._began_s is None:
                assert life.zero_s is not None or session.phase is Phase.ENDED
                self._began_s = life.zero_s if life.zero_s is not None else now_s - session.run_s
                self._began_lit_s = tuple(self.world.truth.lit_s(zone) for zone in range(len(session.lit_s)))
            if session.phase is Phase.ENDED and self._ended_s is None:
                self._ended_s = now_s
        self._lag_s = max(self._lag_s, self.disk.writer.lag_s)
        self.person.mind(snapshot)
        if self._ended_s is not None and now_s >= self._ended_s + AFTER_END_S:
            assert self.keeper is not None
            self.keeper.close()
        elif self._calm and now_s > self._bound_s():
            self._stuck = f"not ended {now_s - self.case.calm_s:.0f} s after the last fault: " + (
                "; ".join(f"{hold.reason.value}: {hold.why}" for hold in session.holds) if session else "never begun"
            )
            assert self.keeper is not None
            self.keeper.close()

    def _bound_s(self) -> float:
        """Virtual time by which phase two must have come to an end."""
        program = self._session.program if self._session is not None else self.case.program
        waits_s = len(program.checkpoints) * (1800 + 60)  # a chamber that stays warm calls after half an hour
        return self.case.calm_s + 4 * program.planned_session_s(self.case.chamber) + waits_s + ENOUGH_S

    # --- trouble ------------------------------------------------------------------------------------------------------
    def _strike(self, strike: Strike) -> None:
        fault = TABLE[strike.name]
        self._struck.append((self.world.now_s, strike))
        if fault.room in ("sensor", "door"):
            self.last_strike_s = self.world.now_s
        if strike.lasts_s:
            self.world.at(min(strike.end_s, self.case.calm_s), lambda: fault.end(self, strike))
        fault.begin(self, strike)

    def _become_calm(self) -> None:
        """Phase two: nothing goes wrong any more, and a person is there who answers everything."""
        self._calm = True
        self._kill_at = None
        self.person.patience_s = PROMPT_S

    def _bury(self) -> None:
        """Keeps what the person saw last, and leaves the folder as it is to the next life."""
        keeper = self.keeper
        self.keeper = None
        self.person.forget()
        self.disk.crash()
        if keeper is None:
            return
        snapshot = keeper.snapshot
        if snapshot.session is not None and snapshot.session_id is not None:
            taken = [(order.kind, order.mark) for order in self.person.orders if order.taken]
            lines = self._lines_of(snapshot.session_id)
            self._shown.append(Shown(snapshot.session, snapshot.session_id, [], taken, lines))

    def _lines_of(self, session_id: str) -> list[SavedLine]:
        queries, found = Queries(self.disk.path), []
        while page := queries.journal(session_id, self.case.chamber.id, found[-1].seq if found else 0):
            found += page
        return found

    def _leave(self) -> Run:
        """The host is told to stop; what it leaves on disk is read back."""
        self.disk.writer.close()
        queries = Queries(self.disk.path)
        lines, replayed, outcome, recorded = [], None, "", ()
        if self._session_id is not None:
            progress = self.disk.store.progress(self._session_id)
            self.disk.close()
            lines = self._lines_of(self._session_id)
            row = queries.session(self._session_id)
            outcome = row.ended.outcome if row.ended else ""
            if progress is not None:
                progress.pop("utc")
                recorded = tuple(progress["lit_s"])
            if outcome:
                recorded = tuple(lines[-1].data["lit_s"] if lines[-1].kind == "ended" else recorded)
            facts = facts_of([(line.kind, line.data) for line in lines], None if outcome else progress)
            replayed = replay(planned(self.case.program, self.case.chamber), facts)
        else:
            self.disk.close()
        self.witness.finish()
        for life, after in zip(self._lives, [*self._lives[1:], None], strict=True):
            if life.zero_s is None:  # it died as it was born; adopting takes no virtual time
                last_seq = after.after_seq if after is not None else EVER_S
                first = next((entry for entry in lines if life.after_seq < entry.seq <= last_seq), None)
                life.zero_s = life.born_s - first.run_s if first is not None else None
        return Run(
            case=self.case,
            witness=self.witness,
            lives=self._lives,
            shown=self._shown,
            person=self.person,
            second_master=self.second_master,
            began_s=self._began_s,
            began_lit_s=self._began_lit_s,
            session=self._session,
            session_id=self._session_id,
            lines=lines,
            replayed=replayed,
            recorded_lit_s=recorded,
            outcome=outcome,
            end_s=self.world.now_s,
            struck=self._struck,
            asks_s=self.asks_s,
            stalls=self._stalls,
            jumped=self._jumped,
            digest=self.disk.digest(),
            disk_lag_s=self._lag_s,
            stuck=self._stuck,
            firmware_errors=self.world.firmware_errors,
        )
