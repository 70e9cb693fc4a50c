"""The virtual clock a keeper runs on: waiting is what makes the simulated world go on."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from .world import World

SLICE_S = 1.0  # unpaced: virtual seconds between looks at `wake`
REAL_SLICE_S = 0.05  # paced: real seconds between looks at `wake` and a changed speed
PACED_SLICE_S_MAX = 60.0  # paced: the most virtual seconds in one go, so that a very high speed can be stopped
LAG_S_MAX = 0.5  # real seconds that may be caught up; a world that cannot keep pace goes on from where it is

DEMO_UTC = datetime(2031, 3, 3, 8, 0, tzinfo=UTC)
"""Invented: calendar time at which a simulated world begins, so that runs repeat to the byte."""


class VirtualClock:
    """Clock over a simulated world, in lockstep with whoever waits on it."""

    def __init__(
        self,
        world: World,
        speed: float | None = None,
        start_utc: datetime = DEMO_UTC,
        real_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.speed = speed
        """Virtual seconds per real second, above 0; None: as fast as it goes. Set it at any time, from any thread."""
        self.utc_shift = timedelta(0)
        """Jump of the calendar clock (NTP, a person); never felt by now_s."""
        self._world, self._start_utc, self._real_s = world, start_utc, real_s
        self._anchor: tuple[float, float, float] | None = None  # speed, real s, virtual s

    def now_s(self) -> float:
        """Virtual seconds since the world began."""
        return self._world.now_s

    def utc(self) -> datetime:
        """Calendar time for people: start, plus virtual time, plus any jump."""
        return self._start_utc + timedelta(seconds=self._world.now_s) + self.utc_shift

    def wait(self, until_s: float, wake: threading.Event) -> None:
        """Let the world go on until this virtual time, or until `wake` is set; it stays set."""
        world = self._world
        while world.now_s < until_s and not wake.is_set():
            speed = self.speed
            if speed is None:
                world.advance(min(until_s, world.now_s + SLICE_S))
                continue
            to_s = min(until_s, world.now_s + min(speed * REAL_SLICE_S, PACED_SLICE_S_MAX))
            ahead_s = self._due_s(to_s, speed) - self._real_s()
            if ahead_s > 0 and wake.wait(ahead_s):
                return
            world.advance(to_s)

    def _due_s(self, virtual_s: float, speed: float) -> float:
        """Real time at which the world is to reach this virtual time."""
        real_s, anchor = self._real_s(), self._anchor
        if anchor is not None and anchor[0] == speed:
            due_s = anchor[1] + (virtual_s - anchor[2]) / speed
            if -LAG_S_MAX < due_s - real_s <= 2 * REAL_SLICE_S:
                return due_s
        self._anchor = (speed, real_s, self._world.now_s)
        return real_s + (virtual_s - self._world.now_s) / speed
