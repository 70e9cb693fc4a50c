"""What differs between arms, what does not, and plans that compare like with like."""

import pytest

from lampwarden.errors import ProgramError
from lampwarden.light.leakage import leakage
from lampwarden.trial.compare import courses, differences, refuse_alike
from lampwarden.trial.ladder import Scheme, Target, reciprocity, zone_plans


def ladder(chamber, cell, doses, scheme=Scheme.START_TOGETHER, **spread):
    zones = list(doses)
    plans = zone_plans(chamber, [Target(z, d) for z, d in doses.items()], scheme)
    cells = [cell(z, light=True) if doses[z] else cell(z) for z in zones]
    return courses(chamber, plans, cells, {z: f"light {doses[z]:g}" for z in zones}, **spread)


def test_a_ladder_differs_in_dose_and_time_and_says_what_it_cannot_tell_apart(chamber, cell):
    found = ladder(chamber, cell, {"A1": 60, "A2": 120, "A3": 240})
    refuse_alike(found)
    said = differences(found)
    assert said[0] == "Dose differs: light 60: 60 J/cm²; light 120: 120 J/cm²; light 240: 240 J/cm²."
    assert any(s.startswith("First light: the same") for s in said)
    assert any(s.startswith("Last light differs") for s in said)
    assert any("rest longer in the dark" in s for s in said)
    assert "Bath: the same, dry." in said
    assert "Cover: the same, open." in said


def test_ending_together_leaves_no_uneven_rest(chamber, cell):
    said = differences(ladder(chamber, cell, {"A1": 60, "A2": 120}, Scheme.END_TOGETHER))
    assert any(s.startswith("Last light: the same") for s in said)
    assert not any("rest longer" in s for s in said)


def test_equal_levels_blur_dose_with_time(chamber, cell):
    # 80 to 88 W/m2: the chamber's own spread counts as one level beside a ladder.
    said = differences(ladder(chamber, cell, {"A3": 60, "A2": 120}))
    assert any("More dose means more time here" in s for s in said)


def test_equal_times_blur_dose_with_warmth(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60, 40), Target("A2", 120, 80)], Scheme.END_TOGETHER)
    cells = [cell("A1", light=True), cell("A2", light=True)]
    said = differences(courses(chamber, plans, cells, {"A1": "weak", "A2": "strong"}))
    assert any("More dose means stronger light here" in s for s in said)


def test_all_at_once_tells_nothing_apart(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60, 40), Target("A2", 240, 80)], Scheme.END_TOGETHER)
    cells = [cell("A1", light=True), cell("A2", light=True)]
    said = differences(courses(chamber, plans, cells, {"A1": "little", "A2": "much"}))
    assert any("cannot be laid to one of them" in s for s in said)


def test_reciprocity_is_named(chamber, cell):
    plans = zone_plans(chamber, reciprocity(["A1", "A2"], 100, 80), Scheme.END_TOGETHER)
    cells = [cell("A1", light=True), cell("A2", light=True)]
    found = courses(chamber, plans, cells, {"A1": "strong", "A2": "weak"})
    refuse_alike(found)
    said = differences(found)
    assert said[0] == "Dose: the same, 100 J/cm²."
    assert said[1] == "Irradiance while lit differs: strong: 80 W/m²; weak: 40 W/m²."
    assert any("a test of reciprocity" in s for s in said)


def test_arms_that_get_the_same_are_refused(chamber, cell):
    found = ladder(chamber, cell, {"A1": 100, "A3": 102})
    with pytest.raises(ProgramError, match=r"'A1' \(light 100\) and 'A3' \(light 102\) should differ but get the same"):
        refuse_alike(found)


def test_the_hour_alone_makes_no_arm(chamber, cell):
    targets = [Target("A1", 100, 80), Target("A2", 100, 80)]
    lamp_w = {"A1": 5.0, "A2": 5.0}
    plans = zone_plans(chamber, targets, Scheme.IN_TURN, lamp_w=lamp_w, power_w_max=5.0)
    cells = [cell("A1", light=True), cell("A2", light=True)]
    with pytest.raises(ProgramError, match="should differ but get the same"):
        refuse_alike(courses(chamber, plans, cells, {"A1": "first", "A2": "second"}))


def test_two_dark_arms_are_refused_too(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60)], Scheme.START_TOGETHER)
    cells = [cell("A1", light=True), cell("A2"), cell("A3")]
    found = courses(chamber, plans, cells, {"A1": "light", "A2": "control", "A3": "untreated"})
    with pytest.raises(ProgramError, match="no light, dry"):
        refuse_alike(found)


def test_bath_time_and_cover_make_arms_differ(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60)], Scheme.START_TOGETHER)
    bath = {"chemical": "hydrogen peroxide", "strength_pct": 3}
    cells = [
        cell("covered", "A1", covered=True),
        cell("dark", "A2"),
        cell("bath", "A3", **bath, wet_min=20),
        cell("longer", "B1", **bath, wet_min=30),
        cell("lit", "A1", light=True),
    ]
    found = courses(chamber, plans, cells, {c.name: c.name for c in cells})
    refuse_alike(found)
    assert found[0].dose_j_cm2 == 0
    said = differences(found)
    assert any("bath: hydrogen peroxide 3 % for 20 min" in s for s in said)
    assert any(s.startswith("Cover differs: covered: covered; dark: open") for s in said)


def test_replicates_may_be_alike_and_uneven_ones_speak(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60), Target("A2", 60), Target("A3", 90)], Scheme.START_TOGETHER)
    cells = [cell(z, light=True) for z in ("A1", "A2", "A3")]
    found = courses(chamber, plans, cells, {"A1": "light", "A2": "light", "A3": "light"})
    refuse_alike(found)
    assert any("Replicates of 'light' are not alike: 'A1'" in s and "'A3'" in s for s in differences(found))


def test_stray_light_can_make_two_arms_the_same(chamber, cell):
    zones = [zone.name for zone in chamber.zones]
    spread = leakage({z: z for z in zones}, zones, {("A1", "A2"): 0.5})
    clean = ladder(chamber, cell, {"A1": 60, "A3": 110, "A2": 100})
    assert [c.dose_j_cm2 for c in clean] == pytest.approx([60, 110, 100])
    leaky = ladder(chamber, cell, {"A1": 60, "A3": 110, "A2": 100}, leakage=spread)
    assert leaky[0].dose_j_cm2 == pytest.approx(60 + 0.5 * 100)
    dark = ladder(chamber, cell, {"A2": 100, "A1": 0}, leakage=spread)
    assert dark[1].dose_j_cm2 == pytest.approx(50)


def test_a_cover_keeps_stray_light_off(chamber, cell):
    zones = [zone.name for zone in chamber.zones]
    plans = zone_plans(chamber, [Target("A1", 60), Target("A2", 100)], Scheme.START_TOGETHER)
    cells = [cell("A1", covered=True), cell("A2", light=True)]
    spread = leakage({z: z for z in zones}, zones, {("A1", "A2"): 0.5})
    covered, _ = courses(chamber, plans, cells, {"A1": "control", "A2": "light"}, leakage=spread)
    assert (covered.dose_j_cm2, covered.lit_s) == (0, 0)


def test_cells_that_contradict_their_zone_are_refused(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60)], Scheme.START_TOGETHER)
    with pytest.raises(ProgramError, match="meant to stay dark but lies open under zone 'A1'"):
        courses(chamber, plans, [cell("A1")], {"A1": "control"})
    with pytest.raises(ProgramError, match="meant to get light but zone 'A2' stays dark"):
        courses(chamber, plans, [cell("A2", light=True)], {"A2": "light"})
    with pytest.raises(ProgramError, match="no cell 'Z9'"):
        courses(chamber, plans, [cell("A1", light=True)], {"Z9": "light"})
    with pytest.raises(ProgramError, match="lies under zone 'Q'"):
        courses(chamber, plans, [cell("A1", "Q", light=True)], {"A1": "light"})


def test_cells_without_an_arm_are_left_out(chamber, cell):
    plans = zone_plans(chamber, [Target("A1", 60)], Scheme.START_TOGETHER)
    assert courses(chamber, plans, [cell("A1", light=True), cell("A2")], {"A1": "light"})[0].cell == "A1"
