"""Copies of the database, and the way back.

A copy is made with SQLite's own backup interface, of one moment, beside a running daemon: the writer goes on meanwhile.
It is written under another name, looked at page by page and line by line, and only then gets its name, so that a file
of that name is a whole backup. A power cut, a full disk or a kill at any point leaves the older files as they were.
"""

import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from lampwarden.errors import StoreDamaged, StoreError
from lampwarden.store.opening import read_only, refuse_unfit
from lampwarden.store.queries import BUSY_WAIT_S
from lampwarden.store.records import Batch, Line
from lampwarden.store.store import Store
from lampwarden.store.trouble import store_error
from lampwarden.store.verify import Verdict, chained, verify

STEP_PAGES = 256
"""Pages copied at a time, 1 MB; each is on disk before the next is read. A large copy that the system writes out at
once would hold up the journal's own commits on a slow card."""
STEP_PAUSE_S = 0.01
"""Pause after each step, s: leaves the disk to the journal."""


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A backup that was written and looked at."""

    path: Path
    bytes: int
    verdict: Verdict | None
    """What its journal's chain says; None: lines of a time before they were chained."""


@dataclass(frozen=True, slots=True)
class Restored:
    """A backup that took the database's place."""

    kept: Path | None
    """Where the database that was replaced lies now; None: there was none."""
    lines: int
    """Journal lines in the backup."""
    last_utc: str
    """Time of the last of them; empty without one."""
    open_sessions: tuple[str, ...]
    """Sessions that had not ended when the backup was made."""


def back_up(
    database: Path, target: Path, *, replace: bool = False, on_step: Callable[[], None] = lambda: None
) -> BackedUp:
    """Writes a verified copy of the database to `target`; its folder is made if need be.

    `on_step` is called after each megabyte; what it raises ends the copy. Raises StoreError if `target` exists and may
    not be replaced, or if anything fails; then no file of that name was made or changed.
    """
    _refuse_missing(database)
    _refuse_target(database, target, replace)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        if not target.parent.exists():
            target.parent.mkdir(parents=True)
            own_like(target.parent.parent, target.parent)
        try:
            _copy(database, part, on_step)
            verdict = inspect(part)
            made = BackedUp(target, part.stat().st_size, verdict)
            _refuse_target(database, target, replace)
            _put_in_place(part, target)
        finally:
            part.unlink(missing_ok=True)
    except StoreDamaged as error:
        raise StoreDamaged(
            f"The backup {target} was not made: the copy did not pass the check, so {database} may be damaged. "
            f"Stop the daemon, keep a copy of its data folder, and see whether an older backup is whole. ({error})"
        ) from error
    except OSError as error:
        raise StoreError(f"The backup {target} cannot be written: {error.strerror}. Choose another place.") from error
    return made


def restore(backup: Path, database: Path, *, stamp: str, utc: str, changed_too: bool = False) -> Restored:
    """Puts a backup in the place of the database; the one that was there is kept beside it, under `stamp`.

    No daemon may run: the caller holds the data folder. A backup of an older version climbs the ladder first, and a
    line in the journal of each chamber tells of it, at `utc`. Raises StoreError, StoreNewer or StoreDamaged with the
    database untouched; also if the backup's journal is not as it was written, unless `changed_too`.
    """
    _refuse_missing(backup)
    if database.exists() and database.samefile(backup):
        raise StoreError(f"{backup} is the database itself. Name a backup.")
    verdict = inspect(backup)
    if verdict is not None and verdict.faults and not changed_too:
        raise StoreDamaged(
            f"The journal in {backup} is not as it was written: {verdict.faults[0].text} Nothing was replaced. Take an "
            "older backup, or look closer with `lampwarden journal verify` and repeat with --even-if-changed."
        )
    part = database.with_name(f"{database.name}.restoring")
    kept = database.with_name(f"{database.stem}.replaced-{stamp}{database.suffix}")
    try:
        for left in database.parent.glob(f"{part.name}*"):  # of an attempt that a power cut ended
            left.unlink()
        _copy(backup, part, lambda: None)
        restored = _prepare(part, backup, kept if database.exists() else None, utc)
        inspect(part)
        _set_aside(database, kept)
        _put_in_place(part, database)
    except OSError as error:
        raise StoreError(f"{database} cannot be replaced: {error.strerror}. See to its folder and repeat.") from error
    finally:
        part.unlink(missing_ok=True)
    return restored


def inspect(path: Path) -> Verdict | None:
    """Looks at every page of a database, and at its journal's chain; None if its lines were never chained.

    Raises StoreDamaged, StoreNewer or StoreError if it cannot be trusted as a database of ours.
    """
    try:
        refuse_unfit(path, BUSY_WAIT_S, to_keep=True)
        with closing(read_only(path, BUSY_WAIT_S)) as conn:
            has_chain = chained(conn)
    except sqlite3.Error as error:
        raise store_error(error, path) from error
    except OSError as error:
        raise StoreError(f"{path} cannot be read: {error.strerror}.") from error
    return verify(path) if has_chain else None


def _refuse_missing(path: Path) -> None:
    if not path.is_file():
        raise StoreError(f"There is no database {path}. Check the name, or the folder given with --data.")


def _refuse_target(database: Path, target: Path, replace: bool) -> None:
    if target.is_dir():
        raise StoreError(f"{target} is a folder. Name a file in it.")
    if target.exists():
        if target.samefile(database):
            raise StoreError(f"{target} is the database itself. Name another file for the backup.")
        if not replace:
            raise StoreError(f"{target} exists. Name another file, or overwrite it with --replace.")


def _copy(source: Path, part: Path, on_step: Callable[[], None]) -> None:
    """One moment of `source` as a single file without a log beside it, on disk when it returns."""
    part.unlink(missing_ok=True)
    with part.open("xb") as file:

        def step(_status: int, _remaining: int, _total: int) -> None:
            os.fsync(file.fileno())
            on_step()
            time.sleep(STEP_PAUSE_S)

        try:
            with closing(read_only(source, BUSY_WAIT_S)) as conn, closing(sqlite3.connect(part)) as copy:
                # Reading holds on to this moment: without it, SQLite begins anew after each commit of the writer.
                conn.execute("BEGIN")
                conn.execute("SELECT count(*) FROM sqlite_schema").fetchone()
                conn.backup(copy, pages=STEP_PAGES, progress=step)
                copy.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.Error as error:
            full = getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_FULL
            raise store_error(error, part if full else source) from error
        os.fsync(file.fileno())
    own_like(part.parent, part)


def _prepare(part: Path, backup: Path, kept: Path | None, utc: str) -> Restored:
    """Leads the copy up the ladder and writes into its journal where it came from."""
    store = Store.open(part)
    try:
        chambers = store.chamber_ids()
        verdict = verify(part)
        opened = [store.open_session(chamber_id) for chamber_id in chambers]
        since = f"as they were at {verdict.last_utc}, line {verdict.lines}" if verdict.lines else "without any line"
        text = f"The records were brought back from the backup {backup.name}, {since}."
        if kept is not None:
            text += f" Those they replaced are kept as {kept.name}."
        data = {"backup": backup.name, "head": verdict.head, "kept": None if kept is None else kept.name}
        store.commit(Batch(None, [Line("restored", 0.0, utc, data, text, each, None) for each in chambers]))
    finally:
        store.close()
    with closing(sqlite3.connect(part)) as conn:
        conn.execute("PRAGMA journal_mode = DELETE")  # a single file again
    return Restored(kept, verdict.lines, verdict.last_utc, tuple(s.id for s in opened if s is not None))


def _set_aside(database: Path, kept: Path) -> None:
    """Gives the old database a second name, and moves the files that belong to it there.

    Its log must not lie beside the new database, whose pages it would overwrite, nor the newest totals, which would
    overtake the older journal.
    """
    if kept.exists():
        raise StoreError(f"{kept} exists. Move it away and repeat.")
    if database.exists():
        try:
            os.link(database, kept)
        except OSError:  # a file system without links, such as a memory card's
            database.rename(kept)
    for beside in database.parent.glob(f"{database.name}-*"):
        beside.rename(kept.with_name(kept.name + beside.name.removeprefix(database.name)))


def own_like(model: Path, path: Path) -> None:
    """Gives `path` the owner of `model`, if this process may: what an administrator makes, the daemon must use."""
    if os.name == "posix" and os.geteuid() == 0:
        owner = model.stat()
        os.chown(path, owner.st_uid, owner.st_gid)


def _put_in_place(part: Path, target: Path) -> None:
    os.replace(part, target)
    if os.name == "posix":  # the new name itself on disk
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
