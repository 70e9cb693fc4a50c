"""A better start, or better places for checkpoints, when some of them fall into a person's sleep."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ..domain.chamber import Chamber
from ..domain.program import Checkpoint, Program
from .moments import Habits, Timeline, lay_out

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
    best: Timeline | None = None
    zero = start.astimezone(UTC)
    # Whole quarters of an hour, as people set alarms.
    offset = timedelta(seconds=-(zero.timestamp() % STEP.total_seconds())) + STEP
    while offset <= AHEAD:
        tried = lay_out(program, chamber, (zero + offset).astimezone(start.tzinfo), habits)
        fewest = disturbed if best is None else len(best.disturbed)
        if len(tried.disturbed) < fewest and not habits.asleep(tried.start):
            best = tried
            if not tried.disturbed:
                break
        offset += STEP
    return best


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
    index = [c.name for c in program.checkpoints].index(name)
    checkpoint = program.checkpoints[index]
    earliest_s = program.checkpoints[index - 1].at_s if index else -1.0
    latest_s = program.checkpoints[index + 1].at_s if index + 1 < len(program.checkpoints) else float("inf")
    reach_s = checkpoint.at_s * SHIFT_SHARE_MAX
    step_s = STEP.total_seconds()
    for steps in range(1, int(reach_s // step_s) + 1):
        for at_s in (checkpoint.at_s - steps * step_s, checkpoint.at_s + steps * step_s):
            if not earliest_s < at_s < latest_s:
                continue
            tried = _with_checkpoint(program, index, checkpoint.model_copy(update={"at_s": at_s}))
            moments = lay_out(tried, chamber, start, habits).disturbed
            if name not in {m.name for m in moments}:
                return tried
    return None


def _with_checkpoint(program: Program, index: int, checkpoint: Checkpoint) -> Program:
    checkpoints = (*program.checkpoints[:index], checkpoint, *program.checkpoints[index + 1 :])
    return program.model_copy(update={"checkpoints": checkpoints})
