"""The readings of a session that can be compared, and every photo with what came of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from ...domain.reading import Way
from ...service.seen import Look
from .. import wording as w
from ..photos_view import WAYS
from ..wording import Taste
from .when import date_text

DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Moment:
    """One reading that counts."""

    reading: str
    """Its id."""
    label: str
    flat: str
    """Hash of the picture laid flat; empty: none."""
    inside: bool
    """It was taken in the session, not after its end."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One reading in the gallery, and its photos."""

    title: str
    about: str
    """When, by whom, how."""
    found: str
    state: str
    """'refused', 'replaced' or empty."""
    why: str
    notes: tuple[str, ...]
    """Warnings and marks."""
    photos: tuple[tuple[str, str], ...]
    """Hash of each photo as it came, and of the picture to show; the latter empty where the browser cannot show any."""


def ways(looks: Sequence[Look]) -> tuple[Way, ...]:
    """Ways that readings which count were taken by, the one with most of them first."""
    counts: dict[Way, int] = {}
    for look in looks:
        if _counts(look):
            counts[look.reading.way] = counts.get(look.reading.way, 0) + 1
    return tuple(sorted(counts, key=lambda way: -counts[way]))


def moments(looks: Sequence[Look], way: Way, ended_utc: str | None) -> tuple[Moment, ...]:
    """The readings of one way that count, the oldest first."""
    return tuple(
        Moment(
            reading=look.reading.id,
            label=label(look, ended_utc),
            flat=next((photo.flat for photo in look.pictures if photo.flat), ""),
            inside=bool(look.reading.session),
        )
        for look in sorted(looks, key=lambda look: w.moment(look.reading.taken_utc))
        if _counts(look) and look.reading.way is way
    )


def label(look: Look, ended_utc: str | None) -> str:
    """What people call a reading: its checkpoint, or how long after the end."""
    if look.reading.checkpoint:
        return look.reading.checkpoint
    if ended_utc is not None and not look.reading.session:
        days = (w.moment(look.reading.taken_utc) - w.moment(ended_utc)).total_seconds() / DAY_S
        return f"{days:.0f} day{'' if round(days) == 1 else 's'} after the end"
    return "outside a checkpoint"


def gallery(looks: Sequence[Look], ended_utc: str | None, taste: Taste) -> tuple[Shown, ...]:
    """All readings, the newest first, those that do not count too."""
    shown = []
    for look in reversed(looks):
        reading = look.reading
        instrument = reading.way is Way.INSTRUMENT
        state = "refused" if reading.refused else "replaced" if reading.superseded else ""
        unusable = sum(not cell.usable for cell in reading.cells)
        found = f"{len(reading.cells)} cells read"
        if unusable:
            found += f", {unusable} of them not usable"
        found += f"; a change under {reading.detection_limit_de00:.1f} ΔE00 cannot be told from none"
        shown.append(
            Shown(
                title=f"{'Instrument' if instrument else 'Photo'}, {label(look, ended_utc)}",
                about=f"{date_text(w.moment(reading.taken_utc), taste)}, {WAYS[reading.way]}, sent by {look.saved_by}",
                found="" if reading.refused else f"{found}.",
                state=state,
                why=reading.refused or ("Another reading took its place." if reading.superseded else ""),
                notes=(*reading.warnings, *(mark for cell in reading.cells for mark in cell.marks)),
                photos=tuple((photo.hash, photo.drawn) for photo in look.pictures),
            )
        )
    return tuple(shown)


def _counts(look: Look) -> bool:
    return not look.reading.refused and not look.reading.superseded
