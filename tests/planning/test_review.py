"""One call says everything about a plan; the numbers are reckoned again here by hand."""

from datetime import time

import numpy as np
import pytest

from lampwarden.care.cautions import Weight
from lampwarden.care.peroxide import Confirmation, confirmation_sentence
from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Checkpoint, Exposure, Limits, Program, Rules, ZonePlan
from lampwarden.domain.sheet import Cell, Treatment
from lampwarden.errors import ProgramError
from lampwarden.light.forecast import Series, design_model
from lampwarden.light.spectrum import of_band
from lampwarden.planning import STRONG_PEROXIDE, Level, Wish, air_model, all_cautions, review
from lampwarden.planning.edit import changed as program_with
from lampwarden.planning.edit import with_exposures
from lampwarden.planning.place import changed


def keys(found, level=None):
    return {n.key for n in found.warnings if level in (None, n.level)}


def with_cell(sheet, name, **changes):
    cells = [c.model_copy(update=changes) if c.name == name else c for c in sheet.cells]
    return changed(sheet, cells=tuple(cells))


def with_program(plan, program):
    return plan.model_copy(update={"program": program})


def test_the_ready_trial_may_start_and_its_numbers_are_right(chamber, trial, morning):
    plan, sheet = trial
    found = review(plan, chamber, sheet, morning)
    assert found.may_start
    a1, b2 = found.zones[0], found.zones[4]
    # 84 W/m2 for 2 h: 60.48 J/cm2 = 0.6048 MJ/m2; 435 nm gives 3.6363 umol/J: 2.199 mol/m2.
    assert a1.dose_j_cm2 == pytest.approx(60.48)
    assert a1.dose_mj_m2 == pytest.approx(0.6048)
    assert a1.photon_mol_m2 == pytest.approx(2.199, abs=0.001)
    assert (a1.irradiance_w_m2, a1.lit_s, a1.on_s, a1.first_s, a1.last_s) == (84, 7200, 7200, 0, 7200)
    assert a1.power_w == 4.0
    # Leaks: 0.4 % of what A2, A3 and B1 give.
    assert a1.stray_j_cm2 == pytest.approx(0.004 * (88 * 4 + 83 * 8 + 82 * 8) * 0.36)
    assert (b2.dose_j_cm2, b2.irradiance_w_m2, b2.first_s, b2.illuminance_lx) == (0, 0, None, 0)
    # Four zones of 4 W for 2 h, three until 4 h, two until 8 h.
    assert found.power.peak_w == pytest.approx(16)
    assert found.power.energy_wh == pytest.approx(4 * (2 + 4 + 8 + 8))
    assert found.timeline.moments[0].name == "baseline"
    # 83 and 82 W/m2 for 8 h are closer than 5 %.
    assert found.same_zones == (("A3", "B1"),)
    assert "Dose differs: A1: 60 J/cm²; A2: 127 J/cm²; A3: 239 J/cm²; B1: 236 J/cm²." in found.between_zones
    assert {one.ink for one in found.fading} == {"black", "vermilion"}
    assert "this light of 88 W/m²" in found.lux.text
    assert "measured on 2031-02-01, photodiode, 2030" in a1.calibration


def test_the_warmest_sheet_is_the_peak_of_the_air_and_its_rise(chamber, trial, morning):
    plan, sheet = trial
    found = review(plan, chamber, sheet, morning, room_c=20)
    a2 = found.zones[1]
    assert a2.rise.likely_k == pytest.approx(0.5 * 88 / 12)
    assert a2.sheet_c == pytest.approx(found.heat.forecast.peak_c + a2.rise.likely_k)
    assert found.heat.forecast.peak_c > 20
    # The design's model: all lamps at full warm the air by 7 K; 16 of 24 W can warm it by 4.67 K at most.
    assert found.heat.forecast.peak_c < 20 + 7 * 16 / 24


def test_levels_and_two_exposures_are_averaged_over_the_time_lit(chamber, trial, morning):
    plan, sheet = trial
    halves = (Exposure(start=0, end=3600, level=0.5), Exposure(start=7200, end=10800, level=1.0))
    plan = with_program(plan, with_exposures(plan.program, chamber, {"A1": halves}))
    a1 = review(plan, chamber, sheet, morning).zones[0]
    assert (a1.on_s, a1.lit_s, a1.level) == (7200, 5400, 1.0)
    assert a1.irradiance_w_m2 == pytest.approx(63)
    assert a1.first_s == 0
    assert a1.last_s == 10800


def test_too_much_power_stops(chamber, trial, morning):
    plan, sheet = trial
    tight = chamber.model_copy(update={"power_w_max": 15.0})
    found = review(plan, tight, sheet, morning)
    assert not found.may_start
    (notice,) = [n for n in found.warnings if n.level is Level.STOP]
    assert "16.0 W together" in notice.says
    assert "in turn" in notice.remedy


def test_heat_warns_by_its_chance_and_follows_earlier_sessions(chamber, trial, morning):
    plan, sheet = trial
    assert "heat" not in keys(review(plan, chamber, sheet, morning, room_c=18))
    hot = review(plan, chamber, sheet, morning, room_c=31)
    assert "heat" in keys(hot, Level.WARN)
    assert "sheet-warm" in keys(hot, Level.WARN)
    # An earlier session with a time constant of 1500 s whose air rose by twice the design's, then fell in the dark.
    t = np.arange(0, 14_400, 60.0)
    risen = 14 * (1 - np.exp(-np.minimum(t, 7200) / 1500)) * np.exp(-np.maximum(t - 7200, 0) / 1500)
    earlier = Series(t, 20 + risen, np.repeat(t[:, None] < 7200, 6, axis=1).astype(float))
    model = air_model(chamber, [earlier])
    assert model.sessions == 1
    warmer = review(plan, chamber, sheet, morning, model, room_c=20)
    assert warmer.heat.forecast.peak_c > review(plan, chamber, sheet, morning, room_c=20).heat.forecast.peak_c + 2
    assert review(plan, chamber, sheet, morning, [earlier], room_c=20).heat == warmer.heat
    assert (
        review(plan, chamber, sheet, morning, design_model([4.0] * 6)).heat
        == review(plan, chamber, sheet, morning).heat
    )


def test_pauses_to_cool_are_foreseen_and_allowed_for(chamber, trial, morning):
    plan, sheet = trial
    # 16 of 24 W settle at 4.67 K above the room: 0.67 K over the limit of 35 C in a room of 31 C.
    hot = review(plan, chamber, sheet, morning, room_c=31)
    assert hot.heat.cooling.pauses > 0
    assert hot.timeline.cooling_s == pytest.approx(hot.heat.cooling.pause_s, rel=0.01)
    (notice,) = [n for n in hot.warnings if n.key == "cooling"]
    assert "cut off" not in notice.says
    assert review(plan, chamber, sheet, morning, room_c=31, cooling_share=0.1).timeline.cooling_s == pytest.approx(2880)
    cool = review(plan, chamber, sheet, morning, room_c=22)
    assert cool.timeline.cooling_s == 0
    assert "cooling" not in keys(cool)
    tight = Limits(air_soft_c=35, hysteresis_c=0.5)
    nervous = with_program(plan, program_with(plan.program, limits=tight, rules=Rules(coolings_per_hour_max=1)))
    (notice,) = [n for n in review(nervous, chamber, sheet, morning, room_c=31).warnings if n.key == "cooling"]
    assert "would be cut off" in notice.says
    (notice,) = [n for n in review(plan, chamber, sheet, morning, room_c=32).warnings if n.key == "cooling"]
    assert "would not end" in notice.says


def test_a_room_above_the_handling_temperature_would_hold_for_ever(chamber, trial, morning):
    plan, sheet = trial
    assert "handling" in keys(review(plan, chamber, sheet, morning, room_c=32.5), Level.WARN)
    assert "handling" not in keys(review(plan, chamber, sheet, morning, room_c=24))


def test_a_night_checkpoint_is_said_with_a_better_start(chamber, trial, morning):
    plan, sheet = trial
    found = review(plan, chamber, sheet, morning.replace(hour=15))
    (notice,) = [n for n in found.warnings if n.key == "sleep"]
    assert "'8 h'" in notice.says
    assert "start at" in notice.remedy
    assert found.proposal.start is not None
    awake = plan.model_copy(update={"sleep_from": time(0), "sleep_to": time(0)})
    assert "sleep" not in keys(review(awake, chamber, sheet, morning.replace(hour=15)))


def test_an_estimate_and_an_old_measurement_are_told_apart(chamber, trial, morning):
    plan, sheet = trial
    assert "estimated" not in keys(review(plan, chamber, sheet, morning))
    fresh = review(plan, chamber, sheet, morning, bank_lit_h={1: 600, 2: 90, 3: 0})
    assert "old-calibration" not in keys(fresh)
    assert "500 h since" in fresh.zones[0].calibration
    old = review(plan, chamber, sheet, morning, bank_lit_h={1: 601})
    assert {n.zone for n in old.warnings if n.key == "old-calibration"} == {"A1", "B1"}
    guessed = chamber.model_copy(
        update={"zones": tuple(z.model_copy(update={"calibration": type(z.calibration)()}) for z in chamber.zones)}
    )
    (notice,) = [n for n in review(plan, guessed, sheet, morning).warnings if n.key == "estimated"]
    assert "A1, A2, A3, B1 is estimated" in notice.says


def test_stray_light_speaks_where_it_falls_on_paper(chamber, trial, morning):
    plan, sheet = trial
    found = review(plan, chamber, sheet, morning)
    leaks = {n.cell: n.says for n in found.warnings if n.key == "leak"}
    assert set(leaks) == {"A1", "A2", "B2"}  # A3 and B1 get less than 1 % of their own; B3 is covered
    assert "meant to stay dark but gets" in leaks["B2"]
    course = next(c for c in found.trial.courses if c.cell == "A1")
    assert course.dose_j_cm2 == pytest.approx(60.48 + found.zones[0].stray_j_cm2)
    unknown = review(plan, chamber.model_copy(update={"leaks": ()}), sheet, morning)
    assert unknown.zones[0].stray_j_cm2 is None
    assert ["30 leaks between zones not measured" in n.says for n in unknown.warnings if n.key == "leak"] == [True]


def test_like_cells_of_different_arms_stop(chamber, trial, morning):
    plan, sheet = trial
    same = with_exposures(plan.program, chamber, {"A2": (Exposure(start=0, dose_j_cm2=60.48, level=0.955),)})
    named = with_program(plan, same).model_copy(update={"arms": {"A1": "short", "A2": "long"}})
    found = review(named, chamber, sheet, morning)
    assert not found.may_start
    (notice,) = [n for n in found.warnings if n.key == "alike"]
    assert (notice.cell, notice.level) == ("A1", Level.STOP)
    assert "should differ but get the same" in notice.says
    assert notice.says in found.trial.refused


def test_a_cell_against_its_zone_stops_and_the_rest_is_still_compared(chamber, trial, morning):
    plan, sheet = trial
    open_control = with_cell(sheet, "A3", treatment=Treatment())
    found = review(plan, chamber, open_control, morning)
    assert [n.cell for n in found.warnings if n.level is Level.STOP] == ["A3"]
    assert {c.cell for c in found.trial.courses} == {"A1", "A2", "B1", "B2", "B3"}


@pytest.mark.parametrize(
    ("change", "key", "where"),
    [
        ({"sheet": "other"}, None, None),
        ({"chamber": "attic"}, "chamber", "chamber"),
        ({"arms": {"Z9": "light"}}, "fit", "fit"),
    ],
)
def test_a_plan_for_something_else_stops(chamber, trial, morning, change, key, where):
    plan, sheet = trial
    found = review(plan.model_copy(update=change), chamber, sheet, morning)
    assert found.may_start is (key is None)
    if key:
        assert [n.where for n in found.warnings if n.level is Level.STOP] == [where]


def test_zones_and_cells_that_the_chamber_lacks_stop_each_by_name(chamber, trial, morning):
    plan, sheet = trial
    small = Chamber.model_validate(chamber.model_dump() | {"zones": chamber.zones[:4], "leaks": ()})
    found = review(plan, small, sheet, morning)
    assert {n.where for n in found.warnings if n.level is Level.STOP} == {"zone B2", "zone B3", "cell B2", "cell B3"}


def test_looks_that_are_missing_are_named(chamber, trial, morning):
    plan, sheet = trial
    blind = with_program(plan, program_with(plan.program, checkpoints=()))
    assert {"baseline", "looks"} <= keys(review(blind, chamber, sheet, morning))
    early = with_program(plan, program_with(plan.program, checkpoints=(Checkpoint(name="baseline", at=0),)))
    assert "last-look" in keys(review(early, chamber, sheet, morning), Level.WARN)
    assert "baseline" not in keys(review(early, chamber, sheet, morning))
    (notice,) = [n for n in review(plan, chamber, sheet, morning).warnings if n.key == "looks"]
    # 83 W/m2 from 4 h to 8 h is 119.5 J/cm2.
    assert notice.says.startswith("120 J/cm² fall between 4 h and 8 h")


def test_inks_at_risk_want_a_watch(chamber, trial, morning):
    plan, sheet = trial
    (notice,) = [n for n in review(plan, chamber, sheet, morning).warnings if n.key == "ink"]
    assert notice.level is Level.WARN
    assert "vermilion" in notice.says
    watch = Cell(name="W1", zone="A3", x_mm=1, y_mm=1, width_mm=10, height_mm=10, role="ink watch", ink="vermilion",
                 treatment=Treatment(light=True))  # fmt: skip
    watched = changed(sheet, cells=(*sheet.cells, watch))
    found = review(plan, chamber, watched, morning)
    assert [n.level for n in found.warnings if n.key == "ink"] == [Level.NOTE]
    assert "W1" not in found.trial.arms


def test_without_a_sheet_only_light_and_dose_are_cautioned(chamber, trial, morning):
    plan, _ = trial
    alone = plan.model_copy(update={"sheet": None})
    found = review(alone, chamber, None, morning)
    assert found.may_start
    assert found.trial is None
    assert [c.key for c in found.confirm] == ["eyes-light"]
    assert "sheet" in keys(found)
    missing = review(plan, chamber, None, morning)
    assert not missing.may_start


def test_cautions_come_by_weight_and_are_confirmed_by_key(chamber, trial, morning):
    plan, sheet = trial
    found = review(plan, chamber, sheet, morning)
    weights = [c.weight for c in found.cautions]
    assert weights == sorted(weights, reverse=True)
    assert {"groundwood-reverts", "eyes-light", "peroxide-eyes", "peroxide-light"} <= {c.key for c in found.confirm}
    assert all(c.weight is Weight.CONFIRM for c in found.confirm)
    assert len({c.key for c in found.cautions}) == len(found.cautions)


@pytest.mark.parametrize(
    ("dose", "key", "confirm"), [(299, None, False), (301, "dose-stop", False), (1001, "dose-cap", True)]
)
def test_high_doses_are_cautioned_and_beyond_the_cap_confirmed(chamber, trial, morning, dose, key, confirm):
    plan, sheet = trial
    lit = with_exposures(plan.program, chamber, {"A3": (Exposure(start=0, dose_j_cm2=dose),)})
    found = review(with_program(plan, lit), chamber, sheet, morning)
    said = [c for c in found.cautions if c.key.startswith("dose-")]
    assert [c.key for c in said] == ([key] if key else [])
    assert [c.key for c in found.confirm if c.key.startswith("dose-")] == ([key] if confirm else [])


def test_strong_peroxide_is_confirmed_by_name_in_bath_or_bottle(chamber, trial, morning):
    plan, sheet = trial
    weak = review(plan, chamber, sheet, morning)
    assert weak.peroxide.confirm == ""
    assert STRONG_PEROXIDE not in {c.key for c in weak.confirm}
    assert weak.peroxide.baths[0].cells == ("B1", "B2")
    assert weak.peroxide.baths[0].wet_min == 30
    assert "as it is" in weak.peroxide.baths[0].recipe.text
    bottle = review(plan, chamber, sheet, morning, wish=Wish(stock_pct=12))
    (bath,) = bottle.peroxide.baths
    assert bath.recipe is None
    assert "damages eyes" in bath.trouble
    assert bottle.peroxide.confirm == confirmation_sentence(12)
    assert [c.statement.text for c in bottle.confirm if c.key == STRONG_PEROXIDE] == [confirmation_sentence(12)]
    assert "Eye Dam. 1" in {label.hazard for label in bottle.peroxide.stock_labels}
    kept = review(plan.model_copy(update={"stock_pct": 12.0}), chamber, sheet, morning)
    assert kept.peroxide == bottle.peroxide
    assert (
        kept.confirm
        == bottle.confirm
        == tuple(c for c in all_cautions(plan, chamber, sheet, Wish(stock_pct=12)) if c.weight is Weight.CONFIRM)
    )
    yes = Confirmation(12, confirmation_sentence(12), "Mara")
    made = review(plan, chamber, sheet, morning, wish=Wish(12, 500, yes)).peroxide.baths[0].recipe
    # 3 % from 12 %: a quarter of the mass.
    assert made.stock_g == pytest.approx(made.total_g / 4)


@pytest.mark.parametrize("wish", [{"stock_pct": 0}, {"stock_pct": 60}, {"total_ml": 0}, {"stock_pct": float("nan")}])
def test_a_wish_that_cannot_be(wish):
    with pytest.raises(ProgramError, match="out of range"):
        Wish(**wish)


def test_a_measured_spectrum_takes_the_place_of_the_band(chamber, trial, morning):
    plan, sheet = trial
    short = {"A1": of_band(405, 1.0, 14)}
    found = review(plan, chamber, sheet, morning, spectra=short)
    assert [n.zone for n in found.warnings if n.key == "band"] == ["A1"]
    assert found.zones[0].photon_mol_m2 < review(plan, chamber, sheet, morning).zones[0].photon_mol_m2
    assert found.zones[0].dose_j_cm2 == pytest.approx(60.48)


def test_notices_come_by_weight_each_once(chamber, trial, morning):
    plan, sheet = trial
    found = review(plan, chamber.model_copy(update={"power_w_max": 5.0}), sheet, morning.replace(hour=15), room_c=31)
    order = [list(Level).index(n.level) for n in found.warnings]
    assert order == sorted(order)
    assert len(set(found.warnings)) == len(found.warnings)
    assert found.warnings[0].key == "power"


def test_temperatures_speak_the_scale_that_was_chosen(chamber, trial, morning):
    plan, sheet = trial
    words = " ".join(review(plan, chamber, sheet, morning, room_c=31, scale="F").heat.forecast.sentences)
    assert "°F" in words
    assert "°C" not in words


def test_a_program_whose_only_light_is_on_an_unknown_zone_is_reviewed_all_the_same(chamber, morning):
    odd = Program(title="t", zones=(ZonePlan(zone="Z9", exposures=(Exposure(start=0, end=60),)),))
    found = review(Plan(id="p", title="t", chamber="demo", program=odd), chamber, None, morning)
    assert [n.where for n in found.warnings if n.level is Level.STOP] == ["zone Z9"]
    assert found.power.peak_w == 0
    assert found.lux is None
