"""The checks before a start, and what a person must say yes to."""

from collections.abc import Collection
from dataclasses import dataclass

from ...keeper import Preflight, PreflightLine
from ...starts import Confirmed
from ...starts.lines import CAUTION
from .. import wording as w
from ..wording import Taste

VERDICTS = {"fail": "Not yet", "caution": "Mind", "pass": "Well"}


@dataclass(frozen=True, slots=True)
class Check:
    """One line."""

    verdict: str
    """fail, caution or pass."""
    word: str
    title: str
    says: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Ask:
    """A sentence to say yes to."""

    key: str
    """The caution's own key."""
    says: str


@dataclass(frozen=True, slots=True)
class Checks:
    headline: str
    wrong: tuple[Check, ...]
    """What forbids a start, then what to mind."""
    asks: tuple[Ask, ...]
    well: tuple[Check, ...]
    may_start: bool


def checks(found: Preflight, ticked: Collection[str], taste: Taste) -> Checks:
    """The checks as a page shows them, with these cautions ticked by now."""
    plain = [line for line in found.lines if not line.confirm]
    asks = tuple(
        Ask(line.key.removeprefix(CAUTION), w.in_scale(line.confirm, taste)) for line in found.lines if line.confirm
    )
    failed = [line for line in plain if line.verdict == "fail"]
    open_asks = [ask for ask in asks if ask.key not in ticked]
    if failed:
        headline = f"{_count(len(failed), 'thing').capitalize()} to put right before it can start."
    elif open_asks:
        headline = f"Read and tick {_count(len(open_asks), 'caution')}, then it can start."
    else:
        headline = "All is well: it can start."
    minded = [line for line in plain if line.verdict == "caution"]
    return Checks(
        headline=headline,
        wrong=tuple(_check(line, taste) for line in (*failed, *minded)),
        asks=asks,
        well=tuple(_check(line, taste) for line in plain if line.verdict == "pass"),
        may_start=not failed and not open_asks,
    )


def confirmed(found: Preflight, ticked: Collection[str], by: str) -> tuple[Confirmed, ...]:
    """The ticks as they go on record, each with the sentence that was asked."""
    return tuple(
        Confirmed(line.key.removeprefix(CAUTION), by, line.confirm)
        for line in found.lines
        if line.confirm and line.key.removeprefix(CAUTION) in ticked
    )


def _check(line: PreflightLine, taste: Taste) -> Check:
    return Check(
        line.verdict, VERDICTS[line.verdict], line.title, w.in_scale(line.says, taste), w.in_scale(line.remedy, taste)
    )


def _count(number: int, thing: str) -> str:
    return f"one {thing}" if number == 1 else f"{number} {thing}s"
