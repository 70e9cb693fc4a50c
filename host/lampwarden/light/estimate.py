"""Irradiance and power worked out before anything is measured: good for a first plan, not for a record."""

import math
from dataclasses import dataclass

from ..errors import ProgramError
from .defaults import LAMP_SHARE, OPTICS_SHARE, VIEWING_ANGLE_DEG


@dataclass(frozen=True, slots=True)
class Estimate:
    """Irradiance at the sheet as far as flux, distance and area tell."""

    mean_w_m2: float
    """Mean over the zone if no wall sends light back."""
    centre_w_m2: float
    """In the middle of the zone."""
    edge_w_m2: float
    """At the zone's edge (of a disc of the same area)."""
    highest_w_m2: float
    """Mean if walls sent all light down to the zone: the truth lies between this and mean_w_m2."""
    assumptions: tuple[str, ...]
    """What was taken for granted, as sentences."""


def irradiance(
    radiant_flux_w: float,
    distance_m: float,
    area_m2: float,
    *,
    viewing_angle_deg: float = VIEWING_ANGLE_DEG.value,
    window_share: float = 1.0,
) -> Estimate:
    """Irradiance from radiant flux (W, light and not electrical power), distance (m) and area of the zone (m2).

    A small lamp above the middle, intensity I(t) = I(0) cos^m t with m from the full viewing angle at half intensity
    (120 degrees: m = 1, Lambert). The share within the half angle T is 1 - cos^(m+1) T (integral over the cone), on the
    axis E = (m + 1) flux / (2 pi d^2), at the edge cos^(m+3) T of that. Raises ProgramError for impossible inputs.
    Example: 3 W, 0.10 m, 0.03 m2, 120 degrees: mean 48.8, centre 95.5, edge 25.0, highest 100 W/m2.
    """
    for name, value, unit in (
        ("radiant flux", radiant_flux_w, "W"),
        ("distance", distance_m, "m"),
        ("area", area_m2, "m²"),
    ):
        if not 0 < value < math.inf:
            raise ProgramError(f"The {name} is {value:g} {unit}; give one above 0.")
    if not 5 <= viewing_angle_deg <= 170:
        raise ProgramError(f"The viewing angle is {viewing_angle_deg:g}°; give the full angle, 5 to 170°.")
    if not 0 < window_share <= 1:
        raise ProgramError(f"The window lets {window_share:g} through; give a share above 0 and up to 1.")
    order = math.log(0.5) / math.log(math.cos(math.radians(viewing_angle_deg / 2)))
    cosine = distance_m / math.hypot(distance_m, math.sqrt(area_m2 / math.pi))
    flux_w = radiant_flux_w * window_share
    highest = flux_w / area_m2
    centre = (order + 1) * flux_w / (2 * math.pi * distance_m**2)
    return Estimate(
        mean_w_m2=highest * (1 - cosine ** (order + 1)),
        centre_w_m2=centre,
        edge_w_m2=centre * cosine ** (order + 3),
        highest_w_m2=highest,
        assumptions=(
            f"One small lamp above the middle of the zone, {viewing_angle_deg:.0f}° viewing angle.",
            "A wide array is more even: its middle gets less, its edge more.",
            "The zone counts as a disc of the same area, flat under the lamp.",
            "Walls send nothing back for the mean, everything for the highest; the truth lies between.",
            f"The window lets {100 * window_share:.0f} % through.",
            "The LEDs give their data sheet's flux, cold and new.",
            "An estimate like this can be off by half. Measure before a dose goes into a record.",
        ),
    )


def lamp_w(irradiance_w_m2: float, area_m2: float) -> float:
    """Electrical power of a zone at full level, W, from irradiance (W/m2) and area (m2) by the two default shares.

    Example: 100 W/m2 on 0.03 m2 = 8.57 W (hardware_notes/thermal.md).
    """
    return irradiance_w_m2 * area_m2 / (OPTICS_SHARE.value * LAMP_SHARE.value)
