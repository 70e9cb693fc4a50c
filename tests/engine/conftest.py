"""A session driven over a small honest board: the bench on which the engine's tests run.

The board does what design section 3 asks of a board and no more: it boots dark, obeys only when armed, goes dark with
the door open, without a heartbeat and when tripped, and counts the light that its lamps really gave. `Run` does what
a keeper does: exchange each period, hand the reading to `step`, send the answer. After every step `Run` checks what
must hold in any session, so each test checks it too.
"""

import json
from collections.abc import Callable
from typing import Any

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Exposure, Program, ZonePlan
from lampwarden.engine import (
    Demand,
    Fact,
    Outcome,
    Phase,
    Reason,
    Session,
    apply,
    fact_from_data,
    fact_to_data,
    planned,
    replay,
    step,
    totals,
)
from lampwarden.engine import events as e
from lampwarden.engine import facts as f
from lampwarden.errors import NotNow, ProgramError

PERIOD_S = 1.0
BOOT_S = 1.0
HEARTBEAT_TIMEOUT_S = 3.0
FLUSH_S = 10.0
FIRST_BOOT = 7


class Board:
    """Lamps, counters, door, trip and heartbeat of a chamber. Its clock, s, is its own."""

    def __init__(self, zones: int, banks: int, counter_ms: int = 0) -> None:
        self.zones, self.banks = zones, banks
        self.now_s = 0.0
        self.levels = [0.0] * zones
        self.true_lit_s = [0.0] * zones
        self._lit_ms = [float(counter_ms)] * zones
        self.boot_count = FIRST_BOOT
        self.armed = False
        self.heard_s: float | None = None
        self.wire = True
        """False: nothing passes between host and board."""
        self.door_open = False
        self.door_openings = 0
        self.trip = ""
        self.cause_lasts = False
        """The cause of the trip is still there: a clearing is refused."""
        self.air_temp_c: float | None = 24.0
        self.bank_temps_c: list[float | None] = [30.0] * banks
        self.reset_s = -1000.0
        self.power_returned = False
        self.obeys = True
        """False: the board answers but its lamps stay as they are."""

    def advance(self, to_s: float) -> None:
        """Time passes; lamps go dark by themselves once the heartbeat is too old."""
        lapse_s = None if self.heard_s is None else self.heard_s + HEARTBEAT_TIMEOUT_S
        if lapse_s is not None and self.now_s < lapse_s < to_s and self.obeys:
            self._shine(lapse_s - self.now_s)
            self.levels = [0.0] * self.zones
            self.now_s = lapse_s
        self._shine(to_s - self.now_s)
        self.now_s = to_s

    def _shine(self, passed_s: float) -> None:
        for zone, level in enumerate(self.levels):
            self.true_lit_s[zone] += level * passed_s
            self._lit_ms[zone] += level * passed_s * 1000.0

    def demand(self, demand: Demand) -> None:
        self.heard_s = self.now_s
        if self.obeys:
            may = self.armed and not self.door_open and not self.trip
            self.levels = list(demand.zone_levels) if may else [0.0] * self.zones

    def arm(self) -> None:
        self.armed = not self.trip

    def clear_trip(self) -> None:
        if not self.cause_lasts:
            self.trip = ""

    def set_door(self, is_open: bool) -> None:
        if is_open and not self.door_open:
            self.door_openings += 1
            self.levels = [0.0] * self.zones
        self.door_open = is_open

    def set_trip(self, cause: str) -> None:
        self.trip, self.armed, self.levels = cause, False, [0.0] * self.zones

    def reboot(self) -> None:
        self.boot_count += 1
        self.reset_s = self.now_s
        self.armed, self.trip, self.door_openings, self.heard_s = False, "", 0, None
        self.levels = [0.0] * self.zones
        self._lit_ms = [0.0] * self.zones

    @property
    def state(self) -> str:
        if self.trip:
            return "tripped"
        if not self.armed:
            return "dark"
        return "lit" if any(self.levels) else "ready"

    def reading(self, run_s: float) -> e.Reading:
        return e.Reading(
            run_s=run_s,
            board_state=self.state,
            trip=self.trip,
            heat_trip="over its limit" in self.trip,
            door_open=self.door_open,
            door_openings=self.door_openings,
            air_temp_c=self.air_temp_c,
            humidity_pct=50.0,
            bank_temps_c=tuple(self.bank_temps_c),
            boot_count=self.boot_count,
            uptime_s=max(0.0, self.now_s - self.reset_s - BOOT_S),
            power_returned=self.power_returned,
            zone_lit_ms=tuple(int(ms) % 2**32 for ms in self._lit_ms),
            zone_applied=tuple(self.levels),
        )


class Run:
    """One session, its board and its journal."""

    def __init__(self, program: Program, chamber: Chamber, *, counter_ms: int = 0) -> None:
        self.board = Board(len(chamber.zones), chamber.bank_count, counter_ms)
        self.planned = planned(program, chamber)
        self.session: Session = self.planned
        self.folded = self.lean = self.planned
        self.saved: f.Progress | None = None
        self.saved_s = 0.0
        self.facts: list[Fact] = []
        self.now_s = 0.0
        self.outcome: Outcome | None = None
        self.called: set[str] = set()
        self.unseen_s = [0.0] * len(chamber.zones)
        """Light per zone that fell while nobody could hear the board, s."""
        self.allowed_s = list(program.planned_lit_s(chamber))
        """Light per zone that the plan, or what fell before a change of plan, allows, s."""

    # --- what a keeper does -------------------------------------------------------------------------------------------

    def tell(self, event: e.Event) -> Outcome:
        """Steps, checks what must always hold, and sends the answer to the board."""
        outcome = step(self.session, event)
        self._check(self.session, event, outcome)
        self.session, self.outcome = outcome.session, outcome
        self.facts += outcome.facts
        if self.board.wire:
            if outcome.clear_trip:
                self.board.clear_trip()
            if outcome.arm:
                self.board.arm()
            self.board.demand(outcome.demand)
        return outcome

    def refused(self, make: Callable[..., e.Event], *args: Any, **more: Any) -> str:
        """The message with which a person's order is refused; the session must stay as it was."""
        picture = repr(self.session)
        with pytest.raises((NotNow, ProgramError)) as refusal:
            self.order(make, *args, **more)
        assert repr(self.session) == picture
        return str(refusal.value)

    def begin(self, by: str = "Ana") -> "Run":
        self.tell(e.Begin(self.now_s, by))
        return self

    def pass_time(self, seconds: float) -> None:
        """The board's clock runs; nothing is read."""
        before = list(self.board.true_lit_s)
        self.now_s += seconds
        self.board.advance(self.board.now_s + seconds)
        if not self.board.wire:
            for zone, lit_s in enumerate(self.board.true_lit_s):
                self.unseen_s[zone] += lit_s - before[zone]

    def stall(self, seconds: float) -> None:
        """The host does nothing for this long; the board hears no heartbeat."""
        wire, self.board.wire = self.board.wire, False
        self.pass_time(seconds)
        self.board.wire = wire

    def read(self) -> Outcome:
        """One exchange with the board."""
        if not self.board.wire:
            return self.tell(e.BoardLost(self.now_s, "The board does not answer."))
        if self.outcome is not None:
            self.board.demand(self.outcome.demand)
        return self.tell(self.board.reading(self.now_s))

    def go(self, seconds: float, period_s: float = PERIOD_S, *, wake: bool = True) -> "Run":
        """Exchanges each period, and at the moments the engine asks for, for this long or until the session ends."""
        until_s = self.now_s + seconds
        while self.now_s < until_s - 1e-9 and self.session.phase is not Phase.ENDED:
            wait_s = period_s
            if wake and self.outcome is not None and self.outcome.wake_s is not None:
                wait_s = min(wait_s, self.outcome.wake_s)
            self.pass_time(min(wait_s, until_s - self.now_s))
            self.read()
        return self

    def until(self, what: Callable[["Run"], bool], most_s: float = 100_000.0) -> "Run":
        """Exchanges until something is true. Fails the test after `most_s`."""
        until_s = self.now_s + most_s
        while not what(self):
            assert self.now_s < until_s, f"not within {most_s} s: {self.texts()[-5:]}"
            self.go(PERIOD_S)
        return self

    def crash(self, gap_s: float, clock_gap_s: float | None = None) -> Outcome:
        """The daemon is killed, the board left alone for `gap_s`, and the daemon folds what was on disk.

        `clock_gap_s`: the gap as a wall clock that was changed meanwhile tells it.
        """
        self.stall(gap_s)
        live, self.session = self.session, replay(self.lean, [self.saved] if self.saved else [])
        for zone, lit_s in enumerate(live.lit_s):  # seen, but not saved yet: until the next reading nobody knows of it
            self.unseen_s[zone] += lit_s - self.session.lit_s[zone]
        self.folded = self.session
        self.outcome = None
        if clock_gap_s is None:
            clock_gap_s = self.now_s - self.session.run_s
        self.now_s = self.session.run_s + clock_gap_s
        return self.tell(e.Restarted(self.now_s, clock_gap_s))

    def order(self, make: Callable[..., e.Event], *args: Any, **more: Any) -> Outcome:
        return self.tell(make(self.now_s, "Ana", *args, **more))

    # --- what happened ------------------------------------------------------------------------------------------------

    def texts(self) -> list[str]:
        return [f"{fact.run_s:.2f} {fact.text}" for fact in self.facts if not isinstance(fact, f.Progress)]

    def of(self, kind: type) -> list[Any]:
        return [fact for fact in self.facts if isinstance(fact, kind)]

    def holds(self) -> dict[str, bool]:
        """The standing holds and whether they need a person."""
        return {hold.reason.value: hold.needs_person for hold in self.session.holds}

    @property
    def lit(self) -> bool:
        return self.outcome is not None and not self.outcome.demand.dark

    # --- what must always hold ----------------------------------------------------------------------------------------

    def _check(self, before: Session, event: e.Event, outcome: Outcome) -> None:
        after, demand = outcome.session, outcome.demand
        if after.phase is not Phase.RUNNING or after.holds:
            assert demand.dark
        assert (after.phase is Phase.HELD) == bool(after.holds)
        if not demand.dark:
            assert isinstance(event, e.Reading) or before.boot_count is not None
            assert not (isinstance(event, e.Reading) and (event.door_open or event.trip))
        if outcome.arm:
            assert any(demand.zone_levels) or demand.inspection
        assert (after.waiting is not None) == (after.hold(Reason.CHECKPOINT) is not None)
        assert all(0 <= index <= len(plan) for index, plan in zip(after.exposure, after.plans, strict=True))
        assert after.session_s >= before.session_s
        assert after.session_s <= after.run_s + 1e-6
        for fact in outcome.facts:
            assert fact.text
            if isinstance(fact, f.HoldBegan | f.HoldWaits | f.HoldEnded):
                assert fact.why[-1] in ".!?"
            if isinstance(fact, f.PersonCalled):
                self.called.add(fact.checkpoint)
            if isinstance(fact, f.CheckpointAnswered) and fact.by == "the program":
                assert fact.checkpoint in self.called
            self._fold(fact)
        self._check_fold(before, outcome)
        if isinstance(event, e.ChangePlan):
            plan_s = after.program.planned_lit_s(after.chamber)
            self.allowed_s = [max(pair) for pair in zip(plan_s, after.lit_s, strict=True)]
        for zone, lit_s in enumerate(after.lit_s):
            # Light before a reboot is reckoned: a board that went dark unseen just before it gave less.
            reckoned_s = HEARTBEAT_TIMEOUT_S * (self.board.boot_count - FIRST_BOOT)
            assert lit_s <= self.allowed_s[zone] + PERIOD_S + self.unseen_s[zone] + reckoned_s + 0.01
            assert lit_s <= self.board.true_lit_s[zone] + reckoned_s + 0.01

    def _fold(self, fact: Fact) -> None:
        kind, data = fact_to_data(fact)
        again = fact_from_data(kind, json.loads(json.dumps(data)))
        assert again == fact
        self.folded = apply(self.folded, again)
        if not isinstance(fact, f.Progress):
            self.lean = apply(self.lean, again)

    def _check_fold(self, before: Session, outcome: Outcome) -> None:
        """The journal's fold is the live state; so is the journal without the totals plus the newest totals."""
        after = outcome.session
        assert self.folded == after
        if not after.active:
            return
        assert apply(self.lean, totals(after)) == after
        lines = any(not isinstance(fact, f.Progress) for fact in outcome.facts)
        if lines or after.run_s - self.saved_s >= FLUSH_S:
            self.saved, self.saved_s = totals(after), after.run_s


# The parts of a test, as fixtures because test folders are no packages.


@pytest.fixture(scope="session")
def make_run() -> type[Run]:
    """The class whose objects run a program on the small board."""
    return Run


@pytest.fixture(scope="session")
def chamber_of() -> Callable[..., Chamber]:
    """Makes a chamber of zones A, B, ... of 100 W/m2, three to a bank."""

    def make(zones: int = 1, irradiance_w_m2: float = 100.0) -> Chamber:
        return Chamber(
            zones=tuple(
                Zone(name="ABCDEFGH"[index], bank=1 + index // 3, irradiance_w_m2=irradiance_w_m2)
                for index in range(zones)
            )
        )

    return make


@pytest.fixture(scope="session")
def program_of() -> Callable[..., Program]:
    """Makes a program: the first plan is for zone A and so on; anything named goes to Program."""

    def make(*plans: Exposure | list[Exposure], **more: Any) -> Program:
        zones = tuple(
            ZonePlan(zone="ABCDEFGH"[index], exposures=tuple(plan) if isinstance(plan, list) else (plan,))
            for index, plan in enumerate(plans)
        )
        return Program(**{"title": "Trial", "zones": zones} | more)

    return make


@pytest.fixture(scope="session")
def run_of(
    make_run: type[Run], chamber_of: Callable[..., Chamber], program_of: Callable[..., Program]
) -> Callable[..., Run]:
    """Begins a session and reads the board at 0 s: `run_of(plan, plan, ..., checkpoints=..., rules=...)`."""

    def begin(*plans: Exposure | list[Exposure], counter_ms: int = 0, **more: Any) -> Run:
        program = program_of(*plans, **more)
        run = make_run(program, chamber_of(len(program.zones)), counter_ms=counter_ms).begin()
        run.read()
        return run

    return begin
