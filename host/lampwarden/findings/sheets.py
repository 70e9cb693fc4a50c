"""One treatment over several sheets. Here the sheet is the unit: each was treated by itself, and each gives one number.

The effect on a sheet is its gain over the control of the same sheet. Effects scatter by measuring and, beyond that,
from sheet to sheet; the second is estimated after Paule and Mandel (1982), and the mean's interval is Student's with
one degree of freedom less than there are sheets (Hartung and Knapp 2001). Where sheets scatter no more than measuring
explains, the interval is not made narrower for that.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from ..light.roots import zero_of
from ..trial.defaults import ALIKE_SHARE
from .change import Z_95
from .conclude import Conclusions
from .defaults import EQUAL_DE00
from .treatments import Arm

Array = NDArray[np.float64]

SHEETS_LEAST = 3
"""With fewer sheets nothing can be said of how much sheets differ."""
DOSE_TRACE_J_CM2 = 1.0
"""Doses this near to each other count as the same whatever their share."""


@dataclass(frozen=True, slots=True)
class SheetEffect:
    """What one treatment did on one sheet, more than the control there, ΔE00."""

    sheet: str
    """Its id."""
    arm: str
    """What the treatment is called on that sheet."""
    dose_j_cm2: float
    difference: float
    u: float
    """Standard error within the sheet."""
    low: float
    high: float
    """95 %, for this sheet alone."""


@dataclass(frozen=True, slots=True)
class OverSheets:
    """One treatment over the sheets that got it."""

    treatment: str
    effects: tuple[SheetEffect, ...]
    mean: float | None
    """None: one sheet only."""
    low: float | None
    high: float | None
    """95 %; None with fewer sheets than SHEETS_LEAST."""
    between: float | None
    """Standard deviation from sheet to sheet beyond what measuring explains, ΔE00."""
    verdict: str


def alike(one: Arm, other: Arm) -> bool:
    """Both are the same treatment at about the same dose."""
    apart = abs(one.dose_j_cm2 - other.dose_j_cm2)
    near = max(DOSE_TRACE_J_CM2, ALIKE_SHARE.value * max(one.dose_j_cm2, other.dose_j_cm2))
    return (one.light, one.bath, one.control) == (other.light, other.bath, other.control) and apart <= near


def given(arm: Arm) -> str:
    """What was given, whatever a person called it: 'light, about 60 J/cm² and water'."""
    parts = [f"light, about {arm.dose_j_cm2:.0f} J/cm²" if arm.light else "", arm.bath]
    told = " and ".join(part for part in parts if part) or "neither light nor bath"
    return f"{told} (control)" if arm.control else told


def over_sheets(found: Sequence[tuple[str, Conclusions]]) -> tuple[OverSheets, ...]:
    """Each treatment over the sheets (id, what was concluded), the one on most sheets first.

    A sheet without a control of its own has no effects: leave it out and say so.
    """
    groups: list[tuple[Arm, list[SheetEffect]]] = []
    for sheet, of in found:
        for arm in of.arms:
            effect = _effect(sheet, of, arm)
            if effect is None:
                continue
            # Where two treatments of a sheet look alike, such as baths of other length, their names tell them apart.
            fitting = [g for g in groups if alike(g[0], arm) and all(each.sheet != sheet for each in g[1])]
            group = next((g for g in fitting if g[1][0].arm == arm.name), fitting[0] if fitting else None)
            if group is None:
                groups.append((arm, [effect]))
            else:
                group[1].append(effect)
    ordered = sorted(groups, key=lambda g: (-len(g[1]), g[0].bath, g[0].light, g[0].dose_j_cm2))
    return tuple(_over(arm, effects) for arm, effects in ordered)


def combined(effects: Array, variances: Array) -> tuple[float, float, float]:
    """Mean of effects with known variances, its standard error, and the variance between them; all shape (n,), n >= 2.

    The variance between is the root of Paule and Mandel's equation, sum w (x - mean)² = n - 1 with
    w = 1 / (variance + between); 0 if the scatter is less than that. Example: 1.0, 2.0, 3.0 with variances of 0.01 give
    2.0, 0.577 and 0.99.
    """

    def excess(between: float) -> float:
        w = 1 / (variances + between)
        mean = np.sum(w * effects) / np.sum(w)
        return float(np.sum(w * (effects - mean) ** 2)) - (len(effects) - 1)

    most = float(np.var(effects, ddof=1)) * len(effects) + 1.0
    between = zero_of(excess, 0.0, most) if excess(0.0) > 0 else 0.0
    w = 1 / (variances + between)
    return float(np.sum(w * effects) / np.sum(w)), 1 / math.sqrt(float(np.sum(w))), between


def _effect(sheet: str, of: Conclusions, arm: Arm) -> SheetEffect | None:
    compared = of.comparison
    if compared is None or compared.control is None:
        return None
    contrast = next((each for each in compared.against_control if each.one == arm.name), None)
    if contrast is None:
        return None
    if compared.scatter_de00 is not None and compared.df is not None:
        shares = 1 / compared.units[arm.name] + 1 / compared.units[compared.control]
        u, times = compared.scatter_de00 * math.sqrt(shares), float(scipy.special.stdtrit(compared.df, 0.975))
    else:
        u, times = math.hypot(_u_mean(of, arm.name), _u_mean(of, compared.control)), Z_95
    half = times * u
    value = contrast.difference
    return SheetEffect(sheet, arm.name, arm.dose_j_cm2, value, u, value - half, value + half)


def _u_mean(of: Conclusions, arm: str) -> float:
    units = [unit.u_de00 for unit in of.units if unit.arm == arm]
    return math.hypot(*units) / len(units)


def _over(arm: Arm, effects: Sequence[SheetEffect]) -> OverSheets:
    count = len(effects)
    if count < 2:
        return OverSheets(given(arm), tuple(effects), None, None, None, None, "one sheet only")
    values, variances = np.array([e.difference for e in effects]), np.array([e.u**2 for e in effects])
    mean, u, between = combined(values, variances)
    if count < SHEETS_LEAST:
        return OverSheets(given(arm), tuple(effects), mean, None, None, None, "too few sheets to tell")
    half, near = float(scipy.special.stdtrit(count - 1, 0.975)) * u, float(scipy.special.stdtrit(count - 1, 0.95)) * u
    if abs(mean) > half:
        verdict = "whiter" if mean > 0 else "darker or yellower"
    else:
        verdict = (
            f"alike within ±{EQUAL_DE00.value:g} ΔE00" if abs(mean) + near < EQUAL_DE00.value else "not determined"
        )
    return OverSheets(given(arm), tuple(effects), mean, mean - half, mean + half, math.sqrt(between), verdict)
