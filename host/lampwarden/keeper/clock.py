"""The keeper's only door to time."""

import threading
import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    def now_s(self) -> float:
        """Monotonic seconds from an arbitrary zero; the only time that exposures depend on."""

    def utc(self) -> datetime:
        """The wall clock, aware, UTC. For people and records only: it may jump."""

    def wait(self, until_s: float, wake: threading.Event) -> None:
        """Returns at `until_s` of `now_s`, or as soon as `wake` is set."""


class RealClock:
    """The machine's own clocks."""

    def now_s(self) -> float:
        return time.monotonic()

    def utc(self) -> datetime:
        return datetime.now(UTC)

    def wait(self, until_s: float, wake: threading.Event) -> None:
        wake.wait(max(0.0, until_s - time.monotonic()))


def utc_text(moment: datetime) -> str:
    """ISO 8601 with Z and milliseconds, for people and records. Example: 2026-05-04T09:30:00.000Z."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
