"""Blue-light hazard to the eye: lit paper, a bare LED, and how long one may look.

The treatment band is where the eye is hurt most. The interlock protects, not these numbers: they say why it must.
Limits are those of IEC 62471:2006 and, for small sources, the stricter ones of Directive 2006/25/EC.
"""

import math
from dataclasses import dataclass

import numpy as np

from ..domain.units import duration_text
from ..errors import ProgramError
from .defaults import (
    BLUE_RADIANCE,
    BLUE_RADIANCE_DOSE,
    PAPER_REFLECTANCE,
    RISK_GROUP_2_W_M2_SR,
    RISK_GROUP_3_W_M2_SR,
    SMALL_SOURCE_DOSE_J_M2,
    SMALL_SOURCE_RAD,
    SMALL_SOURCE_W_M2,
)
from .evidence import Statement, Status
from .spectrum import Array, Spectrum

# B(l), 380-500 nm in steps of 5 nm: IEC 62471:2006 / ICNIRP 2013 Table 2, read in a public code that restates it.
_B = np.array([
    0.01, 0.013, 0.025, 0.05, 0.10, 0.20, 0.40, 0.80, 0.90, 0.95, 0.98, 1.00, 1.00,
    0.97, 0.94, 0.90, 0.80, 0.70, 0.62, 0.55, 0.45, 0.40, 0.22, 0.16, 0.10,
])  # fmt: skip
_B_NM = np.arange(380.0, 501.0, 5.0)

INTERLOCK_CAUTION = Statement(
    "This light is in the band that hurts the eye most, and the harm is not felt at the time. Never look into lit"
    " lamps. Never cheat the door switch: it must cut the lamps' supply in hardware. Unplug them before work on them.",
    "B(λ) of IEC 62471 is 0.94 to 1 between 430 and 450 nm; the door rule is ours",
    Status.PROPOSAL,
)


@dataclass(frozen=True, slots=True)
class Gaze:
    """Looking at one source."""

    blue_radiance_w_m2_sr: float
    """L_B, radiance weighted by B(l), W/(m2 sr)."""
    permitted_s: float | None
    """Longest look in a day, s; None: the limit is not reached."""
    statement: Statement


def blue_hazard(wavelength_nm: Array) -> Array:
    """B(l), 0..1, for wavelengths in nm, same shape; 0 outside 300-700 nm.

    Straight lines between the table's points: at least as strict as any curve through them that bends in logarithm.
    300-380 nm 0.01 (from memory), 500-600 nm 10^((450 - l)/50), above 0.001. Examples: 435 nm = 1, 525 nm = 0.0316.
    """
    blue = np.interp(wavelength_nm, _B_NM, _B)
    green = np.where(wavelength_nm <= 600, 10 ** ((450 - wavelength_nm) / 50), 0.001)
    inside = (wavelength_nm >= 300) & (wavelength_nm <= 700)
    values: Array = np.where(inside, np.where(wavelength_nm <= 500, blue, green), 0.0)
    return values


def blue_share(spectrum: Spectrum) -> float:
    """Mean B over this light, 0..1, weighted by energy. Example: a narrow band at 435 nm = 0.99."""
    return spectrum.integral(blue_hazard) / spectrum.irradiance_w_m2


def permitted_s(blue_radiance_w_m2_sr: float) -> float | None:
    """Longest look at a source that is not small, s; None if it may be looked at all day.

    t = 10^6 / L_B up to 10^4 s (eq. 4.5a), no limit where L_B <= 100 W/(m2 sr) (eq. 4.5b). One public code prints
    100 / L_B: that is wrong by a factor of 10^4. Example: 305,000 W/(m2 sr) = 3.3 s.
    """
    if blue_radiance_w_m2_sr <= BLUE_RADIANCE.value:
        return None
    return BLUE_RADIANCE_DOSE.value / blue_radiance_w_m2_sr


def permitted_small_s(blue_irradiance_w_m2: float) -> float | None:
    """The same for a source that the eye sees under less than 11 mrad, by E_B at the eye, W/m2.

    t = 100 / E_B up to 10^4 s, no limit where E_B <= 0.01 W/m2 (Directive 2006/25/EC, from memory). IEC 62471 lets
    1 W/m2 pass after 100 s; the stricter is taken.
    """
    if blue_irradiance_w_m2 <= SMALL_SOURCE_W_M2.value:
        return None
    return SMALL_SOURCE_DOSE_J_M2.value / blue_irradiance_w_m2


def look_at_paper(spectrum: Spectrum, reflectance: float = PAPER_REFLECTANCE.value) -> Gaze:
    """Looking at matt paper under this light: L = reflectance E / pi.

    Example: 300 W/m2 at 450 nm, reflectance 0.8: L_B = 71.8 W/(m2 sr), no limit.
    """
    radiance = reflectance * spectrum.integral(blue_hazard) / math.pi
    longest = permitted_s(radiance)
    return Gaze(
        radiance, longest, _statement(f"White paper under {spectrum.irradiance_w_m2:.0f} W/m²", radiance, longest)
    )


def look_at_led(radiant_flux_w: float, area_mm2: float, spectrum: Spectrum, distance_m: float = 0.2) -> Gaze:
    """Looking into a bare Lambertian LED of this flux (W) and shining area (mm2), from a distance (m).

    L = flux / (pi area). `spectrum` gives the shape only. Under 11 mrad the rule for small sources holds, with
    E_B = L_B area / d^2. Example: 1 W from 1 mm2 at 450 nm: L_B = 3.0e5 W/(m2 sr), reached in 3.3 s if it is not small.
    Raises ProgramError for impossible inputs.
    """
    for name, value in (("flux", radiant_flux_w), ("shining area", area_mm2), ("distance", distance_m)):
        if not 0 < value < math.inf:
            raise ProgramError(f"The LED's {name} is {value:g}; give one above 0.")
    area_m2 = area_mm2 * 1e-6
    radiance = radiant_flux_w * blue_share(spectrum) / (math.pi * area_m2)
    if math.sqrt(area_m2) / distance_m < SMALL_SOURCE_RAD.value:
        longest = permitted_small_s(radiance * area_m2 / distance_m**2)
    else:
        longest = permitted_s(radiance)
    what = f"A bare LED of {radiant_flux_w:g} W on {area_mm2:g} mm², seen from {distance_m * 100:.0f} cm"
    return Gaze(radiance, longest, _statement(what, radiance, longest))


def _statement(what: str, radiance: float, longest_s: float | None) -> Statement:
    group = ""
    if radiance > RISK_GROUP_3_W_M2_SR.value:
        group = " (risk group 3, from memory)"
    elif radiance > RISK_GROUP_2_W_M2_SR.value:
        group = " (risk group 2, from memory)"
    time = "reaches no limit" if longest_s is None else f"reaches the day's limit after {_short(longest_s)}"
    return Statement(
        f"{what} has a blue-weighted radiance of {_digits(radiance)} W/(m² sr){group} and {time}."
        " The limits are for healthy adult eyes; children and eyes without a lens bear less.",
        "IEC 62471:2006 eq. 4.5a, 4.5b, restated; small sources by Directive 2006/25/EC, from memory",
        Status.RESTATED,
    )


def _digits(value: float) -> str:
    return f"{value:.1f}" if value < 1000 else f"{value:,.0f}"


def _short(seconds: float) -> str:
    return f"{seconds:.1f} s" if seconds < 60 else duration_text(seconds)
