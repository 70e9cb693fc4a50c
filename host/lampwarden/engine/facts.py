"""What happened in a session: the lines of its journal. A session's state is the fold of these.

Each fact says itself in a sentence (`text`). `run_s` is seconds since the session began, holds included.
Progress is the exception: it changes every second and states totals, so only the newest one is kept.
"""

from dataclasses import dataclass, fields
from typing import Any, ClassVar, get_args

from ..domain.program import Program
from ..domain.units import duration_text


@dataclass(frozen=True, slots=True)
class Progress:
    """Totals up to now. The newest replaces the older ones."""

    KIND: ClassVar[str] = "progress"
    run_s: float
    session_s: float
    """Session time: runs only while nothing holds."""
    lit_s: tuple[float, ...]
    """Level-weighted light per zone since the session began, s."""
    boot_count: int | None
    """The board's boot the counters below belong to; None before the first reading."""
    zone_lit_ms: tuple[int, ...]
    """The board's counters at the last reading."""
    door_openings: int
    # Totals saved by an earlier version lack what was added since: each new field needs a default that is safe.
    read_s: float = 0.0
    """Run time of the last reading."""
    read_levels: tuple[float, ...] = ()
    """Levels the board gave when it was last read, less what it was told to darken since. Empty: unknown."""
    unlit_s: float = 0.0
    """How long some zone has stayed dark though asked, s."""

    @property
    def text(self) -> str:
        return f"Session time {duration_text(self.session_s)}."


@dataclass(frozen=True, slots=True)
class Began:
    KIND: ClassVar[str] = "began"
    run_s: float
    by: str

    @property
    def text(self) -> str:
        return f"Session begun by {self.by}."


@dataclass(frozen=True, slots=True)
class HoldBegan:
    KIND: ClassVar[str] = "hold_began"
    run_s: float
    reason: str
    why: str
    """The sentence for people, with the numbers that were compared."""
    needs_person: bool

    @property
    def text(self) -> str:
        return f"Hold, {self.reason}: {self.why}"


@dataclass(frozen=True, slots=True)
class HoldEnded:
    KIND: ClassVar[str] = "hold_ended"
    run_s: float
    reason: str
    why: str

    @property
    def text(self) -> str:
        return f"Hold over, {self.reason}: {self.why}"


@dataclass(frozen=True, slots=True)
class HoldWaits:
    """The cause of a hold is gone, but a person has to let the session go on."""

    KIND: ClassVar[str] = "hold_waits"
    run_s: float
    reason: str
    why: str

    @property
    def text(self) -> str:
        return f"Hold, {self.reason}: {self.why}"


@dataclass(frozen=True, slots=True)
class LevelsSet:
    """The light asked of the board changed. Levels are shares of full drive, shape (zones,)."""

    KIND: ClassVar[str] = "levels_set"
    run_s: float
    levels: tuple[float, ...]
    names: tuple[str, ...]

    @property
    def text(self) -> str:
        lit = [f"{n} {round(100 * v)} %" for n, v in zip(self.names, self.levels, strict=True) if v > 0]
        return f"Light on: {', '.join(lit)}." if lit else "All treatment lamps dark."


@dataclass(frozen=True, slots=True)
class ExposureDone:
    KIND: ClassVar[str] = "exposure_done"
    run_s: float
    zone: int
    """Zone index from 0."""
    name: str
    exposure: int
    """Index of the exposure in the zone's plan, from 0."""
    lit_s: float
    """Level-weighted light this exposure gave, s."""
    zone_lit_s: float
    """The zone's light at which the next exposure begins to count, s; a surplus of this one is part of the next."""

    @property
    def text(self) -> str:
        return f"Zone {self.name}: exposure {self.exposure + 1} done after {duration_text(self.lit_s)} of full light."


@dataclass(frozen=True, slots=True)
class CheckpointReached:
    KIND: ClassVar[str] = "checkpoint_reached"
    run_s: float
    checkpoint: str
    session_s: float
    lit_s: tuple[float, ...]

    @property
    def text(self) -> str:
        return f"Checkpoint '{self.checkpoint}' reached at session time {duration_text(self.session_s)}."


@dataclass(frozen=True, slots=True)
class PersonCalled:
    """The person is asked to the chamber. Urgency 0 is the first call, higher ones are reminders."""

    KIND: ClassVar[str] = "person_called"
    run_s: float
    checkpoint: str
    urgency: int
    why: str

    @property
    def text(self) -> str:
        return self.why


@dataclass(frozen=True, slots=True)
class InspectionAsked:
    KIND: ClassVar[str] = "inspection_asked"
    run_s: float
    by: str

    @property
    def text(self) -> str:
        return f"Inspection light asked for by {self.by}."


@dataclass(frozen=True, slots=True)
class InspectionOver:
    """The inspection bank has been lit for long enough while a checkpoint waits."""

    KIND: ClassVar[str] = "inspection_over"
    run_s: float
    lit_s: float
    """How long it may have been lit since it was last asked for, s."""

    @property
    def text(self) -> str:
        return f"Inspection light off after {duration_text(self.lit_s)}; it comes on again when someone asks for it."


@dataclass(frozen=True, slots=True)
class CheckpointAnswered:
    KIND: ClassVar[str] = "checkpoint_answered"
    run_s: float
    checkpoint: str
    by: str
    note: str

    @property
    def text(self) -> str:
        said = f": {self.note}" if self.note else ""
        return sentence(f"Checkpoint '{self.checkpoint}' answered by {self.by}{said}")


@dataclass(frozen=True, slots=True)
class BoardRebooted:
    KIND: ClassVar[str] = "board_rebooted"
    run_s: float

    @property
    def text(self) -> str:
        return "The board has restarted."


@dataclass(frozen=True, slots=True)
class TripClearAsked:
    KIND: ClassVar[str] = "trip_clear_asked"
    run_s: float
    by: str

    @property
    def text(self) -> str:
        return f"{self.by} asked the board to clear its trip."


@dataclass(frozen=True, slots=True)
class PlanChanged:
    KIND: ClassVar[str] = "plan_changed"
    run_s: float
    by: str
    program: dict[str, Any]

    @property
    def text(self) -> str:
        return f"The rest of the plan was changed by {self.by}."


@dataclass(frozen=True, slots=True)
class Annotated:
    KIND: ClassVar[str] = "annotated"
    run_s: float
    by: str
    note: str

    @property
    def text(self) -> str:
        return f"{self.by}: {self.note}"


@dataclass(frozen=True, slots=True)
class Ending:
    """The end is decided and the lamps are told to go dark; the board is read once more for the light that fell."""

    KIND: ClassVar[str] = "ending"
    run_s: float
    outcome: str
    cause: str

    @property
    def text(self) -> str:
        return f"Going dark for the end: {self.cause}"


@dataclass(frozen=True, slots=True)
class Ended:
    KIND: ClassVar[str] = "ended"
    run_s: float
    outcome: str
    """completed, ended by person, or cut off."""
    cause: str
    lit_s: tuple[float, ...]

    @property
    def text(self) -> str:
        return f"Session {self.outcome}: {self.cause}"


Fact = (
    Progress
    | Began
    | HoldBegan
    | HoldWaits
    | HoldEnded
    | LevelsSet
    | ExposureDone
    | CheckpointReached
    | PersonCalled
    | InspectionAsked
    | InspectionOver
    | CheckpointAnswered
    | BoardRebooted
    | TripClearAsked
    | PlanChanged
    | Annotated
    | Ending
    | Ended
)
_BY_KIND: dict[str, Any] = {cls.KIND: cls for cls in get_args(Fact)}
_FIELDS = {kind: tuple(field.name for field in fields(cls)) for kind, cls in _BY_KIND.items()}


def sentence(text: str) -> str:
    """The text, closed with a full stop unless it is closed already; for sentences that end in a person's words."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def fact_to_data(fact: Fact) -> tuple[str, dict[str, Any]]:
    """Kind and JSON-ready fields of a fact, for the journal."""
    return fact.KIND, {name: getattr(fact, name) for name in _FIELDS[fact.KIND]}


def fact_from_data(kind: str, data: dict[str, Any]) -> Fact:
    """The fact that `fact_to_data` described, by this version or an earlier one.

    A field that is missing takes its default. Raises KeyError for an unknown kind, or if there is no default.
    """
    values = {
        name: tuple(data[name]) if isinstance(data[name], list) else data[name]
        for name in _FIELDS[kind]
        if name in data
    }
    try:
        fact: Fact = _BY_KIND[kind](**values)
    except TypeError as error:
        raise KeyError(f"a journal line '{kind}' that this version cannot read: {error}") from error
    return fact


def plan_changed(run_s: float, by: str, program: Program) -> PlanChanged:
    """The fact that the plan is now `program`."""
    return PlanChanged(run_s, by, program.model_dump(mode="json", by_alias=True, exclude_none=True))
