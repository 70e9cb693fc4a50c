"""Which cells stand for the same, and what their comparison can show."""

import pytest

from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Exposure, Program, ZonePlan
from lampwarden.domain.sheet import Cell, Sheet, Treatment
from lampwarden.planning import arms_of
from lampwarden.planning.arms import control_arm, trial

LIGHT = Treatment(light=True)
BATH = {"chemical": "hydrogen peroxide", "strength_pct": 3}


def plan(lit, arms=None):
    """A plan whose zones get so many seconds at a level."""
    zones = tuple(
        ZonePlan(zone=zone, exposures=(Exposure(start=0, end=seconds, level=level),))
        for zone, (seconds, level) in lit.items()
    )
    return Plan(id="p", title="t", chamber="demo", sheet="s", program=Program(title="t", zones=zones), arms=arms or {})


def sheet(**cells):
    """One cell to a zone, named after it or as zone_letter."""
    return Sheet(
        id="s",
        title="s",
        cells=tuple(
            Cell(name=name, zone=name.split("x")[0], x_mm=12 * n, y_mm=0, width_mm=10, height_mm=10, **fields)
            for n, (name, fields) in enumerate(cells.items())
        ),
    )


def test_equal_dose_and_treatment_share_an_arm(chamber):
    # 84, 88 and 83 W/m2 for 1 h are 30.2, 31.7 and 29.9 J/cm2: more than 5 % apart only at the ends.
    lit = {"A1": (3600, 1), "A2": (3600, 1), "B1": (7200, 1)}
    cells = sheet(A1={"treatment": LIGHT}, A2={"treatment": LIGHT}, B1={"treatment": LIGHT}, B3={})
    assert arms_of(plan(lit), cells, chamber) == {
        "A1": "light, 31 J/cm²",
        "A2": "light, 31 J/cm²",
        "B1": "light, 59 J/cm²",
        "B3": "untreated",
    }


def test_equal_dose_at_two_levels_are_two_arms(chamber):
    lit = {"A1": (3600, 1), "A2": (7200, 0.477)}
    cells = sheet(A1={"treatment": LIGHT}, A2={"treatment": LIGHT})
    found = arms_of(plan(lit), cells, chamber)
    assert found == {"A1": "light, 30 J/cm² at 84 W/m²", "A2": "light, 30 J/cm² at 42 W/m²"}


def test_baths_of_another_length_are_another_arm(chamber):
    short, long = (Treatment(**BATH, wet_min=minutes) for minutes in (5, 30))
    cells = sheet(A1={"treatment": short}, A2={"treatment": long}, A3={"treatment": Treatment(**BATH)})
    found = arms_of(plan({"B1": (60, 1)}), cells, chamber)
    assert found == {
        "A1": "hydrogen peroxide 3 %, dark for 5 min",
        "A2": "hydrogen peroxide 3 %, dark for 30 min",
        "A3": "hydrogen peroxide 3 %, dark",
    }


def test_what_the_plan_says_goes_first_and_ink_watch_cells_only_if_it_names_them(chamber):
    lit = {"A1": (3600, 1), "A2": (3600, 1)}
    cells = sheet(A1={"treatment": LIGHT}, A2={"treatment": LIGHT, "role": "ink watch"}, B3={"role": "control"})
    assert arms_of(plan(lit), cells, chamber) == {"A1": "light, 30 J/cm²", "B3": "untreated"}
    named = plan(lit, {"A1": "bright", "A2": "ink"})
    assert arms_of(named, cells, chamber) == {"A1": "bright", "A2": "ink", "B3": "untreated"}


def test_two_cells_of_a_zone_are_one_replicate(chamber):
    cells = sheet(A1xa={"treatment": LIGHT}, A1xb={"treatment": LIGHT}, A2={"treatment": LIGHT}, B3={"role": "control"})
    found = trial(plan({"A1": (3600, 1), "A2": (3600, 1)}), cells, chamber, None)
    assert found.replicates == {"light, 31 J/cm²": 2, "untreated": 1}
    assert "3 cells (A1xa, A1xb, A2) but only 2 independent" in found.cautions[0].text
    assert found.control == "untreated"
    assert "With one cell of one arm and of the control" in found.shows.sentence


def test_three_blocks_say_what_difference_they_can_show(chamber):
    lit = dict.fromkeys(("A1", "A2", "A3"), (3600, 1))
    cells = sheet(
        **{zone: {"treatment": LIGHT, "block": n} for n, zone in enumerate(lit, start=1)},
        **{zone: {"role": "control", "block": n} for n, zone in enumerate(("B1", "B2", "B3"), start=1)},
    )
    found = trial(plan(lit, dict.fromkeys(lit, "light")), cells, chamber, None)
    assert found.replicates == {"light": 3, "untreated": 3}
    # One arm in three blocks leaves 2 degrees of freedom: Student's t of 4.30 (table), so +/- 4.30 x 0.5 x sqrt(2/3).
    assert found.shows.error_df == 2
    assert found.shows.allowance_de00 == pytest.approx(4.303 * 0.5 * (2 / 3) ** 0.5, abs=0.005)


def test_the_control_is_the_cell_with_that_role_then_the_covered_one_then_the_untreated(chamber):
    covered, bare = Treatment(covered=True), Treatment()
    cells = sheet(A1={}, A2={"treatment": covered}, A3={"treatment": bare, "role": "control"})
    arms = {"A1": "untreated", "A2": "covered", "A3": "control"}
    assert control_arm(cells.cells, arms) == "control"
    assert control_arm(cells.cells, {"A1": "untreated", "A2": "covered"}) == "covered"
    assert control_arm(cells.cells, {"A1": "untreated"}) == "untreated"
    assert control_arm(sheet(A1={"treatment": LIGHT}).cells, {"A1": "light"}) == ""


def test_a_sheet_without_cells_compares_nothing(chamber):
    found = trial(plan({"A1": (60, 1)}), sheet(), chamber, None)
    assert (found.arms, found.courses, found.shows, found.refused) == ({}, (), None, "")
