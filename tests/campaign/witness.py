"""What really happened: the lamps' own record, what the sensors handed to the firmware, and what arrived on the wire.

Nothing here asks the program under test what it thinks, save one thing: whether a trip stands, since that the latch
holds is itself the promise.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from lampboard import registers as reg
from lampboard.sensors import ntc
from lampwarden.rig.world import World

from . import line

Span = tuple[float, float]
EVER_S = 1e12


@dataclass(frozen=True, slots=True)
class Lit:
    """A lamp at one level for a while. zone -1 is the inspection bank."""

    zone: int
    permille: int
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Trip:
    from_s: float
    to_s: float
    """When it was cleared, or the board reset; EVER_S if it stands."""
    cause: int
    cleared: bool
    """By the host; False: a reset took it, or it stands."""


@dataclass(slots=True)
class Seen:
    """Readings of one sensor, as handed to the firmware: good ones, and the last change of value."""

    good: list[tuple[float, int]] = field(default_factory=list)
    """Time in s, temperature in hundredths of a degree C."""
    raw: list[tuple[float, Any]] = field(default_factory=list)
    """Time and the whole good reading, when it differs from the one before."""


class Witness:
    """Sits between the firmware and its board layer, and beside the wire."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.writes: list[tuple[float, dict[int, int]]] = []
        """Whole frames that write registers, as they arrived at the board: time and values by address."""
        self.air = Seen()
        self.banks = [Seen() for _ in range(world.board.bank_count)]
        self.trips: list[Trip] = []
        self.resets_s: list[float] = []
        self.boots_s: list[float] = []
        self.limits_loose = False
        """A limit of the board stood above its ceiling at some moment."""
        self._trip: tuple[float, int] | None = None
        self._node = world.node
        self._conversion_ms = world.board.air.conversion_ms
        self._feed, self._adc = world.board.feed, world.board.bank_adc
        self._driver = world.board.air
        world.board.air = self  # type: ignore[assignment]
        world.board.feed = self._fed  # type: ignore[method-assign]
        world.board.bank_adc = self._bank_adc  # type: ignore[method-assign]

    # --- between firmware and board layer -----------------------------------------------------------------------------
    @property
    def conversion_ms(self) -> int:
        return self._conversion_ms

    def start(self) -> None:
        self._driver.start()

    def fetch(self) -> tuple[int, int, int]:
        answer = self._driver.fetch()
        status, temp_centi_c, _ = answer
        if status == reg.SENSOR_OK:
            now_s, seen = self.world.now_s, self.air
            seen.good.append((now_s, temp_centi_c))
            if not seen.raw or seen.raw[-1][1] != answer:
                seen.raw.append((now_s, answer))
        return answer

    def _bank_adc(self, bank: int) -> int:
        value = self._adc(bank)
        status, temp_centi_c = ntc.read(value)
        if status == reg.SENSOR_OK:
            self.banks[bank].good.append((self.world.now_s, temp_centi_c))
        return value

    def _fed(self) -> None:
        """At the end of each pass of the firmware."""
        self._feed()
        node = self.world.node
        if node is None:
            return
        guard, now_s = node.guard, self.world.now_s
        if node is not self._node:
            self._node = node
            self._end_trip(now_s, cleared=False)
        if guard.trip_cause != (self._trip[1] if self._trip else 0):
            self._end_trip(now_s, cleared=True)
            if guard.trip_cause:
                self._trip = (now_s, guard.trip_cause)
        if guard.air_limit() > guard.air_ceiling_centi_c or guard.bank_limit() > guard.bank_ceiling_centi_c:
            self.limits_loose = True

    def _end_trip(self, now_s: float, *, cleared: bool) -> None:
        if self._trip is not None:
            self.trips.append(Trip(self._trip[0], now_s, self._trip[1], cleared))
            self._trip = None

    def finish(self) -> None:
        """Closes what still stands."""
        if self._trip is not None:
            self.trips.append(Trip(self._trip[0], EVER_S, self._trip[1], False))
            self._trip = None

    # --- what is worked out of it -------------------------------------------------------------------------------------
    def arrived(self, at_s: float, registers: dict[int, int]) -> None:
        self.writes.append((at_s, registers))

    def lit(self) -> list[Lit]:
        """Every stretch of light, in order of its start."""
        truth, since, found = self.world.truth, {}, []
        if truth.change_count != len(truth.changes):
            raise RuntimeError("the list of changes is not complete; make it longer")
        for change in truth.changes:
            if change.what not in ("zone", "inspection"):
                continue
            zone = change.index if change.what == "zone" else -1
            start_s, permille = since.pop(zone, (0.0, 0))
            if permille and change.t_s > start_s:
                found.append(Lit(zone, permille, start_s, change.t_s))
            since[zone] = (change.t_s, change.value)
        for zone, (start_s, permille) in since.items():
            if permille and self.world.now_s > start_s:
                found.append(Lit(zone, permille, start_s, self.world.now_s))
        return sorted(found, key=lambda lit: (lit.from_s, lit.zone))

    def spans(self, what: str) -> list[Span]:
        """When the door was open, or the button down."""
        found, start_s = [], None
        for change in self.world.truth.changes:
            if change.what != what:
                continue
            if change.value and start_s is None:
                start_s = change.t_s
            elif not change.value and start_s is not None:
                found.append((start_s, change.t_s))
                start_s = None
        return found + ([(start_s, EVER_S)] if start_s is not None else [])

    def beats_s(self) -> list[float]:
        """When heartbeat numbers arrived whole."""
        return sorted(at_s for at_s, registers in self.writes if line.HEARTBEAT in registers)


def longest_lit(lits: Iterable[Lit], dark: Iterable[Span], slack_s: float) -> tuple[float, float, Span | None]:
    """How long after the start of a span in which it must be dark light still fell, s, at worst; and where.

    Gives (worst late time, worst late time beyond `slack_s`, the span of the latter or None). A span counts as left
    when it ends; light that begins later in it counts as much as light that goes on.
    """
    worst_s, beyond_s, where = 0.0, 0.0, None
    lits = sorted(lits, key=lambda lit: lit.from_s)
    for start_s, end_s in dark:
        for piece in _within(lits, start_s, end_s):
            late_s = min(piece.to_s, end_s) - start_s
            worst_s = max(worst_s, late_s)
            if late_s > slack_s and late_s > beyond_s:
                beyond_s, where = late_s, (start_s, end_s)
    return worst_s, beyond_s, where


def _within(lits: list[Lit], start_s: float, end_s: float) -> Iterator[Lit]:
    for piece in lits:
        if piece.from_s >= end_s:
            return
        if piece.to_s > start_s:
            yield piece


def gaps(moments_s: list[float], longer_s: float, end_s: float) -> list[Span]:
    """Spans that begin `longer_s` after a moment and last until the next one."""
    following = [*moments_s[1:], end_s]
    return [(a + longer_s, b) for a, b in zip(moments_s, following, strict=True) if b > a + longer_s]
