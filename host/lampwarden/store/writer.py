"""The queue between the keeper and the disk. A slow, full or locked disk never delays the keeper.

`put` collects; `flush` asks for one commit of all that was collected; what the disk refused stays at the head of the
queue and goes with the next flush. Faults this survives: disk full, locked by another program, read-only, I/O errors,
each for hours; the process killed at any point (what was not yet durable is gone, wholly).
"""

import logging
import threading
from typing import Protocol

from lampwarden.errors import StoreError, StoreFull
from lampwarden.store.records import Batch, Json
from lampwarden.store.store import Rows, Store

log = logging.getLogger(__name__)

WAITING_LINES_MAX = 10_000
"""Journal lines that wait for a bad disk: a month of ordinary sessions (300 lines a day), some 10 MB of memory."""
WAITING_SAMPLES_MAX = 20_000
"""Samples that wait for a bad disk: 5.5 h at 1 Hz, some 10 MB of memory. The oldest go first: they are for charts,
what happened is in the journal and the exposure in the progress."""


class Writer(Protocol):
    """What the keeper sees."""

    durable: int
    """The highest ticket that is on disk, 0 at first."""
    trouble: str | None
    """What is wrong with the disk, as a sentence; None after a success."""
    samples_dropped: int
    """Samples left out so far because the disk stayed bad for too long."""

    def put(self, batch: Batch) -> int:
        """Takes a batch; never waits for the disk. Returns its ticket, 1, 2, ...

        Raises UnknownName, ValueError or TypeError for a batch that can never be saved, StoreFull when
        WAITING_LINES_MAX is reached; then nothing of it was taken.
        """

    def flush(self) -> None:
        """Asks for everything put so far to be saved in one commit."""

    def close(self) -> None:
        """Flushes and stops. What is in `trouble` afterwards tells whether all was saved."""


class _Queue:
    def __init__(self, store: Store) -> None:
        self.durable = 0
        self.trouble: str | None = None
        self.samples_dropped = 0
        self._store = store
        self._guard = threading.Condition()
        self._waiting = Rows()
        self._tick: tuple[str, Json] | None = None
        self._ticket = 0
        self._closing = False

    def put(self, batch: Batch) -> int:
        rows = self._store.encode(batch)
        with self._guard:
            if self._closing:
                raise StoreError("The writer is closed; nothing more can be saved.")
            lines = len(self._waiting.lines) + len(rows.lines)
            if rows.lines and lines > WAITING_LINES_MAX:
                why = self.trouble or "They come faster than the disk takes them."
                raise StoreFull(f"{lines} journal lines wait for the disk, at most {WAITING_LINES_MAX} may. {why}")
            self._take(rows)
            self._ticket += 1
            # Totals never overtake the lines they rest on: a door that was opened must not be known only to them.
            ahead = batch.tick and batch.progress is not None and not self._waiting.lines
            self._tick = (batch.session_id or "", batch.progress or {}) if ahead else None
            self._ticked()
            return self._ticket

    def _ticked(self) -> None:
        """The newest totals changed; called with the guard held."""

    def _save_tick(self, *, sync: bool) -> None:
        with self._guard:
            tick, self._tick = self._tick, None
        if tick is None:
            return
        try:
            self._store.tick(*tick, sync=sync)
        except OSError as error:  # the database still gets them, at the next flush
            log.warning("the totals of this second could not be kept: %s", error)

    def _take(self, rows: Rows) -> None:
        self._waiting.add(rows)
        excess = len(self._waiting.samples) - WAITING_SAMPLES_MAX
        if excess > 0:
            del self._waiting.samples[:excess]
            self.samples_dropped += excess

    def _save(self) -> None:
        """One commit of all that waits; on failure it waits on, in its old order."""
        with self._guard:
            rows, self._waiting = self._waiting, Rows()
            ticket = self._ticket
        problem = None
        try:
            self._store.write(rows)
        except StoreError as error:
            problem = str(error)
        except Exception as error:  # a writer that dies would end the record without a word
            problem = f"Saving failed ({error!r}). This is a mistake in the program: please report it."
        with self._guard:
            if problem is None:
                self.durable = ticket
                self.trouble = None
                return
            later, self._waiting = self._waiting, rows
            self._take(later)
            lines = len(self._waiting.lines)
            self.trouble = f"{problem} Journal lines that wait in memory: {lines}. Saving is tried again by itself."
            if self.samples_dropped:
                self.trouble += f" Readings left out so far: {self.samples_dropped}."


class DirectWriter(_Queue):
    """Commits within `flush`, called by one thread: for virtual time, where a second would make runs differ."""

    def put(self, batch: Batch) -> int:
        ticket = super().put(batch)
        self._save_tick(sync=False)  # a simulated chamber outlives no power cut
        return ticket

    def flush(self) -> None:
        self._save()

    def close(self) -> None:
        with self._guard:
            self._closing = True
        self._save()


class ThreadWriter(_Queue):
    """Commits in its own thread."""

    def __init__(self, store: Store) -> None:
        super().__init__(store)
        self._asked = False
        self._thread = threading.Thread(target=self._run, name="store-writer", daemon=True)
        self._thread.start()

    def flush(self) -> None:
        with self._guard:
            self._asked = True
            self._guard.notify()

    def _ticked(self) -> None:
        if self._tick is not None:
            self._guard.notify()

    def close(self) -> None:
        with self._guard:
            self._closing = True
            self._guard.notify()
        self._thread.join()

    def _run(self) -> None:
        closing = False
        while not closing:
            with self._guard:
                self._guard.wait_for(lambda: self._asked or self._closing or self._tick is not None)
                asked, self._asked = self._asked, False
                closing = self._closing
            if asked or closing:
                self._save()
            else:
                self._save_tick(sync=True)
