"""How white a paper is, on one scale: its reflectance for blue light, as the eye's own blue band sees it.

Yellowed paper takes blue light. Z / Zn of a colour is that reflectance, and L* and b* hold its cube root exactly:
f = (L* + 16) / 116 - b* / 200. From it come the K/S of Kubelka and Munk, which the coloured matter is proportional to
and in which a first-order course is exponential, and the *gain*: the part of a change that makes paper whiter, in ΔE00.

The gain is a signed and straight measure, chosen before anything is seen, so noise does not make it positive: a cell
that did not change gains 0 on average, while its ΔE00 is never 0. It is never more than the ΔE00.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..colour.difference import de00
from ..colour.paper import ks, reflectance_of_ks

Array = NDArray[np.float64]

_BLUE = np.array([1 / 116, 0.0, -1 / 200])
"""Slope of f along L*, a*, b*."""
_NUDGE = 0.1
"""Width over which ΔE00 is taken as straight."""
_DARKEST = 0.1
"""f of the darkest paper treated as such: a thousandth of the light."""


def blue(lab: ArrayLike) -> float:
    """Cube root of the blue reflectance Z / Zn of a colour L*, a*, b* (3,). Example: (82, 2.5, 18): 0.7548."""
    return float(np.asarray(lab, dtype=float) @ _BLUE) + 16 / 116


def u_blue(u_lab: ArrayLike) -> float:
    """Standard uncertainty of `blue` from those of L*, a*, b* (3,)."""
    return float(np.linalg.norm(np.asarray(u_lab, dtype=float) * _BLUE))


def metric(lab: ArrayLike) -> Array:
    """The matrix G (3, 3) near a colour: a small change d looks as large as sqrt(d G d) in ΔE00."""
    middle, axes = np.asarray(lab, dtype=float), np.eye(3)
    pairs = np.array([axes[i] + axes[j] if i != j else axes[i] for i in range(3) for j in range(3)])
    square = ((de00(middle - pairs * _NUDGE / 2, middle + pairs * _NUDGE / 2) / _NUDGE) ** 2).reshape(3, 3)
    own = np.diag(square)
    return np.where(np.eye(3, dtype=bool), square, (square - own[:, None] - own[None, :]) / 2)


def de00_per_blue(g: Array) -> float:
    """ΔE00 of a unit step of `blue` in the direction that changes it most for what one sees, by the metric there."""
    return 1 / math.sqrt(_BLUE @ np.linalg.solve(g, _BLUE))


def ks_of_blue(value: float) -> float:
    """K/S of the blue reflectance. Example: 0.7548, a reflectance of 0.43: 0.378."""
    return float(ks(max(value, _DARKEST) ** 3))


def u_ks_of_blue(value: float, u: float) -> float:
    """Standard uncertainty of `ks_of_blue`: d(K/S)/dR = (1 - 1/R^2) / 2 and dR/df = 3 f^2."""
    f = max(value, _DARKEST)
    return abs((1 - f**-6) / 2 * 3 * f**2) * u


def blue_of_ks(k_s: float) -> float:
    """The inverse of `ks_of_blue`; below 0 counts as 0, the perfect white."""
    return float(np.cbrt(reflectance_of_ks(max(k_s, 0.0))))
