"""Calibrations of a chamber's zones: appended, never changed; the newest of a zone counts."""

import json
from collections.abc import Mapping

from lampwarden.store.records import Json, Line, SavedCalibration
from lampwarden.store.store import Store, as_json

CALIBRATIONS_MAX = 500
"""Calibrations in one answer: eight zones, once a month, for five years."""

_COLUMNS = "zone, irradiance_w_m2, calibration, saved_utc, saved_by"
_ADD = f"INSERT INTO calibrations (chamber_id, {_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)"
_ALL = f"SELECT {_COLUMNS} FROM calibrations WHERE chamber_id = ? ORDER BY number DESC LIMIT ?"
_NEWEST = f"""
    SELECT {_COLUMNS} FROM calibrations
    WHERE number IN (SELECT max(number) FROM calibrations WHERE chamber_id = ? GROUP BY zone) ORDER BY number"""


class Calibrations:
    """What was measured or estimated for the zones of all chambers."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def add(self, chamber_id: str, found: Mapping[str, tuple[float, Json]], by: str, utc: str, line: Line) -> None:
        """Keeps irradiance (W/m2) and calibration of each zone, and the journal's line, in one transaction."""
        rows = [(chamber_id, zone, value, as_json(how), utc, by) for zone, (value, how) in found.items()]
        with self._store.writing() as conn:
            conn.executemany(_ADD, rows)
            self._store.say(conn, line)

    def newest(self, chamber_id: str) -> dict[str, SavedCalibration]:
        """The newest of each zone that has one, by zone."""
        with self._store.reading() as conn:
            rows = conn.execute(_NEWEST, (chamber_id,)).fetchall()
        return {row[0]: _saved(*row) for row in rows}

    def history(self, chamber_id: str) -> list[SavedCalibration]:
        """All of a chamber, the newest first; at most CALIBRATIONS_MAX."""
        with self._store.reading() as conn:
            rows = conn.execute(_ALL, (chamber_id, CALIBRATIONS_MAX)).fetchall()
        return [_saved(*row) for row in rows]


def _saved(zone: str, irradiance_w_m2: float, how: str, utc: str, by: str) -> SavedCalibration:
    return SavedCalibration(zone, irradiance_w_m2, json.loads(how), utc, by)
