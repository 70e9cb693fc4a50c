"""What a person does to a sheet and its cells, each step a new sheet, or ProgramError with a sentence. Pure."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ....domain.chamber import Chamber, Place
from ....domain.sheet import Cell, Sheet
from ....errors import ProgramError
from ....planning.place import changed, on_zones, places_on

CELL_MM_MIN = 5
"""Shortest edge of a cell, mm: what is shorter was a slip of the hand."""
CELL_MM = 30
"""Edge of a new cell that was not drawn, mm."""
GAP_MM = 8
"""Between a new cell and the others, mm: the mask needs 6 mm to hold together, and a little more for the names."""
_COPY_TITLE_MAX = 40


@dataclass(frozen=True, slots=True)
class Box:
    """An area of the sheet, whole mm."""

    x: float
    y: float
    width: float
    height: float


def box_of(cell: Cell) -> Box:
    """The area of a cell."""
    return Box(cell.x_mm, cell.y_mm, cell.width_mm, cell.height_mm)


def places(chamber: Chamber, sheet: Sheet) -> dict[str, Place]:
    """Where each zone's light falls on the sheet, mm; empty if the zones are wider than the sheet."""
    try:
        return dict(places_on(chamber, sheet))
    except ProgramError:
        return {}


def cell_named(sheet: Sheet, name: str) -> Cell:
    """Raises ProgramError if there is none."""
    for cell in sheet.cells:
        if cell.name == name:
            return cell
    raise ProgramError(f"There is no cell '{name}' any more.")


def put(sheet: Sheet, chamber: Chamber, name: str, box: Box) -> Sheet:
    """The cell at another place or size. Its zone becomes the one under its middle, if there is one."""
    cell_named(sheet, name)
    zone = zone_under(sheet, chamber, box)
    return with_cell(sheet, name, **_area(sheet, box), **({"zone": zone} if zone else {}))


def with_cell(sheet: Sheet, cell_name: str, **fields: object) -> Sheet:
    """The sheet with some fields of one cell changed."""
    cells: list[object] = [{**cell.model_dump(), **fields} if cell.name == cell_name else cell for cell in sheet.cells]
    return changed(sheet, cells=tuple(cells))


def add(sheet: Sheet, chamber: Chamber, box: Box | None = None) -> tuple[Sheet, str]:
    """The sheet with one more cell, and its name; None: of the usual size, in the first free place."""
    area = box or _free(sheet, chamber, CELL_MM, CELL_MM)
    zone = zone_under(sheet, chamber, area) or chamber.zones[0].name
    name = free_name(sheet, zone)
    new = {"name": name, "zone": zone, **_area(sheet, area)}
    return changed(sheet, cells=(*sheet.cells, new)), name


def copy_cell(sheet: Sheet, chamber: Chamber, name: str) -> tuple[Sheet, str]:
    """The sheet with a copy of a cell in the first free place, and the copy's name."""
    cell = cell_named(sheet, name)
    box = _free(sheet, chamber, cell.width_mm, cell.height_mm)
    zone = zone_under(sheet, chamber, box) or cell.zone
    new = cell.model_dump() | {"name": free_name(sheet, zone), "zone": zone} | _area(sheet, box)
    new["replicate"] = min(99, 1 + sum(c.treatment == cell.treatment and c.role == cell.role for c in sheet.cells))
    return changed(sheet, cells=(*sheet.cells, new)), str(new["name"])


def remove(sheet: Sheet, names: Sequence[str]) -> Sheet:
    """The sheet without these cells."""
    return changed(sheet, cells=tuple(cell for cell in sheet.cells if cell.name not in names))


def one_to_a_zone(sheet: Sheet, chamber: Chamber) -> Sheet:
    """The sheet with a cell in the middle of each zone that has none yet."""
    taken = {cell.zone for cell in sheet.cells}
    empty = [zone.name for zone in chamber.zones if zone.name not in taken]
    if not empty:
        raise ProgramError("Every zone has a cell already.")
    fresh = []
    for cell in on_zones(chamber, changed(sheet, cells=()), empty).cells:
        left, top = math.ceil(cell.x_mm), math.ceil(cell.y_mm)
        right, bottom = math.floor(cell.x_mm + cell.width_mm), math.floor(cell.y_mm + cell.height_mm)
        whole = {"x_mm": left, "y_mm": top, "width_mm": right - left, "height_mm": bottom - top}
        fresh.append(cell.model_dump() | whole | {"name": free_name(sheet, cell.name)})
    return changed(sheet, cells=(*sheet.cells, *fresh))


def rename(sheet: Sheet, name: str, new: str) -> Sheet:
    """The cell under another name."""
    cell_named(sheet, name)
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9-]{0,7}", new):
        raise ProgramError("A name is a letter, then up to 7 letters, digits or hyphens: B2, B2-left.")
    if new != name and any(cell.name == new for cell in sheet.cells):
        raise ProgramError(f"There is a cell '{new}' already.")
    return with_cell(sheet, name, name=new)


def zone_under(sheet: Sheet, chamber: Chamber, box: Box) -> str:
    """The zone whose light falls on the middle of the area; empty: none, or the zones' places are not known."""
    if any(zone.place is None for zone in chamber.zones):
        return ""
    x, y = box.x + box.width / 2, box.y + box.height / 2
    for name, place in places(chamber, sheet).items():
        if place.x_mm <= x <= place.x_mm + place.width_mm and place.y_mm <= y <= place.y_mm + place.height_mm:
            return name
    return ""


def free_name(sheet: Sheet, zone: str) -> str:
    """A short name for a new cell: the zone's own, or with a number: 'A1', 'A1-2'."""
    taken = {cell.name for cell in sheet.cells}
    stem = zone if re.fullmatch(r"[A-Za-z][A-Za-z0-9-]{0,4}", zone) else "C"
    if stem not in taken and stem != "C":
        return stem
    number = 2 if stem != "C" else 1
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def slug(title: str, taken: Sequence[str]) -> str:
    """A short id made of a title, not among those taken: 'Harbour Line, 1912' gives 'harbour-line-1912'."""
    plain = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")[:28].strip("-") or "sheet"
    if plain not in taken:
        return plain
    number = 2
    while f"{plain}-{number}" in taken:
        number += 1
    return f"{plain}-{number}"


def copy_title(title: str) -> str:
    """'X, copy', cut to what a title may be."""
    return f"{title[: _COPY_TITLE_MAX - 6].rstrip()}, copy"


def _area(sheet: Sheet, box: Box) -> dict[str, float]:
    """The box as fields of a cell. Raises ProgramError if it is tiny or reaches beyond the sheet."""
    if box.width < CELL_MM_MIN or box.height < CELL_MM_MIN:
        raise ProgramError(f"A cell needs at least {CELL_MM_MIN} mm on each side.")
    if box.x < 0 or box.y < 0:
        raise ProgramError("A cell cannot begin left of or above the sheet: 0 mm is its edge.")
    for edge, end, size in (
        ("right", box.x + box.width, sheet.width_mm),
        ("lower", box.y + box.height, sheet.height_mm),
    ):
        if end > size + 1e-6:
            raise ProgramError(f"The cell would reach to {end:g} mm, over the sheet's {edge} edge at {size:g} mm.")
    return {"x_mm": box.x, "y_mm": box.y, "width_mm": box.width, "height_mm": box.height}


def _free(sheet: Sheet, chamber: Chamber, width: float, height: float) -> Box:
    """The first free place for a cell of this size, from the middle of empty zones on, else from the upper left."""
    taken = {cell.zone for cell in sheet.cells}
    candidates = [
        (place.x_mm + (place.width_mm - width) / 2, place.y_mm + (place.height_mm - height) / 2)
        for name, place in places(chamber, sheet).items()
        if name not in taken
    ]
    across, down = int(max(0, sheet.width_mm - width)), int(max(0, sheet.height_mm - height))
    candidates += [(x, y) for y in range(0, down + 1, 4) for x in range(0, across + 1, 4)]
    for x, y in candidates:
        box = Box(round(x), round(y), width, height)
        inside = box.x >= 0 and box.y >= 0 and box.x + width <= sheet.width_mm and box.y + height <= sheet.height_mm
        if inside and all(_apart(box, box_of(cell)) for cell in sheet.cells):
            return box
    raise ProgramError(
        f"There is no free place for {width:g} x {height:g} mm. Make cells smaller, or move them closer."
    )


def _apart(one: Box, other: Box) -> bool:
    """True if GAP_MM lie between the two."""
    return (
        one.x >= other.x + other.width + GAP_MM
        or other.x >= one.x + one.width + GAP_MM
        or one.y >= other.y + other.height + GAP_MM
        or other.y >= one.y + one.height + GAP_MM
    )
