"""Deleting on purpose: photos of a session, or a sheet with its sessions. The journal and its chain stay whole.

What is deleted is deleted from the database in one transaction, with a line in the journal and the list of files that
are to go. The files go after that; a process that dies in between finishes at its next start.
"""

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lampwarden.errors import NotNow
from lampwarden.store.records import Line
from lampwarden.store.store import Store

ORIGINAL, SHEET_PICTURE = "originals", "sheet_pictures"
"""Folders of files; an entry of a removal is FOLDER/HASH."""

_NAMES = "SELECT p.hash, p.drawn, p.flat FROM reading_photos p JOIN readings r ON r.number = p.reading WHERE {where}"
_USED = "SELECT 1 FROM reading_photos WHERE ? IN (hash, drawn, flat) LIMIT 1"
_SHEET_USED = """
    SELECT 1 FROM drafts WHERE json_extract(data, '$.photo') = :name
    UNION ALL SELECT 1 FROM sessions WHERE sheet IS NOT NULL AND json_extract(sheet, '$.photo') = :name LIMIT 1"""
_SESSIONS = "SELECT number, id, ended_utc FROM sessions WHERE sheet IS NOT NULL AND json_extract(sheet, '$.id') = ?"


@dataclass(frozen=True, slots=True)
class Removal:
    """One deletion whose files are still to go."""

    number: int
    files: tuple[str, ...]


class Removals:
    """The deletions of one store. Raises StoreError like the store itself."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def sessions_of(self, sheet_id: str) -> list[str]:
        """Sessions the sheet was treated in, ended or not, the first begun first."""
        with self._store.reading() as conn:
            return [row[1] for row in conn.execute(f"{_SESSIONS} ORDER BY number", (sheet_id,))]

    def pictures(self, *, session_id: str | None = None, sheet_id: str | None = None) -> list[tuple[str, str, str]]:
        """Hash of each photo of a session, or of a sheet in any session or none; of what was drawn of it; and flat."""
        with self._store.reading() as conn:
            return _names(conn, session_id, sheet_id)

    def counts(self, sheet_id: str) -> tuple[int, int, int]:
        """Revisions, readings and hand findings of a sheet."""
        with self._store.reading() as conn:
            found = [
                conn.execute(sql, (sheet_id,)).fetchone()[0]
                for sql in (
                    "SELECT count(*) FROM drafts WHERE kind = 'sheet' AND id = ?",
                    "SELECT count(*) FROM readings WHERE sheet_id = ?",
                    "SELECT count(*) FROM hand_findings WHERE sheet_id = ?",
                )
            ]
        return found[0], found[1], found[2]

    def remove_photos(self, session_id: str, chamber_id: str, by: str, line: Line) -> None:
        """Deletes the photos of a session and the pictures made of them; what was read of them stays."""
        with self._store.writing() as conn:
            names = _names(conn, session_id, None)
            of = "SELECT number FROM readings WHERE session_id = ?"
            conn.execute(f"DELETE FROM reading_photos WHERE reading IN ({of})", (session_id,))
            self._keep_removal(conn, "photos", session_id, chamber_id, by, line, names)

    def remove_sheet(self, sheet_id: str, chamber_id: str, by: str, lines: Sequence[Line]) -> None:
        """Deletes a sheet: all its revisions, photos, readings and findings, and the readings of its sessions' climate.

        Raises NotNow if one of its sessions has not ended.
        """
        with self._store.writing() as conn:
            sessions = conn.execute(_SESSIONS, (sheet_id,)).fetchall()
            running = [session for _, session, ended in sessions if ended is None]
            if running:
                raise NotNow(f"Session {running[0]} of this sheet has not ended. End it first.")
            names = _names(conn, None, sheet_id)
            pictures = {
                name
                for (name,) in conn.execute(
                    "SELECT json_extract(data, '$.photo') FROM drafts WHERE kind = 'sheet' AND id = ?1"
                    " UNION SELECT json_extract(sheet, '$.photo') FROM sessions"
                    " WHERE sheet IS NOT NULL AND json_extract(sheet, '$.id') = ?1",
                    (sheet_id,),
                )
                if name
            }
            for sql in (
                "DELETE FROM reading_photos WHERE reading IN (SELECT number FROM readings WHERE sheet_id = ?)",
                "DELETE FROM readings WHERE sheet_id = ?",
                "DELETE FROM withdrawn_findings WHERE finding IN (SELECT number FROM hand_findings WHERE sheet_id = ?)",
                "DELETE FROM hand_findings WHERE sheet_id = ?",
            ):
                conn.execute(sql, (sheet_id,))
            for number, _, _ in sessions:
                conn.execute("DELETE FROM samples WHERE session = ?", (number,))
                conn.execute(
                    "UPDATE sessions SET sheet = NULL, plan = NULL, removed_utc = ? WHERE number = ?",
                    (lines[0].utc, number),
                )
            for line in lines[1:]:
                self._store.say(conn, line)
            # The row of the removal comes first: it is what lets revisions go.
            number = self._keep_removal(conn, "sheet", sheet_id, chamber_id, by, lines[0], names)
            conn.execute("DELETE FROM drafts WHERE kind = 'sheet' AND id = ?", (sheet_id,))
            unused = [name for name in sorted(pictures) if not conn.execute(_SHEET_USED, {"name": name}).fetchone()]
            if unused:
                files = json.loads(conn.execute("SELECT files FROM removals WHERE number = ?", (number,)).fetchone()[0])
                files += [f"{SHEET_PICTURE}/{name}" for name in unused]
                conn.execute("UPDATE removals SET files = ? WHERE number = ?", (json.dumps(files), number))

    def unfinished(self) -> list[Removal]:
        """Deletions whose files are still to go."""
        with self._store.reading() as conn:
            rows = conn.execute("SELECT number, files FROM removals WHERE files <> '[]' ORDER BY number").fetchall()
        return [Removal(number, tuple(json.loads(files))) for number, files in rows]

    def used(self, name: str) -> bool:
        """True if a photo or picture of this hash belongs to a reading again."""
        with self._store.reading() as conn:
            return conn.execute(_USED, (name,)).fetchone() is not None

    def finished(self, removal: Removal) -> None:
        """All files of a deletion are gone."""
        with self._store.writing() as conn:
            conn.execute("UPDATE removals SET files = '[]' WHERE number = ?", (removal.number,))

    def _keep_removal(
        self,
        conn: sqlite3.Connection,
        what: str,
        key: str,
        chamber_id: str,
        by: str,
        line: Line,
        names: Iterable[tuple[str, str, str]],
    ) -> int:
        each = dict.fromkeys(name for three in names for name in three if name)
        unused = [name for name in each if conn.execute(_USED, (name,)).fetchone() is None]
        conn.executemany("DELETE FROM photos WHERE hash = ?", [(name,) for name in unused])
        files = [f"{ORIGINAL}/{name}" for name in unused]
        number = conn.execute(
            "INSERT INTO removals (chamber_id, what, id, saved_utc, saved_by, files) VALUES (?, ?, ?, ?, ?, ?)",
            (chamber_id, what, key, line.utc, by, json.dumps(files)),
        ).lastrowid
        assert number is not None  # an INSERT always gives one
        self._store.say(conn, line)
        return number


def _names(conn: sqlite3.Connection, session_id: str | None, sheet_id: str | None) -> list[tuple[str, str, str]]:
    where = "(? IS NULL OR r.session_id = ?) AND (? IS NULL OR r.sheet_id = ?)"
    found: list[tuple[str, str, str]] = conn.execute(
        _NAMES.format(where=where), (session_id, session_id, sheet_id, sheet_id)
    ).fetchall()
    return found
