"""Colour that comes back: the worked example, Fieller's bounds, and which reading stands for the end."""

import numpy as np
import pytest

from lampwarden.colour.paper import ks
from lampwarden.domain.finding import FOLLOW_UP
from lampwarden.findings.change import Measured, series
from lampwarden.findings.reversion import reversions, share_lost

from .conftest import HOURS

CHANCE = 0.007
LATER = (*HOURS, 24 + 24, 24 + 7 * 24, 24 + 30 * 24)


def reverted(bench, name="A3", seed=None, hours=LATER, readings=None):
    read, doses = bench.read(seed, hours)
    read = readings or read
    return reversions(series(name, read, doses), {r.id: r for r in read}, FOLLOW_UP, CHANCE)


def test_the_worked_example():
    # 70 % bleached to 75 %, back to 72 % in store: 56 % of the K/S gain is lost (computed from Feller 1987's formula).
    before, end, later = (Measured(float(ks(r)), 1e-4) for r in (0.70, 0.75, 0.72))
    of = share_lost(before, end, later)
    assert of.best == pytest.approx(0.56, abs=0.01)
    assert of.low < of.best < of.high
    assert of.high - of.low < 0.03


def test_post_colour_number_of_the_worked_example(bench):
    # 75 % to 72 % is +1.28 (computed from Feller 1987's formula).
    read, _ = bench.read(hours=LATER)

    def with_r457(reading, r457):
        cells = tuple(c.model_copy(update={"r457_pct": r457, "r457_u_pct": 0.5}) for c in reading.cells)
        return reading.model_copy(update={"cells": cells})

    read = [with_r457(r, 72.0 if r.session_s is None else 75.0) for r in read]
    of = reverted(bench, readings=read)[-1].post_colour_number
    assert of.value == pytest.approx(1.28, abs=0.005)
    slope = [(1 - r**-2) / 2 for r in (0.75, 0.72)]
    assert of.u == pytest.approx(0.5 * np.hypot(*slope))


def test_bounds_of_the_share_hold_the_truth():
    rng = np.random.default_rng(2)
    k, u = np.array([0.40, 0.20, 0.26]), 0.015
    found = [share_lost(*(Measured(float(v), u) for v in k + u * rng.standard_normal(3))) for _ in range(1500)]
    assert np.mean([of.low <= 0.3 <= of.high for of in found]) == pytest.approx(0.95, abs=0.017)


def test_no_gain_nothing_to_lose():
    assert share_lost(Measured(0.4, 0.1), Measured(0.35, 0.1), Measured(0.4, 0.1)) is None
    assert share_lost(Measured(0.3, 0.01), Measured(0.4, 0.01), Measured(0.35, 0.01)) is None


def test_what_comes_back_is_found(bench):
    bench.returns = 0.4
    *_, week, month = reverted(bench, seed=1)
    back = 0.4 * -np.expm1(-30 / 10)
    assert (week.planned_day, month.planned_day) == (7.0, 30.0)
    assert month.found
    assert month.gain.value < -1
    # Coloured matter that went and came back, as a share of what went.
    assert month.share_lost.low < back < month.share_lost.high


def test_nothing_comes_back_by_noise(bench):
    found = [of for seed in range(15) for of in reverted(bench, seed=seed)]
    assert sum(of.found for of in found) <= 1
    assert all(of.share_lost.low < 0.05 for of in found)


def test_each_cell_counts_from_its_own_end(bench):
    assert {of.end for of in reverted(bench, "A1")} == {"r2"}
    assert reverted(bench, "A1")[0].reading == "r4"
    assert {of.end for of in reverted(bench, "A3")} == {"r8"}
    assert {of.end for of in reverted(bench, "B2")} == {"r24"}
    assert reverted(bench, "A1")[0].days == pytest.approx(2 / 24)


def test_nothing_before_the_end(bench):
    assert reverted(bench, hours=(0, 1, 2)) == ()
    assert reverted(bench, "B2", hours=(0, 1, 2)) == ()
