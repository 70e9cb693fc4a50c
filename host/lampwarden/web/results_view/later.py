"""After the end: when the sheet is to be looked at again, and what came back by then."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from ...domain.finding import FOLLOW_UP, DueState, FollowUpPlan, days_text
from ...errors import ProgramError
from ...findings.conclude import Conclusions
from ...findings.words import amount
from ...service.seen import Look
from .. import wording as w
from ..wording import Taste
from .moments import DAY_S
from .when import day_text

STATES = {
    DueState.TAKEN: "taken",
    DueState.DUE: "due now",
    DueState.MISSED: "missed",
    DueState.LATER: "later",
}


@dataclass(frozen=True, slots=True)
class DayRow:
    """One planned day."""

    day: str
    when: str
    state: str
    due: bool


@dataclass(frozen=True, slots=True)
class BackRow:
    """One cell at one reading after its end."""

    cell: str
    after: str
    since: str
    """Change since the end."""
    lost: str
    post_colour: str
    verdict: str


@dataclass(frozen=True, slots=True)
class Later:
    """What is to do, and what came back."""

    says: str
    days: tuple[DayRow, ...]
    back: tuple[BackRow, ...]
    planned: str = ""
    """The days as a person types them."""


def later(
    ended_utc: str | None,
    followed: Sequence[Look],
    found: Conclusions | None,
    now: datetime,
    taste: Taste,
    plan: FollowUpPlan = FOLLOW_UP,
) -> Later:
    """The follow-up of a session. `followed`: readings of the sheet after its end, outside any session."""
    if ended_utc is None:
        return Later("The session is under way. Once it has ended, this tells when to look at the sheet again.", (), ())
    end = w.moment(ended_utc)
    elapsed = (now - end).total_seconds() / DAY_S
    taken = tuple(
        (w.moment(look.reading.taken_utc) - end).total_seconds() / DAY_S
        for look in followed
        if not look.reading.refused and not look.reading.superseded
    )
    states = plan.states(elapsed, taken)
    days = tuple(
        DayRow(
            day=days_text(day),
            when=day_text(end + timedelta(days=day), taste),
            state=STATES[state],
            due=state is DueState.DUE,
        )
        for day, state in states.items()
    )
    planned = ", ".join(f"{day:g}" for day in plan.days)
    return Later(_says(states, end, taste), days, _back(found) if found is not None else (), planned)


def days_typed(text: str) -> tuple[float, ...]:
    """Days as a person types them, apart by commas or blanks. Raises ProgramError."""
    days = []
    for word in text.replace(";", " ").replace(",", " ").split():
        try:
            days.append(float(word))
        except ValueError:
            raise ProgramError(f"'{word[:20]}' is no number of days. Write them like 1, 3, 7, 30.") from None
    return tuple(days)


def _says(states: dict[float, DueState], end: datetime, taste: Taste) -> str:
    due = [day for day, state in states.items() if state is DueState.DUE]
    if due:
        after = days_text(due[0])
        return f"Due now: the look after {after}. Lay the sheet under its mask, photograph it and send it here."
    ahead = [day for day, state in states.items() if state is DueState.LATER]
    if not ahead:
        return "All planned looks are over. Photos sent here still count."
    when = day_text(end + timedelta(days=ahead[0]), taste)
    return f"Next: the look after {days_text(ahead[0])}, {when}. Keep the sheet in the dark until then."


def _back(found: Conclusions) -> tuple[BackRow, ...]:
    watched = {ink.cell for ink in found.inks}  # an ink has no whitening to lose
    rows = [(each, cell.cell) for cell in found.cells if cell.cell not in watched for each in cell.reversions]
    said = []
    for each, name in sorted(rows, key=lambda row: -round(row[0].days, 1)):
        lost = each.share_lost
        share = ""
        if lost is not None and lost.best is not None and lost.low is not None and lost.high is not None:
            share = f"{100 * lost.best:.0f} % ({100 * lost.low:.0f} to {100 * lost.high:.0f})"
        number = each.post_colour_number
        verdict = "no change found"
        if each.found:
            verdict = "whiter still" if each.gain.value > 0 else "yellowing came back"
        after = days_text(float(f"{each.days:.2g}"))
        since = f"{each.gain.value:+.1f} ({each.gain.low:+.1f} to {each.gain.high:+.1f})"
        said.append(BackRow(name, after, since, share, amount(number) if number else "", verdict))
    return tuple(said)
