"""The exponential approach against NIST's Statistical Reference Datasets for nonlinear regression.

y = b1 (1 - exp(-b2 x)) without an intercept: the start is pinned by one reading at 0 that is as good as exact.
Certified values and data were read in public test files that restate them.
"""

import math

import numpy as np
import pytest

from lampwarden.findings.approach import fit

MISRA1A_X = [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
MISRA1A_Y = [
    10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78,
]  # fmt: skip
MISRA1A = (MISRA1A_X, MISRA1A_Y, 2.3894212918e2, 5.5015643181e-4, 7.2668688436e-6, 1.2455138894e-1, 12)
BOXBOD = ([1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224], 2.1380940889e2, 5.4723748542e-1, 1.0455993237e-1,
          1.1680088766e3, 4)  # fmt: skip


def certified(case):
    """The dataset's fit, with the certified residual scatter as the readings' uncertainty."""
    x, y, *_, rss, df = case
    s = math.sqrt(rss / df)
    return fit([0, *x], [0, *y], [1e-4 * s, *[s] * len(x)]), s


@pytest.mark.parametrize("case", [MISRA1A, BOXBOD], ids=["Misra1a", "BoxBOD"])
def test_certified_values(case):
    *_, b1, b2, _, rss, df = case
    found, s = certified(case)
    assert found.df == df
    assert found.total == pytest.approx(b1, rel=1e-5)
    assert found.rate == pytest.approx(b2, rel=1e-5)
    assert found.chi_square * s**2 == pytest.approx(rss, rel=1e-6)
    assert found.remaining.best == pytest.approx(b1 * math.exp(-b2 * case[0][-1]), rel=1e-5)


def test_profile_bounds_meet_the_certified_deviation_where_the_curve_is_well_known():
    # Misra1a's rate is known to 1.3 %: there the profile is a parabola, and 95 % is 1.96 certified deviations.
    *_, b2, b2_sd, _, _ = MISRA1A
    found, _ = certified(MISRA1A)
    low, high = math.log(20) / found.x_95.high, math.log(20) / found.x_95.low
    assert (high + low) / 2 == pytest.approx(b2, rel=2e-4)
    assert (high - low) / 2 == pytest.approx(1.96 * b2_sd, rel=5e-3)


def test_profile_bounds_are_where_the_best_fit_at_a_fixed_rate_is_3_84_worse():
    # BoxBOD is so bent that only the profile is right; its bounds against least squares at those very rates.
    x, y, *_ = BOXBOD
    found, s = certified(BOXBOD)
    for place in (found.x_95.low, found.x_95.high):
        bend = 1 - np.exp(-math.log(20) / place * np.array(x))
        rest = np.array(y) - bend * (bend @ y) / (bend @ bend)
        assert rest @ rest / s**2 == pytest.approx(found.chi_square + 3.841, rel=4e-3)  # one step of the grid
