"""CIEDE2000: how different two colours look."""

import numpy as np
from numpy.typing import ArrayLike

from .spaces import Array

_POW7 = 25.0**7


def de00(one: ArrayLike, two: ArrayLike) -> Array:
    """CIEDE2000 between CIELAB colours (..., 3), with kL = kC = kH = 1. Symmetric.

    G. Sharma, W. Wu, E. Dalal, The CIEDE2000 color-difference formula, Color Res. Appl. 30 (2005) 21-30.
    Example: (82, 2.5, 18) and (84, 1.8, 14) differ by 2.7331.
    """
    (l1, a1, b1), (l2, a2, b2) = (np.moveaxis(np.asarray(lab, dtype=float), -1, 0) for lab in (one, two))
    mean7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + _POW7))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    grey = c1 * c2 == 0

    dl, dc = l2 - l1, c2 - c1
    turn = h2 - h1
    dh = np.where(grey, 0.0, turn - 360 * (turn > 180) + 360 * (turn < -180))
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh) / 2)

    lightness, chroma, hues = (l1 + l2) / 2, (c1 + c2) / 2, h1 + h2
    hue = np.where(np.abs(turn) <= 180, hues / 2, np.where(hues < 360, hues / 2 + 180, hues / 2 - 180))
    hue = np.where(grey, hues, hue)

    def cosine(times: float, less: float) -> Array:
        return np.asarray(np.cos(np.radians(times * hue - less)))

    t = 1 - 0.17 * cosine(1, 30) + 0.24 * cosine(2, 0) + 0.32 * cosine(3, -6) - 0.20 * cosine(4, 63)
    off50 = (lightness - 50) ** 2
    s_l = 1 + 0.015 * off50 / np.sqrt(20 + off50)
    s_c, s_h = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    chroma7 = chroma**7
    twist = -np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2)))) * 2 * np.sqrt(chroma7 / (chroma7 + _POW7))
    by_l, by_c, by_h = dl / s_l, dc / s_c, dh / s_h
    return np.asarray(np.sqrt(by_l**2 + by_c**2 + by_h**2 + twist * by_c * by_h))


def u_de00(lab: ArrayLike, u_lab: ArrayLike) -> Array:
    """Root mean square CIEDE2000 that independent standard uncertainties of L*, a*, b* amount to near a colour.

    Both (..., 3); the result (...). Each coordinate is moved by its own uncertainty and the distances are added in
    quadrature, which is exact for small ones but for the hue-chroma term of blue colours.
    """
    lab, u_lab = np.asarray(lab, dtype=float), np.asarray(u_lab, dtype=float)
    steps = [de00(lab - move / 2, lab + move / 2) for move in np.moveaxis(u_lab[..., None] * np.eye(3), -2, 0)]
    return np.asarray(np.sqrt(sum(step**2 for step in steps)))
