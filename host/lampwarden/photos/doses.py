"""What each cell had got by the time of a reading, from the light each zone had given. Pure."""

from collections.abc import Sequence

from ..domain.chamber import Chamber
from ..domain.sheet import Sheet
from ..domain.units import dose_j_cm2
from ..light.leakage import leakage


def cell_doses_j_cm2(sheet: Sheet, chamber: Chamber, lit_s: Sequence[float]) -> dict[str, float]:
    """Dose by cell, J/cm2, stray light of lit neighbours included; 0 under a cover.

    `lit_s`: level-weighted light of each zone, s, shape (zones,). A cell under a zone the chamber lacks is left out.
    """
    zones = [zone.name for zone in chamber.zones]
    home = {cell.name: cell.zone for cell in sheet.cells if cell.zone in zones}
    if not home:
        return {}
    leaks = {(leak.from_zone, leak.to_zone): leak.share for leak in chamber.leaks}
    strays = {
        (cell, zone): leaks[zone, own]
        for cell, own in home.items()
        for zone in zones
        if zone != own and (zone, own) in leaks
    }
    given = [dose_j_cm2(zone.irradiance_w_m2, s) for zone, s in zip(chamber.zones, lit_s, strict=True)]
    arrived = leakage(home, zones, strays).received(given)
    covered = {cell.name for cell in sheet.cells if cell.treatment.covered}
    return {name: 0.0 if name in covered else float(dose) for name, dose in zip(home, arrived, strict=True)}
