"""The one call: what it says of sheets whose truth is known, and what it says when it cannot say."""

import os

import numpy as np
import pytest
from pydantic import TypeAdapter

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.finding import HandFinding
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Exposure, Program, ZonePlan
from lampwarden.domain.reading import Way
from lampwarden.errors import ProgramError
from lampwarden.findings.advice import Kind
from lampwarden.findings.conclude import Conclusions, conclude

from .conftest import HOURS, make_cell

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))
LATER = (*HOURS, 24 + 24, 24 + 7 * 24, 24 + 30 * 24)


def concluded(bench, seed=None, hours=HOURS, **more):
    readings, doses = bench.read(seed, hours)
    return conclude(bench.sheet, more.pop("plan", None), readings, doses, **more)


def claims(of):
    """Everything a conclusion claims to have happened."""
    return {
        "drift": bool(of.drift.moved),
        "change": any(cell.changed for cell in of.cells),
        "advice": of.advice.kind is not Kind.UNCLEAR,
        "ink": any(ink.fading for ink in of.inks),
        "effect": any(c.found for c in of.comparison.against_control),
        "pair": any(c.found for c in of.comparison.pairs),
        "interaction": any(i.found for i in of.comparison.interactions),
        "reversion": any(r.found for cell in of.cells for r in cell.reversions),
    }


def test_a_trial_that_worked(bench):
    of = concluded(bench, seed=1)
    by_name = {cell.cell: cell for cell in of.cells}
    assert (of.way, of.newest, of.drift.moved) == (Way.FIXED, "r24", ())
    assert [by_name[name].advice.kind for name in ("A1", "A2", "A3")] == [Kind.GO_ON, Kind.GO_ON, Kind.ENOUGH]
    assert "judged with A2 and A3, treated alike" in by_name["A1"].advice.reason
    assert by_name["B1"].course.beside == ()
    assert [name for name, cell in by_name.items() if cell.changed] == ["A1", "A2", "A3", "B1", "B2"]
    assert (by_name["B2"].advice, by_name["B3"].advice, by_name["B4"].arm) == (None, None, "")
    assert of.comparison.control == "covered control"
    assert all(c.found and c.difference > 0 for c in of.comparison.against_control)
    assert not of.comparison.replicated
    said = "\n".join(of.sentences)
    for words in (
        "A3 (light, 240 J/cm²): whiter by",
        "'light, 120 J/cm²' did better than 'light, 60 J/cm²'",
        "'light, 240 J/cm²' and 'light and hydrogen peroxide 3 %' did equally well within ±1 ΔE00",
        "B3 (covered control): no change found",
        "too few independent pieces",
        "No change since the end is found",
    ):
        assert words in said
    assert any("chance cannot be told from effect" in limit.text for limit in of.limits)
    assert any("This is one sheet" in limit.text for limit in of.limits)


def test_nothing_happened_and_hardly_ever_is_anything_claimed(bench):
    bench.rate, bench.at_once = {}, {}
    number = 500 if LONG else 25
    wrong = [claims(concluded(bench, seed, LATER)) for seed in range(number)]
    share = np.mean([any(of.values()) for of in wrong])
    assert share <= (0.05 if LONG else 0.12)


def test_an_ink_that_fades_is_found_whatever_the_paper_does(bench):
    bench.ink_fades = 4.0
    found = [concluded(bench, seed).advice for seed in range(8)]
    assert all((advice.kind, advice.cells) == (Kind.FADING, ("B4",)) for advice in found)


def test_paper_that_gets_darker(bench):
    bench.floor, bench.at_once = 1.5, {}
    of = concluded(bench, seed=2)
    assert of.advice.kind is Kind.DARKER
    assert all(c.difference < 0 for c in of.comparison.against_control if "240" in c.one)


def test_advice_at_each_checkpoint_of_a_run(bench):
    kinds = [concluded(bench, 1, HOURS[:n]).advice.kind for n in range(1, 6)]
    assert kinds[:2] == [Kind.UNCLEAR, Kind.UNCLEAR]
    assert kinds[3] is Kind.GO_ON


def test_colour_that_comes_back_is_told_after_the_end_and_changes_no_other_conclusion(bench):
    bench.returns = 0.5
    early, late = concluded(bench, 4), concluded(bench, 4, LATER)
    assert late.advice.reason == early.advice.reason
    assert late.comparison.means == early.comparison.means
    assert any("A3, 31 days after its end" in said and "% of its gain lost" in said for said in late.sentences)


def test_a_drifting_camera_is_told_and_small_changes_are_not_claimed(bench):
    readings = [bench.reading(0), *(bench.reading(hour, offset=(2.0, 0, -3.0)) for hour in HOURS[1:])]
    of = conclude(bench.sheet, None, readings, bench.doses(HOURS))
    assert set(of.drift.moved) == {"dark-1", "dark-2", "B3"}
    assert of.advice.kind is Kind.UNCLEAR
    assert "not laid to a treatment" in of.sentences[1]


def replicated(arms=2, count=4):
    """Cells of some arms and a control, one of each to a block."""
    cells = []
    for block in range(1, count + 1):
        for index in range(arms + 1):
            name = f"{'ABCDEFGH'[block - 1]}{index + 1}"
            role = "control" if index == 0 else "test"
            treatment = {} if index == 0 else {"chemical": "hydrogen peroxide", "strength_pct": index, "wet_min": 30}
            cells.append(make_cell(name, role=role, block=block, **treatment))
    return cells


def test_replicates_in_blocks_are_their_own_yardstick(bench):
    bench.cells = replicated()
    bench.light_h, bench.rate = {}, {}
    bench.at_once = {cell.name: 0.3 for cell in bench.cells if cell.role == "test"}
    of = concluded(bench, 5)
    assert (of.comparison.replicated, of.comparison.blocked, of.comparison.df) == (True, True, 6)
    assert all(c.found for c in of.comparison.against_control)
    assert "1 %, dark' and 'hydrogen peroxide 2 %, dark' did equally well" in "\n".join(of.sentences)
    assert "too few independent pieces" not in "\n".join(of.sentences)
    assert any("With 4 independent cells of each of 2 arms" in limit.text for limit in of.limits)


def test_cells_under_one_zone_are_one_unit(bench):
    bench.cells = [
        make_cell("A1", zone="L", light=True), make_cell("A2", zone="L", light=True),
        make_cell("A3", zone="R", role="control"),
    ]  # fmt: skip
    bench.light_h = {"A1": 8, "A2": 8}
    of = concluded(bench, 1)
    assert of.comparison.units == {"untreated": 1, "light": 1}
    assert any("2 cells (A1, A2) but only 1 independent" in limit.text for limit in of.limits)


def test_plan_names_arms_and_chamber_tells_levels(bench):
    chamber = Chamber(zones=[Zone(name=name, irradiance_w_m2=80) for name in ("A1", "A2", "A3", "B1", "B2", "B3")])
    program = Program(
        title="Levels",
        zones=[
            ZonePlan(zone="A2", exposures=[Exposure(start_s=0, end_s=8 * 3600, level=0.5)]),
            ZonePlan(zone="A3", exposures=[Exposure(start_s=0, end_s=4 * 3600)]),
        ],
    )
    bench.light_h = {"A2": 4, "A3": 4}
    bench.cells = [cell for cell in bench.cells if cell.name in ("A2", "A3", "B3")]
    plan = Plan(id="p", title="Levels", chamber="chamber", program=program)
    of = concluded(bench, 1, plan=plan, chamber=chamber)
    assert [(c.one, c.other, c.equal) for c in of.comparison.reciprocity] == [
        ("light, 120 J/cm² at 40 W/m²", "light, 120 J/cm² at 80 W/m²", True)
    ]
    assert any(said.startswith("Same dose,") and "dose alone decides" in said for said in of.sentences)
    named = plan.model_copy(update={"arms": {"A2": "gentle", "A3": "strong"}})
    assert [arm.name for arm in concluded(bench, plan=named, chamber=chamber).arms] == [
        "covered control", "gentle", "strong",
    ]  # fmt: skip


def test_a_covered_cell_gets_no_dose_whatever_its_zone_got(bench):
    readings, doses = bench.read(1)
    lit = {name: {**cells, "B3": 999.0 if name != "r0" else 0.0} for name, cells in doses.items()}
    assert conclude(bench.sheet, None, readings, lit).arms == conclude(bench.sheet, None, readings, doses).arms


def test_stray_light_makes_no_arm_and_asks_for_no_advice(bench):
    readings, doses = bench.read(1)
    stray = {name: {**by, "B2": 0.9 * i} for i, (name, by) in enumerate(doses.items())}
    of, clean = (conclude(bench.sheet, None, readings, each) for each in (stray, doses))
    assert (of.arms, of.advice) == (clean.arms, clean.advice)
    assert next(cell for cell in of.cells if cell.cell == "B2").end.dose_j_cm2 == pytest.approx(5.4)


def test_lit_cells_of_unknown_dose_say_so(bench):
    readings, _ = bench.read(1)
    of = conclude(bench.sheet, None, readings, {})
    assert of.advice.kind is Kind.UNCLEAR
    assert "A1 has no reading after light with a known dose" in of.advice.reason


def test_ways_are_not_mixed_and_stand_side_by_side(bench):
    readings, doses = bench.read(1)
    by_hand = [bench.reading(hour, np.random.default_rng(hour), id=f"i{hour}", way="instrument") for hour in (0, 24)]
    doses |= {"i0": doses["r0"], "i24": doses["r24"]}
    of = conclude(bench.sheet, None, [*by_hand, *readings], doses)
    assert of.way is Way.FIXED
    assert {change.reading[0] for cell in of.cells for change in cell.series.changes} == {"r"}
    assert any("A3 by the other way, 'instrument'" in said and "agrees" in said for said in of.sentences)
    wrong = [by_hand[0], bench.reading(24, offset=(-6, 0, 6), id="i24", way="instrument")]
    assert any("disagrees by" in said for said in conclude(bench.sheet, None, [*wrong, *readings], doses).sentences)
    assert conclude(bench.sheet, None, [*by_hand, *readings], doses, way=Way.INSTRUMENT).newest == "i24"


def test_a_cell_first_read_after_its_light_is_left_out(bench):
    of = concluded(bench, hours=(1, 2, 4, 8))
    assert {cell.cell for cell in of.cells} == {"B2", "B3"}
    assert of.limits[0].text.startswith("Not read both before light and after: A1, A2, A3, B1 and B4")


@pytest.mark.parametrize("hours", [(), (0,)])
def test_nothing_to_compare(bench, hours):
    of = concluded(bench, hours=hours)
    assert (of.advice.kind, of.cells, of.comparison) == (Kind.UNCLEAR, (), None)
    assert "nothing to compare" in of.sentences[0]


def test_hand_findings_stand_beside(bench):
    hand = HandFinding(cell="A3", aspect="stiffness", value=3, found_utc="2026-05-02T06:00:00Z")
    of = concluded(bench, hand=[hand])
    assert of.hand == ("A3, Stiffness: stiffer than before.",)
    assert of.sentences[-1] == of.hand[0]
    assert next(cell for cell in of.cells if cell.cell == "A3").hand == (hand,)
    assert of.comparison == concluded(bench).comparison


@pytest.mark.parametrize("dose", [-1.0, float("nan"), float("inf")])
def test_a_dose_that_cannot_be_is_refused(bench, dose):
    readings, doses = bench.read()
    with pytest.raises(ProgramError, match="Cell 'A1' has a dose"):
        conclude(bench.sheet, None, readings, {**doses, "r2": {"A1": dose}})


def test_conclusions_are_data_that_can_be_kept(bench):
    of = concluded(bench, 1, LATER)
    kept = TypeAdapter(Conclusions)
    text = kept.dump_json(of)
    assert b"NaN" not in text
    assert b"Infinity" not in text
    assert kept.validate_json(text) == of
    assert concluded(bench, 1, LATER) == of
