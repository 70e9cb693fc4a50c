"""Yellowness and whiteness indices from XYZ."""

import numpy as np
from numpy.typing import ArrayLike

from .spaces import Array

YELLOWNESS: dict[tuple[str, int], tuple[float, float]] = {
    ("C", 2): (1.2769, 1.0592),
    ("D65", 2): (1.2985, 1.1335),
    ("C", 10): (1.2871, 1.0781),
    ("D65", 10): (1.3013, 1.1498),
}
"""Cx, Cz by illuminant and observer. ASTM E313, restated in colour-science."""

_X10, _Y10 = 0.3138, 0.3310
"""Chromaticity of D65, 10 degree observer, as ISO 11475 prints it (from memory; computed 0.31382, 0.33100)."""


def yellowness_e313(xyz: ArrayLike, illuminant: str = "D65", observer_deg: int = 10) -> Array:
    """Yellowness index YI of ASTM E313, XYZ (..., 3) under that illuminant and observer.

    Only D65 and C are tabled: values under D50 must come from a spectrum or be adapted first, with the 2 degree
    coefficients. Example: XYZ (95, 100, 105), D65, 2 degrees: 4.34.
    """
    cx, cz = YELLOWNESS[illuminant, observer_deg]
    x, y, z = np.moveaxis(np.asarray(xyz, dtype=float), -1, 0)
    return np.asarray(100 * (cx * x - cz * z) / y)


def whiteness_cie(xyz_d65_10: ArrayLike) -> float | None:
    """CIE whiteness W of one colour, XYZ under D65 and the 10 degree observer; None where the formula is not valid.

    Valid: 40 < W < 5 Y - 280 and -4 < tint < 2 (CIE 15:2004 section 9.1; the limits of tint from memory). Aged paper
    lies outside: give it b*, yellowness or brightness. Example: (94.811, 100, 107.304): 100.
    """
    x, y, z = np.asarray(xyz_d65_10, dtype=float)
    total = x + y + z
    if not total > 0:
        return None
    dx, dy = _X10 - x / total, _Y10 - y / total
    w, tint = y + 800 * dx + 1700 * dy, 900 * dx - 650 * dy
    return float(w) if 40 < w < 5 * y - 280 and -4 < tint < 2 else None
