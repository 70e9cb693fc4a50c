"""Turns SQLite's errors into sentences: what happened, where, and what to do."""

import sqlite3
from pathlib import Path

from lampwarden.errors import StoreDamaged, StoreError, StoreFull


def store_error(error: sqlite3.Error, path: Path) -> StoreError:
    """The error to raise instead of `error`, met while using the database at `path`."""
    # The lowest byte is the kind; the rest says more about it (https://www.sqlite.org/rescode.html).
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return StoreFull(f"The disk that holds {path} is full. What was saved is safe. Free some space.")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreError(f"Another program keeps {path} locked. Close whatever else has it open.")
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return StoreError(
            f"{path} cannot be written ({error}). Give this user the right to write the file and its folder."
        )
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return damaged(path, str(error))
    if code in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN):
        return StoreError(f"The disk does not read or write {path} ({error}). See whether it is full, failing or gone.")
    return StoreError(f"The database {path} refused ({error}). This is a mistake in the program: please report it.")


def damaged(path: Path, why: str) -> StoreDamaged:
    """The error for a file that cannot be trusted any more."""
    return StoreDamaged(
        f"{path} is damaged or is no database ({why}). Keep a copy of it and of the files beside it, "
        "then bring back a backup with `lampwarden restore`, or move them away: the next start makes a new one."
    )
