"""A program run on the simulated chamber in virtual time: the real keeper, engine and firmware, without waiting."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from importlib.resources import files
from typing import Any

from .domain.chamber import Chamber, Zone
from .domain.program import Program
from .domain.program_file import parse, parse_as
from .domain.units import dose_j_cm2
from .engine import Phase, Session
from .engine import events as e
from .errors import ProgramError
from .keeper import Keeper, Snapshot
from .keeper.keeper import PERIOD_S
from .link.board import Board
from .link.transport import WireTransport
from .rig.clock import DEMO_UTC, VirtualClock
from .rig.design import RigDesign
from .rig.wire import Wire
from .rig.world import World
from .store.records import Batch, Line

RUN_S_MAX = 60 * 86400.0
"""A rehearsal that has not ended after this much run time is given up, s."""
INVENTED_IRRADIANCE_W_M2 = 80.0
"""Invented irradiance for zones that the demo chamber does not have, W/m2."""
SCENARIOS = files("lampwarden.rig") / "scenario"


def demo_chamber() -> Chamber:
    """The invented demo chamber."""
    return parse_as(Chamber, (SCENARIOS / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")


def demo_programs() -> dict[str, Program]:
    """The shipped scenario programs by file stem."""
    others = ("chamber.toml", "sheet.toml")
    found = sorted((f for f in SCENARIOS.iterdir() if f.name not in others and f.name.endswith(".toml")), key=str)
    return {f.name.removesuffix(".toml"): parse(f.read_text(encoding="utf-8"), f.name) for f in found}


def chamber_for(program: Program) -> Chamber:
    """A simulated chamber with the program's zones: the demo chamber if it has them, else an invented one."""
    demo = demo_chamber()
    if {plan.zone for plan in program.zones} <= {zone.name for zone in demo.zones}:
        return demo
    zones = tuple(
        Zone(name=plan.zone, bank=1 + index // 3, irradiance_w_m2=INVENTED_IRRADIANCE_W_M2)
        for index, plan in enumerate(program.zones)
    )
    return Chamber(id="rehearsal", title="Rehearsal chamber", zones=zones)


@dataclass(slots=True)
class Rig:
    """A simulated chamber with everything a keeper needs to mind it."""

    world: World
    wire: Wire
    board: Board
    clock: VirtualClock

    @classmethod
    def build(
        cls,
        chamber: Chamber,
        program: Program | None = None,
        seed: int = 1,
        speed: float | None = None,
        start_utc: datetime = DEMO_UTC,
    ) -> "Rig":
        """The chamber as the program's rehearsal table describes it. `speed`: virtual s per real s; None: no pace."""
        about = program.rehearsal if program else None
        design = RigDesign()
        if about is not None:
            design = replace(design, ambient_c=about.ambient_c, fan_strength=about.fan_strength)
        world = World(design, seed, chamber)
        if about is not None and about.fan_stops_s is not None:
            world.at(about.fan_stops_s, lambda: setattr(world, "fan_dead", True))
        wire = Wire(world)
        return cls(world, wire, Board(WireTransport(wire)), VirtualClock(world, speed, start_utc))


class MemoryWriter:
    """Keeps the journal of a rehearsal and its highest temperatures; nothing reaches a disk."""

    def __init__(self) -> None:
        self.durable = 0
        self.trouble: str | None = None
        self.samples_dropped = 0
        self.lines: list[Line] = []
        self.air_temp_c_max: float | None = None
        self.bank_temp_c_max: float | None = None

    def put(self, batch: Batch) -> int:
        self.lines += batch.lines
        for sample in batch.samples:
            self.air_temp_c_max = _higher(self.air_temp_c_max, sample.air_temp_c)
            for temp_c in sample.bank_temps_c:
                self.bank_temp_c_max = _higher(self.bank_temp_c_max, temp_c)
        self.durable += 1
        return self.durable

    def flush(self) -> None:
        """Nothing to do: what was put is kept."""

    def close(self) -> None:
        """Nothing to do."""


@dataclass(slots=True)
class Report:
    """What a rehearsal showed. Times in s, temperatures in degrees C, doses in J/cm2."""

    program: Program
    chamber: Chamber
    session: Session
    journal: list[tuple[float, str, str]]
    """Run time, kind and sentence of each journal line."""
    air_temp_c_max: float | None
    bank_temp_c_max: float | None
    checkpoints: list[tuple[str, float]]
    """Name and session time at which each was reached."""
    hold_s: dict[str, float]
    """Run time spent in each kind of hold; holds that stood together each count."""
    true_lit_s: tuple[float, ...]
    """What the simulated lamps really gave, for comparison."""
    seed: int = 1

    def to_json(self) -> dict[str, Any]:
        """The report as one JSON-ready object."""
        session = self.session
        planned_s = session.program.planned_lit_s(self.chamber)
        return {
            "title": self.program.title,
            "seed": self.seed,
            "outcome": session.outcome,
            "cause": session.cause,
            "session_s": round(session.session_s, 2),
            "run_s": round(session.run_s, 2),
            "air_temp_c_max": _rounded(self.air_temp_c_max),
            "bank_temp_c_max": _rounded(self.bank_temp_c_max),
            "zones": [
                {
                    "name": zone.name,
                    "lit_s": round(lit_s, 2),
                    "true_lit_s": round(true_s, 2),
                    "planned_s": round(plan_s, 2),
                    "dose_j_cm2": round(dose_j_cm2(zone.irradiance_w_m2, lit_s), 3),
                }
                for zone, lit_s, true_s, plan_s in zip(
                    self.chamber.zones, session.lit_s, self.true_lit_s, planned_s, strict=True
                )
            ],
            "checkpoints": [{"name": name, "at_s": round(at_s, 2)} for name, at_s in self.checkpoints],
            "holds": [{"reason": reason, "seconds": round(s, 2)} for reason, s in self.hold_s.items()],
        }


def rehearse(
    program: Program,
    chamber: Chamber | None = None,
    seed: int = 1,
    on_progress: Callable[[float], None] = lambda share: None,
) -> Report:
    """Runs a program to its end on the simulated chamber, in virtual time.

    `on_progress` gets the share of the session done, 0..1, now and then. Raises ProgramError if the program does not
    fit the chamber or cannot start or end there.
    """
    chamber = chamber or chamber_for(program)
    wrong = program.fits(chamber)
    if wrong:
        raise ProgramError("\n".join(wrong))
    rig, writer = Rig.build(chamber, program, seed), MemoryWriter()
    keeper = Keeper(chamber, rig.board, rig.clock, writer)
    person = Person(keeper, program.rehearsal.answer_after_s)
    planned_s, shown = program.planned_session_s(chamber), [-1.0]
    start = None

    def watch(snapshot: Snapshot) -> None:
        nonlocal start
        if start is None and snapshot.board.live is not None:
            start = keeper.start("rehearsal", program, "rehearsal", snapshot.utc)
        if start is not None and start.done() and start.exception() is not None:
            keeper.close()
        person.mind(snapshot)
        session = snapshot.session
        if session is None:
            return
        share = session.session_s / planned_s if planned_s else 1.0
        if share - shown[0] >= 0.01:
            shown[0] = share
            on_progress(min(1.0, share))
        if session.phase is Phase.ENDED or session.run_s > RUN_S_MAX:
            keeper.close()

    rig.world.advance(PERIOD_S * 10)  # let the simulated board boot and its sensors settle
    keeper.run(watch)
    if start is not None and start.exception() is not None:
        raise ProgramError(f"The session could not start: {start.exception()}")
    session = keeper.snapshot.session
    if session is None or session.phase is not Phase.ENDED:
        raise ProgramError("The session did not end: a hold that no simulated person lifts, or more than 60 days.")
    return _report(program, chamber, session, writer, rig, seed)


class Person:
    """The simulated person: answers each attended checkpoint some time after being called."""

    def __init__(self, keeper: Keeper, answer_after_s: float) -> None:
        self._keeper, self._answer_after_s = keeper, answer_after_s
        self._answered: set[str] = set()

    def mind(self, snapshot: Snapshot) -> None:
        """Looks at the chamber and answers what waits."""
        session = snapshot.session
        if session is None or session.waiting is None or session.waiting.called_s is None:
            return
        checkpoint = session.open_checkpoint
        if checkpoint is None or not checkpoint.attended or checkpoint.name in self._answered:
            return
        if snapshot.run_s - session.waiting.called_s >= self._answer_after_s:
            self._answered.add(checkpoint.name)
            name = checkpoint.name
            self._keeper.order(lambda run_s: e.Answer(run_s, "the simulated person", name))


def _report(program: Program, chamber: Chamber, session: Session, writer: MemoryWriter, rig: Rig, seed: int) -> Report:
    lines = writer.lines
    hold_s: dict[str, float] = {}
    began: dict[str, float] = {}
    for line in lines:
        if line.kind == "hold_began":
            began[line.data["reason"]] = line.run_s
        elif line.kind == "hold_ended":
            reason = line.data["reason"]
            hold_s[reason] = hold_s.get(reason, 0.0) + line.run_s - began.pop(reason)
        elif line.kind == "ended":
            for reason, since_s in began.items():
                hold_s[reason] = hold_s.get(reason, 0.0) + line.run_s - since_s
    return Report(
        program=program,
        chamber=chamber,
        session=session,
        journal=[(line.run_s, line.kind, line.text) for line in lines],
        air_temp_c_max=writer.air_temp_c_max,
        bank_temp_c_max=writer.bank_temp_c_max,
        checkpoints=[
            (line.data["checkpoint"], line.data["session_s"]) for line in lines if line.kind == "checkpoint_reached"
        ],
        hold_s=hold_s,
        true_lit_s=tuple(rig.world.truth.lit_s(zone) for zone in range(len(chamber.zones))),
        seed=seed,
    )


def _higher(highest: float | None, value: float | None) -> float | None:
    return value if highest is None or (value is not None and value > highest) else highest


def _rounded(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, 2)
