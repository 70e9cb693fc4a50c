"""The air forecast, fitted to sessions of the simulated chamber, which has more nodes than the model."""

import numpy as np
import pytest
from scipy.special import ndtr

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Exposure, Limits, Program, ZonePlan
from lampwarden.errors import ProgramError
from lampwarden.light.forecast import (
    Chance,
    Series,
    Stretch,
    _below,
    air_course_c,
    chance,
    design_model,
    fit,
    forecast,
    stretches,
)
from lampwarden.rig.design import RigDesign
from lampwarden.rig.plant import Plant

CHAMBER = Chamber(zones=tuple(Zone(name=f"Z{i}", bank=1 + i // 2, irradiance_w_m2=80 + i) for i in range(4)))
LIMITS = Limits()
FULL = (Stretch(0, 20_000, (1.0,) * 4),)
LADDER = (Stretch(0, 7200, (1, 1, 1, 1)), Stretch(7200, 14_400, (0, 1, 1, 0)), Stretch(14_400, 28_800, (0, 0, 1, 0)))


def session(plan, room_c, *, seed=1, rest_s=3600.0, warm_c=0.0, dt_s=10.0, noise_k=0.05):
    """What the simulated chamber's sensor says of a plan, and each zone's power, W."""
    plant, lot = Plant(RigDesign(ambient_c=room_c), CHAMBER), np.random.default_rng(seed)
    if warm_c:
        plant.extra_heat_w = plant.loss_w_k * warm_c
        plant.step(50_000, (0,) * 4, 0, 1)
        plant.extra_heat_w = 0.0
    run_s, air_c, levels = np.arange(0, plan[-1].end_s + rest_s, dt_s), [], []
    for now_s in run_s:
        levels.append(next((one.levels for one in plan if one.start_s <= now_s < one.end_s), (0.0,) * 4))
        air_c.append(plant.air_temp_c + lot.normal(0, noise_k))
        plant.step(dt_s, levels[-1], 0, 1.0)
    return Series(run_s, np.array(air_c), np.array(levels, dtype=float)), plant.zone_w


def true_peak_c(plan, room_c):
    return session(plan, room_c, noise_k=0.0)[0].air_temp_c.max()


@pytest.mark.parametrize("room_c", [18.0, 24.0, 29.0])
def test_one_session_foretells_another_in_another_room(room_c):
    series, lamp_w = session(LADDER, 22.0)
    seen = forecast(fit([series], lamp_w), FULL, lamp_w, LIMITS, room_c)
    assert seen.peak_c == pytest.approx(true_peak_c(FULL, room_c), abs=0.3)
    assert seen.low_c < true_peak_c(FULL, room_c) < seen.high_c
    assert seen.peak_s == FULL[-1].end_s


def test_fit_finds_the_simulated_rise_and_time():
    series, lamp_w = session(LADDER, 22.0)
    model = fit([series], lamp_w)
    design = RigDesign()
    assert model.rise_k_w * sum(lamp_w) == pytest.approx(design.air_rise_k, rel=0.03)
    # The plates' own time adds to the air's.
    assert design.air_time_constant_s < model.time_constant_s
    assert model.time_constant_s < design.air_time_constant_s + design.plate_time_constant_s
    assert model.sessions == 1


def test_before_any_session_the_range_is_wide_and_says_so():
    series, lamp_w = session(LADDER, 22.0)
    seen = forecast(design_model(lamp_w), FULL, lamp_w, LIMITS, 24.0)
    later = forecast(fit([series], lamp_w), FULL, lamp_w, LIMITS, 24.0)
    assert seen.low_c < true_peak_c(FULL, 24.0) < seen.high_c
    assert seen.high_c - seen.low_c > 2 * (later.high_c - later.low_c)
    assert "no session has tested" in seen.sentences[0]


def test_a_session_that_starts_warm_does_not_mislead():
    warm, lamp_w = session(LADDER, 22.0, warm_c=6.0)
    assert forecast(fit([warm], lamp_w), FULL, lamp_w, LIMITS, 22.0).peak_c == pytest.approx(
        true_peak_c(FULL, 22.0), abs=0.5
    )


def test_a_dark_session_leaves_the_rise_at_its_design():
    dark, lamp_w = session((Stretch(0, 7200, (0.0,) * 4),), 22.0)
    design, model = design_model(lamp_w), fit([dark], lamp_w)
    assert model.rise_k_w == pytest.approx(design.rise_k_w, rel=0.02)
    assert model.log_covariance[0][0] == pytest.approx(design.log_covariance[0][0], rel=0.05)


def test_short_sessions_are_left_out():
    series, lamp_w = session(LADDER, 22.0)
    short = Series(series.run_s[:50], series.air_temp_c[:50], series.levels[:50])
    assert fit([short], lamp_w) == design_model(lamp_w)
    assert fit([], lamp_w) == design_model(lamp_w)


def test_sessions_in_different_rooms_share_one_chamber():
    one, lamp_w = session(LADDER, 19.0)
    two, _ = session(FULL, 27.0, seed=2)
    seen = forecast(fit([one, two], lamp_w), FULL, lamp_w, LIMITS, 23.0)
    assert seen.peak_c == pytest.approx(true_peak_c(FULL, 23.0), abs=0.2)
    assert "2 earlier sessions" in seen.sentences[0]


def test_the_interval_holds_as_often_as_it_says():
    """Rooms that differ from what the person noted, as far as the default says: 19 in 20 peaks inside."""
    series, lamp_w = session(LADDER, 22.0)
    model = fit([series], lamp_w)
    rooms = 24.0 + 2.0 * np.random.default_rng(11).normal(size=60)
    seen = forecast(model, FULL, lamp_w, LIMITS, 24.0)
    rise_k = true_peak_c(FULL, 24.0) - 24.0  # the plant is linear in its room
    inside = np.mean([seen.low_c <= room + rise_k <= seen.high_c for room in rooms])
    assert 0.88 <= inside <= 1.0


def test_what_is_known_of_the_rise_is_not_overstated_by_slow_wandering():
    """Air that wanders for minutes repeats itself in the readings. Errors in standard deviations, 24 sessions."""
    lamp_w, rise_k_w, tau_s, misses = [4.0], 2.0, 1200.0, []
    run_s = np.arange(0, 4 * 3600.0, 60.0)
    levels = (run_s < 2 * 3600).astype(float)[:, None]
    clean_c = np.where(
        run_s <= 7200,
        20 + 8 * (1 - np.exp(-run_s / tau_s)),
        20 + 8 * (1 - np.exp(-6)) * np.exp(-(run_s - 7200) / tau_s),
    )
    for seed in range(24):
        lot, wander_k = np.random.default_rng(seed), [0.0]
        for kick in lot.normal(0, 0.1, len(run_s) - 1):
            wander_k.append(0.9 * wander_k[-1] + kick)
        model = fit([Series(run_s, clean_c + wander_k, levels)], lamp_w)
        misses.append(np.log(model.rise_k_w / rise_k_w) / np.sqrt(model.log_covariance[0][0]))
    assert 0.4 < np.sqrt(np.mean(np.square(misses))) < 1.6


def test_limits_are_judged_in_words():
    series, lamp_w = session(LADDER, 22.0)
    model = fit([series], lamp_w)
    cool = forecast(model, FULL, lamp_w, LIMITS, 16.0)
    hot = forecast(model, FULL, lamp_w, LIMITS, 33.0)
    assert cool.chance_soft < 0.01 < 0.9 < hot.chance_soft
    assert "is very unlikely to be reached" in cool.sentences[1]
    assert len(cool.sentences) == 2
    assert "Lower the levels" in hot.sentences[2]
    assert "Without pauses the cutoff" in hot.sentences[3]
    assert hot.chance_hard < hot.chance_soft
    assert "°F" in forecast(model, FULL, lamp_w, LIMITS, 16.0, scale="F").sentences[0]


def test_a_plan_without_light_stays_at_the_room():
    seen = forecast(design_model([4, 4, 4, 4]), (Stretch(0, 600, (0.0,) * 4),), [4, 4, 4, 4], LIMITS, 21.0)
    assert (seen.peak_c, seen.peak_s) == (21.0, 0.0)


def test_one_step_follows_the_exponential():
    model = design_model([4, 4, 4, 4])
    course = air_course_c(model, (Stretch(0, model.time_constant_s, (1.0,) * 4),), [4, 4, 4, 4], 20.0)
    assert course.tolist() == pytest.approx([20.0, 20.0 + 7.0 * (1 - np.exp(-1))])


def test_stretches_change_level_where_the_program_does():
    program = Program(
        title="t",
        zones=(
            ZonePlan(zone="Z0", exposures=(Exposure(start=0, end=100), Exposure(start=200, end=300, level=0.5))),
            ZonePlan(zone="Z1", exposures=(Exposure(start=50, dose_j_cm2=81e-4 * 100),)),
        ),
    )
    assert stretches(program, CHAMBER) == (
        Stretch(0, 50, (1, 0, 0, 0)),
        Stretch(50, 100, (1, 1, 0, 0)),
        Stretch(100, 150, (0, 1, 0, 0)),
        Stretch(150, 200, (0, 0, 0, 0)),
        Stretch(200, 300, (0.5, 0, 0, 0)),
    )


def test_a_series_of_another_chamber_is_refused():
    series, lamp_w = session(LADDER, 22.0)
    with pytest.raises(ProgramError, match="another chamber"):
        fit([series], lamp_w[:3])


def test_a_series_with_gaps_is_refused():
    series, lamp_w = session(LADDER, 22.0)
    holed = series.air_temp_c.copy()
    holed[7] = np.nan
    for run_s, air_c in ((series.run_s, holed), (np.zeros_like(series.run_s), series.air_temp_c)):
        with pytest.raises(ProgramError, match="gaps"):
            fit([Series(run_s, air_c, series.levels)], lamp_w)


@pytest.mark.parametrize("lamp_w", [[0.0, 0.0], [float("nan"), 1.0]])
def test_lamps_without_power_are_refused(lamp_w):
    with pytest.raises(ProgramError, match="above 0 W"):
        design_model(lamp_w)


def test_words_for_chances_are_in_order():
    assert [chance(c) for c in (0.0, 0.05, 0.3, 0.7, 0.995)] == list(Chance)


def test_the_normal_distribution_is_that_of_scipy() -> None:
    z = np.linspace(-8.0, 8.0, 65)
    np.testing.assert_allclose(_below(z), ndtr(z), rtol=1e-12)
