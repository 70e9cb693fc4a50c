"""Sheets and plans as people describe them. Every revision is kept; the newest counts, unless it says removed."""

import json
from typing import Any, Literal

from lampwarden.errors import ChangedMeanwhile, NotNow, UnknownName
from lampwarden.store.records import Draft, Json
from lampwarden.store.store import Store, as_json

DRAFTS_MAX = 200
"""Sheets or plans in one answer; each is some 10 kB."""

_NEWEST = """
    SELECT id, revision, saved_utc, saved_by, data FROM drafts AS mine
    WHERE kind = :kind AND NOT removed AND (:chamber IS NULL OR chamber_id = :chamber)
        AND revision = (SELECT max(revision) FROM drafts WHERE kind = mine.kind AND id = mine.id)
    ORDER BY number DESC LIMIT :limit"""
_ONE = """
    SELECT id, revision, saved_utc, saved_by, data, removed FROM drafts
    WHERE kind = ? AND id = ? AND (? IS NULL OR revision = ?) ORDER BY revision DESC LIMIT 1"""
_ADD = """
    INSERT INTO drafts (kind, id, revision, chamber_id, saved_utc, saved_by, removed, data)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?)"""


class Drafts:
    """The sheets, or the plans."""

    def __init__(self, store: Store, kind: Literal["sheet", "plan"]) -> None:
        self._store, self._kind = store, kind

    def newest(self, chamber_id: str | None = None) -> list[Draft]:
        """The newest revision of each that is not removed, the last saved first; at most DRAFTS_MAX."""
        with self._store.reading() as conn:
            rows = conn.execute(_NEWEST, {"kind": self._kind, "chamber": chamber_id, "limit": DRAFTS_MAX}).fetchall()
        return [_draft(row) for row in rows]

    def one(self, draft_id: str, revision: int | None = None) -> Draft:
        """The newest revision of one that is not removed, or any revision there ever was. Raises UnknownName."""
        found = self._find(draft_id, revision)
        if found is None or (found[1] and revision is None):
            which = "" if revision is None else f", revision {revision}"
            raise UnknownName(f"There is no {self._kind} '{draft_id}'{which}.")
        return found[0]

    def save(
        self, draft_id: str, data: Json, by: str, utc: str, revision: int | None, chamber_id: str | None = None
    ) -> int:
        """Keeps a new revision; returns its number. `revision` is the one that was changed; None: a new one.

        Raises ChangedMeanwhile if `revision` is not the newest, NotNow if a new one takes a name that is in use.
        """
        return self._add(draft_id, as_json(data), by, utc, revision, chamber_id, removed=False)

    def remove(self, draft_id: str, by: str, utc: str, chamber_id: str | None = None) -> None:
        """Leaves it out of lists from now on; its revisions stay. Raises UnknownName."""
        last = self.one(draft_id)
        self._add(draft_id, as_json(last.data), by, utc, last.revision, chamber_id, removed=True)

    def _add(
        self,
        draft_id: str,
        data: str,
        by: str,
        utc: str,
        revision: int | None,
        chamber_id: str | None,
        *,
        removed: bool,
    ) -> int:
        with self._store.writing() as conn:
            found = self._find(draft_id)
            newest = 0 if found is None else found[0].revision
            there = found is not None and not found[1]
            if revision is None and there:
                raise NotNow(f"There is a {self._kind} '{draft_id}' already. Choose another short name.")
            if revision is not None and (revision != newest or not there):
                raise ChangedMeanwhile(_changed(self._kind, draft_id, revision, found))
            conn.execute(_ADD, (self._kind, draft_id, newest + 1, chamber_id, utc, by, int(removed), data))
        return newest + 1

    def _find(self, draft_id: str, revision: int | None = None) -> tuple[Draft, bool] | None:
        """A revision, and whether it says removed."""
        with self._store.reading() as conn:
            row = conn.execute(_ONE, (self._kind, draft_id, revision, revision)).fetchone()
        return None if row is None else (_draft(row[:-1]), bool(row[-1]))


def _draft(row: tuple[Any, ...]) -> Draft:
    draft_id, revision, utc, by, data = row
    return Draft(draft_id, revision, utc, by, json.loads(data))


def _changed(kind: str, draft_id: str, revision: int, found: tuple[Draft, bool] | None) -> str:
    if found is None:
        return f"There is no {kind} '{draft_id}' to change. Save it as a new one."
    last, removed = found
    what = f"removed {kind} '{draft_id}'" if removed else f"saved revision {last.revision} of {kind} '{draft_id}'"
    return (
        f"{last.by} {what} at {last.utc[11:16]} UTC, while revision {revision} was changed here. Nothing was saved."
        " Look at theirs, then save yours over it or under another name."
    )
