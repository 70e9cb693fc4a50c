"""What goes into the database and comes out of it. Values only; the tables are in migrations.py.

Times named `utc` are ISO 8601 text for people; order and arithmetic use `seq` and `run_s`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Json = dict[str, Any]

BANKS_MAX = 8
"""Bank temperatures in one sample; the board's register map has room for eight banks."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the journal."""

    kind: str
    """Short name of what happened, for programs."""
    run_s: float
    """Seconds since the session's clock began; kept to the last bit."""
    utc: str
    data: Json
    """All that is needed to fold the journal again. JSON: tuples come back as lists, keys as text, sorted."""
    text: str
    """The sentence shown to people."""
    chamber_id: str
    session_id: str | None
    """None: a line about the chamber outside any session."""


BESIDE = frozenset({
    "caution_confirmed",
    "peroxide_confirmed",
    "photo_read",
    "photo_refused",
    "reading_typed",
    "found_by_hand",
    "finding_withdrawn",
    "follow_up_due",
    "photos_deleted",
    "readings_thinned",
    "session_deleted",
    "made_with",
    "remark",
})  # fmt: skip
"""Kinds of lines that stand in a session's journal beside the engine's facts. They change nothing about the session,
so folding it leaves them out; any other kind that the engine does not know is a mistake."""


@dataclass(frozen=True, slots=True)
class SavedLine(Line):
    """A line of the journal that is on disk."""

    seq: int
    """Place in the journal, from 1, without gaps."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One set of readings. Kept to 0.001 s, 0.01 °C and 0.01 %; None: the sensor gave no value."""

    run_s: float
    air_temp_c: float | None
    humidity_pct: float | None
    bank_temps_c: tuple[float | None, ...]
    """One entry a bank, at most BANKS_MAX."""
    door_open: bool


@dataclass(frozen=True, slots=True)
class Ended:
    """How a session ended. The first end stands; a later one changes nothing."""

    outcome: str
    cause: str
    utc: str


@dataclass(frozen=True, slots=True)
class Batch:
    """What belongs together: it is on disk wholly or not at all."""

    session_id: str | None
    """None is enough for lines outside any session; all else belongs to a session."""
    lines: Sequence[Line] = ()
    progress: Json | None = None
    """Latest state that changes every second (lit counters and the like); replaces the one before."""
    samples: Sequence[Sample] = ()
    ended: Ended | None = None
    tick: bool = False
    """Light is falling: keep the progress every second, not only with the next commit."""


@dataclass(frozen=True, slots=True)
class Session:
    """One session as it was begun, and how it ended if it has."""

    id: str
    chamber_id: str
    title: str
    program: Json
    chamber: Json
    began_utc: str
    ended: Ended | None
    """None: begun and not ended."""
    plan_id: str | None = None
    """The plan it was started from; None: from a bare program."""
    plan: Json | None = None
    """That plan as it was then."""
    sheet: Json | None = None
    """The sheet as it was described then; None: none was."""
    removed_utc: str | None = None
    """When it was deleted on purpose with its sheet; its journal stays."""
    thinned_utc: str | None = None
    """When its readings were thinned; None: they are all there."""


@dataclass(frozen=True, slots=True)
class Planned:
    """What a session is started from, besides its program."""

    plan_id: str
    plan: Json
    sheet: Json | None
    start: int | None = None
    """Number of the planned start that begins it; it counts as started in the same transaction."""


@dataclass(frozen=True, slots=True)
class Draft:
    """One revision of a sheet or plan."""

    id: str
    revision: int
    """From 1."""
    utc: str
    by: str
    data: Json


@dataclass(frozen=True, slots=True)
class SavedCalibration:
    """One calibration of one zone."""

    zone: str
    irradiance_w_m2: float
    calibration: Json
    utc: str
    by: str


@dataclass(frozen=True, slots=True)
class PlannedStart:
    """A start that was set for later."""

    id: int
    chamber_id: str
    plan_id: str
    plan_revision: int
    at_utc: str
    utc: str
    """When it was set."""
    by: str
    confirmed: tuple[Json, ...]
    state: str
    """waiting, started, refused, missed or cancelled."""
    says: str
    """Why, as a sentence; empty while it waits."""
    session_id: str | None


@dataclass(frozen=True, slots=True)
class Stretch:
    """Readings of one short stretch of a session, for a chart. None: no value in the whole stretch."""

    run_s: float
    """Mean time of the readings in it."""
    air_temp_c_min: float | None
    air_temp_c_mean: float | None
    air_temp_c_max: float | None
    humidity_pct_mean: float | None
    bank_temps_c_mean: tuple[float | None, ...]
    bank_temps_c_max: tuple[float | None, ...]
    door_open: bool
    """The door stood open at any reading of the stretch."""
