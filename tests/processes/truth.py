"""What the lamps really did, from the board's own log, held against what the journal says of it.

Instants are ms of the monotonic clock; the journal's wall times are turned into it, which holds while nobody sets the
clock.
"""

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

ZONES = 3
"""Zones of the chambers in these tests."""
HEARTBEAT_MS = 3000
DARK_WITHIN_MS = 250
"""The board's own time to react (design, section 3)."""
SLACK_MS = 150
"""A machine that is busy with other things."""
PERIOD_S = 1.0

Change = tuple[float, Sequence[int]]


@dataclass(frozen=True)
class Span:
    """A time with light in any treatment zone."""

    on_ms: float
    off_ms: float


@dataclass(frozen=True)
class Stop:
    """A moment from which the journal lets no lamp be lit."""

    at_ms: float
    reason: str


class Lamps:
    """The true levels over time. `cuts_ms`: instants at which the board lost its power."""

    def __init__(self, changes: Iterable[Change], cuts_ms: Iterable[float] = ()) -> None:
        dark = (0,) * (ZONES + 1)
        self.changes = sorted([*changes, *((cut_ms, dark) for cut_ms in cuts_ms)], key=lambda change: change[0])

    def lit_s(self, zone: int, from_ms: float, to_ms: float) -> float:
        """Level-weighted light of a zone between two instants, s."""
        total, level, since_ms = 0.0, 0, from_ms
        for at_ms, levels in self.changes:
            at_ms = min(max(at_ms, from_ms), to_ms)
            total += level * (at_ms - since_ms)
            level, since_ms = levels[zone], at_ms
        return (total + level * (to_ms - since_ms)) / 1e6

    def spans(self, until_ms: float) -> list[Span]:
        """All times with light, in order."""
        found, on_ms = [], None
        for at_ms, levels in self.changes:
            lit = any(levels[:ZONES])
            if lit and on_ms is None:
                on_ms = at_ms
            elif not lit and on_ms is not None:
                found.append(Span(on_ms, at_ms))
                on_ms = None
        return found if on_ms is None else [*found, Span(on_ms, until_ms)]

    def dark_after_ms(self, at_ms: float) -> float | None:
        """How long light went on after an instant, ms; None if it was dark then."""
        return next((span.off_ms - at_ms for span in self.spans(at_ms + 1e6) if span.on_ms < at_ms < span.off_ms), None)


def monotonic_ms(utc: str) -> float:
    """The instant of a journal line."""
    return (datetime.fromisoformat(utc).timestamp() - time.time() + time.monotonic()) * 1000


def running_and_stops(lines: Sequence[dict[str, Any]]) -> tuple[list[tuple[float, float]], list[Stop]]:
    """From a chamber's journal: the times it allows light in, and the moments from which it forbids it."""
    allowed: list[tuple[float, float]] = []
    stops: list[Stop] = []
    holds: set[str] = set()
    since_ms: float | None = None
    for line in lines:
        at_ms, data = monotonic_ms(line["utc"]), line["data"]
        if line["kind"] == "hold_began":
            holds.add(data["reason"])
        elif line["kind"] == "hold_ended":
            holds.discard(data["reason"])
        elif line["kind"] in ("began", "ended"):
            holds.clear()
        running = line["kind"] != "ended" and not holds if line["kind"] != "annotated" else since_ms is not None
        if running and since_ms is None:
            since_ms = at_ms
        elif not running and since_ms is not None:
            allowed.append((since_ms, at_ms))
            since_ms = None
            stops.append(Stop(at_ms, data.get("reason", "ended")))
    if since_ms is not None:
        allowed.append((since_ms, float("inf")))
    return allowed, stops


def unlawful_light(lamps: Lamps, lines: Sequence[dict[str, Any]], kills_ms: Sequence[float]) -> list[str]:
    """Every light that the journal, the death of the host or its restart forbids, as sentences.

    Light may begin only while the session runs. It ends within DARK_WITHIN_MS of a hold; a restart's hold stands in
    the journal before the board can be told, so there the heartbeat's end is the bound, as after a kill; so it is for
    a board that does not answer.
    """
    allowed, stops = running_and_stops(lines)
    wrong = []
    for span in lamps.spans(now_ms_of(lamps)):
        if not any(begin_ms - 5 <= span.on_ms <= end_ms + SLACK_MS for begin_ms, end_ms in allowed):
            wrong.append(f"light at {span.on_ms:.0f} while the journal says that nothing runs")
        for kill_ms in kills_ms:
            late_ms = span.off_ms - kill_ms - HEARTBEAT_MS
            if span.on_ms < kill_ms and late_ms > DARK_WITHIN_MS + SLACK_MS:
                wrong.append(f"light {late_ms:.0f} ms after the heartbeat ended with the kill at {kill_ms:.0f}")
        for stop in stops:
            # A board that does not answer cannot be told: its own heartbeat ends the light.
            late_ms = span.off_ms - stop.at_ms - (HEARTBEAT_MS if stop.reason == "board lost" else 0)
            if stop.reason != "restart" and span.on_ms < stop.at_ms and late_ms > DARK_WITHIN_MS + SLACK_MS:
                wrong.append(f"light {late_ms:.0f} ms after the stop for '{stop.reason}' at {stop.at_ms:.0f}")
    return wrong


def now_ms_of(lamps: Lamps) -> float:
    return max(time.monotonic() * 1000, lamps.changes[-1][0] if lamps.changes else 0.0)
