"""Thins the one-second readings of old sessions: of each minute the first stays, and those that went farthest."""

from dataclasses import dataclass

from lampwarden.store.migrations import BANK_COLUMNS
from lampwarden.store.records import Line
from lampwarden.store.store import Store

MINUTE_MS = 60_000
SLICE_MS = 3_600_000
"""So much of a session is thinned in one transaction: an hour takes some milliseconds, and nothing waits for long."""

_WARMEST = f"max({', '.join(f'ifnull({column}, -32768)' for column in BANK_COLUMNS)})"
_KEEP = f"""
    SELECT run_ms FROM (
        SELECT run_ms,
            row_number() OVER (PARTITION BY run_ms / {MINUTE_MS} ORDER BY run_ms) AS first,
            row_number() OVER (PARTITION BY run_ms / {MINUTE_MS} ORDER BY air_centi_c DESC, run_ms) AS hottest,
            row_number() OVER (PARTITION BY run_ms / {MINUTE_MS} ORDER BY air_centi_c IS NULL, air_centi_c) AS coolest,
            row_number() OVER (PARTITION BY run_ms / {MINUTE_MS} ORDER BY {_WARMEST} DESC, run_ms) AS warmest,
            row_number() OVER (PARTITION BY run_ms / {MINUTE_MS} ORDER BY door_open DESC, run_ms) AS door
        FROM samples WHERE session = :session AND run_ms >= :from_ms AND run_ms < :to_ms
    ) WHERE 1 IN (first, hottest, coolest, warmest, door)"""
_THIN = f"""
    DELETE FROM samples WHERE session = :session AND run_ms >= :from_ms AND run_ms < :to_ms
        AND run_ms NOT IN ({_KEEP})"""
_OLD = """
    SELECT s.number, s.id, s.chamber_id, (SELECT count(*) FROM samples WHERE session = s.number) FROM sessions s
    WHERE ended_utc IS NOT NULL AND ended_utc < ? AND thinned_utc IS NULL AND removed_utc IS NULL
    ORDER BY s.number"""


@dataclass(frozen=True, slots=True)
class Old:
    """A session whose readings may be thinned."""

    number: int
    session_id: str
    chamber_id: str
    readings: int


class Thinning:
    """The readings of one store. Raises StoreError like the store itself."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def old(self, before_utc: str) -> list[Old]:
        """Sessions that ended before a time and were not thinned."""
        with self._store.reading() as conn:
            return [Old(*row) for row in conn.execute(_OLD, (before_utc,))]

    def thin(self, old: Old) -> int:
        """Thins a session's readings; returns how many went. One that is cut short is simply done again."""
        with self._store.reading() as conn:
            sql = "SELECT min(run_ms), max(run_ms) FROM samples WHERE session = ?"
            first_ms, last_ms = conn.execute(sql, (old.number,)).fetchone()
        gone = 0
        if first_ms is not None:
            for from_ms in range(first_ms // SLICE_MS * SLICE_MS, last_ms + 1, SLICE_MS):
                with self._store.writing() as conn:
                    span = {"session": old.number, "from_ms": from_ms, "to_ms": from_ms + SLICE_MS}
                    gone += conn.execute(_THIN, span).rowcount
        return gone

    def done(self, old: Old, line: Line) -> None:
        """Says in the journal that a session was thinned, and remembers it."""
        with self._store.writing() as conn:
            conn.execute("UPDATE sessions SET thinned_utc = ? WHERE number = ?", (line.utc, old.number))
            self._store.say(conn, line)
