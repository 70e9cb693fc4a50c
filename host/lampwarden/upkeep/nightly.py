"""A backup every night, in a thread of its own: the keepers go on meanwhile.

A night that the machine slept through is made up for when it wakes or starts. An old backup is deleted only after a
newer one was written and found whole, and never while the journal is not as it was written: then the older ones are
the witnesses.
"""

import logging
import re
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger

from ..errors import StoreError
from ..store.backup import BackedUp, back_up

log = logging.getLogger(__name__)

NAME = re.compile(r"nightly-(\d{8}T\d{6}Z)\.db")
STAMP = "%Y%m%dT%H%M%SZ"
DAY = timedelta(hours=24)
SOON_S = 60.0
"""How long after a start a backup that is due is made, s: the start itself has enough to do."""
PART_AGE = timedelta(days=1)
"""After this time a half-written file is taken for one that a power cut left behind."""

Say = Callable[[str, str], None]
"""Takes a kind of journal line and its sentence."""


class Nightly:
    """Keeps the `keep` newest nightly backups of a database in `folder`, made at `hour` o'clock, local time.

    `say` is told when one failed or its journal is not as it was written; called in any thread. `keep` 0 makes none.
    """

    def __init__(self, database: Path, folder: Path, *, hour: int, keep: int, say: Say, soon_s: float = SOON_S) -> None:
        self._database, self._folder, self._hour, self._keep, self._say = database, folder, hour, keep, say
        self._soon_s = soon_s
        self._quit = threading.Event()
        # However late (misfire_grace_time None), once (coalesce), one at a time.
        self._scheduler = BackgroundScheduler(
            executors={"default": ThreadPoolExecutor(1)}, job_defaults={"misfire_grace_time": None, "coalesce": True}
        )

    def start(self) -> None:
        """Starts the schedule; a backup that is due already is made soon."""
        if self._keep == 0:
            return
        newest = max(self.backups(), default=None)
        soon = {}
        if newest is None or datetime.now(UTC) - newest > DAY:
            # The nightly job's first time, not a job of its own: APScheduler's thread fails with JobLookupError when it
            # is to remove a job that is done just as it is shut down.
            soon = {"next_run_time": datetime.now(UTC) + timedelta(seconds=self._soon_s)}
        self._scheduler.add_job(self.run, CronTrigger(hour=self._hour), id="nightly", **soon)
        self._scheduler.start()

    def close(self) -> None:
        """Ends the schedule; a backup under way is given up at its next step."""
        self._quit.set()
        if self._scheduler.running:
            self._scheduler.shutdown(wait=True)

    def backups(self) -> dict[datetime, Path]:
        """The nightly backups there are, by the time in their names."""
        found = ((NAME.fullmatch(file.name), file) for file in self._folder.glob("nightly-*.db"))
        return {datetime.strptime(name[1], STAMP).replace(tzinfo=UTC): file for name, file in found if name}

    def run(self) -> None:
        """One backup now. Never raises: what goes wrong is said and logged."""
        try:
            target = self._folder / f"nightly-{datetime.now(UTC).strftime(STAMP)}.db"
            made = back_up(self._database, target, on_step=self._go_on)
            self._finish(made)
        except _Quit:
            log.info("the nightly backup was given up: the daemon stops")
        except StoreError as error:
            log.error("the nightly backup failed: %s", error)
            self._tell("backup_failed", f"The nightly backup failed. {error}")
        except Exception as error:  # a mistake here must not end the nights without a word
            log.exception("the nightly backup failed")
            self._tell("backup_failed", f"The nightly backup failed ({error!r}). Please report this mistake.")

    def _finish(self, made: BackedUp) -> None:
        if made.verdict is not None and made.verdict.faults:
            log.error("the journal is not as it was written: %s", [fault.text for fault in made.verdict.faults])
            self._tell(
                "journal_changed",
                f"The journal is not as it was written: {made.verdict.faults[0].text} The nightly backup was made, and "
                "no older one is deleted until this is settled; `lampwarden journal verify` tells more.",
            )
            return
        log.info("nightly backup: %s, %d bytes", made.path, made.bytes)
        others = sorted((when, file) for when, file in self.backups().items() if file != made.path)
        for _, file in others[: max(0, len(others) + 1 - self._keep)]:
            file.unlink(missing_ok=True)
        for part in self._folder.glob(".nightly-*.part"):
            if datetime.now(UTC) - datetime.fromtimestamp(part.stat().st_mtime, UTC) > PART_AGE:
                part.unlink(missing_ok=True)

    def _tell(self, kind: str, text: str) -> None:
        try:
            self._say(kind, text)
        except StoreError as error:
            log.error("%s This could not be journaled: %s", text, error)

    def _go_on(self) -> None:
        if self._quit.is_set():
            raise _Quit


class _Quit(BaseException):
    """Raised into a backup under way; no error, so nothing on the way takes it for one."""
