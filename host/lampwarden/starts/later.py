"""Waits for the moment of each planned start.

Theory of operation. The store is the truth: a job of the scheduler is only an alarm, made anew from the store when the
daemon starts. An alarm is set by the machine's clock at the moment it is made; that clock may jump, and a simulated
chamber's clock runs at another speed. So each keeper's turn also looks whether a start is due, and whoever runs a start
looks at the clock again. A start that is due is claimed in the transaction that begins its session, so it never begins
twice, whatever comes between.
"""

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from ..keeper.clock import Clock
from ..store.starts import PlannedStarts

log = logging.getLogger(__name__)


class Later:
    """Alarms for planned starts, and small work that need not be done at once, in one thread of its own."""

    def __init__(self, starts: PlannedStarts, clock: Clock, ring: Callable[[int], float | None]) -> None:
        """`ring` gets the number of a start that is due or was to be looked at; it returns after how many seconds to
        ring again, None: never. It may block, and runs in the scheduler's thread."""
        self._starts, self._clock, self._ring = starts, clock, ring
        self._due: dict[int, datetime] = {}
        # However late (misfire_grace_time None): whether it is too late is decided by who is rung.
        self._scheduler = BackgroundScheduler(
            executors={"default": ThreadPoolExecutor(1)}, job_defaults={"misfire_grace_time": None, "coalesce": True}
        )

    def open(self) -> None:
        """Sets an alarm for each start that waits in the store."""
        for start in self._starts.waiting():
            self.set(start.id, datetime.fromisoformat(start.at_utc))
        self._scheduler.start()

    def close(self) -> None:
        """Ends all alarms; a start under way is waited for."""
        if self._scheduler.running:
            # Paused and emptied first: APScheduler's thread fails with JobLookupError when it is to remove a job that
            # has run just as it is shut down.
            self._scheduler.pause()
            self._scheduler.remove_all_jobs()
            self._scheduler.shutdown(wait=True)

    def set(self, number: int, at: datetime) -> None:
        """Sets or moves the alarm of a start."""
        self._due[number] = at
        self._alarm(number, max(0.0, (at - self._clock.utc()).total_seconds()))

    def drop(self, number: int) -> None:
        """Takes an alarm back. It may ring all the same if it was due just now."""
        self._due.pop(number, None)

    def look(self) -> None:
        """Rings at once for what is due by the clock. Cheap: called at each turn of a keeper."""
        if not self._due:
            return
        now = self._clock.utc()
        for number, at in list(self._due.items()):
            if at <= now and self._due.pop(number, None) is not None:
                self._alarm(number, 0.0)

    def soon(self, work: Callable[[], None]) -> None:
        """Does some work in the scheduler's thread; what it raises is logged."""
        self._scheduler.add_job(work)

    def _alarm(self, number: int, after_s: float) -> None:
        at = datetime.now(UTC) + timedelta(seconds=after_s)
        self._scheduler.add_job(
            self._run, "date", run_date=at, args=[number], id=f"start-{number}", replace_existing=True
        )

    def _run(self, number: int) -> None:
        self._due.pop(number, None)
        again_s = self._ring(number)
        if again_s is not None:
            self._due[number] = self._clock.utc() + timedelta(seconds=again_s)
            self._alarm(number, again_s)
