"""The plans of a chamber as a list, and the starts that wait."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from ...domain.chamber import Chamber
from ...domain.plan import Plan
from .. import wording as w
from ..wording import Taste


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One plan of the list."""

    id: str
    title: str
    sheet: str
    length: str
    saved: str
    used: str


def plan_line(
    plan: Plan,
    saved_utc: str,
    chamber: Chamber,
    sheets: Mapping[str, str],
    used: Collection[str],
    taste: Taste,
    now: datetime,
) -> PlanLine:
    """One plan. `sheets`: titles by id; `used`: ids of the plans that sessions were run from."""
    length = "does not fit this chamber"
    if not plan.program.fits(chamber):
        length = w.rough_text(plan.program.planned_session_s(chamber))
    return PlanLine(
        id=plan.id,
        title=plan.title,
        sheet=sheets.get(plan.sheet or "", "") or (f"{plan.sheet} (removed)" if plan.sheet else "no sheet yet"),
        length=length,
        saved=f"saved {w.clock_text(w.moment(saved_utc), now, taste)}",
        used="was run" if plan.id in used else "not run yet",
    )


@dataclass(frozen=True, slots=True)
class StartLine:
    """A start that waits."""

    number: int
    says: str


def start_line(number: int, plan_title: str, at_utc: str, by: str, taste: Taste, now: datetime) -> StartLine:
    """A start that waits, in words."""
    return StartLine(number, f"“{plan_title}” starts on {w.clock_text(w.moment(at_utc), now, taste)}, set by {by}.")


def free_id(title: str, taken: Collection[str]) -> str:
    """A short name for addresses made of a title, not taken yet. Example: 'Light & peroxide' to 'light-peroxide'."""
    base = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in title.lower())
    base = "-".join(filter(None, base.split("-")))[:24].strip("-") or "plan"
    number, name = 1, base
    while name in taken:
        number += 1
        name = f"{base}-{number}"
    return name


def free_title(title: str, taken: Collection[str]) -> str:
    """The title, with a number behind it if another plan has it."""
    number, name = 1, title[:36].strip()
    while name in taken:
        number += 1
        name = f"{title[:36].strip()} {number}"
    return name
