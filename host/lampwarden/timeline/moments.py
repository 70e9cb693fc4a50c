"""When the moments of a program come, by the clock on the wall."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

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
    raw = _raw_moments(program, chamber)
    moments, delay_s, pauses_s, cooling_s, light_s, before_s = [], 0.0, 0.0, 0.0, 0.0, 0.0
    lit = 0
    for session_s, _, kind, name, attended, pause_s in raw:
        if lit:
            light_s += session_s - before_s
        before_s = session_s
        cooling_s = light_s * habits.cooling_share
        at = _later(start, session_s + delay_s + cooling_s)
        if kind == "light on":
            lit += 1
        elif kind == "light off":
            lit -= 1
        elif kind == "checkpoint":
            wait_s = (habits.handling_s if light_s else 0.0) + (habits.photo_s if attended else pause_s)
            pauses_s += wait_s
            delay_s += wait_s
        moments.append(Moment(kind, name, session_s, at, attended, attended and habits.asleep(at)))
    end = _later(start, program.planned_session_s(chamber) + delay_s + cooling_s)
    moments.append(Moment("end", "", program.planned_session_s(chamber), end))
    return Timeline(start, end, tuple(moments), pauses_s, cooling_s)


def _raw_moments(program: Program, chamber: Chamber) -> list[tuple[float, int, str, str, bool, float]]:
    """(session_s, rank, kind, name, attended, pause_s) in order; light goes off before a checkpoint, on after it."""
    raw: list[tuple[float, int, str, str, bool, float]] = []
    for zone in chamber.zones:
        for exposure in program.exposures_of(zone.name):
            raw.append((exposure.start_s, 2, "light on", zone.name, False, 0.0))
            raw.append((exposure.planned_end_s(zone.irradiance_w_m2), 0, "light off", zone.name, False, 0.0))
    raw += [(c.at_s, 1, "checkpoint", c.name, c.attended, c.pause_s) for c in program.checkpoints]
    return sorted(raw)


def _later(start: datetime, seconds: float) -> datetime:
    """Real time after an aware moment, shown in the same zone: across a change of clocks, too."""
    return (start.astimezone(UTC) + timedelta(seconds=seconds)).astimezone(start.tzinfo)
