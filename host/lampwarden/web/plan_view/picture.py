"""The zones as they lie in the chamber, seen from above, with the sheet's cells in them. Places are shares 0..1."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ...domain.chamber import Chamber, Place
from ...domain.plan import Plan
from ...domain.sheet import Cell, Sheet
from ...domain.units import dose_j_cm2
from . import entry

MARGIN_MM = 6.0
GRID_MM = 60.0
"""Side of a zone whose place is not described, mm."""


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle of the picture."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class ZoneArea:
    name: str
    area: Area
    dose: str
    time: str
    """Both 'dark' and empty if it gets no light."""
    strength: float
    """Its dose as a share of the highest, 0..1."""
    says: str


@dataclass(frozen=True, slots=True)
class CellArea:
    name: str
    area: Area
    covered: bool
    wet: bool
    says: str


@dataclass(frozen=True, slots=True)
class Picture:
    proportion: float
    """Width over height."""
    zones: tuple[ZoneArea, ...]
    cells: tuple[CellArea, ...]
    sheet: Area | None
    says: str


def picture(plan: Plan, chamber: Chamber, sheet: Sheet | None) -> Picture:
    """The chamber under this plan. Zones without a place stand in a grid."""
    places = _places(chamber)
    shift = _shift(places, sheet.cells) if sheet else None
    frames = list(places.values())
    if sheet and shift:
        frames.append(_Rect(shift[0], shift[1], sheet.width_mm, sheet.height_mm))
    left = min(f.x_mm for f in frames) - MARGIN_MM
    top = min(f.y_mm for f in frames) - MARGIN_MM
    width = max(f.x_mm + f.width_mm for f in frames) + MARGIN_MM - left
    height = max(f.y_mm + f.height_mm for f in frames) + MARGIN_MM - top

    def area(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Area:
        return Area((x_mm - left) / width, (y_mm - top) / height, width_mm / width, height_mm / height)

    lit = plan.program.planned_lit_s(chamber)
    doses = [dose_j_cm2(zone.irradiance_w_m2, lit_s) for zone, lit_s in zip(chamber.zones, lit, strict=True)]
    zones = []
    for zone, dose in zip(chamber.zones, doses, strict=True):
        place = places[zone.name]
        on_s = sum(e.planned_end_s(zone.irradiance_w_m2) - e.start_s for e in plan.program.exposures_of(zone.name))
        dose_words = f"{entry.dose_text(dose)} J/cm²" if dose else "dark"
        time_words = f"{entry.clock_field(60 * round(on_s / 60))} h" if dose else ""
        zones.append(
            ZoneArea(
                name=zone.name,
                area=area(place.x_mm, place.y_mm, place.width_mm, place.height_mm),
                dose=dose_words,
                time=time_words,
                strength=dose / max(doses) if dose else 0.0,
                says=f"Zone {zone.name}: {f'{dose_words} in {time_words}' if dose else 'stays dark'}",
            )
        )
    cells = []
    if sheet and shift:
        for cell in sheet.cells:
            cells.append(
                CellArea(
                    name=cell.name,
                    area=area(cell.x_mm + shift[0], cell.y_mm + shift[1], cell.width_mm, cell.height_mm),
                    covered=cell.treatment.covered,
                    wet=bool(cell.treatment.chemical),
                    says=f"Cell {cell.name} under zone {cell.zone}: {cell.treatment.label}",
                )
            )
    return Picture(
        proportion=width / height,
        zones=tuple(zones),
        cells=tuple(cells),
        sheet=area(*shift, sheet.width_mm, sheet.height_mm) if sheet and shift else None,
        says="The zones as they lie in the chamber, seen from above"
        + ("" if all(z.place for z in chamber.zones) else " (their places are not described, so in rows)"),
    )


@dataclass(frozen=True, slots=True)
class _Rect:
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


def _places(chamber: Chamber) -> dict[str, "Place | _Rect"]:
    if all(zone.place for zone in chamber.zones):
        return {zone.name: zone.place for zone in chamber.zones if zone.place}
    columns = math.ceil(math.sqrt(len(chamber.zones)))
    pitch = GRID_MM + MARGIN_MM
    return {
        zone.name: _Rect(index % columns * pitch, index // columns * pitch, GRID_MM, GRID_MM)
        for index, zone in enumerate(chamber.zones)
    }


def _shift(places: "dict[str, Place | _Rect]", cells: Sequence[Cell]) -> tuple[float, float] | None:
    """Where the sheet's corner lies so that its cells are under their zones, on the average; None without cells."""
    inside = [(cell, places[cell.zone]) for cell in cells if cell.zone in places]
    if not inside:
        return None
    dx = [p.x_mm + p.width_mm / 2 - c.x_mm - c.width_mm / 2 for c, p in inside]
    dy = [p.y_mm + p.height_mm / 2 - c.y_mm - c.height_mm / 2 for c, p in inside]
    return sum(dx) / len(dx), sum(dy) / len(dy)
