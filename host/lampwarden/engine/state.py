"""The state of a session and the fold that builds it from facts.

Theory of operation: a session is planned, then runs; any number of holds may stand at once and keep it dark; it
runs again when the last one is lifted; it ends once, for good. The table NEXT is the whole machine. `apply` is the
only function that makes a new state, so a session rebuilt from its journal equals the one that was live.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum, unique
from typing import TypeVar, assert_never

from ..domain.chamber import Chamber
from ..domain.program import Checkpoint, Exposure, Program
from ..errors import NotNow
from . import facts as f

_T = TypeVar("_T")

HOUR_S = 3600.0
"""Pauses to cool, and restarts of the board, are counted over this time."""


@unique
class Phase(Enum):
    PLANNED = "planned"
    RUNNING = "running"
    HELD = "held"
    ENDED = "ended"


@unique
class Reason(Enum):
    """Why a session is held. Several may stand at once; all treatment lamps are dark in any of them."""

    CHECKPOINT = "checkpoint"
    OPERATOR = "operator"
    DOOR = "door"
    COOLING = "cooling"
    BOARD_LOST = "board lost"
    SENSOR = "sensor"
    TRIP = "trip"
    RESTART = "restart"
    STORAGE = "storage"
    NOT_FOLLOWING = "board not following"


NEXT = {
    (Phase.PLANNED, "begin"): Phase.RUNNING,
    (Phase.RUNNING, "hold"): Phase.HELD,
    (Phase.HELD, "hold"): Phase.HELD,
    (Phase.HELD, "lift"): Phase.HELD,
    (Phase.HELD, "last hold lifted"): Phase.RUNNING,
    (Phase.RUNNING, "end"): Phase.ENDED,
    (Phase.HELD, "end"): Phase.ENDED,
}


def move(phase: Phase, cause: str) -> Phase:
    """The phase after `cause`. Raises NotNow naming what is possible if the table has no such row."""
    try:
        return NEXT[phase, cause]
    except KeyError:
        possible = sorted(c for p, c in NEXT if p is phase) or ["nothing"]
        raise NotNow(
            f"'{cause}' means nothing while the session is {phase.value}; possible: {', '.join(possible)}"
        ) from None


def diagram() -> str:
    """The table NEXT as a Mermaid state diagram; DEVELOPERS.md carries a copy that a test compares."""
    return "\n".join(["stateDiagram-v2"] + [f"    {p.value} --> {q.value}: {cause}" for (p, cause), q in NEXT.items()])


@dataclass(frozen=True, slots=True)
class Hold:
    """One reason that keeps the session dark."""

    reason: Reason
    since_s: float
    """Run time at which it began."""
    why: str
    """Sentence for people, with both numbers where numbers were compared."""
    needs_person: bool
    """True: a person has to let the session go on; False: it lifts by itself when its cause is gone."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """The checkpoint that is open."""

    index: int
    reached_s: float
    called_s: float | None = None
    """Run time of the first call; None while the air is still too warm to handle the sheet."""
    opened: bool = False
    """The door was opened since: only a person can say that the sheet lies right."""
    calls: int = 0
    """Calls that are settled, the first one included; one that came too late to be made counts."""
    inspection_from_s: float = 0.0
    """Run time from which the inspection light's time counts: the first call, or when it was last asked for."""
    inspection_over: bool = False
    """It has been lit for long enough."""


@dataclass(frozen=True, slots=True)
class Session:
    """Everything the engine knows. Zone tuples have shape (zones,), in the chamber's order."""

    program: Program
    chamber: Chamber
    plans: tuple[tuple[Exposure, ...], ...] = ()
    """The program's exposures of each zone, kept beside it for speed."""
    plans_lit_s: tuple[tuple[float, ...], ...] = ()
    """Level-weighted light planned for each of them, s, likewise."""
    phase: Phase = Phase.PLANNED
    holds: tuple[Hold, ...] = ()
    run_s: float = 0.0
    session_s: float = 0.0
    lit_s: tuple[float, ...] = ()
    """Level-weighted light per zone since the session began, s: the exposure truth."""
    levels: tuple[float, ...] = ()
    """Levels asked of the board, shares of full drive."""
    last_levels: tuple[float, ...] = ()
    """Last level above 0 asked of each zone: turns light into session time."""
    exposure: tuple[int, ...] = ()
    """Index of the exposure each zone is at; the number of exposures when all are done."""
    exposure_from_lit_s: tuple[float, ...] = ()
    """lit_s of each zone when its present exposure came up."""
    checkpoints_passed: int = 0
    waiting: Waiting | None = None
    coolings_s: tuple[float, ...] = ()
    """Run times of the coolings that interrupted the light within the last hour."""
    reboots_s: tuple[float, ...] = ()
    """Run times at which the board was found restarted within the last hour."""
    boot_count: int | None = None
    zone_lit_ms: tuple[int, ...] = ()
    door_openings: int = 0
    read_s: float = 0.0
    """Run time of the last reading."""
    read_levels: tuple[float, ...] = ()
    """Levels the board gave then, less what it was told to darken since: may have gone on until a reboot."""
    unlit_s: float = 0.0
    clear_asked_s: float | None = None
    """Run time at which a person asked to clear the trip that stands; None: nobody did."""
    ending: f.Ending | None = None
    """The end is decided, and waits for a last reading."""
    outcome: str = ""
    cause: str = ""

    @property
    def active(self) -> bool:
        """Begun and not ended."""
        return self.phase in (Phase.RUNNING, Phase.HELD)

    def hold(self, reason: Reason) -> Hold | None:
        """The standing hold of this reason, or None."""
        for hold in self.holds:
            if hold.reason is reason:
                return hold
        return None

    @property
    def open_checkpoint(self) -> Checkpoint | None:
        """The checkpoint that waits, or None."""
        return self.program.checkpoints[self.waiting.index] if self.waiting else None


def planned(program: Program, chamber: Chamber) -> Session:
    """A session that has not begun. The program must fit the chamber (Program.fits)."""
    zones = len(chamber.zones)
    return Session(
        program=program,
        chamber=chamber,
        plans=_plans(program, chamber),
        plans_lit_s=_plans_lit_s(program, chamber),
        lit_s=(0.0,) * zones,
        levels=(0.0,) * zones,
        last_levels=(0.0,) * zones,
        read_levels=(0.0,) * zones,
        exposure=(0,) * zones,
        exposure_from_lit_s=(0.0,) * zones,
        zone_lit_ms=(0,) * zones,
    )


def apply(session: Session, fact: f.Fact) -> Session:
    """The session after a fact. Raises NotNow if the table does not allow it; the session given is unchanged."""
    if session.phase is Phase.ENDED and not isinstance(fact, f.Annotated):
        raise NotNow("the session has ended; only notes can be added")
    match fact:
        case f.Progress():
            return replace(
                session,
                run_s=fact.run_s,
                session_s=fact.session_s,
                lit_s=fact.lit_s,
                boot_count=fact.boot_count,
                zone_lit_ms=fact.zone_lit_ms,
                door_openings=fact.door_openings,
                read_s=fact.read_s,
                read_levels=fact.read_levels or session.read_levels,
                unlit_s=fact.unlit_s,
            )
        case f.Began():
            return replace(session, phase=move(session.phase, "begin"), run_s=fact.run_s)
        case f.HoldBegan():
            return _hold_began(session, fact)
        case f.HoldWaits():
            return _hold_waits(session, fact)
        case f.HoldEnded():
            return _hold_ended(session, fact)
        case f.LevelsSet():
            return _told(session, fact.run_s, fact.levels)
        case f.ExposureDone():
            return replace(
                session,
                exposure=_with(session.exposure, fact.zone, fact.exposure + 1),
                exposure_from_lit_s=_with(session.exposure_from_lit_s, fact.zone, fact.zone_lit_s),
                run_s=fact.run_s,
            )
        case f.CheckpointReached():
            index = [c.name for c in session.program.checkpoints].index(fact.checkpoint)
            waiting = Waiting(index, fact.run_s, opened=session.hold(Reason.DOOR) is not None)
            return replace(session, waiting=waiting, run_s=fact.run_s)
        case f.PersonCalled():
            if session.waiting is None:
                raise NotNow("no checkpoint is open")
            waiting = replace(session.waiting, calls=fact.urgency + 1)
            if waiting.called_s is None:
                waiting = replace(waiting, called_s=fact.run_s, inspection_from_s=fact.run_s)
            return replace(session, waiting=waiting, run_s=fact.run_s)
        case f.InspectionAsked():
            return replace(session, waiting=_inspected(session.waiting, fact.run_s), run_s=fact.run_s)
        case f.InspectionOver():
            if session.waiting is None:
                raise NotNow("no checkpoint is open")
            return replace(session, waiting=replace(session.waiting, inspection_over=True), run_s=fact.run_s)
        case f.CheckpointAnswered():
            if session.waiting is None:
                raise NotNow("no checkpoint is open")
            return replace(session, waiting=None, checkpoints_passed=session.waiting.index + 1, run_s=fact.run_s)
        case f.BoardRebooted():
            return replace(session, reboots_s=_within_an_hour(session.reboots_s, fact.run_s), run_s=fact.run_s)
        case f.TripClearAsked():
            return replace(session, clear_asked_s=fact.run_s, run_s=fact.run_s)
        case f.PlanChanged():
            program = Program.model_validate(fact.program)
            plans, plans_lit_s = _plans(program, session.chamber), _plans_lit_s(program, session.chamber)
            return replace(session, program=program, plans=plans, plans_lit_s=plans_lit_s, run_s=fact.run_s)
        case f.Annotated():
            return session  # a note changes nothing, least of all the time that counts until the next reading
        case f.Ending():
            return replace(_told(session, fact.run_s, (0.0,) * len(session.levels)), ending=fact)
        case f.Ended():
            return replace(
                session,
                phase=move(session.phase, "end"),
                ending=None,
                run_s=fact.run_s,
                holds=(),
                waiting=None,
                levels=(0.0,) * len(session.levels),
                outcome=fact.outcome,
                cause=fact.cause,
            )
        case _:
            assert_never(fact)


def totals(session: Session) -> f.Progress:
    """The fact that states what changes every second; saved beside the journal, it completes the fold."""
    return f.Progress(
        session.run_s,
        session.session_s,
        session.lit_s,
        session.boot_count,
        session.zone_lit_ms,
        session.door_openings,
        session.read_s,
        session.read_levels,
        session.unlit_s,
    )


def replay(session: Session, journal: Iterable[f.Fact]) -> Session:
    """The session after all these facts, oldest first."""
    for fact in journal:
        session = apply(session, fact)
    return session


def _plans(program: Program, chamber: Chamber) -> tuple[tuple[Exposure, ...], ...]:
    return tuple(program.exposures_of(zone.name) for zone in chamber.zones)


def _plans_lit_s(program: Program, chamber: Chamber) -> tuple[tuple[float, ...], ...]:
    return tuple(
        tuple(exposure.planned_lit_s(zone.irradiance_w_m2) for exposure in program.exposures_of(zone.name))
        for zone in chamber.zones
    )


def _told(session: Session, run_s: float, levels: tuple[float, ...]) -> Session:
    """Other light is asked of the board."""
    last = tuple(new or old for new, old in zip(levels, session.last_levels, strict=True))
    read_levels = session.read_levels
    if session.hold(Reason.BOARD_LOST) is None:  # else the board was not told
        read_levels = tuple(map(min, read_levels, levels))
    return replace(session, levels=levels, last_levels=last, read_levels=read_levels, run_s=run_s, unlit_s=0.0)


def _hold_began(session: Session, fact: f.HoldBegan) -> Session:
    reason = Reason(fact.reason)
    if session.hold(reason) is not None:
        raise NotNow(f"a hold for '{fact.reason}' stands already")
    coolings_s = session.coolings_s
    if reason is Reason.COOLING and session.phase is Phase.RUNNING:
        coolings_s = _within_an_hour(coolings_s, fact.run_s)
    waiting = session.waiting
    if reason is Reason.DOOR and waiting is not None:
        waiting = replace(waiting, opened=True)
    return replace(
        session,
        phase=move(session.phase, "hold"),
        holds=(*session.holds, Hold(reason, fact.run_s, fact.why, fact.needs_person)),
        waiting=waiting,
        coolings_s=coolings_s,
        run_s=fact.run_s,
    )


def _hold_waits(session: Session, fact: f.HoldWaits) -> Session:
    reason = Reason(fact.reason)
    if session.hold(reason) is None:
        raise NotNow(f"no hold for '{fact.reason}' stands")
    holds = tuple(replace(h, why=fact.why, needs_person=True) if h.reason is reason else h for h in session.holds)
    clear_asked_s = None if reason is Reason.TRIP else session.clear_asked_s
    return replace(session, holds=holds, clear_asked_s=clear_asked_s, run_s=fact.run_s)


def _hold_ended(session: Session, fact: f.HoldEnded) -> Session:
    reason = Reason(fact.reason)
    if session.hold(reason) is None:
        raise NotNow(f"no hold for '{fact.reason}' stands")
    holds = tuple(hold for hold in session.holds if hold.reason is not reason)
    phase = move(session.phase, "lift" if holds else "last hold lifted")
    clear_asked_s = None if reason is Reason.TRIP else session.clear_asked_s
    waiting = session.waiting
    if reason is Reason.DOOR and waiting is not None:
        waiting = _inspected(waiting, fact.run_s)  # whoever opened and closed it is there
    return replace(session, phase=phase, holds=holds, waiting=waiting, clear_asked_s=clear_asked_s, run_s=fact.run_s)


def _inspected(waiting: Waiting | None, run_s: float) -> Waiting:
    """The open checkpoint with the whole time of its inspection light before it."""
    if waiting is None:
        raise NotNow("no checkpoint is open")
    return replace(waiting, inspection_from_s=run_s, inspection_over=False)


def _within_an_hour(moments_s: tuple[float, ...], run_s: float) -> tuple[float, ...]:
    """Those of the last hour, and one now."""
    return (*(s for s in moments_s if run_s - s < HOUR_S), run_s)


def _with(values: tuple[_T, ...], index: int, value: _T) -> tuple[_T, ...]:
    return (*values[:index], value, *values[index + 1 :])
