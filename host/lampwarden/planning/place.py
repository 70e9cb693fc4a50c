"""Cells on the zones of a chamber, and which treatment each gets: by hand, or drawn by lot."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from pydantic import ValidationError

from ..domain.chamber import Chamber, Place, Zone
from ..domain.program_file import sentences
from ..domain.sheet import Cell, Sheet, Treatment
from ..errors import ProgramError
from ..trial.layout import complete_blocks, latin_square
from .defaults import CELL_GAP_MM, CELL_SHARE

Blocks = Literal["one", "rows", "columns"]
PER_ZONE_MAX = 9


@dataclass(frozen=True, slots=True)
class Arm:
    """One treatment of a trial, as it is drawn to cells."""

    title: str
    treatment: Treatment
    dose_j_cm2: float = 0.0
    """Dose its zone is to get, J/cm2; 0 for a treatment without light."""
    control: bool = False


@dataclass(frozen=True, slots=True)
class Drawn:
    """A sheet whose treatments were drawn by lot."""

    sheet: Sheet
    """With treatments, roles, blocks, replicates and the seed."""
    arms: Mapping[str, str]
    """Cell by cell the title of its arm, as a plan keeps it."""
    dose_j_cm2: Mapping[str, float]
    """Zone by zone the dose it must give; zones without a cell are left out."""
    method: str
    """How it was drawn, for the record."""


def changed(sheet: Sheet, **changes: object) -> Sheet:
    """The sheet with some fields changed, checked as a whole. Raises ProgramError with a sentence."""
    fields = {name: getattr(sheet, name) for name in Sheet.model_fields}
    try:
        return Sheet(**{**fields, **changes})
    except ValidationError as error:
        raise ProgramError(sentences(error)) from None


def on_zones(
    chamber: Chamber,
    sheet: Sheet,
    zones: Sequence[str] | None = None,
    per_zone: int = 1,
    share: float = CELL_SHARE.value,
) -> Sheet:
    """The sheet with new cells, `per_zone` (1 to 9) in the middle of each of these zones; None: of all.

    The zones' common rectangle lies in the middle of the sheet. `share` is the side of a zone's cells together as a
    share of the zone's, in whole mm. Zones without a place stand in rows over the whole sheet. Treatments are left open
    to the person. Raises ProgramError if the sheet is too small or a zone unknown.
    """
    wanted = [zone.name for zone in chamber.zones] if zones is None else list(zones)
    known = {zone.name: zone for zone in chamber.zones}
    for name in wanted:
        if name not in known:
            raise ProgramError(f"The chamber has no zone '{name}'; its zones are {', '.join(known)}.")
    if not wanted or len(set(wanted)) != len(wanted):
        raise ProgramError("Name at least one zone, and each only once.")
    if not 1 <= per_zone <= PER_ZONE_MAX or not 0.1 <= share <= 1:
        raise ProgramError(f"Give 1 to {PER_ZONE_MAX} cells to a zone, and a share from 0.1 to 1.")
    places = places_on(chamber, sheet)
    cells = []
    for name in wanted:
        place, gap = places[name], CELL_GAP_MM.value
        columns = math.ceil(math.sqrt(per_zone))
        rows = math.ceil(per_zone / columns)
        width = round((place.width_mm * share - gap * (columns - 1)) / columns)
        height = round((place.height_mm * share - gap * (rows - 1)) / rows)
        if width < 1 or height < 1:
            raise ProgramError(f"Zone '{name}' is too small for {per_zone} cells. Lay out fewer.")
        left = round(place.x_mm + (place.width_mm - columns * width - (columns - 1) * gap) / 2)
        top = round(place.y_mm + (place.height_mm - rows * height - (rows - 1) * gap) / 2)
        for index in range(per_zone):
            row, column = divmod(index, columns)
            cells.append(
                Cell(
                    name=_cell_name(known[name], chamber, index if per_zone > 1 else None),
                    zone=name,
                    x_mm=left + column * (width + gap),
                    y_mm=top + row * (height + gap),
                    width_mm=width,
                    height_mm=height,
                )
            )
    return changed(sheet, cells=tuple(cells), layout_seed=None)


def places_on(chamber: Chamber, sheet: Sheet) -> dict[str, Place]:
    """Each zone's place on the sheet, mm. Raises ProgramError if they do not lie on it."""
    placed = {zone.name: zone.place for zone in chamber.zones if zone.place}
    if len(placed) < len(chamber.zones):
        columns = math.ceil(math.sqrt(len(chamber.zones)))
        rows = math.ceil(len(chamber.zones) / columns)
        width, height = sheet.width_mm / columns, sheet.height_mm / rows
        return {
            zone.name: Place(
                x_mm=index % columns * width, y_mm=index // columns * height, width_mm=width, height_mm=height
            )
            for index, zone in enumerate(chamber.zones)
        }
    left = min(place.x_mm for place in placed.values())
    top = min(place.y_mm for place in placed.values())
    right = max(place.x_mm + place.width_mm for place in placed.values())
    bottom = max(place.y_mm + place.height_mm for place in placed.values())
    dx, dy = (sheet.width_mm - right - left) / 2, (sheet.height_mm - bottom - top) / 2
    if left + dx < -1e-6 or top + dy < -1e-6:
        raise ProgramError(
            f"The zones cover {right - left:g} x {bottom - top:g} mm, more than the sheet of {sheet.width_mm:g} x"
            f" {sheet.height_mm:g} mm. Lay out cells by hand on the part that lies under the lamps."
        )
    return {
        name: place.model_copy(update={"x_mm": max(place.x_mm + dx, 0.0), "y_mm": max(place.y_mm + dy, 0.0)})
        for name, place in placed.items()
    }


def _cell_name(zone: Zone, chamber: Chamber, index: int | None) -> str:
    """Short name of a zone's cell: the zone's own where it is short enough, else Z and its number."""
    name = zone.name
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9-]{0,5}", name):
        name = f"Z{chamber.zone_index(zone.name) + 1}"
    return name if index is None else f"{name}-{index + 1}"


def assign(sheet: Sheet, cells: Sequence[str], treatment: Treatment, role: str | None = None) -> Sheet:
    """The sheet with this treatment given to these cells by hand, and a role if one is named.

    Replicates are counted anew and the seed is dropped: what was drawn is no longer so.
    """
    unknown = set(cells) - {cell.name for cell in sheet.cells}
    if unknown:
        raise ProgramError(f"The sheet has no cell '{min(unknown)}'.")
    new = {"treatment": treatment} | ({"role": role} if role else {})
    given = [_cell(cell, **new) if cell.name in cells else cell for cell in sheet.cells]
    return changed(sheet, cells=_counted(given), layout_seed=None)


def blocks_of(sheet: Sheet, blocks: Blocks) -> dict[str, tuple[str, ...]]:
    """Cells by block, as rows or columns of the sheet, from the top and from the left; 'one': all in one block."""
    if blocks == "one":
        return {"1": tuple(cell.name for cell in sheet.cells)}
    by_rows = blocks == "rows"

    def along(cell: Cell) -> float:
        return cell.y_mm + cell.height_mm / 2 if by_rows else cell.x_mm + cell.width_mm / 2

    def across(cell: Cell) -> float:
        return cell.x_mm if by_rows else cell.y_mm

    lines: list[list[Cell]] = []
    for cell in sorted(sheet.cells, key=along):
        half = (cell.height_mm if by_rows else cell.width_mm) / 2
        if lines and along(cell) - along(lines[-1][0]) < half:
            lines[-1].append(cell)
        else:
            lines.append([cell])
    return {str(n): tuple(c.name for c in sorted(line, key=across)) for n, line in enumerate(lines, start=1)}


def draw(sheet: Sheet, arms: Sequence[Arm], seed: int, blocks: Blocks = "one", square: bool = False) -> Drawn:
    """The arms drawn to the sheet's cells by lot: each once in every block, or as a Latin square of rows and columns.

    With one block of more cells than arms, each arm comes as often as it fits (cells must be a multiple). A dark cell
    under a lit zone is covered. Raises ProgramError if cells and arms do not fit, or if two cells of one zone would
    need different doses.
    """
    titles = [arm.title for arm in arms]
    if square:
        drawn = latin_square(titles, list(blocks_of(sheet, "rows").values()), seed)
        home = drawn.blocks
    else:
        rooms = blocks_of(sheet, blocks)
        if blocks == "one" and titles and len(sheet.cells) > len(titles) and len(sheet.cells) % len(titles) == 0:
            names = rooms["1"]
            rooms = {str(i + 1): names[i * len(arms) : (i + 1) * len(arms)] for i in range(len(names) // len(arms))}
        drawn = complete_blocks(titles, rooms, seed)
        home = drawn.blocks
    by_title = {arm.title: arm for arm in arms}
    doses: dict[str, float] = {}
    for cell in sheet.cells:
        arm = by_title[drawn.arms[cell.name]]
        if not arm.treatment.light:
            doses.setdefault(cell.zone, 0.0)
        elif doses.get(cell.zone, 0.0) in (0.0, arm.dose_j_cm2):
            doses[cell.zone] = arm.dose_j_cm2
        else:
            raise ProgramError(
                f"Zone '{cell.zone}' would have to give {doses[cell.zone]:g} and {arm.dose_j_cm2:g} J/cm² at once."
                " Lay out one cell to a zone, or draw treatments of equal dose."
            )
    numbers = {name: number for number, name in enumerate(dict.fromkeys(home.values()), start=1)}
    cells = []
    for cell in sheet.cells:
        arm = by_title[drawn.arms[cell.name]]
        treatment = arm.treatment
        if doses[cell.zone] and not treatment.light:
            treatment = treatment.model_copy(update={"covered": True})
        cells.append(
            _cell(
                cell,
                treatment=treatment,
                role="control" if arm.control else "test",
                block=numbers[home[cell.name]],
                ink="",
            )
        )
    return Drawn(changed(sheet, cells=_counted(cells), layout_seed=seed), dict(drawn.arms), doses, drawn.method)


def _cell(cell: Cell, **changes: object) -> Cell:
    return Cell.model_validate({**{name: getattr(cell, name) for name in Cell.model_fields}, **changes})


def _counted(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """The same cells, replicates of each treatment counted in order."""
    seen: dict[tuple[str, str], int] = {}
    counted = []
    for cell in cells:
        key = (cell.treatment.label, cell.role)
        seen[key] = seen.get(key, 0) + 1
        counted.append(cell.model_copy(update={"replicate": min(seen[key], 99)}))
    return tuple(counted)
