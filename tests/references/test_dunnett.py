"""Critical values and power of Dunnett's comparison against tables, scipy and statsmodels, each with its source."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from lampwarden.trial.power import comparison_power, critical_value, detectable

# Two-sided 5 %, equal groups (correlation 0.5), for k arms beside the control: computed apart from this code, to two
# digits as in the tables of Dunnett 1955 and 1964.
TABLE = {
    2: {6: 2.86, 8: 2.67, 9: 2.61, 12: 2.50, 15: 2.44, 16: 2.42, 20: 2.38, 30: 2.32, math.inf: 2.21},
    3: {6: 3.10, 8: 2.88, 9: 2.81, 12: 2.68, 15: 2.61, 16: 2.59, 20: 2.54, 30: 2.47, math.inf: 2.35},
    4: {6: 3.26, 8: 3.02, 9: 2.95, 12: 2.81, 15: 2.73, 16: 2.71, 20: 2.65, 30: 2.58, math.inf: 2.44},
}


@pytest.mark.parametrize(("arms", "df", "t"), [(k, df, t) for k, row in TABLE.items() for df, t in row.items()])
def test_critical_values(arms, df, t):
    assert critical_value([4] * arms, 4, df) == pytest.approx(t, abs=0.0055)


@pytest.mark.parametrize("df", [3, 12, 60])
def test_one_arm_is_students_t(df):
    assert critical_value([5], 5, df) == pytest.approx(stats.t.ppf(0.975, df), abs=1e-4)


@pytest.mark.parametrize(("arms_n", "control_n", "df"), [((4, 4, 4), 4, 9), ((4, 5), 6, 12), ((3, 6, 9), 5, 19)])
def test_critical_value_with_scipys_multivariate_t(arms_n, control_n, df):
    c = critical_value(arms_n, control_n, df)
    b = np.sqrt([n / (n + control_n) for n in arms_n])
    corr = np.outer(b, b)
    np.fill_diagonal(corr, 1.0)
    limit = np.full(len(arms_n), c)
    theirs = stats.multivariate_t(shape=corr, df=df, seed=7).cdf(limit, lower_limit=-limit, maxpts=200_000)
    assert theirs == pytest.approx(0.95, abs=5e-4)


# Power of one comparison at difference 1.0, SD 0.5, three arms in n blocks: computed apart from this code.
@pytest.mark.parametrize(
    ("blocks", "df", "t", "allowance", "power"),
    [
        (3, 6, 3.10, 1.27, 0.35),
        (4, 9, 2.81, 0.99, 0.53),
        (5, 12, 2.68, 0.85, 0.68),
        (6, 15, 2.61, 0.75, 0.79),
        (8, 21, 2.53, 0.63, 0.92),
    ],
)
def test_power_table(blocks, df, t, allowance, power):
    shown = detectable(3, blocks)
    assert shown.error_df == df
    assert shown.critical_t == pytest.approx(t, abs=0.0055)
    assert shown.allowance_de00 == pytest.approx(allowance, abs=0.0055)
    assert comparison_power(1.0, 0.5, blocks, df, shown.critical_t) == pytest.approx(power, abs=0.0055)
    found = comparison_power(shown.difference_de00, 0.5, blocks, df, shown.critical_t)
    assert found == pytest.approx(0.8, abs=1e-6)


@pytest.mark.parametrize("n", [3, 6, 20])
def test_power_of_one_arm_with_statsmodels(n):
    df = 2 * (n - 1)
    theirs = TTestIndPower().power(effect_size=1.0 / 0.5, nobs1=n, alpha=0.05)
    assert comparison_power(1.0, 0.5, n, df, critical_value([n], n, df)) == pytest.approx(theirs, abs=2e-5)


@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0, 2.0])
def test_power_with_scipys_noncentral_t(shift):
    nc = shift / (0.5 * math.sqrt(2 / 4))
    theirs = stats.nct.sf(2.81, 9, nc) + stats.nct.cdf(-2.81, 9, nc)
    assert comparison_power(shift, 0.5, 4, 9, 2.81) == pytest.approx(theirs, abs=1e-5)


# Dunnett 1955, blood counts and fabric strength: data in scipy's test_multicomp.py, read there; intervals recomputed.
BLOOD = ([7.40, 8.50, 7.20, 8.24, 9.84, 8.32], [[9.76, 8.80, 7.68, 9.36], [12.80, 9.68, 12.16, 9.20, 10.55]])
BLOOD_INTERVALS = [(-1.2564, 2.5564), (0.8396, 4.4164)]
FABRIC = ([55, 47, 48], [[55, 64, 64], [55, 49, 52], [50, 44, 41]])
FABRIC_INTERVALS = [(0.7529, 21.2471), (-8.2471, 12.2471), (-15.2471, 5.2471)]


@pytest.mark.parametrize(("data", "intervals"), [(BLOOD, BLOOD_INTERVALS), (FABRIC, FABRIC_INTERVALS)])
def test_intervals_of_dunnetts_own_cases(data, intervals):
    control, arms = data
    groups = [control, *arms]
    df = sum(len(g) - 1 for g in groups)
    s = math.sqrt(sum((len(g) - 1) * np.var(g, ddof=1) for g in groups) / df)
    c = critical_value([len(a) for a in arms], len(control), df)
    for arm, (low, high) in zip(arms, intervals, strict=True):
        middle = np.mean(arm) - np.mean(control)
        half = c * s * math.sqrt(1 / len(arm) + 1 / len(control))
        # Published half widths carry the error of a quasi-Monte Carlo integral: 1e-3 of p, some 1e-2 here.
        assert middle - half == pytest.approx(low, abs=0.02 * (high - low))
        assert middle + half == pytest.approx(high, abs=0.02 * (high - low))


def test_intervals_agree_with_scipy():
    control, arms = BLOOD
    theirs = stats.dunnett(*arms, control=control, rng=np.random.default_rng(5)).confidence_interval(0.95)
    c = critical_value([4, 5], 6, 12)
    half = c * 1.17496 * np.sqrt(1 / np.array([4, 5]) + 1 / 6)
    assert (theirs.high - theirs.low) / 2 == pytest.approx(half, rel=3e-3)


def test_latin_square_leaves_six_degrees_of_freedom():
    # 4x4: rows 3, columns 3, treatments 3, error 6, total 15 (computed); here by an ordinary least squares fit.
    import pandas as pd
    from statsmodels.formula.api import ols

    from lampwarden.trial.layout import latin_square

    places = [[f"{r}{c}" for c in "1234"] for r in "ABCD"]
    drawn = latin_square(["a", "b", "c", "d"], places, seed=3)
    rows = [{"r": p[0], "c": p[1], "arm": arm, "y": float(i % 7)} for i, (p, arm) in enumerate(drawn.arms.items())]
    assert ols("y ~ C(r) + C(c) + C(arm)", pd.DataFrame(rows)).fit().df_resid == 6
