"""Ready patterns fit the chamber they are made for, and the review finds nothing that stops them."""

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.plan import Plan
from lampwarden.domain.sheet import Sheet
from lampwarden.errors import ProgramError
from lampwarden.mask.layout import PAPERS, lay_out
from lampwarden.planning import PATTERNS, review
from lampwarden.planning.patterns import ladder, light_by_chemical, new_sheet, single_exposure, two_levels
from lampwarden.rehearsal import demo_chamber, demo_programs
from lampwarden.trial.ladder import Scheme


def plain(count, **more):
    return Chamber(id="demo", zones=tuple(Zone(name=f"zone {n}", irradiance_w_m2=80 + n) for n in range(count)), **more)


@pytest.mark.parametrize("pattern", PATTERNS, ids=lambda p: p.key)
@pytest.mark.parametrize("zones", [4, 6, 8, None], ids=lambda n: f"{n} zones")
def test_every_pattern_may_start(pattern, zones, morning):
    chamber = demo_chamber() if zones is None else plain(zones)
    draft = pattern.make(chamber, None)
    plan = Plan(id="p", title="t", chamber="demo", sheet=draft.sheet.id, program=draft.program)
    found = review(plan, chamber, draft.sheet, morning)
    assert found.may_start, [n.text for n in found.warnings]
    assert "baseline" not in {n.key for n in found.warnings}
    assert "last-look" not in {n.key for n in found.warnings}
    assert found.trial.refused == ""


@pytest.mark.parametrize(
    ("make", "needs", "says"),
    [
        (single_exposure, 1, ""),
        (ladder, 3, "two steps or more"),
        (two_levels, 2, "two zones"),
        (light_by_chemical, 4, "four zones"),
    ],
)
def test_a_chamber_too_small_is_told_what_is_needed(make, needs, says):
    assert make(plain(needs)).program
    if needs > 1:
        with pytest.raises(ProgramError, match=says):
            make(plain(needs - 1))


def test_the_trial_is_that_of_the_demo():
    draft = light_by_chemical(demo_chamber())
    shipped = demo_programs()["ferry_timetable"]
    lit = [[(e.start_s, e.planned_end_s(82)) for e in plan.exposures] for plan in draft.program.zones]
    assert lit == [[(0, 7200)], [(0, 14400)], [(0, 28800)], [(0, 28800)], [], []]
    assert [(c.name, c.at_s, c.attended) for c in draft.program.checkpoints] == [
        (c.name, c.at_s, c.attended) for c in shipped.checkpoints
    ]
    assert [c.treatment.label for c in draft.sheet.cells] == [
        "light",
        "light",
        "light",
        "light and hydrogen peroxide 3 %",
        "hydrogen peroxide 3 %, dark",
        "covered control",
    ]
    # The demo's own program gives B1 its dose as 236 J/cm2: as much as 8 h at 82 W/m2.
    assert shipped.exposures_of("B1")[0].dose_j_cm2 == pytest.approx(82 * 28800e-4, rel=0.001)


def test_more_zones_repeat_the_longest_light_and_fewer_drop_the_shortest():
    eight = light_by_chemical(plain(8)).program
    assert [p.exposures[0].end_s / 3600 for p in eight.zones if p.exposures] == [2, 4, 8, 8, 8, 8]
    four = light_by_chemical(plain(4)).program
    assert [p.exposures[0].end_s / 3600 for p in four.zones if p.exposures] == [8, 8]


def test_a_single_exposure_looks_where_the_dose_steps_are_reached(chamber):
    draft = single_exposure(chamber, zone="B2", dose_j_cm2=120)
    # 87 W/m2 gives 25, 75 and 120 J/cm2 after 47.9, 143.7 and 229.9 min; checkpoints stand on the minute after.
    assert [c.at_s / 60 for c in draft.program.checkpoints] == [0, 48, 144, 230]
    assert {c.name: c.treatment.label for c in draft.sheet.cells} == {"B2": "light", "B3": "covered control"}


def test_a_ladder_runs_in_turn_where_the_power_is_short(chamber):
    assert all(p.exposures[0].start_s == 0 for p in ladder(chamber).program.zones if p.exposures)
    tight = chamber.model_copy(update={"power_w_max": 9.0})
    turns = ladder(tight).program
    assert len({p.exposures[0].start_s for p in turns.zones if p.exposures}) > 1
    doses = [p.exposures[0].dose_j_cm2 for p in turns.zones if p.exposures]
    assert doses[0] == 30
    assert doses[-1] == 240
    assert doses == sorted(doses)


def test_a_ladder_over_chosen_zones_that_ends_together(chamber):
    made = ladder(chamber, zones=["B1", "A1"], lowest_j_cm2=20, highest_j_cm2=40, scheme=Scheme.END_TOGETHER).program
    ends = [
        e.planned_end_s(chamber.zones[chamber.zone_index(p.zone)].irradiance_w_m2)
        for p in made.zones
        for e in p.exposures
    ]
    assert ends[0] == pytest.approx(ends[1], abs=1.0)
    assert [(p.zone, p.exposures[0].dose_j_cm2) for p in made.zones if p.exposures] == [("B1", 20), ("A1", 40)]


def test_two_levels_give_the_same_dose_at_half_the_strength(chamber):
    made = two_levels(chamber, dose_j_cm2=60).program
    lit = [(p.zone, p.exposures[0]) for p in made.zones if p.exposures]
    strength = [e.level * chamber.zones[chamber.zone_index(name)].irradiance_w_m2 for name, e in lit]
    assert [e.dose_j_cm2 for _, e in lit] == [60] * 4
    assert strength == pytest.approx([82, 41, 82, 41], rel=0.002)


def test_cells_go_on_the_persons_own_sheet(chamber):
    mine = Sheet(id="mine", title="Mine", width_mm=300, height_mm=200, notes="kept")
    made = light_by_chemical(chamber, mine).sheet
    assert (made.id, made.notes, len(made.cells)) == ("mine", "kept", 6)
    with pytest.raises(ProgramError, match="more than the sheet of 100 x 100 mm"):
        light_by_chemical(chamber, Sheet(id="small", title="Small", width_mm=100, height_mm=100))
    with pytest.raises(ProgramError, match="no zone 'C9'"):
        single_exposure(chamber, zone="C9")


@pytest.mark.parametrize("pattern", PATTERNS, ids=lambda p: p.key)
def test_the_mask_of_every_pattern_can_be_cut(pattern):
    assert lay_out(pattern.make(demo_chamber(), None).sheet, PAPERS["a3"])


def test_a_new_sheet_reaches_beyond_the_zones(chamber):
    assert (new_sheet(chamber).width_mm, new_sheet(chamber).height_mm) == (222, 160)
    assert new_sheet(plain(2)).width_mm == 210
