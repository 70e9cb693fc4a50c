"""What the page of what is kept shows. Pure."""

from dataclasses import dataclass

from ..record.archive import Taken
from ..service.kept import DiskUse, ThinningAhead
from . import wording as w
from .results_view.when import day_text
from .wording import Taste


@dataclass(frozen=True, slots=True)
class KeptRow:
    """Something that may be deleted."""

    what: str
    """photos, sheet or record."""
    key: str
    name: str
    about: str
    size: str
    may: bool
    """False: there is nothing to delete, or it may not be now."""


def size_text(size: int) -> str:
    """Bytes for people: '0', '812 kB', '4.2 MB', '1.3 GB'."""
    for unit, of in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if size >= of:
            return f"{size / of:.1f} {unit}" if size < 100 * of else f"{size / of:.0f} {unit}"
    return f"{size} B" if size else "0"


def totals(use: DiskUse) -> tuple[tuple[str, str], ...]:
    """What each kind takes."""
    return (
        ("Photos as they came, and the pictures made of them", size_text(use.originals)),
        ("The database: journal, readings, sheets, plans", size_text(use.database)),
        ("Pictures of sheets", size_text(use.sheet_pictures)),
        ("Records from elsewhere", size_text(use.archive)),
        ("Backups in the data folder", size_text(use.backups)),
        ("Free on this disk", size_text(use.free)),
    )


def session_rows(use: DiskUse, taste: Taste) -> tuple[KeptRow, ...]:
    """The sessions that have photos."""
    return tuple(
        KeptRow(
            what="photos",
            key=each.id,
            name=each.title,
            about=f"{day_text(w.moment(each.began_utc), taste)}, session {each.id}, {_count(each.photos, 'photo')}"
            + ("" if each.ended else ", under way"),
            size=size_text(each.photo_bytes),
            may=each.ended,
        )
        for each in use.sessions
        if each.photos
    )


def sheet_rows(use: DiskUse) -> tuple[KeptRow, ...]:
    """The sheets."""
    return tuple(
        KeptRow(
            "sheet",
            each.id,
            each.title,
            f"{each.id}, {_count(each.sessions, 'session')}",
            size_text(each.photo_bytes),
            True,
        )
        for each in use.sheets
    )


def record_rows(taken: list[Taken], taste: Taste) -> tuple[KeptRow, ...]:
    """The records from elsewhere."""
    return tuple(
        KeptRow(
            what="record",
            key=each.key,
            name=each.record.title,
            about=f"{day_text(w.moment(each.record.began_utc), taste)}, session {each.record.id} of chamber"
            f" “{each.record.chamber.title}”",
            size=size_text(each.size_bytes),
            may=True,
        )
        for each in taken
    )


def ahead_text(ahead: ThinningAhead) -> str:
    """What a retention would do now."""
    if not ahead.sessions:
        return "No session is that old now."
    return (
        f"Now it would thin {_count(ahead.sessions, 'session')}: {ahead.readings:,} readings, about"
        f" {size_text(ahead.bytes)} of the database, of which a tenth stays at most."
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
