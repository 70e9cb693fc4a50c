"""Missing controls, replicates that are none, and what the number of replicates can show."""

import pytest

from lampwarden.domain.sheet import Treatment
from lampwarden.errors import ProgramError
from lampwarden.trial.controls import missing_controls
from lampwarden.trial.defaults import DEFAULTS
from lampwarden.trial.power import detectable
from lampwarden.trial.replicates import independent, replicate_cautions

LIGHT, COVERED, NOTHING = Treatment(light=True), Treatment(covered=True), Treatment()
PEROXIDE = Treatment(chemical="hydrogen peroxide", strength_pct=3, wet_min=20)
BOTH = PEROXIDE.model_copy(update={"light": True})
WATER = Treatment(wet_min=20)
LIT_WATER = Treatment(light=True, wet_min=20)
COMPLETE = [LIGHT, COVERED, NOTHING, PEROXIDE, BOTH, WATER, LIT_WATER]


def firsts(treatments):
    return [statement.text.split(":")[0] for statement in missing_controls(treatments)]


def test_a_complete_trial_lacks_only_a_reference_material():
    assert [text[:31] for text in firsts(COMPLETE)] == ["Lay a material of known behavio"]
    assert firsts([NOTHING]) == []


@pytest.mark.parametrize(
    ("left_out", "word"),
    [
        (NOTHING, "No untreated cell"),
        (COVERED, "No covered control"),
        (WATER, "No immersed, dark control"),
        (PEROXIDE, "Peroxide is only used with light"),
        (LIT_WATER, "Light alone is dry and light with peroxide is wet"),
    ],
)
def test_each_control_is_missed(left_out, word):
    assert word in firsts([t for t in COMPLETE if t is not left_out])


def test_light_only_with_peroxide_is_missed():
    found = firsts([BOTH, PEROXIDE, COVERED, NOTHING, WATER])
    assert "Light is only used with peroxide" in found


def test_the_immersed_control_says_why():
    text = next(s for s in missing_controls([PEROXIDE, NOTHING]) if "immersed" in s.text)
    assert "loss of strength came from the bath" in text.text
    assert "Schaeffer" in text.source


def test_cells_under_one_zone_count_once(cell):
    cells = [cell("a", "A1", light=True), cell("b", "A1", light=True), cell("c", "A2", light=True), cell("d", "A3")]
    arms = {"a": "light", "b": "light", "c": "light", "d": "control"}
    assert independent(cells, arms) == {"light": 2, "control": 1}
    said = replicate_cautions(cells, arms)
    assert "'light': 3 cells (a, b, c) but only 2 independent" in said[0].text
    assert "Fewer than 3 independent replicates: light; control" in said[1].text
    assert "another run" in said[2].text


@pytest.mark.parametrize("wet", [{"chemical": "hydrogen peroxide", "strength_pct": 3}, {"wet_min": 20}])
def test_wetted_cells_may_have_shared_a_bath(cell, wet):
    cells = [*(cell(z, **wet) for z in ("A1", "A2", "A3")), *(cell(z, light=True) for z in ("A4", "A5", "A6"))]
    arms = dict.fromkeys(("A1", "A2", "A3"), "bath") | dict.fromkeys(("A4", "A5", "A6"), "light")
    assert independent(cells, arms) == {"bath": 3, "light": 3}
    (said,) = (each.text for each in replicate_cautions(cells, arms) if "a bath of its own" in each.text)
    assert ": bath. Cells" in said


def test_one_wetted_cell_of_an_arm_shares_no_bath(cell):
    said = replicate_cautions([cell("A1", wet_min=20), cell("A2")], {"A1": "bath", "A2": "control"})
    assert not [each for each in said if "a bath of its own" in each.text]


def test_enough_independent_cells_raise_no_warning_of_that_kind(cell):
    cells = [cell(z, light=True) for z in ("A1", "A2", "A3")]
    arms = dict.fromkeys(("A1", "A2", "A3"), "light")
    assert replicate_cautions(cells, arms) == ()


def test_one_of_each_can_prove_nothing():
    shown = detectable(3, 1)
    assert shown.difference_de00 is None
    assert "prove nothing" in shown.sentence


def test_more_replicates_and_less_scatter_show_smaller_differences():
    by_count = [detectable(3, n).difference_de00 for n in (2, 3, 4, 6, 8)]
    assert by_count == sorted(by_count, reverse=True)
    assert detectable(3, 4, sd_de00=0.25).difference_de00 == pytest.approx(detectable(3, 4).difference_de00 / 2)
    # Blocks cost degrees of freedom when there is nothing to block.
    assert detectable(3, 3, blocked=False).difference_de00 < detectable(3, 3).difference_de00


def test_the_sentence_carries_its_numbers():
    shown = detectable(3, 4)
    assert f"a difference of {shown.difference_de00:.1f} ΔE00 from the control is found 8 times in 10" in shown.sentence
    assert f"±{shown.allowance_de00:.1f} ΔE00" in shown.sentence
    assert "visible effects may be missed" in shown.sentence
    assert "finer than the eye" in detectable(3, 10).sentence


@pytest.mark.parametrize(("arms", "replicates", "sd"), [(0, 3, 0.5), (3, 0, 0.5), (3, 3, 0), (3, 3, float("nan"))])
def test_impossible_designs_are_refused(arms, replicates, sd):
    with pytest.raises(ProgramError, match="at least one arm"):
        detectable(arms, replicates, sd_de00=sd)


def test_every_default_has_a_name_a_unit_and_a_source():
    assert len({d.name for d in DEFAULTS}) == len(DEFAULTS) >= 8
    assert all(d.unit and d.source for d in DEFAULTS)
