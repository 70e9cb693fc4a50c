"""The program of a session: its rules, what it needs of a chamber, and what it plans."""

import math

import pytest
from pydantic import BaseModel, ValidationError

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import (
    SESSION_S_MAX,
    Checkpoint,
    Exposure,
    Limits,
    Program,
    Rehearsal,
    Rules,
    ZonePlan,
)

CHAMBER = Chamber(zones=(Zone(name="A", irradiance_w_m2=100), Zone(name="B", irradiance_w_m2=50)))
EXPOSURE = {"start": 0, "end": 60}


def program(*plans, **more):
    zones = tuple(ZonePlan(zone="AB"[n], exposures=tuple(plan)) for n, plan in enumerate(plans))
    return Program(**{"title": "Trial", "zones": zones} | more)


# --- exposures --------------------------------------------------------------------------------------------------------


def test_planned_light_by_time_and_by_dose():
    by_time = Exposure(start="1 h", end="3 h", level=0.5)
    assert by_time.planned_lit_s(100) == 3600
    assert by_time.planned_end_s(100) == 3 * 3600
    by_dose = Exposure(start=10, dose_j_cm2=36, level=0.5)
    assert by_dose.planned_lit_s(100) == pytest.approx(3600)
    assert by_dose.planned_end_s(100) == pytest.approx(10 + 7200)


@pytest.mark.parametrize("more", [{}, {"end": 60, "dose_j_cm2": 1.0}])
def test_an_exposure_has_one_end(more):
    with pytest.raises(ValidationError, match="either 'end' or 'dose_j_cm2', and not both"):
        Exposure(start=0, **more)


@pytest.mark.parametrize("end", [0, 9.99, 10])
def test_an_exposure_ends_after_its_start(end):
    with pytest.raises(ValidationError, match=f"ends at {end} s, not after its start at 10 s"):
        Exposure(start=10, end=end)


@pytest.mark.parametrize("level", [0.0, 0.0009, 1.01, -1.0, math.nan])
def test_levels_that_no_board_can_give(level):
    with pytest.raises(ValidationError, match="level"):
        Exposure(start=0, end=60, level=level)


def test_the_smallest_level_is_the_smallest_step_of_the_board():
    assert Exposure(start=0, end=60, level=0.001).level == 0.001


@pytest.mark.parametrize(("written", "kept"), [(0.0374, 0.037), (0.0376, 0.038), (1 / 3, 0.333), (0.9999, 1.0)])
def test_levels_come_in_steps_of_the_board(written, kept):
    # Else a zone gave less light per second than planned, and one that ends by time stayed short of its plan.
    assert Exposure(start=0, end=1000, level=written).planned_lit_s(100) == pytest.approx(1000 * kept)


def numbers(model: type[BaseModel]) -> list[str]:
    return [name for name, field in model.model_fields.items() if "float" in str(field.annotation)]


NUMBERS = [
    (model, name) for model in (Exposure, Checkpoint, Limits, Rules, Rehearsal, Program) for name in numbers(model)
]


@pytest.mark.parametrize(("model", "name"), NUMBERS, ids=[f"{model.__name__}.{name}" for model, name in NUMBERS])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_number_may_be_none(model, name, value):
    with pytest.raises(ValidationError) as mistake:
        model(**{name: value})
    alias = model.model_fields[name].alias or name
    assert any(problem["loc"] in ((name,), (alias,)) for problem in mistake.value.errors())


# --- zones and checkpoints --------------------------------------------------------------------------------------------


def test_exposures_may_touch_but_not_overlap():
    program([Exposure(start=0, end=60), Exposure(start=60, end=90)])
    with pytest.raises(ValidationError, match="starting at 59 s begins before the one starting at 0 s has ended"):
        program([Exposure(start=0, end=60), Exposure(start=59, end=90)])
    with pytest.raises(ValidationError, match="has ended"):
        program([Exposure(start=60, end=90), Exposure(start=0, end=60)])
    with pytest.raises(ValidationError, match="two exposures start at 5 s"):
        program([Exposure(start=5, dose_j_cm2=1), Exposure(start=5, end=90)])


@pytest.mark.parametrize("plans", [[[]], [[], []]])
def test_some_zone_needs_light(plans):
    with pytest.raises(ValidationError, match="no zone has an exposure; give at least one zone light"):
        program(*plans)


def test_a_zone_is_planned_once():
    with pytest.raises(ValidationError, match="zone 'A' is planned twice"):
        Program(title="T", zones=(ZonePlan(zone="A", exposures=(EXPOSURE,)), ZonePlan(zone="A")))


@pytest.mark.parametrize(
    ("looks", "said"),
    [
        ([("a", 5), ("a", 6)], "two checkpoints are called 'a'"),
        ([("a", 5), ("b", 5)], "'b' does not come after"),
        ([("a", 5), ("b", 4)], "'b' does not come after"),
    ],
)
def test_checkpoints_are_named_and_in_order(looks, said):
    with pytest.raises(ValidationError, match=said):
        program([EXPOSURE], checkpoints=[Checkpoint(name=name, at=at_s) for name, at_s in looks])


def test_a_baseline_at_zero():
    assert program([EXPOSURE], checkpoints=[Checkpoint(name="baseline", at=0)]).checkpoints[0].at_s == 0


@pytest.mark.parametrize(("what", "hard"), [("air", 40), ("bank", 63)])
def test_the_soft_limit_lies_below_the_hard_one(what, hard):
    Limits(**{f"{what}_soft_c": hard - 1, f"{what}_hard_c": hard})
    with pytest.raises(ValidationError, match=rf"{what}_soft_c \({hard - 0.5} °C\) must be at least 1 °C below"):
        Limits(**{f"{what}_soft_c": hard - 0.5, f"{what}_hard_c": hard})


# --- program and chamber ----------------------------------------------------------------------------------------------


def test_a_program_that_fits():
    plan = program([Exposure(start=0, dose_j_cm2=0.6), Exposure(start=60, end=90)], [Exposure(start=0, dose_j_cm2=0.3)])
    assert plan.fits(CHAMBER) == []
    assert plan.planned_lit_s(CHAMBER) == pytest.approx((90, 60))
    assert plan.planned_dose_j_cm2(CHAMBER) == pytest.approx((0.9, 0.3))
    assert plan.planned_session_s(CHAMBER) == 90


def test_a_last_checkpoint_prolongs_the_session():
    assert program([EXPOSURE], checkpoints=[Checkpoint(name="late", at=100)]).planned_session_s(CHAMBER) == 100


def test_a_zone_that_the_chamber_lacks():
    stranger = Program(title="T", zones=(ZonePlan(zone="Z", exposures=(EXPOSURE,)),))
    assert stranger.fits(CHAMBER) == ["The chamber has no zone 'Z'; its zones are A, B."]
    assert stranger.planned_session_s(CHAMBER) == 0
    assert stranger.planned_lit_s(CHAMBER) == (0, 0)


def test_a_dose_that_takes_longer_than_its_place():
    wrong = program([Exposure(start=0, dose_j_cm2=0.6), Exposure(start=59, end=90)]).fits(CHAMBER)
    assert wrong == [
        "Zone 'A': the dose begun before 59 s needs until 60 s at the zone's irradiance; start the next exposure later."
    ]


def test_a_dose_that_takes_longer_than_a_week():
    week_j_cm2 = 100 * 1e-4 * SESSION_S_MAX
    assert program([Exposure(start=0, dose_j_cm2=week_j_cm2)]).fits(CHAMBER) == []
    assert program([Exposure(start=1, dose_j_cm2=week_j_cm2)]).fits(CHAMBER) == [
        "Zone 'A' would need 168 h; programs end within a week."
    ]


def test_a_program_never_changes():
    plan = program([EXPOSURE])
    with pytest.raises(ValidationError, match="frozen"):
        plan.title = "Other"
