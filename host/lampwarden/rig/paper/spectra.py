"""Spectra on one grid of wavelengths, and the true CIELAB of a reflectance.

Sums over 400..700 nm in steps of 10 nm, CIE 1931 2 degree observer. Against sums over 360..830 nm in steps of 1 nm,
CIELAB of papers and inks differs by some 0.1: the simulated world is measured by its own standard throughout.
"""

from functools import cache
from importlib.resources import files
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]
"""Numbers of double precision unless something else is said."""

WAVELENGTHS_NM: Array = np.arange(400.0, 701.0, 10.0)
"""The grid, shape (31,)."""
_BRIGHTNESS = (1.0, 6.7, 18.2, 34.5, 57.6, 82.5, 100.0, 88.7, 53.1, 20.3, 5.6, 0.3)
"""ISO 2470-1 brightness weights at 400, 410 .. 510 nm (from memory)."""


@cache
def _tables() -> Array:
    """Columns x, y, z, D50, D65 on the grid, shape (31, 5); read from the file beside this one."""
    text = (files(__package__) / "cie.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith(("#", "nm"))]
    return np.array([[float(value) for value in line.split(",")[1:]] for line in lines])


def matching_functions() -> Array:
    """CIE 1931 colour matching functions, shape (31, 3)."""
    return _tables()[:, :3]


def daylight(illuminant: Literal["d50", "d65"]) -> Array:
    """Relative spectral power of a CIE daylight, shape (31,)."""
    return _tables()[:, 3 if illuminant == "d50" else 4]


def lab(reflectance: Array, illuminant: Literal["d50", "d65"] = "d50") -> Array:
    """CIELAB of reflectance, shape (..., 31) in 0..1, lit by this daylight; shape (..., 3).

    CIE 15:2018 eqs. 8.3 to 8.8. Example: 1 everywhere is L 100, a 0, b 0.
    """
    weights = matching_functions() * daylight(illuminant)[:, None]
    ratio = reflectance @ weights / weights.sum(axis=0)
    edge = 6 / 29
    f = np.where(ratio > edge**3, np.cbrt(ratio), ratio / (3 * edge**2) + 4 / 29)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])],
        axis=-1,
    )


def r457_pct(reflectance: Array) -> Array:
    """ISO brightness of reflectance, shape (..., 31) in 0..1, per cent; shape (...)."""
    weights = np.array(_BRIGHTNESS)
    found: Array = 100 * (reflectance[..., : len(weights)] @ weights) / weights.sum()
    return found


def from_ks(ks: Array) -> Array:
    """Reflectance of an opaque pile from K/S: 1 + k - sqrt(k^2 + 2 k) (Kubelka and Munk). 0.25 gives 0.5."""
    found: Array = 1 + ks - np.sqrt(ks * ks + 2 * ks)
    return found


def to_ks(reflectance: Array) -> Array:
    """K/S from reflectance: (1 - R)^2 / (2 R). 0.5 gives 0.25."""
    found: Array = (1 - reflectance) ** 2 / (2 * reflectance)
    return found
