"""The mean over sheets against statsmodels, a published example and the coverage it promises."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from lampwarden.findings.sheets import combined

# Thirteen trials of BCG vaccine against tuberculosis: ill and well with the vaccine, ill and well without. Colditz and
# others, Journal of the American Medical Association 271 (1994) 698; the table was read in R's metadat, dat.bcg.
BCG = np.array([
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232), (17, 1699, 65, 1600),
    (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
], dtype=float)  # fmt: skip
LABS = np.array([61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90])
LABS_VARIANCE = np.array([0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225])
"""Nine laboratories' results, the example of statsmodels' notebook on meta-analysis."""


def bcg() -> tuple[np.ndarray, np.ndarray]:
    """Logarithms of the risk ratios, and their variances."""
    ill, well, ill_without, well_without = BCG.T
    all_with, all_without = ill + well, ill_without + well_without
    ratio = np.log((ill / all_with) / (ill_without / all_without))
    return ratio, 1 / ill - 1 / all_with + 1 / ill_without - 1 / all_without


def test_the_published_example() -> None:
    # Paule and Mandel's variance of these trials: 0.318 (0.3180 read at gradmeta.com, validation against R; to more
    # digits by statsmodels, 0.31807).
    mean, u, between = combined(*bcg())
    assert between == pytest.approx(0.318, abs=5e-4)
    assert mean == pytest.approx(-0.715, abs=5e-4)
    half = stats.t.ppf(0.975, 12) * u
    assert (mean - half, mean + half) == (pytest.approx(-1.109, abs=1e-3), pytest.approx(-0.321, abs=1e-3))


@pytest.mark.parametrize("example", ["bcg", "labs"])
def test_it_is_what_statsmodels_finds(example: str) -> None:
    effects, variances = bcg() if example == "bcg" else (LABS, LABS_VARIANCE)
    theirs = combine_effects(effects, variances, method_re="iterated", use_t=True)
    mean, u, between = combined(effects, variances)
    assert (mean, between) == (pytest.approx(theirs.mean_effect_re, abs=1e-5), pytest.approx(theirs.tau2, abs=1e-4))
    # With Paule and Mandel's variance Hartung and Knapp's correction is 1: both intervals are theirs.
    half = stats.t.ppf(0.975, len(effects) - 1) * u
    assert (mean - half, mean + half) == pytest.approx(theirs.conf_int()[3], abs=1e-4)


def test_sheets_that_agree_are_not_taken_to_agree_better_than_they_were_measured() -> None:
    mean, u, between = combined(np.array([2.0, 2.0, 2.0]), np.array([0.04, 0.04, 0.04]))
    assert (mean, between) == (2.0, 0.0)
    assert u == pytest.approx(0.2 / np.sqrt(3))


@pytest.mark.parametrize(("sheets", "between"), [(3, 0.0), (3, 1.0), (5, 0.3), (8, 1.0)])
def test_the_interval_holds_as_often_as_it_says(sheets: int, between: float) -> None:
    """Of 1500 series the mean's 95 % interval holds the truth in 95 %; more often where sheets do not differ."""
    rng = np.random.default_rng(1)
    u_within = rng.uniform(0.1, 0.4, sheets)
    times, held = stats.t.ppf(0.975, sheets - 1), 0
    for _ in range(1500):
        effects = 4.0 + rng.normal(0, between, sheets) + rng.normal(0, u_within)
        mean, u, _ = combined(effects, u_within**2)
        held += abs(mean - 4.0) <= times * u
    assert held / 1500 >= 0.935
    assert held / 1500 <= (1.0 if between == 0 else 0.975)
