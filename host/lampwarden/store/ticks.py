"""The newest totals of a session, on disk every second, without a commit of the database every second.

Theory of operation. Power that fails for host and board at once takes the board's counters with it, and the database
may be as old as its last flush (10 s). This file holds the totals of the last second: two slots of one page each, made
once and then overwritten in place by turns, so that no file grows and no folder changes. A slot carries a rising number
and a checksum: a torn write leaves the other slot. Faults survived: power lost during a write, a full disk (the pages
exist already), a file that is missing, foreign or damaged (then the database alone counts).
"""

import json
import os
import struct
import zlib
from pathlib import Path

from lampwarden.store.records import Json

SLOT_BYTES = 4096
"""One page of common disks: written whole or, torn, caught by its checksum. Totals of 8 zones take some 700 bytes."""

_HEAD = struct.Struct("<4sIQI")  # mark, checksum, number, length
_MARK = b"LWt1"


class Ticks:
    """The file beside the database. One thread writes; `read` may be called from any."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._fd: int | None = None
        self._number = max((number for number, _ in self._slots()), default=0)

    def write(self, session_id: str, totals: Json, *, sync: bool = True) -> None:
        """Replaces the older slot; on disk when it returns if `sync`. Raises OSError, ValueError for no JSON."""
        body = json.dumps([session_id, totals], allow_nan=False).encode()
        if len(body) > SLOT_BYTES - _HEAD.size:
            raise ValueError(f"totals of {len(body)} bytes do not fit a slot of {SLOT_BYTES}")
        if self._fd is None:
            self._fd = self._make()
        self._number += 1
        head = _HEAD.pack(_MARK, zlib.crc32(body), self._number, len(body))
        os.lseek(self._fd, SLOT_BYTES * (self._number % 2), os.SEEK_SET)
        os.write(self._fd, (head + body).ljust(SLOT_BYTES, b"\0"))
        if sync:
            getattr(os, "fdatasync", os.fsync)(self._fd)

    def read(self, session_id: str) -> Json | None:
        """The newest totals of this session, None if there are none."""
        for _, body in sorted(self._slots(), reverse=True):
            owner, totals = json.loads(body)
            if owner == session_id:
                found: Json = totals
                return found
        return None

    def close(self) -> None:
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None

    def _make(self) -> int:
        fd = os.open(self._path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
        if os.fstat(fd).st_size < 2 * SLOT_BYTES:
            os.write(fd, b"\0" * (2 * SLOT_BYTES))
            os.fsync(fd)
        return fd

    def _slots(self) -> list[tuple[int, bytes]]:
        """Number and body of each whole slot."""
        try:
            data = self._path.read_bytes()
        except OSError:
            return []
        found = []
        for start in (0, SLOT_BYTES):
            slot = data[start : start + SLOT_BYTES]
            if len(slot) < _HEAD.size:
                continue
            mark, checksum, number, length = _HEAD.unpack_from(slot)
            body = slot[_HEAD.size : _HEAD.size + length]
            if mark == _MARK and zlib.crc32(body) == checksum:
                found.append((number, body))
        return found
