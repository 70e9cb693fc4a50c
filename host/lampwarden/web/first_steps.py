"""What somebody new does first, each step ticked by what is there. Pure."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class There:
    """What a newcomer's steps leave behind."""

    sheets: int
    plan_id: str
    """The plan saved last; empty: there is none."""
    rehearsed: bool
    """A rehearsal for this chamber has come to its end since the daemon started."""
    channels: int | None
    """Ways in which messages reach people; None: this dashboard sends none."""
    sessions: int


@dataclass(frozen=True, slots=True)
class Step:
    title: str
    says: str
    href: str
    done: bool
    next: bool
    """The first that is not done."""


def steps(there: There, chamber_id: str) -> tuple[Step, ...]:
    """The steps in order. What a later step needs counts as done with it: a session needs no rehearsal on record."""
    ran = there.sessions > 0
    plan = f"/plan/{chamber_id}/{there.plan_id}" if there.plan_id else f"/plan/{chamber_id}"
    called = "A message to your phone at each photo pause, and when something is wrong. Without one, stay near."
    rows = [
        (
            "Describe a sheet",
            "Its paper, size and inks, and the cells on it that are treated differently. Begin with a scrap.",
            f"/sheets/{chamber_id}",
            there.sheets > 0 or ran,
        ),
        (
            "Plan its light",
            "Begin with a ready pattern: which zone gets how much light, and when you look.",
            plan,
            bool(there.plan_id) or ran,
        ),
        (
            "Rehearse the plan",
            "The whole of it on a simulated chamber, in seconds. Nothing is lit.",
            f"{plan}#plan-rehearse",
            there.rehearsed or ran,
        ),
        *([("Say how you are called", called, f"/messages/{chamber_id}", bool(there.channels))] * _sends(there)),
        (
            "Check and start",
            "Board, door, limits, disk and sheet are looked at, and you say yes by name to what you must know.",
            f"{plan}#plan-start",
            ran,
        ),
    ]
    first = next((number for number, row in enumerate(rows) if not row[3]), None)
    return tuple(Step(*row, next=number == first) for number, row in enumerate(rows))


def _sends(there: There) -> bool:
    return there.channels is not None
