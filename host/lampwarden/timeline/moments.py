"""When the moments of a program come, by the clock on the wall."""

from bisect import bisect_left
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from itertools import accumulate

from ..domain.chamber import Chamber
from ..domain.program import Program


@dataclass(frozen=True, slots=True)
class Habits:
    """What to reckon with. Times of day are local; from == to means never asleep."""

    sleep_from: time = time(22, 30)
    sleep_to: time = time(7, 0)
    photo_s: float = 600.0
    """How long a person needs at an attended checkpoint, s. Chosen: 10 min to look, photograph and answer."""
    cooling_share: float = 0.0
    """Pauses to cool, as a share of the lit time; from a rehearsal or an earlier session."""
    handling_s: float = 300.0
    """How long the air takes to fall to the handling temperature after light, s. Chosen: 5 min."""

    def asleep(self, local: datetime) -> bool:
        """True if a person sleeps at this local time. Sleep may run over midnight."""
        now, begin, end = local.timetz().replace(tzinfo=None), self.sleep_from, self.sleep_to
        if begin <= end:
            return begin <= now < end
        return now >= begin or now < end


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that will happen."""

    kind: str
    """light on, light off, checkpoint, or end."""
    name: str
    """Zone or checkpoint; empty for the end."""
    session_s: float
    at: datetime
    """Expected local time, aware."""
    attended: bool = False
    asleep: bool = False
    """A person is needed, at a time of sleep."""


@dataclass(frozen=True, slots=True)
class Timeline:
    """All moments in order, with the pauses that were reckoned in."""

    start: datetime
    end: datetime
    moments: tuple[Moment, ...]
    pauses_s: float
    """Time at checkpoints, s."""
    cooling_s: float
    """Time allowed for pauses to cool, s."""

    @property
    def disturbed(self) -> tuple[Moment, ...]:
        """Attended checkpoints that fall in sleeping hours."""
        return tuple(moment for moment in self.moments if moment.asleep)


def lay_out(program: Program, chamber: Chamber, start: datetime, habits: Habits) -> Timeline:
    """The program's moments if it starts at `start` (aware, in the person's own zone).

    Every checkpoint delays all that comes after it: by the time to cool if there was light before it, and by the photo
    stop or the program's own pause. Local times follow the zone's rules, so that a night of summer time's end is an
    hour longer. Raises ValueError for a start without a zone.
    """
    if start.tzinfo is None:
        raise ValueError("the start needs a time zone")
    course = Course.of(program, chamber, habits)
    raw: list[tuple[float, int, str, str, bool]] = [
        (c.at_s, 1, "checkpoint", c.name, c.attended) for c in program.checkpoints
    ]
    for zone in chamber.zones:
        for exposure in program.exposures_of(zone.name):
            raw.append((exposure.start_s, 2, "light on", zone.name, False))
            raw.append((exposure.planned_end_s(zone.irradiance_w_m2), 0, "light off", zone.name, False))
    moments, passed = [], 0
    # Light goes off before a checkpoint, on after it.
    for session_s, _, kind, name, attended in sorted(raw):
        at = later(start, course.run_s(session_s, passed))
        passed += kind == "checkpoint"
        moments.append(Moment(kind, name, session_s, at, attended, attended and habits.asleep(at)))
    last_s = program.planned_session_s(chamber)
    end = later(start, course.run_s(last_s, passed))
    moments.append(Moment("end", "", last_s, end))
    return Timeline(start, end, tuple(moments), course.waits_s[-1], course.cooling_s(last_s))


@dataclass(frozen=True, slots=True)
class Course:
    """How much later than its session time each moment comes. It does not depend on the start."""

    starts_s: tuple[float, ...]
    """Session times at which some light begins after none, s, ascending."""
    ends_s: tuple[float, ...]
    """Session times at which the last of it ends, s, one to a start."""
    before_s: tuple[float, ...]
    """Light before each start, s."""
    waits_s: tuple[float, ...]
    """Pauses at the first 0, 1, 2 ... checkpoints together, s."""
    cooling_share: float

    @classmethod
    def of(cls, program: Program, chamber: Chamber, habits: Habits) -> "Course":
        spans = sorted(
            (exposure.start_s, exposure.planned_end_s(zone.irradiance_w_m2))
            for zone in chamber.zones
            for exposure in program.exposures_of(zone.name)
        )
        starts: list[float] = []
        ends: list[float] = []
        for start_s, end_s in spans:
            if ends and start_s <= ends[-1]:
                ends[-1] = max(ends[-1], end_s)
            else:
                starts.append(start_s)
                ends.append(end_s)
        lengths = [end_s - start_s for start_s, end_s in zip(starts, ends, strict=True)]
        waits = [0.0]
        for checkpoint in program.checkpoints:
            cooling = habits.handling_s if starts and checkpoint.at_s > starts[0] else 0.0
            waits.append(waits[-1] + cooling + (habits.photo_s if checkpoint.attended else checkpoint.pause_s))
        before = tuple(accumulate(lengths, initial=0.0))[:-1]
        return cls(tuple(starts), tuple(ends), before, tuple(waits), habits.cooling_share)

    def cooling_s(self, session_s: float) -> float:
        """Time allowed for pauses to cool until a session time, s."""
        last = bisect_left(self.starts_s, session_s) - 1
        if last < 0:
            return 0.0
        return self.cooling_share * (self.before_s[last] + min(session_s, self.ends_s[last]) - self.starts_s[last])

    def run_s(self, session_s: float, checkpoints: int) -> float:
        """Real time from the start to a session time, s, with so many checkpoints passed before."""
        return session_s + self.waits_s[checkpoints] + self.cooling_s(session_s)


def later(start: datetime, seconds: float) -> datetime:
    """Real time after an aware moment, shown in the same zone: across a change of clocks, too."""
    return (start.astimezone(UTC) + timedelta(seconds=seconds)).astimezone(start.tzinfo)
