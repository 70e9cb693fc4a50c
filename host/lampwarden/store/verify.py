"""Walks the journal's chain and tells what is no longer as it was written.

Every line carries its own hash and that of the line before it, so that it is judged by itself (changed or not) and by
its place (linked or not). A line that is whole but not linked tells, by the hash it names, what stood before it.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from lampwarden.errors import StoreError
from lampwarden.store.chain import GENESIS, Content, content_of, link
from lampwarden.store.opening import read_only
from lampwarden.store.queries import BUSY_WAIT_S
from lampwarden.store.trouble import store_error

FAULTS_MAX = 20
"""Faults that are told; more say nothing more, and each costs a search through the file."""
HEAD_DIGITS_MIN = 16
"""Fewest hexadecimal digits of a kept head: 64 bits, more than anyone can hit by trying."""

_LINES = """
    SELECT seq, utc, previous_hash, hash, chamber_id, session_id, kind, run_s, utc, text, data
    FROM journal ORDER BY seq"""


@dataclass(frozen=True, slots=True)
class Fault:
    """One place where the journal is not as it was written."""

    what: str
    """changed, missing, inserted or moved."""
    seq: int
    """The line meant; of several the first."""
    utc: str
    """Its time; of lines that are missing the time of the line before them, empty at the beginning."""
    text: str
    """The sentence for people."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a walk over the whole chain found."""

    lines: int
    last_utc: str
    """Time of the last line; empty without one."""
    head: str
    """Hash of the last line, 64 hexadecimal digits; of no line, zeros."""
    faults: tuple[Fault, ...]
    """At most FAULTS_MAX."""
    kept_seq: int | None = None
    """The line whose hash is the head that was kept, if one was asked for and is there."""


@dataclass(frozen=True, slots=True)
class _Line:
    seq: int
    utc: str
    previous: bytes
    hash: bytes
    content: Content


def check_head(head: str) -> str:
    """A kept head in small letters without spaces. Raises StoreError if it is none."""
    digits = "".join(head.split()).lower()
    if not HEAD_DIGITS_MIN <= len(digits) <= 64 or set(digits) - set("0123456789abcdef"):
        raise StoreError(
            f"'{head}' is no head of a journal. It has 64 digits of 0-9 and a-f; at least the first "
            f"{HEAD_DIGITS_MIN} are needed."
        )
    return digits


def verify(path: Path, kept: str | None = None) -> Verdict:
    """Walks the whole chain of the database at `path`; also beside a running daemon.

    `kept`: a head noted earlier (its first digits are enough); the verdict says which line it is.
    Raises StoreError if the file cannot be read or its lines were never chained.
    """
    kept = None if kept is None else check_head(kept)
    try:
        with closing(read_only(path, BUSY_WAIT_S)) as conn:
            conn.text_factory = lambda text: text.decode(errors="surrogateescape")
            conn.execute("BEGIN")  # one state of the journal, whatever is written meanwhile
            if not chained(conn):
                raise StoreError(
                    f"The journal in {path} was written before its lines were chained: nothing can be told about it. "
                    "The next start of the daemon chains a database in its data folder."
                )
            return _Walk(conn).over(kept)
    except sqlite3.Error as error:
        raise store_error(error, path) from error


def chained(conn: sqlite3.Connection) -> bool:
    """The journal has its hashes: the database climbed that step of the ladder."""
    return bool(conn.execute("SELECT 1 FROM pragma_table_info('journal') WHERE name = 'hash'").fetchone())


class _Walk:
    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._last = _Line(0, "", b"", GENESIS, ("", None, "", 0.0, "", "", ""))
        self._faults: dict[int, Fault] = {}

    def over(self, kept: str | None) -> Verdict:
        count, number, kept_seq = 0, 0, None
        for line in self._lines():
            count += 1
            whole = link(line.previous, line.content) == line.hash
            linked = line.previous == self._last.hash
            gap = line.seq != number + 1
            copied = False
            if (gap or not (whole and linked)) and len(self._faults) < FAULTS_MAX:
                copied = self._judge(line, whole, linked, gap, number)
            if kept is not None and line.hash.hex().startswith(kept):
                kept_seq = line.seq
            number = line.seq
            if not copied:
                self._last = line
        faults = tuple(fault for _, fault in sorted(self._faults.items()))
        return Verdict(count, self._last.utc, self._last.hash.hex(), faults, kept_seq)

    def _judge(self, line: _Line, whole: bool, linked: bool, gap: bool, number: int) -> bool:
        """Tells what is wrong with a line or before it; `number` is that of the line before. True if it is a copy."""
        last = self._last
        if gap:
            between = f"between {last.utc} and {line.utc}" if last.utc else f"before {line.utc}"
            are = f"Line {number + 1} is" if line.seq == number + 2 else f"Lines {number + 1} to {line.seq - 1} are"
            self._tell("missing", number + 1, last.utc, f"{are} missing ({between}).")
        if whole and linked:
            return False
        if whole and (first := self._seq_of(line.hash)) is not None and first < line.seq:
            self._tell("inserted", line.seq, line.utc, f"Line {line.seq} was put in: it is a copy of line {first}.")
            return True
        after = self._seq_of(line.previous)
        if not whole:
            self._tell("changed", line.seq, line.utc, f"Line {line.seq} does not say what it said when it was written.")
        elif after is None:
            if not gap and number not in self._faults:
                why = f"What stood before line {line.seq} was taken out or replaced, and the rest numbered anew."
                self._tell("missing", line.seq, last.utc, why)
        elif after < number and self._is_stray(after + 1, line.previous):
            self._tell_put_in(after, line, number)
        else:
            was = f"right after what is now line {after}" if after else "as the first of all"
            self._tell("moved", line.seq, line.utc, f"Line {line.seq} is out of place: it was written {was}.")
        return False

    def _tell_put_in(self, after: int, line: _Line, number: int) -> None:
        """Two lines claim the same predecessor: the branch that goes on for longer is taken for the true one."""
        (end,) = self._conn.execute("SELECT max(seq) FROM journal").fetchone()
        if number - after > end - line.seq + 1:
            why = f"Line {line.seq} was put in: it says that it follows line {after}, as line {after + 1} does."
            self._tell("inserted", line.seq, line.utc, why)
            return
        for seq in range(after + 1, number + 1):
            self._faults.pop(seq, None)
        (utc,) = self._conn.execute("SELECT utc FROM journal WHERE seq = ?", (after + 1,)).fetchone()
        were = f"Line {number} was" if number == after + 1 else f"Lines {after + 1} to {number} were"
        why = f"{were} put in: line {line.seq} was written right after line {after}."
        self._tell("inserted", after + 1, utc, why)

    def _tell(self, what: str, seq: int, utc: str, text: str) -> None:
        self._faults.setdefault(seq, Fault(what, seq, utc, text))

    def _is_stray(self, seq: int, previous: bytes) -> bool:
        """This line claims the predecessor of another one, or is known to be none of ours."""
        row = self._conn.execute("SELECT previous_hash FROM journal WHERE seq = ?", (seq,)).fetchone()
        return row == (previous,) or (seq in self._faults and self._faults[seq].what == "changed")

    def _seq_of(self, hashed: bytes) -> int | None:
        """The first line of this hash; 0 for what stands before the first line, None if there is none."""
        if hashed == GENESIS:
            return 0
        row = self._conn.execute("SELECT min(seq) FROM journal WHERE hash = ?", (hashed,)).fetchone()
        return None if row[0] is None else int(row[0])

    def _lines(self) -> Iterator[_Line]:
        for seq, utc, previous, own, *content in self._conn.execute(_LINES):
            yield _Line(seq, utc, previous, own, content_of(*content))
