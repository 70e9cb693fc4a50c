"""The one writer of the database. Questions are in queries.py, the queue before the disk in writer.py."""

import json
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from sqlite_utils import Database

from lampwarden.errors import NotNow, UnknownName
from lampwarden.store.chain import GENESIS, Content, content_of, link
from lampwarden.store.migrations import BANK_COLUMNS
from lampwarden.store.opening import open_database
from lampwarden.store.queries import BUSY_WAIT_S, Queries
from lampwarden.store.records import BANKS_MAX, Batch, Ended, Json, Line, Planned, Sample
from lampwarden.store.ticks import Ticks
from lampwarden.store.trouble import store_error

JSON_BYTES_MAX = 262_144
"""Longest program, chamber, progress or data of a line, as JSON: a program of 8 zones with a hundred exposures each
takes some 50 kB. What is longer is a mistake, and would eat the day's 10 MB."""
RUN_S_MAX = 1e9
"""Latest time that is stored; 31 years."""
READING_MAX = 1000.0
"""Readings beyond +-1000 (°C or %) come from no sensor."""

Row = tuple[Any, ...]

_BEGIN = """
    INSERT INTO sessions (id, chamber_id, title, program, chamber, began_utc, plan_id, plan, sheet)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"""
_START = """
    UPDATE planned_starts SET state = 'started', session_id = ? WHERE number = ? AND state = 'waiting'"""
_HEAD = "SELECT hash FROM journal ORDER BY seq DESC LIMIT 1"
_INSERT_LINE = """
    INSERT INTO journal (chamber_id, session_id, kind, run_s, utc, text, data, previous_hash, hash)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"""
# After a restart the session's clock may stand again at an instant already on record: the first reading stays.
_INSERT_SAMPLE = f"""
    INSERT INTO samples (session, run_ms, chamber_id, air_centi_c, humidity_centi_pct, {", ".join(BANK_COLUMNS)},
                         door_open, bank_count)
    VALUES ({", ".join("?" * (7 + BANKS_MAX))}) ON CONFLICT (session, run_ms) DO NOTHING"""
_REPLACE_PROGRESS = """
    INSERT INTO progress (session, chamber_id, data) VALUES (?, ?, ?)
    ON CONFLICT (session) DO UPDATE SET data = excluded.data"""
_END = "UPDATE sessions SET outcome = ?, cause = ?, ended_utc = ? WHERE number = ? AND ended_utc IS NULL"


@dataclass(slots=True)
class Rows:
    """Batches turned into rows, so that nothing can change or fail in them any more on the way to the disk."""

    lines: list[Content] = field(default_factory=list)
    samples: list[Row] = field(default_factory=list)
    progress: dict[int, Row] = field(default_factory=dict)
    """By session number; only the latest counts."""
    ends: list[Row] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.lines or self.samples or self.progress or self.ends)

    def add(self, later: "Rows") -> None:
        """Takes in what came later, in order."""
        self.lines += later.lines
        self.samples += later.samples
        self.progress |= later.progress
        self.ends += later.ends


class Store(Queries):
    """The open database. Any thread may call any method; writes happen one at a time."""

    def __init__(self, db: Database, path: Path, busy_wait_s: float) -> None:
        super().__init__(path, busy_wait_s)
        self._db = db
        self._writing = threading.Lock()
        self._ticks: dict[str, Ticks] = {}
        rows = db.execute("SELECT id, number, chamber_id FROM sessions")
        self._known: dict[str, tuple[int, str]] = {key: (number, chamber_id) for key, number, chamber_id in rows}

    @classmethod
    def open(cls, path: Path | str, *, busy_wait_s: float = BUSY_WAIT_S) -> Self:
        """Opens the database, made or migrated if need be.

        Raises StoreNewer or StoreDamaged, the file untouched, or StoreError if it cannot be used.
        """
        path = Path(path)
        return cls(open_database(path, busy_wait_s), path, busy_wait_s)

    def close(self) -> None:
        """Closes the file. Close the writer first."""
        with self._writing:
            self._db.close()
        for ticks in self._ticks.values():
            ticks.close()

    def tick(self, session_id: str, totals: Json, *, sync: bool = True) -> None:
        """Keeps the newest totals of a session outside the database; see ticks.py. Raises OSError."""
        self._ticks_of(session_id).write(session_id, totals, sync=sync)

    def progress(self, session_id: str) -> Json | None:
        """The newest progress of a session, from the database or from its ticks. Raises UnknownName."""
        saved, tick = super().progress(session_id), self._ticks_of(session_id).read(session_id)
        if saved is None or (tick is not None and tick["run_s"] > saved["run_s"]):
            return tick
        return saved

    def _ticks_of(self, session_id: str) -> Ticks:
        chamber_id = self._session_key(session_id)[1]
        if chamber_id not in self._ticks:
            self._ticks[chamber_id] = Ticks(self.path.with_name(f"{self.path.name}-tick-{chamber_id}"))
        return self._ticks[chamber_id]

    def begin_session(
        self,
        session_id: str,
        chamber_id: str,
        title: str,
        program: Json,
        chamber: Json,
        began_utc: str,
        planned: Planned | None = None,
        lines: Sequence[Line] = (),
    ) -> None:
        """Records that a session begins, with its first lines; on disk when it returns.

        May wait for a running commit and up to `busy_wait_s` for a lock: call it while the lamps are dark.
        Raises NotNow if the id is taken, the chamber has a session that has not ended or the planned start does not
        wait any more, ValueError or TypeError for what is no JSON, StoreError if the disk does not take it.
        """
        row: list[str | None] = [*map(_text, (session_id, chamber_id, title, as_json(program), as_json(chamber)))]
        row += [_text(began_utc), None, None, None]
        if planned is not None:
            sheet = None if planned.sheet is None else as_json(planned.sheet)
            row[-3:] = [_text(planned.plan_id), as_json(planned.plan), sheet]
        with self.writing() as conn:
            unended = self.open_session(chamber_id)
            if unended is not None:
                raise NotNow(f"Session {unended.id!r} of chamber {chamber_id!r} has not ended. End it first.")
            if session_id in self._known:
                raise NotNow(f"There is a session {session_id!r} already. Choose another id.")
            number = conn.execute(_BEGIN, row).lastrowid
            assert number is not None  # an INSERT always gives one
            start = None if planned is None else planned.start
            if start is not None and conn.execute(_START, (session_id, start)).rowcount != 1:
                raise NotNow(f"Planned start {start} does not wait any more; nothing was started.")
            conn.executemany(_INSERT_LINE, _chained(conn, [_line(line) for line in lines]))
        self._known[session_id] = (number, chamber_id)

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction: on disk when the block ends, or nothing of it is. SQLite's errors become StoreError.

        Writes happen one at a time, so keep the block short, and ask `reading` before it.
        """
        with self._writing:
            try:
                with self._db.conn as conn:  # commits, or rolls back
                    # The head is read before anything is written: a plain BEGIN would then not wait for a lock.
                    conn.execute("BEGIN IMMEDIATE")
                    yield conn
            except OverflowError:
                raise UnknownName("There is nothing of so large a number.") from None
            except sqlite3.Error as error:
                raise store_error(error, self.path) from error

    def say(self, conn: sqlite3.Connection, line: Line) -> None:
        """Adds a line to the journal within a transaction of `writing`."""
        conn.executemany(_INSERT_LINE, _chained(conn, [self._line(line)]))

    def commit(self, batch: Batch) -> None:
        """Writes a batch in one transaction; on disk when it returns, or nothing of it is.

        Raises what `encode` and `write` raise.
        """
        self.write(self.encode(batch))

    def encode(self, batch: Batch) -> Rows:
        """Turns a batch into rows. Touches neither disk nor lock.

        Raises UnknownName for a session that was not begun, ValueError or TypeError for a value that cannot be kept
        (NaN is no reading, a missing one is None; data is JSON).
        """
        rows = Rows(lines=[self._line(line) for line in batch.lines])
        if batch.session_id is not None:
            number, chamber_id = self._session_key(batch.session_id)
            rows.samples = [_sample(number, chamber_id, sample) for sample in batch.samples]
            if batch.progress is not None:
                rows.progress[number] = (number, chamber_id, as_json(batch.progress))
            if batch.ended is not None:
                rows.ends.append(_end(number, batch.ended))
        elif batch.samples or batch.progress is not None or batch.ended is not None:
            raise ValueError("samples, progress and an end belong to a session; the batch names none")
        return rows

    def write(self, rows: Rows) -> None:
        """Writes rows in one transaction; on disk when it returns, or nothing of it is.

        Raises StoreFull or another StoreError; the same rows may be written again later.
        """
        if not rows:
            return
        with self.writing() as conn:
            for statement, values in (
                (_INSERT_LINE, _chained(conn, rows.lines)),
                (_INSERT_SAMPLE, rows.samples),
                (_REPLACE_PROGRESS, rows.progress.values()),
                (_END, rows.ends),
            ):
                conn.executemany(statement, values)

    def _session_key(self, session_id: str) -> tuple[int, str]:
        try:
            return self._known[session_id]
        except KeyError:
            raise UnknownName(f"There is no session {session_id!r}. Begin it first.") from None

    def _line(self, line: Line) -> Content:
        if line.session_id is not None:
            self._session_key(line.session_id)
        return _line(line)


def _line(line: Line) -> Content:
    _milli(line.run_s)  # for its check: a line keeps the exact number
    return content_of(
        _text(line.chamber_id),
        line.session_id,
        _text(line.kind),
        line.run_s,
        _text(line.utc),
        _text(line.text),
        as_json(line.data),
    )


def _chained(conn: sqlite3.Connection, lines: list[Content]) -> list[Row]:
    """The rows of lines that follow the last one on disk."""
    rows: list[Row] = []
    if lines:
        (previous,) = conn.execute(_HEAD).fetchone() or (GENESIS,)
        for line in lines:
            following = link(previous, line)
            rows.append((*line, previous, following))
            previous = following
    return rows


def _sample(number: int, chamber_id: str, sample: Sample) -> Row:
    temps_c = sample.bank_temps_c
    if len(temps_c) > BANKS_MAX:
        raise ValueError(f"{len(temps_c)} bank temperatures in one sample; at most {BANKS_MAX} are kept")
    banks = [_centi(temp_c) for temp_c in temps_c] + [None] * (BANKS_MAX - len(temps_c))
    air, humidity = _centi(sample.air_temp_c), _centi(sample.humidity_pct)
    return (number, _milli(sample.run_s), chamber_id, air, humidity, *banks, int(sample.door_open), len(temps_c))


def _end(number: int, ended: Ended) -> Row:
    return (_text(ended.outcome), _text(ended.cause), _text(ended.utc), number)


def _milli(run_s: float) -> int:
    if not 0 <= run_s <= RUN_S_MAX:
        raise ValueError(f"a time of {run_s} s cannot be kept; it must lie in 0..{RUN_S_MAX:.0f}")
    return round(run_s * 1000)


def _centi(value: float | None) -> int | None:
    if value is None:
        return None
    if not abs(value) <= READING_MAX:
        raise ValueError(f"a reading of {value} cannot be kept; it must lie within +-{READING_MAX:.0f}, or be None")
    return round(value * 100)


def _text(text: str) -> str:
    text.encode()  # a lone surrogate would fail only in the commit, and hold up all that waits behind it
    return text


def as_json(value: Json | list[Json]) -> str:
    """Canonical JSON: sorted keys, no spaces, no NaN. The same value always gives the same text."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
    size = len(text.encode())
    if size > JSON_BYTES_MAX:
        raise ValueError(f"{size} bytes of JSON in one value; at most {JSON_BYTES_MAX} are kept")
    return text
