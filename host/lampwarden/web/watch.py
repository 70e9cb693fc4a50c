"""One look at the store for all pages that are open: journal lines and readings, kept between looks.

The state itself comes from the keeper's snapshot, in memory: a slow disk delays the journal and charts of a page,
never its state.
"""

import asyncio
import time
from collections import deque

from starlette.concurrency import run_in_threadpool

from ..service import Service
from ..store.records import SavedLine, Stretch
from .charts import POINTS_MAX

LINES_SHOWN = 15
LOOK_S = 0.4
"""Least time between two looks at the journal, s, however many pages are open."""
READINGS_S = 3.0
"""Least time between two questions for the readings, s."""
READINGS_SHARE_MAX = 0.03
"""Most of the time that may go into asking for readings: on a slow machine a long session is asked for less often."""
LINES_AT_ONCE = 1000


class Watch:
    """Journal and readings of one chamber. `look` belongs to the event loop."""

    def __init__(self, service: Service, chamber_id: str) -> None:
        self._service = service
        self._chamber_id = chamber_id
        self._looking = asyncio.Lock()
        self._looked_s = self._read_s = -1e9
        self._read_pause_s = READINGS_S
        self._complete = False  # the readings of an ended session are all here
        self._session_id: str | None = None
        self._after_seq = 0
        self._lines: deque[SavedLine] = deque(maxlen=LINES_SHOWN)
        self.lines: tuple[SavedLine, ...] = ()
        """The newest lines, oldest first."""
        self.levels: tuple[SavedLine, ...] = ()
        """All lines of the session that set its light, oldest first."""
        self.stretches: tuple[Stretch, ...] = ()
        self.course_number = 0
        """Rises when `stretches` or `levels` have changed."""

    async def look(self) -> None:
        """Brings everything up to date, unless that was done a moment ago. Raises StoreError."""
        async with self._looking:
            if time.monotonic() - self._looked_s < LOOK_S:
                return
            await run_in_threadpool(self._look)
            self._looked_s = time.monotonic()

    def _look(self) -> None:
        snapshot = self._service.snapshot(self._chamber_id)
        session_id = snapshot.session_id if snapshot.session is not None else None
        if session_id != self._session_id:
            self._session_id, self._after_seq, self._read_s, self._complete = session_id, 0, -1e9, False
            self._lines.clear()
            self.levels = self.stretches = ()
            self.course_number += 1
        if session_id is None:
            self.lines = tuple(self._service.last_lines(self._chamber_id, LINES_SHOWN))
            return
        self._read_journal(session_id)
        asked_s = time.monotonic()
        if self._complete or asked_s - self._read_s < self._read_pause_s:
            return
        self.stretches = tuple(self._service.readings(session_id, POINTS_MAX))
        # The last readings are saved together with the end, and an end is shown once it is saved.
        self._complete = snapshot.session is not None and not snapshot.session.active
        self._read_s = time.monotonic()
        self._read_pause_s = max(READINGS_S, (self._read_s - asked_s) / READINGS_SHARE_MAX)
        self.course_number += 1

    def _read_journal(self, session_id: str) -> None:
        while new := self._service.journal(self._chamber_id, session_id, self._after_seq, LINES_AT_ONCE):
            self._after_seq = new[-1].seq
            self._lines.extend(new)
            levels = [line for line in new if line.kind in ("levels_set", "ended")]
            if levels:
                self.levels += tuple(levels)
                self.course_number += 1
            if len(new) < LINES_AT_ONCE:
                break
        self.lines = tuple(self._lines)
