"""What so many replicates can show: Dunnett's comparison of arms with one control, its critical value and power.

Dunnett 1955 (J. Am. Stat. Assoc. 50:1096): with arm i of n_i and the control of n_0 replicates the statistics
t_i = (mean_i - mean_0) / (s sqrt(1/n_i + 1/n_0)) share the control's error, with correlation b_i b_j where
b_i = sqrt(n_i / (n_i + n_0)). Given that shared error z and s they are independent, so

    P(all |t_i| < c) = E_s E_z  prod_i [ Phi((c s + b_i z)/sqrt(1 - b_i^2)) - Phi((-c s + b_i z)/sqrt(1 - b_i^2)) ]

which two Gauss rules integrate.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy
from numpy.polynomial.hermite_e import hermegauss
from numpy.polynomial.legendre import leggauss

from ..errors import ProgramError
from ..light.roots import zero_of
from ..light.spectrum import Array
from .defaults import ALPHA, POWER, SD_DE00, VISIBLE_DE00

NODES = 96
"""Nodes of both rules: critical values are good to 1e-4 from 3 degrees of freedom on (measured by doubling them)."""


@dataclass(frozen=True, slots=True)
class Detectable:
    """What a trial can show."""

    replicates: int
    """Independent cells of each arm, the control included."""
    error_df: int
    """Degrees of freedom left for the scatter."""
    critical_t: float | None
    allowance_de00: float | None
    """Half width of the interval around a found difference from the control."""
    difference_de00: float | None
    """Difference that is found with the wanted power. These three are None if nothing can be shown."""
    sentence: str


@lru_cache(maxsize=1)
def _rules() -> tuple[Array, Array, Array, Array]:
    """Nodes and weights for the control's error z, and for a share 0..1."""
    z, z_weight = hermegauss(NODES)
    u, u_weight = leggauss(NODES)
    return z, z_weight / z_weight.sum(), (u + 1) / 2, u_weight / 2


@lru_cache(maxsize=64)
def _scatter(df: float) -> tuple[Array, Array]:
    """Nodes and weights of s / sigma, the root of chi-square over df."""
    if math.isinf(df):
        return np.ones(1), np.ones(1)
    _, _, share, weight = _rules()
    return np.sqrt(scipy.special.chdtri(df, 1 - share) / df), weight


def critical_value(arms_n: Sequence[int], control_n: int, df: float, alpha: float = ALPHA.value) -> float:
    """Two-sided critical value of Dunnett's t for arms of these sizes against a control; df may be infinite.

    Example: three arms and a control of 4 each, 9 degrees of freedom, 5 %: 2.81.
    """
    sizes = list(arms_n)
    z, z_weight, _, _ = _rules()
    scale, scale_weight = _scatter(df)

    def inside(c: float) -> float:
        product = np.ones((len(scale), len(z)))
        for n in set(sizes):
            b = math.sqrt(n / (n + control_n))
            rest = math.sqrt(1 - b * b)
            upper = (c * scale[:, None] + b * z[None, :]) / rest
            lower = (-c * scale[:, None] + b * z[None, :]) / rest
            product *= (scipy.special.ndtr(upper) - scipy.special.ndtr(lower)) ** sizes.count(n)
        return float(scale_weight @ product @ z_weight)

    return math.exp(zero_of(lambda log_c: inside(math.exp(log_c)) - (1 - alpha), math.log(0.5), math.log(500.0)))


def comparison_power(difference: float, sd: float, n: int, df: float, critical_t: float) -> float:
    """Chance to find one arm's difference from the control, n replicates each, two-sided (noncentral t).

    Integrated here since scipy's noncentral t gives NaN for large shifts.
    Example: difference 1, SD 0.5, n 4, df 9, critical 2.81: 0.53.
    """
    shift = difference / (sd * math.sqrt(2 / n))
    scale, weight = _scatter(df)
    return float(
        weight @ (scipy.special.ndtr(shift - critical_t * scale) + scipy.special.ndtr(-critical_t * scale - shift))
    )


@lru_cache(maxsize=256)
def detectable(arms: int, replicates: int, *, blocked: bool = True, sd_de00: float = SD_DE00.value) -> Detectable:
    """What so many replicates show of each of `arms` arms against one control, for effects that scatter by `sd_de00`.

    Blocks (one cell of each arm and control in each) cost replicates - 1 degrees of freedom. Raises ProgramError unless
    there is an arm, a replicate and a scatter above 0.
    """
    if arms < 1 or replicates < 1 or not sd_de00 > 0:
        raise ProgramError("Give at least one arm beside the control, one replicate, and a scatter above 0 ΔE00.")
    df = arms * (replicates - 1) if blocked else (arms + 1) * (replicates - 1)
    count = "one arm" if arms == 1 else f"each of {arms} arms"
    if df < 1:
        return Detectable(
            replicates,
            0,
            None,
            None,
            None,
            f"With one cell of {count} and of the control, chance cannot be told from effect: this trial can"
            " show what to try next, but prove nothing. Repeat it, at least three times.",
        )
    critical = critical_value([replicates] * arms, replicates, df)
    step = sd_de00 * math.sqrt(2 / replicates)
    found = step * zero_of(
        lambda d: comparison_power(d, math.sqrt(0.5), 1, df, critical) - POWER.value, 0.0, 100 * critical
    )
    eye = (
        "finer than the eye"
        if found <= VISIBLE_DE00.value
        else f"more than the {VISIBLE_DE00} that the eye just sees, so visible effects may be missed"
    )
    return Detectable(
        replicates,
        df,
        critical,
        critical * step,
        found,
        f"With {replicates} independent cells of {count} and of the control, and a scatter of {sd_de00:g} ΔE00, a"
        f" difference of {found:.1f} ΔE00 from the control is found {round(10 * POWER.value)} times in 10 ({eye}). A"
        f" difference that is found is known to ±{critical * step:.1f} ΔE00. If nothing is found, a smaller one may"
        " still be there.",
    )
