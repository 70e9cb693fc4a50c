"""A spectrum of light at the sheet, from Gaussian bands, and what integrals over it give."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import ProgramError
from .defaults import UV_FOOT_SHARE, WIDTH_NM

Array = NDArray[np.float64]

GRID_NM: Array = np.arange(300.0, 831.0)
"""Wavelengths on which bands are drawn, nm: from the lower end of the blue-light hazard to the end of sight."""


@dataclass(frozen=True, slots=True)
class Band:
    """One Gaussian band of light."""

    peak_nm: float
    """Wavelength of the strongest light, nm, 350..780."""
    irradiance_w_m2: float
    """All of the band's light at the sheet, W/m2, above 0."""
    width_nm: float = WIDTH_NM.value
    """Full width at half height, nm, 3..150."""

    def __post_init__(self) -> None:
        for name, value, low, high in (
            ("peak", self.peak_nm, 350, 780),
            ("width at half height", self.width_nm, 3, 150),
        ):
            if not low <= value <= high:
                raise ProgramError(f"The {name} of a band is {value:g} nm; give one from {low} to {high} nm.")
        if not 0 < self.irradiance_w_m2 < float("inf"):
            raise ProgramError(f"The irradiance of a band is {self.irradiance_w_m2:g} W/m²; give one above 0.")


@dataclass(frozen=True, slots=True, eq=False)
class Spectrum:
    """Spectral irradiance at the sheet. Between its points it runs straight; outside it is dark."""

    wavelength_nm: Array
    """Ascending, shape (n,)."""
    w_m2_nm: Array
    """Spectral irradiance, W/(m2 nm), not negative, shape (n,)."""

    def integral(self, weight: Callable[[Array], Array] | None = None) -> float:
        """Integral of E(l) w(l) dl in W/m2 by the trapezoidal rule; w = 1 if none is given.

        `weight` maps wavelengths in nm, shape (n,), to weights of the same shape.
        """
        values = self.w_m2_nm if weight is None else self.w_m2_nm * weight(self.wavelength_nm)
        return float(np.trapezoid(values, self.wavelength_nm))

    @property
    def irradiance_w_m2(self) -> float:
        """All of its light, W/m2."""
        return self.integral()

    @property
    def mean_nm(self) -> float:
        """Mean wavelength weighted by energy, nm. Photon counts need just this one number."""
        return self.integral(lambda nm: nm) / self.integral()

    @property
    def peak_nm(self) -> float:
        """Wavelength of the strongest light, nm."""
        return float(self.wavelength_nm[np.argmax(self.w_m2_nm)])

    @property
    def foot_nm(self) -> float:
        """Shortest wavelength with 1 % of the peak, nm, on the straight line between two points."""
        floor = UV_FOOT_SHARE.value * self.w_m2_nm.max()
        first = int(np.argmax(self.w_m2_nm >= floor))
        before = max(first - 1, 0)
        return float(np.interp(floor, self.w_m2_nm[before : first + 1], self.wavelength_nm[before : first + 1]))

    def share(self, low_nm: float, high_nm: float) -> float:
        """Share 0..1 of its light between two wavelengths in nm."""
        low_nm, high_nm = max(low_nm, self.wavelength_nm[0]), min(high_nm, self.wavelength_nm[-1])
        if not low_nm < high_nm:
            return 0.0
        between = self.wavelength_nm[(self.wavelength_nm > low_nm) & (self.wavelength_nm < high_nm)]
        inside = np.concatenate([[low_nm], between, [high_nm]])
        return float(np.trapezoid(np.interp(inside, self.wavelength_nm, self.w_m2_nm), inside)) / self.integral()

    def with_irradiance(self, irradiance_w_m2: float) -> "Spectrum":
        """The same shape with this total, W/m2: for a level, or for a curve measured in relative units."""
        return Spectrum(self.wavelength_nm, self.w_m2_nm * (irradiance_w_m2 / self.integral()))

    def shifted(self, by_nm: float) -> "Spectrum":
        """The same shape moved along by some nm."""
        return Spectrum(self.wavelength_nm + by_nm, self.w_m2_nm)


def of_bands(bands: Sequence[Band]) -> Spectrum:
    """The sum of some Gaussian bands, each with exactly its irradiance. Raises ProgramError if there is none.

    E(l) proportional to exp(-4 ln2 ((l - peak) / width)^2). Real LEDs have a longer foot towards long waves.
    Example: one band of 435 nm, 20 nm wide, has fallen to 1 % of its peak at 409 nm.
    """
    if not bands:
        raise ProgramError("This light has no band; give at least one.")
    total = np.zeros_like(GRID_NM)
    for band in bands:
        shape = np.exp(-4 * np.log(2) * ((GRID_NM - band.peak_nm) / band.width_nm) ** 2)
        total += shape * (band.irradiance_w_m2 / float(np.trapezoid(shape, GRID_NM)))
    return Spectrum(GRID_NM, total)


def of_band(peak_nm: float, irradiance_w_m2: float, width_nm: float = WIDTH_NM.value) -> Spectrum:
    """The spectrum of one band: peak in nm, irradiance in W/m2, width at half height in nm."""
    return of_bands([Band(peak_nm, irradiance_w_m2, width_nm)])
