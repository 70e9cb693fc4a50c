"""Paper's own scale: reflectance near 457 nm, Kubelka-Munk's K/S and the post-colour number."""

import numpy as np
from numpy.typing import ArrayLike

from .spaces import WHITES, Array

_BRIGHTNESS_NM = np.arange(400.0, 511.0, 5.0)
_BRIGHTNESS = np.array([
    1.0, 2.9, 6.7, 12.1, 18.2, 25.8, 34.5, 44.9, 57.6, 70.0, 82.5, 94.1, 100.0,
    99.3, 88.7, 72.5, 53.1, 34.0, 20.3, 11.1, 5.6, 2.2, 0.3,
])  # fmt: skip
"""Weights of ISO brightness (ISO 2470-1), from memory; their centre is 457.2 nm."""


def iso_brightness_pct(wavelength_nm: ArrayLike, reflectance_pct: ArrayLike) -> Array:
    """ISO brightness R457, per cent, of reflectance (..., n) at wavelengths (n,) that reach from 400 to 510 nm.

    Straight lines between the points given. The geometry must be d/0 for the name; 45/0 values are not the same.
    Raises ValueError if the wavelengths do not rise or leave part of the band out.
    """
    nm, r = np.asarray(wavelength_nm, dtype=float), np.asarray(reflectance_pct, dtype=float)
    if np.any(np.diff(nm) <= 0) or nm[0] > 400 or nm[-1] < 510:
        raise ValueError("brightness needs reflectance from 400 to 510 nm, in rising order")
    at = np.apply_along_axis(lambda values: np.interp(_BRIGHTNESS_NM, nm, values), -1, r)
    return np.asarray(at @ _BRIGHTNESS / _BRIGHTNESS.sum())


R457_U_PCT = 0.25
"""Standard uncertainty of the estimate below from the shape of the spectrum alone, percentage points: for 4000 spectra
whose K/S falls exponentially towards red, as that of yellowed paper does, it was 0.07, at most 0.21 (computed)."""


def r457_from_xyz_d50(xyz_d50: ArrayLike) -> Array:
    """Reflectance near 457 nm, per cent, estimated from XYZ under D50 (..., 3): for paper without brightener or print.

    It is Z on the scale of the perfect white: z-bar times D50 has its centre near 455 nm. Not an ISO brightness.
    """
    return np.asarray(np.asarray(xyz_d50, dtype=float)[..., 2] * (100 / WHITES["D50"][2]))


def ks(reflectance: ArrayLike) -> Array:
    """K/S of an opaque pile, from decimal reflectance in 0..1. Kubelka-Munk; 0.70 gives 0.06429."""
    r = np.asarray(reflectance, dtype=float)
    return np.asarray((1 - r) ** 2 / (2 * r))


def reflectance_of_ks(k_s: ArrayLike) -> Array:
    """Decimal reflectance of a K/S: the inverse of `ks`."""
    k = np.asarray(k_s, dtype=float)
    return np.asarray(1 + k - np.sqrt(k**2 + 2 * k))


def post_colour_number(before: ArrayLike, after: ArrayLike) -> Array:
    """100 times the gain in K/S at 457 nm, from decimal reflectances; positive is darker. 0.70 to 0.75 gives -2.26.

    R. Feller, Comments on the Measurement of Yellowness, BPG Annual 6 (1987).
    """
    return np.asarray(100 * (ks(after) - ks(before)))
