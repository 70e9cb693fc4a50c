"""How far a colour moved: noise does not make a gain, bounds hold the truth, and what does not count is left out."""

import numpy as np
import pytest

from lampwarden.colour.difference import de00
from lampwarden.domain.reading import CellColour, Reading
from lampwarden.errors import ProgramError
from lampwarden.findings import blue
from lampwarden.findings.change import days_utc, in_order, series

PAPER = np.array([82, 2.5, 18.0])


def reading(name, lab, u=(0.2, 0.2, 0.3), **more):
    colour = CellColour(cell="A1", lab_d50=tuple(lab), u_lab=u, u_abs_de00=0.5, **more.pop("colour", {}))
    details = {"sheet": "s", "taken_utc": f"2026-05-0{name}T06:00:00Z", "way": "fixed", "detection_limit_de00": 1.0}
    return Reading(**{"id": str(name), "cells": (colour,), **details, **more})


def change(before, after, u=(0.2, 0.2, 0.3)):
    return series("A1", [reading(1, before, u), reading(2, after, u)], {}).changes[0]


@pytest.mark.parametrize("u", [(0.2, 0.2, 0.2), (0.1, 0.1, 0.5)])
@pytest.mark.parametrize("step", [(0, 0, 0), (0.4, -0.1, -0.8), (3, -1, -5)])
def test_bounds_hold_the_truth_and_noise_makes_no_gain(u, step):
    rng = np.random.default_rng(5)
    true = float(de00(PAPER, PAPER + step))
    noisy = [PAPER + rng.standard_normal((2, 3)) * u for _ in range(200)]
    found = [change(one, two + step, u) for one, two in noisy]
    # Each bound errs in 2.5 of 100 at most; the spread of 200 draws is 1.1 of 100.
    assert np.mean([c.de00.low > true + 1e-6 for c in found]) < 0.055
    assert np.mean([c.de00.high < true for c in found]) < 0.055
    exact = change(PAPER, PAPER + step, u).gain
    gains = np.array([c.gain.value for c in found])
    assert gains.mean() == pytest.approx(exact.value, abs=4 * exact.u / 14)
    assert gains.std() == pytest.approx(exact.u, rel=0.15)


def test_chance_is_as_often_under_5_of_100_as_it_says():
    rng = np.random.default_rng(6)
    u = (0.2, 0.1, 0.4)
    chances = [change(*(PAPER + rng.standard_normal((2, 3)) * u), u).chance for _ in range(400)]
    assert np.mean(np.array(chances) < 0.05) == pytest.approx(0.05, abs=0.033)


def test_a_distance_is_large_by_noise_alone_and_says_so():
    seen = change(PAPER, PAPER + np.array([0.2, -0.1, 0.2])).de00
    assert seen.value > 0.2
    assert seen.low == 0


@pytest.mark.parametrize("step", [(2, 0, 0), (0, 0, -3), (3, -1, -5), (0, 2, 0), (-1, 1, 2)])
def test_a_gain_is_signed_and_never_more_than_the_difference(step):
    found = change(PAPER, PAPER + step)
    back = change(PAPER + step, PAPER)
    assert found.gain.value == pytest.approx(-back.gain.value)
    assert abs(found.gain.value) <= found.de00.value * 1.02  # the metric is taken in the middle
    assert np.sign(found.gain.value) == np.sign(step[0] / 116 - step[2] / 200)


def test_bleaching_is_nearly_all_gain():
    found = change((78.5, 5.0, 22.5), (86.5, 3.0, 14.0))
    assert found.gain.value == pytest.approx(found.de00.value, rel=0.03)


def test_the_metric_is_the_difference_of_close_colours():
    rng = np.random.default_rng(8)
    for lab in rng.uniform([20, -40, -40], [95, 40, 60], (30, 3)):
        step = rng.standard_normal(3) * 0.05
        assert np.sqrt(step @ blue.metric(lab) @ step) == pytest.approx(de00(lab - step / 2, lab + step / 2), rel=5e-3)


def test_k_s_of_blue_and_back():
    # The published table of K/S: reflectance 0.70 is 0.06429, 0.50 is 0.25 (computed from Feller 1987's formula).
    assert blue.ks_of_blue(0.7 ** (1 / 3)) == pytest.approx(0.06429, abs=5e-6)
    assert blue.ks_of_blue(0.5 ** (1 / 3)) == pytest.approx(0.25)
    for f in (0.4, 0.75, 0.99):
        assert blue.blue_of_ks(blue.ks_of_blue(f)) == pytest.approx(f)
        slope = (blue.ks_of_blue(f + 1e-6) - blue.ks_of_blue(f - 1e-6)) / 2e-6
        assert blue.u_ks_of_blue(f, 0.01) == pytest.approx(abs(slope) * 0.01, rel=1e-4)


def test_every_part_of_a_change_and_its_uncertainty():
    one = reading(1, PAPER, colour={"r457_pct": 55.0, "r457_u_pct": 0.6})
    two = reading(2, PAPER + np.array([3, -1, -5]), colour={"r457_pct": 63.0, "r457_u_pct": 0.8})
    of = series("A1", [one, two], {"2": {"A1": 60.0}})
    found = of.changes[0]
    assert (of.baseline, found.reading, found.dose_j_cm2) == ("1", "2", 60.0)
    assert [m.value for m in (found.lightness, found.redness, found.yellowness)] == pytest.approx([3, -1, -5])
    assert found.yellowness.u == pytest.approx(0.3 * 2**0.5)
    assert (found.r457.value, found.r457.u) == pytest.approx((8.0, 1.0))


def test_an_unknown_dose_and_a_missing_estimate_stay_none():
    found = change(PAPER, PAPER)
    assert (found.dose_j_cm2, found.r457) == (None, None)


def test_what_does_not_count():
    kept = [reading(3, PAPER), reading(1, PAPER)]
    refused = reading(2, PAPER, cells=(), refused="Only two markers are seen. Take another.")
    again, foreign = reading(4, PAPER, superseded=True), reading(5, PAPER, sheet="another")
    assert [r.id for r in in_order([*kept, refused, again, foreign], "s")] == ["1", "3"]


def test_an_unusable_cell_is_no_baseline():
    of = series("A1", [reading(1, PAPER + 9, colour={"usable": False}), reading(2, PAPER), reading(3, PAPER)], {})
    assert of.baseline == "2"
    assert [c.reading for c in of.changes] == ["3"]
    assert series("A9", [reading(1, PAPER)], {}) is None


def test_times():
    assert days_utc("1970-01-02T12:00:00Z") == 1.5
    assert days_utc("1970-01-02T12:00:00.000+00:00") == 1.5
    for wrong in ("1970-01-02T12:00:00", "yesterday Z", "1970-01-02T12:00:00+02:00", ""):
        with pytest.raises(ProgramError, match="no time in UTC"):
            days_utc(wrong)
