"""The data folder. One daemon holds it at a time: two would write two truths into one journal, and both mind the board.

The hold is a lock of the operating system on a file: it ends with the process, however that ends.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ..errors import StoreError, StoreInUse
from ..store.backup import own_like

DATABASE = "lampwarden.db"
LOCK = "lampwarden.lock"

_FAR = 1 << 30
"""Where Windows locks a byte: there a locked byte cannot be read, and the process number stands at the beginning."""

_held: set[Path] = set()
"""Folders held by this process: it would not stop itself from locking twice, and closing the second would end both."""


def make(folder: Path) -> Path:
    """Makes the data folder if need be; the path of its database. Raises StoreError."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"The data folder {folder} cannot be made: {error.strerror}. Choose another with --data."
        ) from None
    return folder / DATABASE


@contextmanager
def held(folder: Path) -> Iterator[Path]:
    """Holds the data folder, made if need be, as long as the block runs; gives the path of its database.

    Raises StoreInUse if another process holds it, StoreError if it cannot be made or locked.
    """
    database, key = make(folder), folder.resolve()
    if key in _held:
        raise _in_use(folder, str(os.getpid()))
    try:
        file = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o644)
        own_like(folder, folder / LOCK)
    except OSError as error:
        raise StoreError(f"The data folder {folder} cannot be locked: {error.strerror}. See to its rights.") from None
    try:
        if not _lock(file):
            raise _in_use(folder, os.read(file, 20).decode(errors="replace").strip() or "unknown")
        with suppress(OSError):  # the number is for people only; of a full disk the database speaks more clearly
            os.ftruncate(file, 0)
            os.write(file, f"{os.getpid()}\n".encode())
        _held.add(key)
        try:
            yield database
        finally:
            _held.discard(key)
    finally:
        os.close(file)  # ends the lock


def _in_use(folder: Path, process: str) -> StoreInUse:
    return StoreInUse(
        f"The data folder {folder} is in use by another Lampwarden (process {process}). Stop that one first, or choose "
        "another folder with --data."
    )


if sys.platform == "win32":
    import msvcrt

    def _lock(file: int) -> bool:
        os.lseek(file, _FAR, os.SEEK_SET)
        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(file, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def _lock(file: int) -> bool:
        # lockf, not flock: a worker process that outlives a killed daemon must not go on holding the folder.
        try:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except (BlockingIOError, PermissionError):
            return False
        return True
