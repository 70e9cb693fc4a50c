"""Photos, readings and hand findings: the rows. The photos' bytes are files, see photos/vault.py."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lampwarden.errors import UnknownName
from lampwarden.store.records import Json, Line
from lampwarden.store.store import Store, as_json


@dataclass(frozen=True, slots=True)
class SavedPhoto:
    """One photo that came in."""

    hash: str
    chamber_id: str
    name: str
    """Name of the file as it was sent."""
    came_utc: str
    came_by: str
    found: Json


@dataclass(frozen=True, slots=True)
class SavedReading:
    """One reading, usable or refused."""

    id: str
    chamber_id: str
    session_id: str | None
    sheet_id: str
    checkpoint: str
    saved_utc: str
    saved_by: str
    lit_s: tuple[float, ...] | None
    """Level-weighted light of each zone by then, s; None: not known, or outside a session."""
    superseded: bool
    data: Json
    photos: tuple[tuple[str, str, str], ...]
    """Hash of each photo, of the picture drawn of it, and of it laid flat; the latter two empty where there is none."""


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A hand finding does not stand any more."""

    utc: str
    by: str
    why: str


@dataclass(frozen=True, slots=True)
class SavedFinding:
    """One hand finding."""

    number: int
    session_id: str | None
    sheet_id: str
    saved_by: str
    data: Json
    withdrawn: Withdrawn | None = None
    """None: it stands."""


_READING = """
    SELECT r.id, r.chamber_id, r.session_id, r.sheet_id, r.checkpoint, r.saved_utc, r.saved_by, r.lit_s, r.superseded,
        r.data,
        (SELECT group_concat(hash || ':' || drawn || ':' || flat, ' ')
            FROM (SELECT hash, drawn, flat FROM reading_photos WHERE reading = r.number ORDER BY place))
    FROM readings r"""


class Gallery:
    """The rows of one store. Raises StoreError like the store itself."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def add_reading(
        self,
        reading: SavedReading,
        photos: Sequence[SavedPhoto],
        line: Line,
        supersedes: Sequence[str] = (),
    ) -> None:
        """Keeps a reading with its photos and its line of the journal, in one transaction.

        `supersedes`: ids of readings it takes the place of. A photo that is known keeps the row it has.
        """
        with self._store.writing() as conn:
            for photo in photos:
                conn.execute(
                    "INSERT INTO photos (hash, chamber_id, name, came_utc, came_by, found) VALUES (?, ?, ?, ?, ?, ?)"
                    " ON CONFLICT (hash) DO NOTHING",
                    (photo.hash, photo.chamber_id, photo.name, photo.came_utc, photo.came_by, as_json(photo.found)),
                )
            number = conn.execute(
                "INSERT INTO readings (id, chamber_id, session_id, sheet_id, checkpoint, saved_utc, saved_by, lit_s,"
                " superseded, data) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 0, ?)",
                (
                    reading.id, reading.chamber_id, reading.session_id, reading.sheet_id, reading.checkpoint,
                    reading.saved_utc, reading.saved_by,
                    None if reading.lit_s is None else json.dumps(list(reading.lit_s)), as_json(reading.data),
                ),
            ).lastrowid  # fmt: skip
            conn.executemany(
                "INSERT INTO reading_photos (reading, chamber_id, place, hash, drawn, flat) VALUES (?, ?, ?, ?, ?, ?)",
                [(number, reading.chamber_id, place, *photo) for place, photo in enumerate(reading.photos)],
            )
            conn.executemany("UPDATE readings SET superseded = 1 WHERE id = ?", [(each,) for each in supersedes])
            self._store.say(conn, line)

    def readings(self, *, session_id: str | None = None, sheet_id: str | None = None) -> list[SavedReading]:
        """Readings of a session, or of a sheet, or of one in the other; the first saved first."""
        where = "WHERE (? IS NULL OR r.session_id = ?) AND (? IS NULL OR r.sheet_id = ?) ORDER BY r.number"
        with self._store.reading() as conn:
            rows = conn.execute(f"{_READING} {where}", (session_id, session_id, sheet_id, sheet_id)).fetchall()
        return [_reading(row) for row in rows]

    def reading(self, reading_id: str) -> SavedReading:
        """One reading. Raises UnknownName."""
        with self._store.reading() as conn:
            row = conn.execute(f"{_READING} WHERE r.id = ?", (reading_id,)).fetchone()
        if row is None:
            raise UnknownName(f"There is no reading '{reading_id}'.")
        return _reading(row)

    def photo(self, name: str) -> SavedPhoto:
        """What is known of a photo. Raises UnknownName."""
        with self._store.reading() as conn:
            row = conn.execute(
                "SELECT hash, chamber_id, name, came_utc, came_by, found FROM photos WHERE hash = ?", (name,)
            ).fetchone()
        if row is None:
            raise UnknownName(f"There is no photo '{name[:64]}'.")
        name, chamber_id, sent, utc, by, found = row
        return SavedPhoto(name, chamber_id, sent, utc, by, json.loads(found))

    def lines(self, session_id: str, kinds: Sequence[str]) -> list[Line]:
        """Lines of some kinds of a session's journal, oldest first."""
        marks = ", ".join("?" * len(kinds))
        sql = (
            "SELECT kind, run_s, utc, data, text, chamber_id, session_id FROM journal"
            f" WHERE session_id = ? AND kind IN ({marks}) ORDER BY seq"
        )
        with self._store.reading() as conn:
            rows = conn.execute(sql, (session_id, *kinds)).fetchall()
        return [Line(kind, run_s, utc, json.loads(data), *rest) for kind, run_s, utc, data, *rest in rows]

    def add_finding(self, finding: SavedFinding, chamber_id: str, utc: str, line: Line) -> None:
        """Keeps a hand finding and its line of the journal."""
        with self._store.writing() as conn:
            conn.execute(
                "INSERT INTO hand_findings (chamber_id, session_id, sheet_id, saved_utc, saved_by, data)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (chamber_id, finding.session_id, finding.sheet_id, utc, finding.saved_by, as_json(finding.data)),
            )
            self._store.say(conn, line)

    def withdraw_finding(self, number: int, withdrawn: Withdrawn, chamber_id: str, line: Line) -> None:
        """Marks a hand finding as withdrawn, once, and says so in the journal; its row stays as it is."""
        with self._store.writing() as conn:
            conn.execute(
                "INSERT INTO withdrawn_findings (finding, chamber_id, why, saved_utc, saved_by) VALUES (?, ?, ?, ?, ?)",
                (number, chamber_id, withdrawn.why, withdrawn.utc, withdrawn.by),
            )
            self._store.say(conn, line)

    def findings(self, *, session_id: str | None = None, sheet_id: str | None = None) -> list[SavedFinding]:
        """Hand findings of a session or of a sheet, those withdrawn too, the first saved first."""
        with self._store.reading() as conn:
            rows = conn.execute(
                "SELECT number, session_id, sheet_id, f.saved_by, data, w.saved_utc, w.saved_by, w.why"
                " FROM hand_findings f LEFT JOIN withdrawn_findings w ON w.finding = f.number"
                " WHERE (? IS NULL OR session_id = ?) AND (? IS NULL OR sheet_id = ?) ORDER BY number",
                (session_id, session_id, sheet_id, sheet_id),
            ).fetchall()
        return [
            SavedFinding(
                n, session, sheet, saved_by, json.loads(data), None if utc is None else Withdrawn(utc, by, why)
            )
            for n, session, sheet, saved_by, data, utc, by, why in rows
        ]


def _reading(row: tuple[Any, ...]) -> SavedReading:
    key, chamber_id, session_id, sheet_id, checkpoint, utc, by, lit_s, superseded, data, photos = row
    pictures = [of.split(":") for of in (photos or "").split()]
    return SavedReading(
        id=key,
        chamber_id=chamber_id,
        session_id=session_id,
        sheet_id=sheet_id,
        checkpoint=checkpoint,
        saved_utc=utc,
        saved_by=by,
        lit_s=None if lit_s is None else tuple(json.loads(lit_s)),
        superseded=bool(superseded),
        data=json.loads(data),
        photos=tuple((name, drawn, flat) for name, drawn, flat in pictures),
    )
