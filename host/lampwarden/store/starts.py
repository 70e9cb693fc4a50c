"""Starts that were set for later, and what came of each."""

import json
from typing import Any

from lampwarden.errors import NotNow, UnknownName
from lampwarden.store.records import Json, Line, PlannedStart
from lampwarden.store.store import Store, as_json

STARTS_MAX = 100
"""Planned starts in one answer."""

_SELECT = """
    SELECT number, chamber_id, plan_id, plan_revision, at_utc, saved_utc, saved_by, confirmed, state, says, session_id
    FROM planned_starts"""
_ADD = """
    INSERT INTO planned_starts (chamber_id, plan_id, plan_revision, at_utc, saved_utc, saved_by, confirmed, state, says)
    VALUES (?, ?, ?, ?, ?, ?, ?, 'waiting', '')"""
_SETTLE = "UPDATE planned_starts SET state = ?, says = ? WHERE number = ? AND state = ?"


class PlannedStarts:
    """The planned starts of all chambers. A start that begins is settled by Store.begin_session."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def add(
        self,
        chamber_id: str,
        plan: tuple[str, int],
        at_utc: str,
        by: str,
        utc: str,
        confirmed: list[Json],
        line: Line,
    ) -> int:
        """Sets a start, with the journal's line; returns its number. `plan` is id and revision."""
        with self._store.writing() as conn:
            number = conn.execute(_ADD, (chamber_id, *plan, at_utc, utc, by, as_json(confirmed))).lastrowid
            assert number is not None  # an INSERT always gives one
            self._store.say(conn, line)
        return number

    def settle(self, number: int, state: str, says: str, line: Line, was: str = "waiting") -> None:
        """Says what came of a start, with the journal's line. Raises NotNow if it is not `was` any more."""
        with self._store.writing() as conn:
            if conn.execute(_SETTLE, (state, says, number, was)).rowcount != 1:
                raise NotNow(f"Planned start {number} is not {was} any more: {self.one(number).state}.")
            self._store.say(conn, line)

    def one(self, number: int) -> PlannedStart:
        """One planned start. Raises UnknownName."""
        with self._store.reading() as conn:
            row = conn.execute(f"{_SELECT} WHERE number = ?", (number,)).fetchone()
        if row is None:
            raise UnknownName(f"There is no planned start {number}.")
        return _saved(row)

    def of(self, chamber_id: str) -> list[PlannedStart]:
        """Those of a chamber, the latest set first; at most STARTS_MAX."""
        with self._store.reading() as conn:
            rows = conn.execute(
                f"{_SELECT} WHERE chamber_id = ? ORDER BY number DESC LIMIT ?", (chamber_id, STARTS_MAX)
            )
            return [_saved(row) for row in rows]

    def waiting(self) -> list[PlannedStart]:
        """All that wait, the earliest first; at most STARTS_MAX."""
        with self._store.reading() as conn:
            rows = conn.execute(f"{_SELECT} WHERE state = 'waiting' ORDER BY at_utc LIMIT ?", (STARTS_MAX,))
            return [_saved(row) for row in rows]


def _saved(row: tuple[Any, ...]) -> PlannedStart:
    number, chamber_id, plan_id, revision, at_utc, utc, by, confirmed, state, says, session_id = row
    return PlannedStart(
        number, chamber_id, plan_id, revision, at_utc, utc, by, tuple(json.loads(confirmed)), state, says, session_id
    )
