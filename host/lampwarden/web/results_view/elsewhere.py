"""Records from other hosts, a line each."""

from dataclasses import dataclass

from ...findings.conclude import Conclusions
from ...record.archive import Taken
from .. import wording as w
from ..wording import Taste
from .said import advice, headline
from .when import date_text


@dataclass(frozen=True, slots=True)
class TakenLine:
    """One record in the list."""

    key: str
    title: str
    about: str
    """When, how it ended, which sheet, where."""
    packed: str
    result: str
    """In a line; empty: nothing was read."""
    advice: str
    photos: tuple[str, ...]
    """Hash of each photo as it came."""


def taken_line(taken: Taken, found: Conclusions | None, taste: Taste) -> TakenLine:
    """A record in the list; `found`: its conclusions."""
    record = taken.record
    sheet = record.sheet.title if record.sheet else "no sheet"
    began = date_text(w.moment(record.began_utc), taste)
    told = found is not None and bool(found.cells)
    photos = dict.fromkeys(name for look in record.looks for name, _ in look.pictures)
    return TakenLine(
        key=taken.key,
        title=record.title,
        about=f"{began} · {record.outcome} · {sheet} · chamber “{record.chamber.title}”, session {record.id}",
        packed=f"Packed {date_text(w.moment(record.made_utc), taste)} by {record.software}.",
        result=headline(found) if told and found is not None else "",
        advice=advice(found) if told and found is not None else "",
        photos=tuple(photos),
    )
