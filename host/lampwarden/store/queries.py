"""Questions to the database. Each opens its own read-only connection (0.1 ms), so any thread may ask at any time,
and none holds up the writer. All answers are bounded."""

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

from lampwarden.errors import UnknownName
from lampwarden.store.migrations import BANK_COLUMNS
from lampwarden.store.opening import read_only
from lampwarden.store.records import Ended, Json, SavedLine, Session, Stretch
from lampwarden.store.trouble import store_error

SESSIONS_MAX = 200
"""Sessions in one answer; each carries its whole program, some 10 kB."""
LINES_MAX = 1000
"""Journal lines in one answer: a whole day's three times over, and well under a megabyte."""
LEVELS_MAX = 5000
"""Changes of light read of one session; a day with four pauses to cool an hour has some 200."""
POINTS_MAX = 2000
"""Points of one chart: more than a wide screen has columns for it."""

BUSY_WAIT_S = 5.0
"""How long to wait for a lock: a checkpoint of the log on a slow card takes about a second."""

_SESSION = """
    SELECT id, chamber_id, title, program, chamber, began_utc, outcome, cause, ended_utc, plan_id, plan, sheet,
        removed_utc, thinned_utc
    FROM sessions"""
_LINE = "SELECT seq, kind, run_s, utc, data, text, chamber_id, session_id FROM journal"
_SPAN = "SELECT min(run_ms), max(run_ms), max(bank_count) FROM samples WHERE session = ? AND run_ms BETWEEN ? AND ?"

_LIT = """
    SELECT json_extract(zone.value, '$.name'), json_extract(zone.value, '$.bank'), sum(lit.value)
    FROM sessions JOIN progress ON progress.session = sessions.number,
         json_each(sessions.chamber, '$.zones') AS zone, json_each(progress.data, '$.lit_s') AS lit
    WHERE sessions.chamber_id = ? AND lit.key = zone.key
    GROUP BY 1, 2 ORDER BY 2, 1"""
_LEVELS = "SELECT run_s, data FROM journal WHERE session_id = ? AND kind = 'levels_set' ORDER BY seq LIMIT ?"
_TESTED = """
    SELECT 1 FROM sessions WHERE outcome = 'completed' AND sheet IS NOT NULL
        AND NOT json_extract(sheet, '$.original') AND json_extract(sheet, '$.paper') = ? LIMIT 1"""
_SAID = "SELECT data FROM journal WHERE chamber_id = ? AND kind = ? ORDER BY seq DESC LIMIT 1"

_EVER_S = 1e9
"""Later than any session; 31 years."""


class Queries:
    """Reads the database at `path`; also beside a running daemon."""

    def __init__(self, path: Path, busy_wait_s: float = BUSY_WAIT_S) -> None:
        self.path = path.absolute()
        self._busy_wait_s = busy_wait_s

    def sessions(self, chamber_id: str, limit: int = 50, before: str | None = None) -> list[Session]:
        """Sessions of a chamber that were not deleted, the newest first; `before`: only those begun before that one.

        At most SESSIONS_MAX. Raises UnknownName if there is no session `before`.
        """
        with self.reading() as conn:
            number = _number(conn, before) if before is not None else None
            rows = conn.execute(
                f"{_SESSION} WHERE chamber_id = :chamber AND removed_utc IS NULL"
                " AND (:before IS NULL OR number < :before) ORDER BY number DESC LIMIT :limit",
                {"chamber": chamber_id, "before": number, "limit": _bounded(limit, SESSIONS_MAX)},
            )
            return [_session(row) for row in rows]

    def session(self, session_id: str) -> Session:
        """One session. Raises UnknownName if there is none of this id."""
        with self.reading() as conn:
            row = conn.execute(f"{_SESSION} WHERE id = ?", (session_id,)).fetchone()
        if row is None:
            raise UnknownName(f"There is no session {session_id!r}.")
        return _session(row)

    def chamber_ids(self) -> list[str]:
        """Chambers that have a session or a line on record."""
        with self.reading() as conn:
            rows = conn.execute("SELECT chamber_id FROM sessions UNION SELECT chamber_id FROM journal").fetchall()
        return [chamber_id for (chamber_id,) in rows]

    def open_session(self, chamber_id: str) -> Session | None:
        """The chamber's session that was begun and has not ended, or None."""
        with self.reading() as conn:
            row = conn.execute(f"{_SESSION} WHERE chamber_id = ? AND ended_utc IS NULL", (chamber_id,)).fetchone()
        return None if row is None else _session(row)

    def journal(
        self, session_id: str | None, chamber_id: str | None, after_seq: int = 0, limit: int = LINES_MAX
    ) -> list[SavedLine]:
        """Lines of a session, or with None of the whole chamber, after `after_seq`, the oldest first.

        Without a chamber either: of all chambers. At most LINES_MAX: ask again after the last one's `seq` until none
        comes.
        """
        return self._lines(session_id, chamber_id, "seq > ? ORDER BY seq", after_seq, limit)

    def last_lines(self, session_id: str | None, chamber_id: str | None, limit: int = 20) -> list[SavedLine]:
        """The newest lines of a session, or with None of the whole chamber, the oldest first; at most LINES_MAX.

        Without a chamber either: of all chambers.
        """
        return self._lines(session_id, chamber_id, "seq > ? ORDER BY seq DESC", 0, limit)[::-1]

    def progress(self, session_id: str) -> Json | None:
        """The latest progress of a session, or None. Raises UnknownName if there is no such session."""
        with self.reading() as conn:
            row = conn.execute("SELECT data FROM progress WHERE session = ?", (_number(conn, session_id),)).fetchone()
        return None if row is None else json.loads(row[0])

    def search(
        self,
        chamber_id: str,
        words: str,
        session_id: str | None,
        kinds: Sequence[str],
        before_seq: int | None,
        limit: int,
    ) -> list[SavedLine]:
        """Lines of a chamber that hold these words, the newest first, before a line. No kinds: all kinds."""
        pattern = "%" + words.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_") + "%"
        marks = f"AND kind IN ({', '.join('?' * len(kinds))})" if kinds else ""
        sql = (
            f"{_LINE} WHERE chamber_id = ? AND text LIKE ? ESCAPE '\\' AND (? IS NULL OR session_id = ?)"
            f" AND seq < ? {marks} ORDER BY seq DESC LIMIT ?"
        )
        before = before_seq if before_seq is not None else 1 << 62
        values = (chamber_id, pattern, session_id, session_id, before, *kinds, _bounded(limit, LINES_MAX))
        with self.reading() as conn:
            return [_line(*row) for row in conn.execute(sql, values)]

    def readings(
        self, session_id: str, points_max: int = 600, from_s: float = 0.0, to_s: float = _EVER_S
    ) -> list[Stretch]:
        """Readings of a session between two times, both included, in at most `points_max` stretches of equal length.

        Stretches without readings are left out. Lowest and highest values survive however few the points.
        A day at 1 Hz takes a third of the time that reading its rows would (tests/bench/opening.py).
        Raises UnknownName if there is no such session.
        """
        points = max(1, _bounded(points_max, POINTS_MAX))
        span_ms = round(max(from_s, 0.0) * 1000), round(min(to_s, _EVER_S) * 1000)
        with self.reading() as conn:
            number = _number(conn, session_id)
            first_ms, last_ms, banks = conn.execute(_SPAN, (number, *span_ms)).fetchone()
            if first_ms is None:
                return []
            # One walk along the key for each stretch: grouped in one question, all rows would be sorted first.
            ask, whole_ms = _stretch_of(banks), last_ms - first_ms + 1
            edges_ms = [first_ms - (-point * whole_ms // points) for point in range(points + 1)]
            rows = [
                conn.execute(ask, (number, start_ms, end_ms - 1)).fetchone() for start_ms, end_ms in pairwise(edges_ms)
            ]
        return [_stretch(row, banks) for row in rows if row[0] is not None]

    def lit_s(self, chamber_id: str) -> list[tuple[str, int, float]]:
        """Zone, bank and level-weighted light over all sessions of a chamber, s, zones as they were named then."""
        with self.reading() as conn:
            return conn.execute(_LIT, (chamber_id,)).fetchall()

    def levels(self, session_id: str) -> list[tuple[float, Json]]:
        """Run time and data of each change of the light asked for in a session, in order; at most LEVELS_MAX."""
        with self.reading() as conn:
            rows = conn.execute(_LEVELS, (session_id, LEVELS_MAX)).fetchall()
        return [(run_s, json.loads(data)) for run_s, data in rows]

    def tested(self, paper: str) -> bool:
        """True if a test piece of this kind of paper has been through a whole session, in any chamber."""
        with self.reading() as conn:
            return conn.execute(_TESTED, (paper,)).fetchone() is not None

    def said(self, chamber_id: str, kind: str) -> Json | None:
        """Data of the newest line of this kind in a chamber's journal, or None."""
        with self.reading() as conn:
            row = conn.execute(_SAID, (chamber_id, kind)).fetchone()
        return None if row is None else json.loads(row[0])

    def _lines(
        self, session_id: str | None, chamber_id: str | None, which: str, after_seq: int, limit: int
    ) -> list[SavedLine]:
        owner, key = ("chamber_id = ?", chamber_id) if session_id is None else ("session_id = ?", session_id)
        if key is None:
            owner = "? IS NULL"
        with self.reading() as conn:
            rows = conn.execute(
                f"{_LINE} WHERE {owner} AND {which} LIMIT ?", (key, after_seq, _bounded(limit, LINES_MAX))
            )
            return [_line(*row) for row in rows]

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection that cannot change the file, for one question. SQLite's errors become StoreError.

        A number that it cannot hold, of 64 bits and more, is the number of nothing: UnknownName.
        """
        try:
            with closing(read_only(self.path, self._busy_wait_s)) as conn:
                yield conn
        except OverflowError:
            raise UnknownName("There is nothing of so large a number.") from None
        except sqlite3.Error as error:
            raise store_error(error, self.path) from error


def _bounded(limit: int, most: int) -> int:
    return min(max(limit, 0), most)


def _number(conn: sqlite3.Connection, session_id: str) -> int:
    row = conn.execute("SELECT number FROM sessions WHERE id = ?", (session_id,)).fetchone()
    if row is None:
        raise UnknownName(f"There is no session {session_id!r}.")
    return int(row[0])


def _session(row: tuple[Any, ...]) -> Session:
    session_id, chamber_id, title, program, chamber, began_utc, *later = row
    outcome, cause, ended_utc, plan_id, plan, sheet, removed_utc, thinned_utc = later
    return Session(
        session_id,
        chamber_id,
        title,
        json.loads(program),
        json.loads(chamber),
        began_utc,
        None if ended_utc is None else Ended(outcome, cause, ended_utc),
        plan_id,
        None if plan is None else json.loads(plan),
        None if sheet is None else json.loads(sheet),
        removed_utc,
        thinned_utc,
    )


def _line(
    seq: int, kind: str, run_s: float, utc: str, data: str, text: str, chamber_id: str, session_id: str | None
) -> SavedLine:
    return SavedLine(kind, run_s, utc, json.loads(data), text, chamber_id, session_id, seq)


def _stretch_of(banks: int) -> str:
    """Asks for one stretch; the columns of banks that there are not would cost as much as the others."""
    columns = BANK_COLUMNS[:banks]
    means = "".join(f", avg({column}) / 100" for column in columns)
    highs = "".join(f", max({column}) / 100.0" for column in columns)
    return f"""
        SELECT avg(run_ms) / 1000, min(air_centi_c) / 100.0, avg(air_centi_c) / 100, max(air_centi_c) / 100.0,
               avg(humidity_centi_pct) / 100, max(door_open){means}{highs}
        FROM samples WHERE session = ? AND run_ms BETWEEN ? AND ?"""


def _stretch(row: tuple[Any, ...], banks: int) -> Stretch:
    run_s, low, mean, high, humidity, door_open, *temps_c = row
    return Stretch(run_s, low, mean, high, humidity, tuple(temps_c[:banks]), tuple(temps_c[banks:]), bool(door_open))
