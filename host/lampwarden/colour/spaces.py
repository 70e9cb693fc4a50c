"""XYZ, CIELAB, chromatic adaptation, and RGB as photos and screens use it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

WHITES: dict[str, tuple[float, float, float]] = {
    "D50": (96.42, 100.0, 82.51),
    "D65": (95.04, 100.0, 108.88),
    "C": (98.07, 100.0, 118.22),
}
"""XYZ of the perfect white, 2 degree observer. CIE 15:2004, Table T.3 (from memory; within 0.02 of colour-science)."""

_EDGE = (6 / 29) ** 3
_SLOPE = (29 / 6) ** 2 / 3

# Bradford cone responses: Lam 1985, as in ICC.1:2010 Annex E (restated in colour-science, compared in a test).
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

PRIMARIES: dict[str, tuple[tuple[float, float], ...]] = {
    "sRGB": ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
    "Display P3": ((0.68, 0.32), (0.265, 0.69), (0.15, 0.06)),
}
"""xy of red, green and blue; white is D65. IEC 61966-2-1 and SMPTE EG 432-1 (restated in colour-science)."""


def white(name: str) -> Array:
    """XYZ of the perfect white under 'D50', 'D65' or 'C', shape (3,)."""
    return np.array(WHITES[name])


def to_lab(xyz: ArrayLike, illuminant: str = "D50") -> Array:
    """CIELAB of XYZ, (..., 3). CIE 15:2004 eqs. 8.3 to 8.11."""
    ratio = np.asarray(xyz, dtype=float) / white(illuminant)
    f = np.where(ratio > _EDGE, np.cbrt(ratio), _SLOPE * ratio + 4 / 29)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack((116 * y - 16, 500 * (x - y), 200 * (y - z)), axis=-1)


def to_xyz(lab: ArrayLike, illuminant: str = "D50") -> Array:
    """XYZ of CIELAB, (..., 3): the inverse of `to_lab`."""
    lab = np.asarray(lab, dtype=float)
    y = (lab[..., 0] + 16) / 116
    f = np.stack((y + lab[..., 1] / 500, y, y - lab[..., 2] / 200), axis=-1)
    return np.asarray(np.where(f > 6 / 29, f**3, (f - 4 / 29) / _SLOPE) * white(illuminant))


def adapt(xyz: ArrayLike, source: str, target: str) -> Array:
    """XYZ of the corresponding colour under another illuminant, (..., 3): the linear Bradford transform of the ICC.

    It is exact for neutrals, and an estimate for the rest: only a spectrum knows how a colour looks elsewhere.
    """
    gains = (_BRADFORD @ white(target)) / (_BRADFORD @ white(source))
    matrix = np.linalg.inv(_BRADFORD) @ (gains[:, None] * _BRADFORD)
    return np.asarray(np.asarray(xyz, dtype=float) @ matrix.T)


def lab_d65_of_d50(lab_d50: ArrayLike) -> Array:
    """CIELAB under D65 of CIELAB under D50, (..., 3), by chromatic adaptation."""
    return to_lab(adapt(to_xyz(lab_d50), "D50", "D65"), "D65")


def rgb_to_xyz_d50(primaries: str = "sRGB") -> Array:
    """The matrix (3, 3) from linear RGB, 0..1, to XYZ under D50, by Bradford."""
    xy = np.array(PRIMARIES[primaries])
    columns = np.stack((xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(axis=1)) / xy[:, 1]))
    matrix = columns * np.linalg.solve(columns, white("D65"))
    return adapt(matrix.T, "D65", "D50").T


def srgb_linear(encoded: ArrayLike) -> Array:
    """Linear light of values encoded as sRGB or Display P3, both 0..1, any shape. IEC 61966-2-1."""
    v = np.asarray(encoded, dtype=float)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0.04045) + 0.055) / 1.055) ** 2.4)


def srgb_encoded(linear: ArrayLike) -> Array:
    """Values encoded as sRGB of linear light, both 0..1, any shape: the inverse of `srgb_linear`."""
    v = np.asarray(linear, dtype=float)
    return np.where(v <= 0.0031308, v * 12.92, 1.055 * np.maximum(v, 0.0031308) ** (1 / 2.4) - 0.055)


def screen_hex(lab_d50: ArrayLike) -> str:
    """One colour for a page, such as '#d9c7a4'. What a screen cannot show is clipped."""
    linear = np.linalg.solve(rgb_to_xyz_d50(), to_xyz(lab_d50))
    red, green, blue = np.rint(255 * srgb_encoded(np.clip(linear, 0, 1))).astype(int)
    return f"#{red:02x}{green:02x}{blue:02x}"
