"""The database of one host life after another, and what goes wrong with it. Real files, real SQLite.

A host that dies leaves its folder as it is at that instant: the next life gets a copy of it, with the write-ahead log
unfolded, as the machine would find it.
"""

import hashlib
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from sqlite_utils import Database

from lampwarden.rig.world import World
from lampwarden.store.opening import open_database
from lampwarden.store.store import Store
from lampwarden.store.writer import DirectWriter

NAME = "lampwarden.db"
BUSY_WAIT_S = 0.001
"""For a lock, by the real clock: virtual time stands still meanwhile."""


class CampaignWriter(DirectWriter):
    """The real queue over the real store; commits `lag_s` of virtual time after they were asked for."""

    def __init__(self, store: Store, world: World, door: Callable[[str], None]) -> None:
        super().__init__(store)
        self.lag_s = 0.0
        self.dead = False
        """Its host has died: a commit that was under way never comes."""
        self._world, self._door = world, door
        self._due_s: float | None = None

    def flush(self) -> None:
        if self._due_s is not None:
            return
        if self.lag_s == 0.0:
            self._commit()
        else:
            self._due_s = self._world.now_s + self.lag_s
            self._world.at(self._due_s, self._commit_late)

    def _commit_late(self) -> None:
        self._due_s = None
        if not self.dead:
            self._commit()

    def _commit(self) -> None:
        self._door("before commit")
        super().flush()
        self._door("after commit")


class Disk:
    """The folder of the present life."""

    def __init__(self, folder: Path, world: World) -> None:
        self._root, self._world = folder, world
        self._lives = 0
        self._folder = folder / "0"
        self._folder.mkdir()
        self._troubles: dict[str, float] = {}
        self._other: sqlite3.Connection | None = None
        self._db: Database | None = None

    @property
    def path(self) -> Path:
        return self._folder / NAME

    def open(self, door: Callable[[str], None]) -> None:
        """Opens store and writer. Raises StoreError."""
        self._db = open_database(self.path, BUSY_WAIT_S)
        self.store = Store(self._db, self.path, BUSY_WAIT_S)
        self.writer = CampaignWriter(self.store, self._world, door)
        for name, value in self._troubles.items():
            self._apply(name, value)

    def crash(self) -> None:
        """The host is gone: what is in the folder now is what the next life finds."""
        self.writer.dead = True
        self._lives += 1
        left = self._folder
        self._folder = self._root / str(self._lives)
        shutil.copytree(left, self._folder)
        self.close()
        shutil.rmtree(left)

    def close(self) -> None:
        self._unlock()
        if self._db is not None:
            self._db = None
            self.store.close()

    # --- trouble ------------------------------------------------------------------------------------------------------
    def strike(self, name: str, value: float) -> None:
        self._troubles[name] = value
        if self._db is not None:
            self._apply(name, value)

    def mend(self, name: str) -> None:
        if self._troubles.pop(name, None) is None or self._db is None:
            return
        if name == "disk_full":
            self._db.execute("PRAGMA max_page_count = 1073741823")
        elif name == "disk_read_only":
            self._db.execute("PRAGMA query_only = OFF")
        elif name == "database_locked":
            self._unlock()
        elif name == "disk_slow":
            self.writer.lag_s = 0.0

    def _apply(self, name: str, value: float) -> None:
        if name == "disk_full":
            self._db.execute("PRAGMA max_page_count = 1")  # no page more than there are
        elif name == "disk_read_only":
            self._db.execute("PRAGMA query_only = ON")
        elif name == "database_locked" and self._other is None:
            self._other = sqlite3.connect(self.path, isolation_level=None)
            self._other.execute("BEGIN IMMEDIATE")
        elif name == "disk_slow":
            self.writer.lag_s = value

    def _unlock(self) -> None:
        if self._other is not None:
            self._other.close()
            self._other = None

    def digest(self) -> str:
        """A fingerprint of every row that is on disk."""
        found = hashlib.sha256()
        with closing(sqlite3.connect(self.path)) as conn:
            for table in ("sessions", "journal", "progress", "samples"):
                for row in conn.execute(f"SELECT * FROM {table} ORDER BY 1, 2"):
                    found.update(repr(row).encode())
        return found.hexdigest()
