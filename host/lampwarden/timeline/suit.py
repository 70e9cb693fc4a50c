"""A better start, or better places for checkpoints, when some of them fall into a person's sleep."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ..domain.chamber import Chamber
from ..domain.program import Program
from .moments import Course, Habits, Timeline, later, lay_out

STEP = timedelta(minutes=15)
"""Starts are tried this far apart: finer than people plan."""

AHEAD = timedelta(hours=24)
"""Starts are tried this far ahead: all hours of a day."""

SHIFT_SHARE_MAX = 0.25
"""A checkpoint is moved by at most this share of its session time: beyond that it would be another trial. Chosen."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What would suit a person better."""

    start: datetime | None
    """A later start with fewer disturbed nights; None if none is better."""
    disturbed_then: int
    """How many attended checkpoints would then still fall in sleeping hours."""
    program: Program | None
    """The same program with its night checkpoints moved to waking hours; None if none can be moved."""
    sentences: tuple[str, ...]
    """Both proposals in words; empty if nothing is disturbed."""


def propose(program: Program, chamber: Chamber, start: datetime, habits: Habits) -> Proposal:
    """The best start within a day, and the program with its night checkpoints moved, if any is disturbed at `start`."""
    now = lay_out(program, chamber, start, habits)
    disturbed = now.disturbed
    if not disturbed:
        return Proposal(None, 0, None, ())
    sentences = [
        f"{len(disturbed)} of the checkpoints that need you fall in your sleep: "
        + ", ".join(f"'{m.name}' at {m.at:%H:%M}" for m in disturbed)
        + "."
    ]
    better = _better_start(program, chamber, start, habits, len(disturbed))
    if better is not None:
        left = len(better.disturbed)
        night = "none of them does" if left == 0 else f"only {left} of them do" if left > 1 else "only one of them does"
        sentences.append(f"With a start at {better.start:%a %H:%M} {night}.")
    moved = _moved(program, chamber, now, habits)
    if moved is not None:
        old = {c.name: c for c in program.checkpoints}
        changes = [
            f"'{c.name}' from {old[c.name].at_s / 3600:.2f} h to {c.at_s / 3600:.2f} h"
            for c in moved.checkpoints
            if c.at_s != old[c.name].at_s
        ]
        sentences.append(f"Or keep the start and move {' and '.join(changes)} of session time.")
    if better is None and moved is None:
        sentences.append(
            "No start within a day suits better. Let those checkpoints pass unattended, or wait in the dark."
        )
    return Proposal(
        better.start if better else None,
        len(better.disturbed) if better else len(disturbed),
        moved,
        tuple(sentences),
    )


def _better_start(
    program: Program, chamber: Chamber, start: datetime, habits: Habits, disturbed: int
) -> Timeline | None:
    """The earliest of the starts within a day that disturb the least; None if none is better than `start`."""
    course = Course.of(program, chamber, habits)
    calls_s = [course.run_s(c.at_s, passed) for passed, c in enumerate(program.checkpoints) if c.attended]
    best, fewest = None, disturbed
    zero = start.astimezone(UTC)
    # Whole quarters of an hour, as people set alarms.
    offset = timedelta(seconds=-(zero.timestamp() % STEP.total_seconds())) + STEP
    while fewest and offset <= AHEAD:
        tried = (zero + offset).astimezone(start.tzinfo)
        count = sum(habits.asleep(later(tried, call_s)) for call_s in calls_s)
        if count < fewest and not habits.asleep(tried):
            best, fewest = tried, count
        offset += STEP
    return None if best is None else lay_out(program, chamber, best, habits)


def _moved(program: Program, chamber: Chamber, now: Timeline, habits: Habits) -> Program | None:
    """The program with each disturbed checkpoint at the nearest waking moment, if all may be moved so far."""
    current = program
    for moment in now.disturbed:
        shifted = _nearest_awake(current, chamber, now.start, moment.name, habits)
        if shifted is None:
            return None
        current = shifted
    return current if not lay_out(current, chamber, now.start, habits).disturbed else None


def _nearest_awake(program: Program, chamber: Chamber, start: datetime, name: str, habits: Habits) -> Program | None:
    checkpoints = program.checkpoints
    index = [c.name for c in checkpoints].index(name)
    at_s = checkpoints[index].at_s
    earliest_s = checkpoints[index - 1].at_s if index else -1.0
    latest_s = checkpoints[index + 1].at_s if index + 1 < len(checkpoints) else float("inf")
    course, step_s = Course.of(program, chamber, habits), STEP.total_seconds()
    for steps in range(1, int(at_s * SHIFT_SHARE_MAX // step_s) + 1):
        for tried_s in (at_s - steps * step_s, at_s + steps * step_s):
            if earliest_s < tried_s < latest_s and not habits.asleep(later(start, course.run_s(tried_s, index))):
                moved = checkpoints[index].model_copy(update={"at_s": tried_s})
                return program.model_copy(
                    update={"checkpoints": (*checkpoints[:index], moved, *checkpoints[index + 1 :])}
                )
    return None
