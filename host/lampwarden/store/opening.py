"""Opens the database file, or refuses it untouched.

A file that exists is first looked at: its header, then through a read-only connection, which can neither change it
nor fold its write-ahead log into it. Only what passed is opened for writing and led up the ladder.
"""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlite_utils import Database, Migrations

from lampwarden import __version__
from lampwarden.errors import StoreDamaged, StoreError, StoreNewer
from lampwarden.store.migrations import APPLICATION_ID, LADDER
from lampwarden.store.trouble import damaged, store_error

FULL_CHECK_BYTES_MAX = 256_000_000
"""Up to this size every page is checked at the start: 0.7 s when cached (measured), some 5 s from a slow card (from
memory). Above it, at some fifty days of sessions, a start must not wait so long, after a power cut least of all; a
file cut short is found at any size, since SQLite compares its length with its header, and the nightly backup looks at
every page of its copy."""

LOG_PAGES = 250
"""The write-ahead log is folded into the file at this length: 1 MB beside the file instead of SQLite's usual 4 MB, for
2 % more writing (measured: 149 MB instead of 145 MB in a day's session)."""


def open_database(path: Path, busy_wait_s: float, ladder: Migrations = LADDER) -> Database:
    """The database at `path`, made or migrated, with its folder; WAL, each commit on disk before it returns.

    The connection may be used from any thread, by one at a time.
    Raises StoreNewer or StoreDamaged, the file untouched, or StoreError if it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _undo_first_write(path)
        if path.exists() and path.stat().st_size > 0:
            refuse_unfit(path, busy_wait_s, ladder)
        else:
            _refuse_orphaned_log(path)
        db = Database(sqlite3.connect(path, timeout=busy_wait_s, check_same_thread=False), execute_plugins=False)
        try:
            db.enable_wal()
            # FULL: in WAL mode NORMAL may lose the last commits in a power cut. The two fullfsync do the same on macOS,
            # where a plain fsync stops at the drive's cache.
            db.execute("PRAGMA synchronous = FULL")
            db.execute("PRAGMA fullfsync = ON")
            db.execute("PRAGMA checkpoint_fullfsync = ON")
            db.execute(f"PRAGMA wal_autocheckpoint = {LOG_PAGES}")
            ladder.apply(db)
            db.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            db.close()
            raise
    except sqlite3.Error as error:
        raise store_error(error, path) from error
    except OSError as error:
        raise StoreError(f"{path} cannot be used as the database: {error.strerror}. Name another place.") from error
    return db


def read_only(path: Path, busy_wait_s: float) -> sqlite3.Connection:
    """A connection that cannot change the file."""
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=busy_wait_s)


def _undo_first_write(path: Path) -> None:
    """If the process died while it made the file, before WAL was on, SQLite's rollback journal undoes that."""
    if path.exists() and _bytes(path, "-journal") > 0:
        with closing(sqlite3.connect(path)) as conn:
            conn.execute("PRAGMA schema_version").fetchone()


def _refuse_orphaned_log(path: Path) -> None:
    """SQLite would delete a write-ahead log that lies beside an empty database; it may hold the last commits."""
    if _bytes(path, "-wal") > 0:
        raise StoreDamaged(
            f"{path} is missing or empty, yet {path.name}-wal beside it holds data. Both were left untouched. "
            "Put the database back, or move that file away to begin a new one."
        )


def refuse_unfit(path: Path, busy_wait_s: float, ladder: Migrations = LADDER, *, to_keep: bool = False) -> None:
    """Raises StoreNewer, StoreDamaged or StoreError if the file at `path` is not for us. Writes nothing to it.

    `to_keep`: a backup, which need not be writable and is looked at whole, however long that takes.
    """
    with path.open("rb") as file:
        header = file.read(100)
    # SQLite takes a file of less than a page for a new one and overwrites it, and fills up a last page cut short.
    # Both are looked for here (https://www.sqlite.org/fileformat2.html, 1.3: the header). While a log stands beside
    # it, a half-written last page is no damage: the log holds the whole one.
    page_bytes = int.from_bytes(header[16:18], "big")  # 1 stands for 65,536
    if len(header) < 100 or not header.startswith(b"SQLite format 3\0"):
        raise damaged(path, "it does not begin like one")
    if _bytes(path, "-wal") == 0 and path.stat().st_size % max(page_bytes, 512) != 0:
        raise damaged(path, "it ends in the middle of a page")
    # SQLite opens a file that it may not write as read-only, and would say so only at the first commit.
    if not to_keep and not os.access(path, os.W_OK):
        raise StoreError(f"{path} cannot be written. Give this user the right to write the file and its folder.")
    with closing(read_only(path, busy_wait_s)) as conn:
        _look(conn, path, ladder, to_keep)


def _look(conn: sqlite3.Connection, path: Path, ladder: Migrations, to_keep: bool) -> None:
    db = Database(conn, execute_plugins=False)
    tables = set(db.table_names()) - {ladder.migrations_table}
    (application_id,) = conn.execute("PRAGMA application_id").fetchone()
    if (tables or to_keep) and application_id != APPLICATION_ID:
        raise StoreDamaged(f"{path} is a database of another program. It was left untouched. Name another file.")

    known = {step.name for step in ladder.pending(Database(memory=True, execute_plugins=False))}
    newer = sorted({step.name for step in ladder.applied(db)} - known)
    if newer:
        raise StoreNewer(
            f"{path} was written by a newer version: it holds {newer[-1]!r}, unknown to version {__version__}. "
            "It was left untouched. Update this program, or name another file."
        )

    if to_keep or path.stat().st_size <= FULL_CHECK_BYTES_MAX:
        # The thorough one also holds every index against its table.
        (found,) = conn.execute(f"PRAGMA {'integrity' if to_keep else 'quick'}_check(1)").fetchone()
        if found != "ok":
            raise damaged(path, found)


def _bytes(path: Path, suffix: str) -> int:
    beside = path.with_name(path.name + suffix)
    return beside.stat().st_size if beside.exists() else 0
