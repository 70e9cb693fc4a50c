"""Electrical power of the zones, known or estimated, and the highest sum that is lit at once."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..domain.chamber import Chamber, Zone
from ..light.estimate import lamp_w
from ..light.forecast import AirModel as AirModel
from ..light.forecast import Series, Stretch, fit
from .defaults import ZONE_AREA_M2


@dataclass(frozen=True, slots=True)
class Power:
    """What the lamps of a plan draw."""

    peak_w: float
    """Highest sum lit at once, W."""
    peak_s: float
    """Session time at which it begins, s."""
    energy_wh: float
    """All of the plan, Wh."""
    ceiling_w: float | None
    """What the chamber allows, W; None: no ceiling."""
    estimated: tuple[str, ...]
    """Zones whose lamp power is not given and was worked out from irradiance and area."""


def zone_power_w(zone: Zone) -> float:
    """A zone's electrical power at full level, W: as given, or worked out from irradiance and area."""
    if zone.lamp_w is not None:
        return zone.lamp_w
    area_m2 = zone.place.width_mm * zone.place.height_mm * 1e-6 if zone.place else ZONE_AREA_M2.value
    return lamp_w(zone.irradiance_w_m2, area_m2)


def powers_w(chamber: Chamber) -> tuple[float, ...]:
    """Every zone's electrical power at full level, W, in the chamber's order."""
    return tuple(zone_power_w(zone) for zone in chamber.zones)


def lamp_powers_w(chamber: Chamber) -> dict[str, float]:
    """The same by the zones' names."""
    return dict(zip((zone.name for zone in chamber.zones), powers_w(chamber), strict=True))


def power(chamber: Chamber, pieces: Sequence[Stretch]) -> Power:
    """What a program draws, from its stretches of constant level."""
    full = powers_w(chamber)
    drawn = [sum(w * level for w, level in zip(full, piece.levels, strict=True)) for piece in pieces]
    peak = max(range(len(drawn)), key=drawn.__getitem__, default=None)
    return Power(
        peak_w=drawn[peak] if peak is not None else 0.0,
        peak_s=pieces[peak].start_s if peak is not None else 0.0,
        energy_wh=sum(w * (piece.end_s - piece.start_s) for w, piece in zip(drawn, pieces, strict=True)) / 3600,
        ceiling_w=chamber.power_w_max,
        estimated=tuple(zone.name for zone in chamber.zones if zone.lamp_w is None),
    )


def air_model(chamber: Chamber, air_history: Sequence[Series] = ()) -> AirModel:
    """How the chamber's air answers its lamps, fitted to earlier sessions, oldest first; without them its design.

    The fit takes long beside all the rest: keep its answer until there is another session or another chamber.
    """
    return fit(air_history, powers_w(chamber))
