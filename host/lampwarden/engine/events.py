"""What reaches the engine: readings of the board, its silence, the disk's state, and a person's orders.

Every event carries `run_s`: seconds since the session began, holds included. It never runs backwards.
"""

from dataclasses import dataclass

from ..domain.program import Program


@dataclass(frozen=True, slots=True)
class Reading:
    """What the board reported. Shapes: (zones,) and (banks,)."""

    run_s: float
    board_state: str
    """dark, ready, lit or tripped."""
    trip: str
    """The trip that is latched, in words; empty if none."""
    heat_trip: bool
    """The trip means that a hard temperature limit was passed."""
    door_open: bool
    door_openings: int
    """Counts since the board's boot; a change tells of an opening between two readings."""
    air_temp_c: float | None
    humidity_pct: float | None
    bank_temps_c: tuple[float | None, ...]
    boot_count: int
    uptime_s: float
    """Since the board's boot."""
    power_returned: bool
    """That boot was a return of its power, after it had been without for who knows how long."""
    zone_lit_ms: tuple[int, ...]
    """Level-weighted light per zone since the board's boot, ms; wraps at 2**32."""
    zone_applied: tuple[float, ...]
    """Share of full drive the board gives each zone now."""


@dataclass(frozen=True, slots=True)
class BoardLost:
    """The board did not answer, or not sensibly. Repeated every period while it lasts."""

    run_s: float
    why: str


@dataclass(frozen=True, slots=True)
class Restarted:
    """The daemon came back and found this session unfinished."""

    run_s: float
    gap_s: float | None
    """How long nobody minded the session, s, by the wall clock; None: unknown, since the clock went backwards or
    nobody had minded it yet."""


@dataclass(frozen=True, slots=True)
class StorageState:
    """Whether the journal reaches the disk. `trouble` is the sentence, None when all is well."""

    run_s: float
    trouble: str | None


@dataclass(frozen=True, slots=True)
class Begin:
    run_s: float
    by: str


@dataclass(frozen=True, slots=True)
class AskHold:
    """A person pauses the session."""

    run_s: float
    by: str
    stop: bool = False
    """True: from the stop control; the board has been darkened already."""


@dataclass(frozen=True, slots=True)
class AskContinue:
    """A person lets a held session go on."""

    run_s: float
    by: str


@dataclass(frozen=True, slots=True)
class Answer:
    """A person answers the checkpoint that waits."""

    run_s: float
    by: str
    checkpoint: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class AskInspection:
    """A person, or the fixed camera, wants the inspection light for a while longer."""

    run_s: float
    by: str


@dataclass(frozen=True, slots=True)
class AskEnd:
    """A person ends the session."""

    run_s: float
    by: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class ChangePlan:
    """A person changes what is still to come."""

    run_s: float
    by: str
    program: Program


@dataclass(frozen=True, slots=True)
class Annotate:
    """A person adds a line to the journal."""

    run_s: float
    by: str
    text: str


Event = (
    Reading
    | BoardLost
    | Restarted
    | StorageState
    | Begin
    | AskHold
    | AskContinue
    | Answer
    | AskInspection
    | AskEnd
    | ChangePlan
    | Annotate
)
