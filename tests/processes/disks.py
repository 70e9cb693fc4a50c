"""Disks that take no more, for real, each with a way to make room again."""

import resource
import shutil
import sqlite3
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import Protocol

from .daemon import Daemon

SIZE = "3m"
FILE_BYTES = 4096


class Disk(Protocol):
    before: tuple[str, ...]
    """What goes before the daemon's command."""
    says: str
    """What the daemon must say of it, among other words."""
    noticed_s: int
    """Light goes on for at most this long before the daemon notices, s."""

    def refuse(self, daemon: Daemon) -> None:
        """From now on nothing more is taken."""

    def relent(self) -> None:
        """As before."""

    def close(self) -> None: ...


class SmallDisk:
    """A file system of some megabytes over the daemon's data folder, in a name space of this user's own."""

    says = "is full. What was saved is safe"
    noticed_s = 1

    def __init__(self, data: Path) -> None:
        data.mkdir()
        words = ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c"]
        mount = f'mount -t tmpfs -o size={SIZE} none "$1" && echo ready && exec sleep 1000'
        self._holder = subprocess.Popen([*words, mount, "sh", str(data)], stdout=subprocess.PIPE)
        assert self._holder.stdout is not None
        assert self._holder.stdout.readline() == b"ready\n"
        pid = self._holder.pid
        self.before = ("nsenter", "-t", str(pid), "--user", "--mount", "--preserve-credentials")
        self.data = Path(f"/proc/{pid}/root{data}")
        self._stuffing = self.data / "stuffing"

    def refuse(self, daemon: Daemon) -> None:
        with self._stuffing.open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(512))
            except OSError:
                pass

    def relent(self) -> None:
        self._stuffing.unlink()

    def close(self) -> None:
        self._holder.kill()
        self._holder.communicate()


def small_disks_are_here() -> bool:
    """True if this user may mount a file system in a name space of his own."""
    if sys.platform != "linux" or shutil.which("unshare") is None or shutil.which("nsenter") is None:
        return False
    words = ["unshare", "--user", "--map-root-user", "--mount", "mount", "-t", "tmpfs", "none", "/mnt"]
    return subprocess.run(words, capture_output=True, check=False).returncode == 0


class ShortFiles:
    """The operating system lets no file of the daemon grow beyond a page."""

    before = ()
    says = "The disk does not read or write"
    noticed_s = 1

    def __init__(self, data: Path) -> None:
        self._pid = 0

    def refuse(self, daemon: Daemon) -> None:
        assert daemon.process is not None
        self._pid = daemon.process.pid
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, (FILE_BYTES, resource.RLIM_INFINITY))

    def relent(self) -> None:
        with suppress(ProcessLookupError):  # it was killed, and the limit ended with it
            resource.prlimit(self._pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    def close(self) -> None:
        pass


class LockedFile:
    """Another program keeps the database for itself."""

    before = ()
    says = "Another program keeps"
    noticed_s = 6  # it waits 5 s for the lock

    def __init__(self, data: Path) -> None:
        self._database = data / "lampwarden.db"
        self._other: sqlite3.Connection | None = None

    def refuse(self, daemon: Daemon) -> None:
        self._other = sqlite3.connect(self._database, isolation_level=None, timeout=5)
        self._other.execute("BEGIN IMMEDIATE")

    def relent(self) -> None:
        assert self._other is not None
        self._other.execute("ROLLBACK")

    def close(self) -> None:
        if self._other is not None:
            self._other.close()
