"""Treatments compared, against scipy and statsmodels as outside references."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.weightstats import ttost_ind

from lampwarden.errors import ProgramError
from lampwarden.findings.treatments import Arm, Unit, arms_of, compare, control_of, pairwise_alike

from .conftest import make_cell

BATH = {"chemical": "hydrogen peroxide", "strength_pct": 3, "wet_min": 30}


def arm(name, light=False, bath="", dose=0.0, watts=None, control=False):
    return Arm(name, (name,), light, bath, control, dose, watts)


def units(groups, u=0.3):
    return [Unit(name, f"b{i}", gain, u) for name, gains in groups.items() for i, gain in enumerate(gains)]


def flat(groups, u=0.3):
    """The same without blocks."""
    return [Unit(unit.arm, "b", unit.gain_de00, u) for unit in units(groups, u)]


def arms(*names):
    return [arm(name) for name in names]


GROUPS = {"control": [0.1, -0.3, 0.4, 0.0], "one": [2.1, 1.5, 2.4, 1.9], "two": [0.6, -0.1, 0.9, 0.2]}
THREE = arms(*GROUPS)


def test_intervals_against_the_control_are_dunnetts():
    found = compare(flat(GROUPS), THREE, "control")
    rng = np.random.default_rng(1)
    control, *treated = GROUPS.values()
    theirs = stats.dunnett(*treated, control=control, rng=rng)
    interval = theirs.confidence_interval(0.95)
    assert (found.replicated, found.blocked, found.df, found.level) == (True, False, 9, 0.95)
    assert [c.low for c in found.against_control] == pytest.approx(list(interval.low), abs=5e-3)
    assert [c.high for c in found.against_control] == pytest.approx(list(interval.high), abs=5e-3)
    assert [c.found for c in found.against_control] == [p < 0.05 for p in theirs.pvalue]


def test_blocks_take_their_part_out_as_in_least_squares():
    import pandas as pd
    from statsmodels.formula.api import ols

    rows = units(GROUPS)
    found = compare(rows, THREE, "control")
    frame = pd.DataFrame([{"arm": u.arm, "block": u.block, "y": u.gain_de00} for u in rows])
    theirs = ols("y ~ C(arm, Treatment('control')) + C(block)", frame).fit()
    assert (found.blocked, found.df) == (True, int(theirs.df_resid))
    assert found.scatter_de00 == pytest.approx(math.sqrt(theirs.scale))
    errors = [theirs.bse[f"C(arm, Treatment('control'))[T.{name}]"] for name in ("one", "two")]
    halves = [(c.high - c.low) / 2 for c in found.against_control]
    assert halves[0] / halves[1] == pytest.approx(errors[0] / errors[1])
    assert found.against_control[0].difference == pytest.approx(theirs.params["C(arm, Treatment('control'))[T.one]"])


def test_a_missing_piece_does_not_bend_the_arms_apart():
    # Block b3 is low for everybody and lacks the control: block by block the difference is 2 all the same.
    rows = [Unit(a, f"b{b}", g + 2 * (a == "one"), 0.3) for a in ("control", "one") for b, g in enumerate((0, 1, 0.5))]
    rows.append(Unit("one", "b3", -5.0 + 2, 0.3))
    found = compare([*rows, Unit("control", "b4", 3.0, 0.3)], arms("control", "one"), "control")
    assert found.blocked
    assert found.against_control[0].difference == pytest.approx(2.0)


def test_equivalence_is_two_one_sided_tests():
    for shift in (0.0, 0.4, 0.8, 1.2):
        groups = {"one": [1.0, 1.3, 0.8, 1.2, 1.1], "two": [g + shift for g in (1.1, 0.9, 1.2, 1.0, 1.3)]}
        pair = compare(flat(groups), arms(*groups), None).pairs[0]
        p, *_ = ttost_ind(np.array(groups["one"]), np.array(groups["two"]), -1.0, 1.0)
        assert pair.equal == (p < 0.05)
        assert (pair.low + pair.high) / 2 == pytest.approx(pair.difference)


def test_no_difference_found_is_not_equality():
    wide = {"one": [0, 3, -3, 1], "two": [0.5, -2, 3, 0]}
    pair = compare(flat(wide), arms(*wide), None).pairs[0]
    assert not pair.found
    assert not pair.equal


def test_without_replicates_only_measuring_is_known():
    single = {"control": [0.0], "one": [3.0], "two": [0.2]}
    found = compare(units(single, u=0.3), THREE, "control")
    assert (found.replicated, found.scatter_de00, found.df) == (False, None, None)
    first, second = found.against_control
    assert first.found
    assert not second.found
    # Two intervals hold together at the level: each at its root, from u sqrt(2).
    half = stats.norm.isf((1 - math.sqrt(found.level)) / 2) * 0.3 * math.sqrt(2)
    assert (first.high - first.low) / 2 == pytest.approx(half)
    assert compare(units(single, u=3.0), THREE, "control").against_control[0].found is False


def test_blocks_are_not_used_where_they_leave_nothing_to_tell_arms_apart():
    # Each arm in blocks of its own: arm and block cannot be separated.
    rows = [Unit("control", "b1", gain, 0.3) for gain in (0.0, 0.3, 0.1)]
    rows += [Unit("one", "b2", gain, 0.3) for gain in (2.0, 2.2, 1.9)]
    found = compare(rows, arms("control", "one"), "control")
    assert (found.replicated, found.blocked, found.df) == (True, False, 4)
    assert found.against_control[0].difference == pytest.approx(1.9)


def test_a_single_pair_of_replicates_is_no_yardstick():
    found = compare(flat({"control": [0.0, 0.01], "one": [3.0], "two": [0.2]}), THREE, "control")
    assert not found.replicated


SQUARE = [
    arm("dry dark", control=True),
    arm("light", light=True, dose=240),
    arm("bath", bath="hydrogen peroxide 3 %"),
    arm("both", light=True, bath="hydrogen peroxide 3 %", dose=236),
]


def test_interaction_is_that_of_a_linear_model():
    import pandas as pd
    from statsmodels.formula.api import ols

    rng = np.random.default_rng(3)
    means = {"dry dark": 0, "light": 4, "bath": 1, "both": 7}
    rows = [Unit(n, "b", m + 0.3 * rng.standard_normal(), 0.3) for n, m in means.items() for _ in range(4)]
    found = compare(rows, SQUARE, "dry dark").interactions[0]
    frame = pd.DataFrame(
        [{"l": u.arm in ("light", "both"), "b": u.arm in ("bath", "both"), "y": u.gain_de00} for u in rows]
    ).astype(float)
    theirs = ols("y ~ l * b", frame).fit()
    low, high = theirs.conf_int().loc["l:b"]
    assert (found.value, found.low, found.high) == pytest.approx((theirs.params["l:b"], low, high))
    assert found.found
    assert found.arms == ("both", "light", "bath", "dry dark")


def test_no_interaction_without_the_whole_square_or_at_another_dose():
    means = {"dry dark": [0.0], "light": [4.0], "bath": [1.0], "both": [5.0]}
    assert compare(units(means), SQUARE, "dry dark").interactions[0].found is False
    part = {name: gains for name, gains in means.items() if name != "bath"}
    assert compare(units(part), SQUARE, "dry dark").interactions == ()
    weaker = [a if a.name != "light" else arm("light", light=True, dose=120) for a in SQUARE]
    assert compare(units(means), weaker, "dry dark").interactions == ()


def test_reciprocity_is_the_same_dose_at_another_level():
    levels = [
        arm("dark", control=True),
        arm("strong", light=True, dose=120, watts=80),
        arm("weak", light=True, dose=121, watts=40),
        arm("more", light=True, dose=240, watts=80),
    ]
    gains = {"dark": [0, 0.1, -0.1], "strong": [4, 4.1, 3.9], "weak": [4.1, 4.0, 3.9], "more": [6, 6.1, 5.9]}
    found = compare(flat(gains), levels, "dark").reciprocity
    assert [(c.one, c.other, c.equal, c.found) for c in found] == [("strong", "weak", True, False)]
    gains["weak"] = [2.1, 2.0, 1.9]
    failed = compare(flat(gains), levels, "dark").reciprocity[0]
    assert failed.found
    assert not failed.equal


def test_nothing_at_all_is_found_in_at_most_5_of_100_trials():
    rng = np.random.default_rng(9)
    some = arms("control", "one", "two", "three")

    def found():
        rows = [Unit(a.name, f"b{b}", 0.5 * rng.standard_normal(), 0.3) for a in some for b in range(4)]
        return any(c.found for c in compare(rows, some, "control").against_control)

    assert np.mean([found() for _ in range(80)]) <= 0.11


def test_arms_of_a_ladder_are_told_apart_by_dose(bench):
    doses = {cell.name: bench.dose(cell.name, 24) for cell in bench.cells}
    found = arms_of(bench.cells, doses, {}, {})
    assert {a.name: a.cells for a in found} == {
        "hydrogen peroxide 3 %, dark": ("B2",),
        "covered control": ("B3",),
        "light, 60 J/cm²": ("A1",),
        "light, 120 J/cm²": ("A2",),
        "light, 240 J/cm²": ("A3",),
        "light and hydrogen peroxide 3 %": ("B1",),
    }
    assert control_of(found, bench.cells).name == "covered control"
    told = {(one.name, other.name) for one, other in pairwise_alike(found)}
    assert told == {
        ("light, 60 J/cm²", "light, 120 J/cm²"),
        ("light, 120 J/cm²", "light, 240 J/cm²"),
        ("light, 240 J/cm²", "light and hydrogen peroxide 3 %"),
    }


def test_alike_cells_are_one_arm_and_a_person_may_name_them():
    cells = [make_cell("A1", light=True), make_cell("A2", light=True), make_cell("A3", role="control")]
    doses = {"A1": 100.0, "A2": 103.0}
    assert [a.cells for a in arms_of(cells, doses, {}, {})] == [("A3",), ("A1", "A2")]
    named = arms_of(cells, doses, {"A1": "morning", "A2": "evening"}, {})
    assert [(a.name, a.cells) for a in named] == [("untreated", ("A3",)), ("morning", ("A1",)), ("evening", ("A2",))]
    levels = arms_of(cells, doses, {}, {"A1": 80.0, "A2": 40.0})
    assert [a.name for a in levels] == ["untreated", "light, 100 J/cm² at 80 W/m²", "light, 103 J/cm² at 40 W/m²"]


def test_arms_of_one_name_are_told_apart():
    wet = [{**BATH, "wet_min": minutes} for minutes in (10, 30)]
    cells = [make_cell("A1", **wet[0]), make_cell("A2", **wet[1]), make_cell("A3", light=True, **wet[0])]
    cells += [make_cell("B1", light=True, **wet[1]), make_cell("B2"), make_cell("B3", covered=True)]
    names = [arm.name for arm in arms_of(cells, {"A3": 100.0, "B1": 100.0}, {}, {})]
    assert names == [
        "hydrogen peroxide 3 %, dark, wet 10 min",
        "hydrogen peroxide 3 %, dark, wet 30 min",
        "untreated",
        "covered control",
        "light and hydrogen peroxide 3 %, 100 J/cm², wet 10 min",
        "light and hydrogen peroxide 3 %, 100 J/cm², wet 30 min",
    ]
    rinsed = [make_cell("A1", wet_min=10), make_cell("A2"), make_cell("A3", wet_min=20)]
    found = arms_of(rinsed, {}, {}, {})
    assert len({arm.name for arm in found}) == 3
    assert control_of(found, rinsed).cells == ("A2",)


@pytest.mark.parametrize(
    ("cells", "control"),
    [
        ([make_cell("A1", light=True), make_cell("A2")], "untreated"),
        ([make_cell("A1", covered=True), make_cell("A2")], "covered control"),
        ([make_cell("A1", covered=True), make_cell("A2", role="control")], "untreated"),
        ([make_cell("A1", covered=True, role="control"), make_cell("A2", role="control")], "covered control"),
        ([make_cell("A1", role="control", **BATH), make_cell("A2", light=True)], "hydrogen peroxide 3 %, dark"),
    ],
)
def test_which_arm_is_the_control(cells, control):
    assert control_of(arms_of(cells, {}, {}, {}), cells).name == control


def test_no_control():
    cells = [make_cell("A1", light=True)]
    assert control_of(arms_of(cells, {}, {}, {}), cells) is None
    assert compare(flat({"one": [1, 2], "two": [1, 2]}), arms("one", "two"), None).against_control == ()


def test_an_unknown_arm_is_refused():
    with pytest.raises(ProgramError, match="no arm 'three'"):
        compare(flat({"three": [1, 2]}), THREE, "control")
