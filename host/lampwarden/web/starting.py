"""What the offer to start a program shows. Pure."""

from dataclasses import dataclass

from ..domain.chamber import Chamber
from ..domain.program import Program
from ..domain.units import duration_text
from ..keeper import Snapshot, preflight
from . import wording as w
from .wording import Taste


@dataclass(frozen=True, slots=True)
class Offer:
    """One program, before it is begun."""

    title: str
    notes: str
    length: str
    pauses: str
    zones: tuple[tuple[str, str], ...]
    """Zone and what it gets."""
    wrong: tuple[str, ...]
    """What has to be put right first; empty: it may begin."""


def offer(program: Program, snapshot: Snapshot, taste: Taste) -> Offer:
    """The program on this chamber as it stands now."""
    chamber = snapshot.chamber
    wrong = preflight(program, chamber, snapshot.board, snapshot.storage_trouble)
    attended = [c.name for c in program.checkpoints if c.attended]
    alone = len(program.checkpoints) - len(attended)
    pauses = f"{len(attended)} photo pauses with you: {w.listed(attended)}." if attended else "No pause needs you."
    if alone:
        pauses += f" {alone} more by a fixed camera."
    fits = not program.fits(chamber)
    return Offer(
        title=program.title,
        notes=program.notes.strip(),
        length=f"{duration_text(program.planned_session_s(chamber))}, and the pauses" if fits else "unknown",
        pauses=pauses,
        zones=_zones(program, chamber) if fits else (),
        wrong=tuple(w.in_scale(sentence, taste) for sentence in wrong),
    )


def _zones(program: Program, chamber: Chamber) -> tuple[tuple[str, str], ...]:
    rows = []
    doses, lit = program.planned_dose_j_cm2(chamber), program.planned_lit_s(chamber)
    for zone, dose, lit_s in zip(chamber.zones, doses, lit, strict=True):
        text = "no light"
        if lit_s > 0:
            text = f"{duration_text(lit_s)} of full light, {' or '.join(w.dose_texts(dose))}"
        rows.append((zone.name, text))
    return tuple(rows)
