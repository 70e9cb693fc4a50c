"""The exposures of a plan as bars over time, the checkpoints as flags, with the nights and both clocks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from ...domain.chamber import Chamber
from ...domain.plan import Plan
from ...domain.program import SESSION_S_MAX, Exposure
from ...domain.units import dose_j_cm2
from ...timeline import Timeline
from .. import wording as w
from ..wording import Taste
from . import entry

STEPS_S = (300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 10800.0, 14400.0, 21600.0, 43200.0, 86400.0)
"""Distances between the axis's marks, s: round ones, from 5 minutes to a day."""
MARKS_MAX = 10
ROOM = 1.08
"""So much wider than the plan is the drawing, so that there is room to pull a bar longer."""
SPAN_S_MIN = 3600.0
NARROW = 0.16
"""A bar less wide than this share has its words beside it."""
LABEL, LETTER = 0.035, 0.019
"""What a flag's name takes of the width, with its margins and for each letter: for a drawing of 420 px."""
FLAG_LETTERS_MAX = 11
FLAG_ROWS_MAX = 4


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark of the axis."""

    share: float
    session: str
    clock: str


@dataclass(frozen=True, slots=True)
class Night:
    """Sleeping hours, as shares of the drawing's width."""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Flag:
    """One checkpoint."""

    name: str
    at_s: float
    share: float
    row: int
    """Line its name stands in, from 0, so that names do not cover each other."""
    at: str
    """Its session time, as the field shows it."""
    clock: str
    attended: bool
    asleep: bool
    look_at: str
    says: str
    """All of it in words."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One exposure."""

    index: int
    start_s: float
    end_s: float
    start: float
    end: float
    """Shares of the drawing's width."""
    level: float
    by_dose: bool
    """It ends by dose, not by time."""
    start_text: str
    end_text: str
    """The time or the dose at which it ends, as the field shows it."""
    level_text: str
    comes_to: str
    """What follows from the other numbers: its dose, or the time at which it ends."""
    label: str
    """Short, written into the bar, or beside a narrow one."""
    narrow: bool
    says: str
    """All of it in words."""


@dataclass(frozen=True, slots=True)
class Row:
    """One zone."""

    zone: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Timetable:
    span_s: float
    """Session time that the whole width stands for, s."""
    marks: tuple[Mark, ...]
    nights: tuple[Night, ...]
    flags: tuple[Flag, ...]
    flag_rows: int
    rows: tuple[Row, ...]
    says: str
    """When it starts and ends, in words."""


def timetable(plan: Plan, chamber: Chamber, timeline: Timeline, taste: Taste, now: datetime) -> Timetable:
    """The plan as it is drawn, if it starts as the timeline says."""
    program = plan.program
    end_s = program.planned_session_s(chamber)
    step_s, span_s = _scale(end_s)
    course = _Course(timeline)
    clocks = {m.name: m for m in timeline.moments if m.kind == "checkpoint"}
    flags: list[Flag] = []
    taken = [0.0] * FLAG_ROWS_MAX
    for checkpoint in program.checkpoints:
        moment = clocks[checkpoint.name]
        clock = w.clock_text(moment.at, now, taste)
        share = checkpoint.at_s / span_s
        row = next((line for line in range(FLAG_ROWS_MAX) if taken[line] <= share), len(flags) % FLAG_ROWS_MAX)
        taken[row] = share + LABEL + LETTER * min(len(checkpoint.name), FLAG_LETTERS_MAX)
        who = "with you" if checkpoint.attended else "by itself"
        flags.append(
            Flag(
                name=checkpoint.name,
                at_s=checkpoint.at_s,
                share=share,
                row=row,
                at=entry.clock_field(checkpoint.at_s),
                clock=clock,
                attended=checkpoint.attended,
                asleep=moment.asleep,
                look_at=checkpoint.look_at,
                says=f"Checkpoint {checkpoint.name} at {entry.time_text(checkpoint.at_s)}, about {clock}, {who}"
                + (", while you sleep" if moment.asleep else ""),
            )
        )
    marks: list[Mark] = []
    days = [timeline.start.date()] * 2
    for number in range(round(span_s / step_s) + 1):
        at_s = number * step_s
        at = course.at(at_s)
        # The weekday only where it changes, also for those who see every other mark: a timetable repeats nothing.
        clock = w.clock_text(at, at, taste)
        told = at.date() == days[number % 2] or at_s == span_s  # the last one has no room for more
        marks.append(Mark(at_s / span_s, entry.time_text(at_s), clock if told else f"{at:%a} {clock}"))
        days = [at.date()] * 2 if number % 2 == 0 else [days[0], at.date()]
    rows = tuple(
        Row(
            zone.name,
            tuple(
                _bar(index, exposure, zone.name, zone.irradiance_w_m2, span_s)
                for index, exposure in enumerate(program.exposures_of(zone.name))
            ),
        )
        for zone in chamber.zones
    )
    return Timetable(
        span_s=span_s,
        marks=tuple(marks),
        nights=_nights(plan.sleep_from, plan.sleep_to, course, span_s),
        flags=tuple(flags),
        flag_rows=max((flag.row for flag in flags), default=0) + 1,
        rows=rows,
        says=f"From {w.clock_text(timeline.start, now, taste)} to about {w.clock_text(timeline.end, now, taste)}",
    )


def _bar(index: int, exposure: Exposure, zone: str, irradiance_w_m2: float, span_s: float) -> Bar:
    end_s = exposure.planned_end_s(irradiance_w_m2)
    dose = dose_j_cm2(irradiance_w_m2, exposure.planned_lit_s(irradiance_w_m2))
    by_dose = exposure.dose_j_cm2 is not None
    level = f"{entry.level_text(exposure.level)} %"
    dose_text = f"{entry.dose_text(dose)} J/cm²"
    begin, end = entry.time_text(exposure.start_s), entry.time_text(60 * round(end_s / 60))
    return Bar(
        index=index,
        start_s=exposure.start_s,
        end_s=end_s,
        start=exposure.start_s / span_s,
        end=min(1.0, end_s / span_s),
        level=exposure.level,
        by_dose=by_dose,
        start_text=entry.clock_field(exposure.start_s),
        end_text=entry.dose_text(dose) if by_dose else entry.clock_field(end_s),
        level_text=entry.level_text(exposure.level),
        comes_to=f"ends at {end}" if by_dose else dose_text,
        label=dose_text if exposure.level == 1 else f"{dose_text} at {level}",
        narrow=end_s - exposure.start_s < NARROW * span_s,
        says=f"{zone}, light {index + 1}: from {begin} to {end} at {level}, {dose_text}",
    )


def _scale(end_s: float) -> tuple[float, float]:
    """Distance of the marks and width of the drawing, s."""
    wanted_s = min(max(end_s * ROOM, SPAN_S_MIN), SESSION_S_MAX)
    step_s = next((step for step in STEPS_S if wanted_s / step <= MARKS_MAX - 1), STEPS_S[-1])
    return step_s, -(-wanted_s // step_s) * step_s


class _Course:
    """Clock time over session time. Pauses stand still in session time, so the clock jumps there."""

    def __init__(self, timeline: Timeline) -> None:
        self._start = timeline.start.astimezone(UTC)
        self._zone = timeline.start.tzinfo
        points = [(0.0, self._start), *((m.session_s, m.at.astimezone(UTC)) for m in timeline.moments)]
        # A stretch runs at the clock's own pace towards its end; what is left over is the pause before it.
        self._ends: list[tuple[float, datetime]] = points

    def at(self, session_s: float) -> datetime:
        """The expected local time at which this session time is reached."""
        for end_s, at in self._ends:
            if session_s <= end_s + 1e-6:
                return (at - timedelta(seconds=end_s - session_s)).astimezone(self._zone)
        end_s, at = self._ends[-1]
        return (at + timedelta(seconds=session_s - end_s)).astimezone(self._zone)

    def session_s(self, at: datetime) -> float:
        """The session time that is reached by then; not negative."""
        at = at.astimezone(UTC)
        before_s = 0.0
        for end_s, end in self._ends:
            if at <= end:
                return max(before_s, end_s - (end - at).total_seconds())
            before_s = end_s
        return before_s + (at - self._ends[-1][1]).total_seconds()


def _nights(sleep_from: time, sleep_to: time, course: _Course, span_s: float) -> tuple[Night, ...]:
    if sleep_from == sleep_to:
        return ()
    first, last = course.at(0.0), course.at(span_s)
    found = []
    day = first.date() - timedelta(days=1)
    while day <= last.date():
        begin = datetime.combine(day, sleep_from, first.tzinfo)
        end = datetime.combine(day if sleep_from < sleep_to else day + timedelta(days=1), sleep_to, first.tzinfo)
        start_s, end_s = course.session_s(max(begin, first)), min(course.session_s(max(end, first)), span_s)
        if end_s > start_s:
            found.append(Night(start_s / span_s, end_s / span_s))
        day += timedelta(days=1)
    return tuple(found)


def asleep_names(flags: Sequence[Flag]) -> list[str]:
    """Checkpoints that fall into sleep."""
    return [flag.name for flag in flags if flag.asleep]
