"""A cell's course over dose, against what the paper truly does."""

import numpy as np
import pytest

from lampwarden.colour.difference import de00
from lampwarden.findings.change import series
from lampwarden.findings.course import course, lit_changes

from .conftest import HOURS, J_CM2_PER_H, make_cell, paper_lab


def found(bench, name="A3", seed=None, hours=HOURS, step=None):
    readings, doses = bench.read(seed, hours)
    return course(series(name, readings, doses), step)


def true_gain(bench, dose_from, dose_to, rate):
    """What paper at one dose still gains up to another, as one reading would see it."""
    matter = [bench.floor + (1 - bench.floor) * np.exp(-rate * dose) for dose in (dose_from, dose_to)]
    return float(de00(paper_lab(matter[0]), paper_lab(matter[1])))


@pytest.mark.parametrize("rate", [0.004, 0.008, 0.015])
def test_without_noise_the_plateau_is_where_the_paper_ends(bench, rate):
    bench.rate["A3"] = rate
    of = found(bench)
    # The blue band is not one wavelength, and a gain is nearly all of a ΔE00: some per cent.
    assert of.remaining.best == pytest.approx(true_gain(bench, 240, 1e9, rate), rel=0.12)
    assert of.next_step.best == pytest.approx(true_gain(bench, 240, 360, rate), rel=0.12)
    assert of.dose_95_j_cm2.best == pytest.approx(np.log(20) / rate, rel=0.03)
    assert of.step_j_cm2 == 120
    assert of.follows


def test_bounds_hold_the_truth(bench):
    bench.rate["A3"] = 0.008
    true = found(bench).remaining.best
    courses = [found(bench, seed=seed).remaining for seed in range(60)]
    share = np.mean([c.low <= true and (c.high is None or true <= c.high) for c in courses])
    assert share > 0.9


def test_cells_treated_alike_are_judged_together(bench):
    readings, doses = bench.read(3)
    a1, a2, a3 = (series(name, readings, doses) for name in ("A1", "A2", "A3"))
    alone, together = course(a1), course(a1, beside=[a2, a3])
    assert (alone.beside, together.beside) == ((), ("A2", "A3"))
    assert alone.remaining.high is None or alone.remaining.high > 10
    left = true_gain(bench, 60, 1e9, 0.015)
    assert together.remaining.low < left < together.remaining.high < left + 2
    assert together.step_j_cm2 == alone.step_j_cm2


def test_a_cell_that_goes_another_way_is_judged_alone(bench):
    bench.rate["A2"], bench.floor = 0.1, 0.3
    readings, doses = bench.read(3)
    a1, a2 = (series(name, readings, doses) for name in ("A1", "A2"))
    assert course(a1, beside=[a2]).beside == ()
    assert course(a1, beside=[a2]) == course(a1)


def test_only_readings_up_to_the_last_light_count(bench):
    readings, doses = bench.read()
    lit = lit_changes(series("A2", readings, doses))
    assert [change.reading for change in lit] == ["r1", "r2", "r4"]
    bench.returns = 0.5
    assert found(bench, hours=(*HOURS, 200, 900)).remaining == found(bench).remaining


def test_no_light_no_course(bench):
    assert found(bench, "B2") is None
    readings, doses = bench.read()
    assert lit_changes(series("B2", readings, doses)) == ()


def test_stray_light_is_no_step_and_lights_no_dark_cell(bench):
    readings, doses = bench.read()
    stray = {name: {cell: dose + 0.2 * i for cell, dose in by.items()} for i, (name, by) in enumerate(doses.items())}
    assert course(series("A1", readings, stray)).step_j_cm2 == pytest.approx(30.2)
    assert course(series("B2", readings, {n: {"B2": 9.0 * i} for i, n in enumerate(doses)}, lit=False)) is None


def test_what_a_bath_did_is_not_on_the_curve_of_the_light(bench):
    bench.rate["B1"], bench.at_once["B1"] = 0.006, 0.5
    readings, doses = bench.read()
    right, wrong = (course(series("B1", readings, doses, bathed=bathed)) for bathed in (True, False))
    left = bench.floor + (0.5 - bench.floor) * np.exp(-0.006 * 240)
    true = float(de00(paper_lab(left), paper_lab(bench.floor)))
    assert right.remaining.best == pytest.approx(true, rel=0.15)
    assert right.dose_95_j_cm2.best == pytest.approx(np.log(20) / 0.006 + 30, rel=0.05)
    assert wrong.remaining.best < 0.7 * true
    assert (right.readings, right.curve[0].x) == (4, 30)


def test_two_readings_after_the_baseline_are_the_least(bench):
    assert found(bench, hours=(0, 2)) is None
    assert found(bench, hours=(0, 2, 4)) is not None


def test_the_next_step_is_the_persons_choice(bench):
    assert found(bench, step=60).next_step.best < found(bench, step=120).next_step.best
    assert found(bench, step=60).step_j_cm2 == 60


def test_readings_of_unknown_dose_are_left_out(bench):
    readings, doses = bench.read()
    del doses["r2"]
    assert course(series("A3", readings, doses)).readings == 4


def test_the_band_runs_from_no_gain_through_the_readings(bench):
    of = found(bench, seed=4)
    readings, doses = bench.read(4)
    lit = lit_changes(series("A3", readings, doses))
    assert of.curve[0].x == 0
    assert of.curve[-1].x == pytest.approx(8 * J_CM2_PER_H + 4 * J_CM2_PER_H)
    assert of.curve[0].low < 0 < of.curve[0].high
    assert all(point.low < point.best < point.high for point in of.curve)
    for change in lit:
        at = np.interp(change.dose_j_cm2, [p.x for p in of.curve], [p.best for p in of.curve])
        assert change.gain.value == pytest.approx(at, abs=3 * change.gain.u)


def test_a_cell_that_grows_darker_has_a_course_downwards(bench):
    bench.cells.append(make_cell("C1", light=True))
    bench.light_h["C1"], bench.rate["C1"], bench.floor = 8, 0.01, 1.4
    of = found(bench, "C1")
    assert of.remaining.best < 0
    assert of.remaining.high < 0
