"""How much light damage a joule of this light does, per material, after CIE 157."""

import numpy as np

from .defaults import SLOPE_PER_NM, Material
from .evidence import Statement
from .spectrum import Array, Spectrum

COMPARED_NM = 450.0
"""Light is compared with this wavelength, nm: inside the band that bleaches best."""


def relative_damage(wavelength_nm: Array | float, slope_per_nm: float) -> Array:
    """s(l) = exp(-b (l - 300 nm)), 1 at 300 nm (CIE 157:2004 eq. 2.5); same shape as the wavelengths.

    Example: 435 nm at b = 0.0115 per nm = 0.2117.
    """
    factor: Array = np.exp(-slope_per_nm * (np.asarray(wavelength_nm, dtype=np.float64) - 300.0))
    return factor


def damage_per_joule(spectrum: Spectrum, material: Material) -> float:
    """Damage of a joule of this light, where a joule of 450 nm does 1. Example: 405 nm, rag paper = 1.76."""
    slope = SLOPE_PER_NM[material].value
    weighed = spectrum.integral(lambda nm: relative_damage(nm, slope))
    return float(weighed / spectrum.irradiance_w_m2 / relative_damage(COMPARED_NM, slope))


def damage_statement(spectrum: Spectrum, material: Material) -> Statement:
    """The same in words that say how sure they are."""
    slope = SLOPE_PER_NM[material]
    return Statement(
        f"For {material}, a joule of this light ({spectrum.peak_nm:.0f} nm) does"
        f" {damage_per_joule(spectrum, material):.2f} times the damage of a joule at {COMPARED_NM:.0f} nm,"
        f" by CIE 157 with b = {slope.value:g} per nm; this b is {slope.status}."
        " It ranks lamps; it does not say how much your sheet will change, nor whether it bleaches.",
        slope.source,
        slope.status,
    )
