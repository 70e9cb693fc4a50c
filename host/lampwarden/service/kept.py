"""What the records take on the disk, what is deleted on purpose, and what is thinned once somebody says so."""

import json
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Literal

from ..errors import ChangedMeanwhile, LampwardenError, NotNow, ProgramError, UnknownName
from ..keeper import Clock
from ..keeper.clock import utc_text
from ..store.records import Line
from ..store.removals import ORIGINAL, SHEET_PICTURE, Removals
from ..store.store import Store
from ..store.thinning import Thinning
from .base import log
from .series import SeriesOfSheets
from .sheet_pictures import SheetPictures

What = Literal["photos", "sheet"]
SESSIONS_MAX = 200
RETENTION = "retention"
"""Name of the choice."""
THIN_DAYS_LEAST = 7.0
"""Nobody should lose the seconds of a session they may still be looking at."""
THINNED_AT_ONCE = 3
"""Sessions thinned in one go, some 3 s each for a day of readings: planned starts wait in the same thread."""
SAMPLE_BYTES = 51
"""A set of readings with 8 banks in the database, see store/migrations.py."""


@dataclass(frozen=True, slots=True)
class SessionUse:
    """What one session takes."""

    id: str
    title: str
    began_utc: str
    ended: bool
    photos: int
    photo_bytes: int
    """Photos as they came, and the pictures made of them."""
    thinned_utc: str | None


@dataclass(frozen=True, slots=True)
class SheetUse:
    """What one sheet takes, with its sessions."""

    id: str
    title: str
    sessions: int
    photo_bytes: int


@dataclass(frozen=True, slots=True)
class DiskUse:
    """What the records of this host take, bytes."""

    database: int
    originals: int
    sheet_pictures: int
    archive: int
    backups: int
    """Those in the data folder."""
    free: int
    sessions: tuple[SessionUse, ...]
    """Of the chamber asked for, the newest first."""
    sheets: tuple[SheetUse, ...]


@dataclass(frozen=True, slots=True)
class Going:
    """What a deletion takes away and what it leaves, before it is done."""

    what: What
    id: str
    """To be typed by whoever wants it deleted."""
    title: str
    goes: tuple[str, ...]
    """In sentences."""
    stays: tuple[str, ...]
    bytes: int
    mark: str
    """Give it back with the order: if anything has changed since, nothing is deleted."""


@dataclass(frozen=True, slots=True)
class Retention:
    """What is made less by itself. Nothing, unless somebody says so."""

    thin_after_days: float | None = None
    """Readings of sessions that ended longer ago are thinned to the marked ones of each minute; None: never."""


@dataclass(frozen=True, slots=True)
class ThinningAhead:
    """What a retention would thin now."""

    sessions: int
    readings: int
    bytes: int
    """About what they take in the database now; at least nine tenths of it goes."""


class Kept(SeriesOfSheets, SheetPictures):
    """The part of the service that knows what is kept, and deletes on purpose."""

    def __init__(self, store: Store, clock: Clock) -> None:
        super().__init__(store, clock)
        self._removals, self._thinning = Removals(store), Thinning(store)

    # --- looking ------------------------------------------------------------------------------------------------------

    def disk_use(self, chamber_id: str) -> DiskUse:
        """What the records take. Looks at every file's size: a second for ten thousand photos. Raises UnknownName."""
        self._keeper(chamber_id)
        folder, database = self.folder(), self._store.path
        sizes = {path.name.partition(".")[0]: 0 for path in _files(folder / ORIGINAL)}
        for path in _files(folder / ORIGINAL):
            sizes[path.name.partition(".")[0]] += _size(path)
        sessions = []
        for session in self._store.sessions(chamber_id, SESSIONS_MAX):
            photos, total = self._photo_use(sizes, session_id=session.id)
            sessions.append(
                SessionUse(
                    session.id, session.title, session.began_utc, session.ended is not None, photos, total,
                    session.thinned_utc,
                )
            )  # fmt: skip
        sheets = []
        for saved in self.sheets():
            _, total = self._photo_use(sizes, sheet_id=saved.sheet.id)
            of = len(self._removals.sessions_of(saved.sheet.id))
            sheets.append(SheetUse(saved.sheet.id, saved.sheet.title, of, total))
        return DiskUse(
            database=sum(_size(path) for path in folder.glob(f"{database.name}*")),
            originals=sum(sizes.values()),
            sheet_pictures=_total(folder / SHEET_PICTURE),
            archive=_total(folder / "archive"),
            backups=_total(folder / "backups"),
            free=shutil.disk_usage(folder).free,
            sessions=tuple(sessions),
            sheets=tuple(sheets),
        )

    def going(self, what: What, key: str, chamber_id: str) -> Going:
        """What deleting the photos of a session, or a whole sheet, takes away. Changes nothing.

        Raises UnknownName, NotNow for a session that has not ended or a sheet that a plan uses.
        """
        return self._photos_going(key, chamber_id) if what == "photos" else self._sheet_going(key, chamber_id)

    def retention(self) -> Retention:
        """What is made less by itself."""
        chosen = self._choices.get(RETENTION)
        return Retention() if chosen is None else Retention(chosen.get("thin_after_days"))

    def thinning_ahead(self, days: float) -> ThinningAhead:
        """What thinning after so many days would touch now, in all chambers. Raises ProgramError."""
        old = self._thinning.old(self._before(days))
        readings = sum(each.readings for each in old)
        return ThinningAhead(len(old), readings, readings * SAMPLE_BYTES)

    # --- orders -------------------------------------------------------------------------------------------------------

    def delete(self, what: What, key: str, typed: str, mark: str, chamber_id: str, by: str) -> Going:
        """Deletes what `going` told. `typed` is the name as a person typed it. The journal keeps the fact.

        Raises ProgramError for another name, ChangedMeanwhile if something was added or taken away since, and what
        `going` raises; then nothing is deleted.
        """
        with self._starting, self._keeping:
            going = self.going(what, key, chamber_id)
            if typed.strip() != going.id:
                raise ProgramError(f"Type '{going.id}' to delete it. Nothing was deleted.")
            if mark != going.mark:
                raise ChangedMeanwhile("Something has changed since you looked. Nothing was deleted: look again.")
            text = f"Deleted by {by}: {going.title}. {' '.join(going.goes)}"
            data = {"by": by, "what": what, "id": key, "bytes": going.bytes}
            if what == "photos":
                line = Line("photos_deleted", 0.0, self.utc(), data, text, chamber_id, key)
                self._removals.remove_photos(key, chamber_id, by, line)
            else:
                first = self._line(chamber_id, "sheet_deleted", text, data)
                told = [
                    Line("session_deleted", 0.0, first.utc, data, f"Deleted by {by} with its sheet.", chamber, session)
                    for session in self._removals.sessions_of(key)
                    for chamber in (self._store.session(session).chamber_id,)
                ]
                self._removals.remove_sheet(key, chamber_id, by, [first, *told])
        self.finish_deleting()
        return going

    def finish_deleting(self) -> None:
        """Takes the files of deletions off the disk, also of one that was cut short. Raises StoreError."""
        for removal in self._removals.unfinished():
            with self._keeping:
                for file in removal.files:
                    folder, _, name = file.partition("/")
                    if folder == SHEET_PICTURE:
                        self._picture_path(name).unlink(missing_ok=True)
                    elif not self._removals.used(name):  # sent anew meanwhile
                        self._vault.remove(name)
                self._removals.finished(removal)

    def set_retention(self, thin_after_days: float | None, chamber_id: str, by: str) -> None:
        """Sets what is made less by itself, for all chambers of this host. Raises ProgramError, UnknownName."""
        self._keeper(chamber_id)
        if thin_after_days is not None:
            self._before(thin_after_days)
        said = (
            "nothing" if thin_after_days is None else f"readings of sessions {thin_after_days:g} days after their end"
        )
        data = {"by": by, "thin_after_days": thin_after_days}
        line = self._line(chamber_id, "retention_set", f"Made less by itself, set by {by}: {said}.", data)
        self._choices.set(RETENTION, {"thin_after_days": thin_after_days}, line)

    def thin_old(self) -> None:
        """Thins what the retention says, some sessions at a time. Raises StoreError."""
        days = self.retention().thin_after_days
        if days is None:
            return
        for old in self._thinning.old(self._before(days))[:THINNED_AT_ONCE]:
            gone = self._thinning.thin(old)
            text = (
                f"Readings of session {old.session_id} were thinned: {gone} of {old.readings} are gone, the first and"
                " the farthest of each minute stay."
            )
            data = {"gone": gone, "readings": old.readings, "thin_after_days": days}
            line = Line("readings_thinned", 0.0, self.utc(), data, text, old.chamber_id, old.session_id)
            self._thinning.done(old, line)

    def tend(self, chamber_id: str) -> None:
        """What is looked after now and then: reminders, thinning, deletions that were cut short. Never raises."""
        for work in (partial(self.mind_follow_ups, chamber_id), self.thin_old, self.finish_deleting):
            try:
                work()
            except LampwardenError as error:
                log.warning("records of '%s': %s It is tried again.", chamber_id, error)

    # --- inside -------------------------------------------------------------------------------------------------------

    def _photos_going(self, session_id: str, chamber_id: str) -> Going:
        session = self._store.session(session_id)
        if session.chamber_id != chamber_id or session.removed_utc is not None:
            raise UnknownName(f"Chamber '{chamber_id}' has no session '{session_id}'.")
        if session.ended is None:
            raise NotNow(f"Session {session_id} has not ended. Its photos can be deleted after its end.")
        three = self._removals.pictures(session_id=session_id)
        if not three:
            raise NotNow(f"Session {session_id} has no photos.")
        names = _each(three)
        size = self._bytes(names)
        return Going(
            what="photos",
            id=session_id,
            title=f"the photos of session {session_id}, '{session.title}'",
            goes=(
                f"{_count(len(three), 'photo')} as sent, {_count(len(names) - len(three), 'picture')} made of them.",
                f"{_mb(size)} of files in all.",
            ),
            stays=(
                "The colours that were read of them, with all conclusions.",
                "The journal, which will say that they were deleted.",
                "Records that were packed before, wherever they are.",
            ),
            bytes=size,
            mark=_mark(names),
        )

    def _sheet_going(self, sheet_id: str, chamber_id: str) -> Going:
        self._keeper(chamber_id)
        sheet = self.sheet(sheet_id).sheet
        users = [f"'{saved.plan.title}'" for saved in self.plans() if saved.plan.sheet == sheet_id]
        if users:
            raise NotNow(f"The sheet is used by plan {', '.join(users)}. Remove that first, on the page Plan.")
        sessions = self._removals.sessions_of(sheet_id)
        running = [session for session in sessions if self._store.session(session).ended is None]
        if running:
            raise NotNow(f"Session {running[0]} of this sheet has not ended. End it first.")
        three = self._removals.pictures(sheet_id=sheet_id)
        names = _each(three)
        size = self._bytes(names) + (_size(self._picture_path(sheet.photo)) if sheet.photo else 0)
        revisions, readings, findings = self._removals.counts(sheet_id)
        goes = [f"Its description in {_count(revisions, 'version')}{', with its picture' if sheet.photo else ''}."]
        if sessions:
            goes.append(
                f"{_count(len(sessions), 'session')} ({', '.join(sessions)}): what was planned for it, air and"
                " temperatures second by second, and its place under Results."
            )
        goes.append(f"{_count(readings, 'reading')} of its colours, {_count(findings, 'hand finding')}.")
        goes.append(f"{_count(len(three), 'photo')} and {_count(len(names) - len(three), 'picture')} made of them.")
        goes.append(f"{_mb(size)} of files in all.")
        return Going(
            what="sheet",
            id=sheet_id,
            title=f"the sheet '{sheet.title}'",
            goes=tuple(goes),
            stays=(
                "The journal's lines, which name the sheet and what was done, and will say that it was deleted.",
                "The programs of its sessions and the light they gave, which tell the age of the lamps.",
                "Backups made before, until they are overwritten, and records that were packed before.",
            ),
            bytes=size,
            mark=_mark([*names, *sessions, str(revisions), str(readings), str(findings)]),
        )

    def _photo_use(
        self, sizes: dict[str, int], *, session_id: str | None = None, sheet_id: str | None = None
    ) -> tuple[int, int]:
        three = self._removals.pictures(session_id=session_id, sheet_id=sheet_id)
        return len(three), sum(sizes.get(name, 0) for name in _each(three))

    def _bytes(self, names: Sequence[str]) -> int:
        total = 0
        for name in names:
            try:
                total += _size(self._vault.path(name))
            except UnknownName:
                continue
        return total

    def _before(self, days: float) -> str:
        if not THIN_DAYS_LEAST <= days <= 36_525:
            raise ProgramError(f"Give {THIN_DAYS_LEAST:g} to 36525 days; {days:g} is none of them.")
        return utc_text(self._clock.utc() - timedelta(days=days))


def _each(three: Iterable[tuple[str, str, str]]) -> list[str]:
    return list(dict.fromkeys(name for names in three for name in names if name))


def _mark(names: Sequence[str]) -> str:
    return sha256(json.dumps(list(names)).encode()).hexdigest()[:16]


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _mb(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 50_000 else f"{size / 1e3:.0f} kB"


def _files(folder: Path) -> Iterable[Path]:
    return (path for path in folder.rglob("*") if path.is_file())


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0  # gone meanwhile


def _total(folder: Path) -> int:
    return sum(_size(path) for path in _files(folder))
