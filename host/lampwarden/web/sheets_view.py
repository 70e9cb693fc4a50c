"""What the page Sheets says: paper, inks, cells and treatments in words, and the drawing as plain numbers. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..care.cautions import Weight, cautions
from ..care.peroxide import confirmation_sentence, is_peroxide, strength_cautions
from ..domain.chamber import Chamber, Place
from ..domain.sheet import Cell, InkKind, PaperKind, Sheet, Treatment
from ..errors import ProgramError
from ..light.evidence import Statement
from ..mask.layout import PAPERS as PRINT_PAPERS
from ..mask.layout import lay_out
from ..planning.place import blocks_of
from ..trial.controls import missing_controls
from . import wording as w
from .wording import Taste

PAPERS: Mapping[PaperKind, tuple[str, str]] = {
    PaperKind.RAG: (
        "Rag",
        "Linen or cotton: most sheets before 1850 and fine papers since. Strong, hardly any lignin.",
    ),
    PaperKind.CHEMICAL: ("Chemical wood", "Wood cooked until most lignin is gone: books, letters, better prints."),
    PaperKind.GROUNDWOOD: (
        "Groundwood",
        "Ground wood with all its lignin: newspapers, timetables. Light brightens it, then it yellows again.",
    ),
    PaperKind.COATED: ("Coated", "A smooth layer of clay or chalk for pictures. It sticks and dissolves when wet."),
    PaperKind.UNKNOWN: (
        "Not known",
        "The cautions for groundwood are shown. A drop of test solution on a scrap tells.",
    ),
}
"""Each kind of paper in words: name and one line."""

INKS: Mapping[InkKind, str] = {
    InkKind.CARBON_BLACK: "Soot in oil: ordinary printing black. Lasting; it only gets warmer than the paper.",
    InkKind.PHTHALO: "Strong blues and greens since about 1935. Among the most lasting.",
    InkKind.MINERAL: "Earths and ultramarine last; vermilion darkens in light for good, and Prussian blue fades.",
    InkKind.ORGANIC_RED_YELLOW: "Reds, oranges, yellows of later prints. They absorb this light and may fade first.",
    InkKind.DYE: "Aniline inks, stamps, felt pens. May fade, and may run when wet.",
    InkKind.IRON_GALL: "Old handwriting, brown-black. Keep it out of light and out of peroxide.",
    InkKind.UNKNOWN: "Treated as a colour that fades, until you know better.",
}
"""Each kind of ink in one line; a kind without a line says nothing."""

SIZINGS = ("gelatin", "alum-rosin", "none", "unknown")
CHEMICALS = ("hydrogen peroxide", "calcium hydroxide")
ROLES = {
    "test": "test: compared with the controls",
    "control": "control: what the others are compared with",
    "ink watch": "ink watch: warns when an ink fades",
}
LOT = {
    "one": "over the whole sheet",
    "rows": "each treatment once in every row",
    "columns": "each treatment once in every column",
    "square": "Latin square: once in every row and every column",
}
"""Ways to draw treatments by lot, in words."""


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence and where it is from."""

    text: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One sheet in the list."""

    id: str
    title: str
    about: str
    cells: str
    saved: str


@dataclass(frozen=True, slots=True)
class CellRow:
    """One cell in the table."""

    name: str
    zone: str
    size: str
    treatment: str
    role: str
    group: str
    """Block and replicate."""
    chosen: bool
    caution: str


@dataclass(frozen=True, slots=True)
class MaskView:
    """Whether the mask can be made."""

    says: str
    wrong: tuple[str, ...]
    """Why it cannot, a sentence each; empty: it can."""
    papers: Mapping[str, str]
    """Paper sizes it fits on, by the name the mask knows; the smallest first."""


def row(sheet: Sheet, revision: int, saved_utc: str, now: datetime, taste: Taste) -> SheetRow:
    """A sheet for the list."""
    count = len(sheet.cells)
    return SheetRow(
        id=sheet.id,
        title=sheet.title,
        about=about(sheet),
        cells=f"{count} {'cell' if count == 1 else 'cells'}" if count else "no cells yet",
        saved=f"version {revision}, {w.clock_text(w.moment(saved_utc), now, taste)}",
    )


def about(sheet: Sheet) -> str:
    """The sheet in one line: 'Test piece, groundwood, 240 x 160 mm'."""
    kind = "Original" if sheet.original else "Test piece"
    paper = PAPERS[sheet.paper][0].lower() if sheet.paper is not PaperKind.UNKNOWN else "paper not known"
    return f"{kind}, {paper}, {sheet.width_mm:g} × {sheet.height_mm:g} mm"


def treatment_words(treatment: Treatment) -> str:
    """A treatment in words: 'light', 'hydrogen peroxide 3 %, dark, 30 min', 'light, in plain water for 10 min'."""
    if treatment.wet_min and not treatment.chemical:
        where = "light" if treatment.light else "covered" if treatment.covered else "dark"
        return f"{where}, in plain water for {treatment.wet_min:g} min"
    return f"{treatment.label}, {treatment.wet_min:g} min" if treatment.wet_min else treatment.label


def short_treatment(treatment: Treatment) -> str:
    """The same for the drawing, where there is little room: 'light + 3 %', 'covered', 'dark + water'."""
    where = "light" if treatment.light else "covered" if treatment.covered else "dark"
    wet = f"{treatment.strength_pct:g} %" if treatment.chemical else "water" if treatment.wet_min else ""
    if not wet and where == "dark":
        return "untreated"
    return f"{where} + {wet}" if wet else where


def cell_row(cell: Cell, zones: Mapping[str, Place], chosen: Sequence[str]) -> CellRow:
    """A cell for the table."""
    role = f"ink watch: {cell.ink}" if cell.role == "ink watch" and cell.ink else cell.role
    return CellRow(
        name=cell.name,
        zone=cell.zone,
        size=f"{cell.width_mm:g} × {cell.height_mm:g} mm",
        treatment=treatment_words(cell.treatment),
        role=role,
        group=f"{cell.block} / {cell.replicate}",
        chosen=cell.name in chosen,
        caution=off_light(cell, zones),
    )


def off_light(cell: Cell, zones: Mapping[str, Place]) -> str:
    """Where a cell does not lie wholly in the light of its zone, a sentence; else empty."""
    place = zones.get(cell.zone)
    if place is None or not zones:
        return ""
    inside = (
        cell.x_mm >= place.x_mm - 0.6
        and cell.y_mm >= place.y_mm - 0.6
        and cell.x_mm + cell.width_mm <= place.x_mm + place.width_mm + 0.6
        and cell.y_mm + cell.height_mm <= place.y_mm + place.height_mm + 0.6
    )
    return "" if inside else f"{cell.name} reaches out of zone {cell.zone}'s light, where less light falls."


def board(
    sheet: Sheet, zones: Mapping[str, Place], chosen: Sequence[str], photo: str, *, drawing: bool, seq: int
) -> dict[str, Any]:
    """The drawing for the browser, mm. `photo`: address of the sheet's picture, or empty; `seq`: last change heard."""
    return {
        "width": sheet.width_mm,
        "height": sheet.height_mm,
        "photo": photo,
        "drawing": drawing,
        "seq": seq,
        "zones": [
            {"name": name, "x": place.x_mm, "y": place.y_mm, "width": place.width_mm, "height": place.height_mm}
            for name, place in zones.items()
        ],
        "cells": [
            {
                "name": cell.name,
                "x": cell.x_mm,
                "y": cell.y_mm,
                "width": cell.width_mm,
                "height": cell.height_mm,
                "kind": "light" if cell.treatment.light else "covered" if cell.treatment.covered else "dark",
                "wet": bool(cell.treatment.chemical or cell.treatment.wet_min),
                "words": short_treatment(cell.treatment),
                "says": f"Cell {cell.name}, zone {cell.zone}, {treatment_words(cell.treatment)}",
                "chosen": cell.name in chosen,
            }
            for cell in sheet.cells
        ],
    }


def zones_words(chamber: Chamber, zones: Mapping[str, Place]) -> str:
    """Where the drawing of the zones comes from."""
    if not zones:
        return (
            "The chamber's zones are wider than this sheet, so they are not drawn. Lay the sheet under the lamps you"
            " mean, and name each cell's zone by hand."
        )
    if any(zone.place is None for zone in chamber.zones):
        return (
            "Where each zone's light falls is not described in the chamber's file, so the zones are only sketched:"
            " name each cell's zone by hand."
        )
    return "Thin frames show where each zone's light falls when the sheet lies in the middle of the zones."


def original_caution(sheet: Sheet) -> tuple[str, ...]:
    """What to know about the choice between original and test piece, and about consent."""
    lit = (Treatment(light=True),)
    wanted = ("original", "consent")
    return tuple(c.statement.text for c in cautions(sheet, lit) if c.key in wanted)


def bath_cautions(chemical: str, strength_pct: float | None) -> tuple[str, ...]:
    """What to know about a bath of this strength; empty up to 3 % of peroxide, and for other chemicals."""
    if strength_pct is None or not is_peroxide(Treatment(chemical=chemical, strength_pct=strength_pct)):
        return ()
    said = [statement.text for statement in strength_cautions(strength_pct)]
    if confirmation_sentence(strength_pct):
        said.append("From 8 % on, whoever starts the trial must confirm this by name.")
    return tuple(said)


def missing(sheet: Sheet) -> tuple[Said, ...]:
    """Controls that this trial lacks, the most needed first."""
    return tuple(map(_said, missing_controls([cell.treatment for cell in sheet.cells]))) if sheet.cells else ()


def missing_words(sheet: Sheet, missing: Sequence[Said]) -> str:
    """What to say while nothing is missing."""
    if not sheet.cells:
        return "Lay out cells and give them treatments; then this says which comparison is still missing."
    if not missing and all(treatment_words(cell.treatment) == "untreated" for cell in sheet.cells):
        return "No cell has a treatment yet."
    return "" if missing else "Nothing: the controls that can be asked for are there."


def advice(sheet: Sheet, chamber: Chamber) -> tuple[tuple[str, tuple[Said, ...]], ...]:
    """Cautions for this sheet and its treatments, by how much they ask for; groups that are empty are left out."""
    used = [zone.peak_nm for zone in chamber.zones if any(cell.zone == zone.name for cell in sheet.cells)]
    found = cautions(sheet, peak_nm=min(used, default=435.0))
    groups = (
        ("To be confirmed before a start", Weight.CONFIRM),
        ("Mind", Weight.CAUTION),
        ("Good to know", Weight.NOTE),
    )
    sorted_out = ((title, tuple(_said(c.statement) for c in found if c.weight is weight)) for title, weight in groups)
    return tuple((title, said) for title, said in sorted_out if said)


def mask_view(sheet: Sheet) -> MaskView:
    """Whether the sheet's mask can be cut, and on which papers it fits."""
    if not sheet.cells:
        return MaskView("Lay out cells first: the mask is cut along their edges.", (), {})
    fits: dict[str, str] = {}
    wrong = ""
    for name, paper in PRINT_PAPERS.items():
        smaller = [PRINT_PAPERS[other] for other in fits]
        if not any(p.width_mm <= paper.width_mm and p.height_mm <= paper.height_mm for p in smaller):
            try:
                lay_out(sheet, paper)
            except ProgramError as error:
                wrong = str(error)
                continue
        called = name.upper() if name.startswith("a") else name.capitalize()
        fits[name] = f"{called}, {paper.width_mm:g} × {paper.height_mm:g} mm"
    if fits:
        return MaskView(f"The mask fits on {next(iter(fits)).upper()} paper.", (), fits)
    return MaskView("The mask cannot be made like this:", tuple(_plain(wrong).splitlines()), {})


def lot(sheet: Sheet, treatments: int, how: str) -> tuple[str, bool]:
    """Whether so many treatments can be drawn to the cells in this way (a key of LOT), and what to do if not."""
    cells = len(sheet.cells)
    if treatments < 2:
        return "Put at least two treatments on the list.", False
    if how == "one":
        if cells % treatments or not cells:
            return (
                f"{cells} cells cannot be shared evenly among {treatments} treatments. Add or remove cells or"
                " treatments until they can."
            ), False
        times = cells // treatments
        return f"{cells} cells, {treatments} treatments: each comes {'once' if times == 1 else f'{times} times'}.", True
    line = "column" if how == "columns" else "row"
    lines = blocks_of(sheet, "columns" if how == "columns" else "rows")
    for number, names in lines.items():
        if len(names) != treatments:
            return (
                f"Each {line} needs {treatments} cells, one for each treatment; {line} {number} has {len(names)}.",
                False,
            )
    if how == "square" and len(lines) != treatments:
        return f"A Latin square of {treatments} treatments needs {treatments} rows; there are {len(lines)}.", False
    return f"{len(lines)} {line}s of {treatments} cells: each treatment comes once in every {line}.", bool(lines)


def lot_words(sheet: Sheet) -> str:
    """How the treatments came to their cells."""
    if not sheet.cells:
        return ""
    if sheet.layout_seed is None:
        return "The treatments were given by hand."
    return f"The treatments were drawn by lot with seed {sheet.layout_seed}. The same seed draws the same again."


def _said(statement: Statement) -> Said:
    return Said(statement.text, f"{statement.status}: {statement.source}")


def _plain(text: str) -> str:
    """The mask's message without the flags of its command."""
    return (
        text.replace("--paper ", "paper of ")
        .replace("Use --open-all for photos.", "Open at least one.")
        .replace("a smaller --chart", "a smaller chart")
    )
