"""The air's forecast against SciPy: its differential equation, another fit, and chances drawn by lot."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from lampwarden.domain.program import Limits
from lampwarden.light.cooling import Cooling, cooling
from lampwarden.light.forecast import AirModel, Series, Stretch, air_course_c, fit, forecast
from lampwarden.light.heating import sheet_rise

LAMPS_W = [20.0, 20.0]
PLAN = (Stretch(0, 5400, (1.0, 0.5)), Stretch(5400, 9000, (0.0, 0.0)), Stretch(9000, 12600, (0.2, 1.0)))
MODEL = AirModel(0.3, 1500.0, ((0.04, 0.01), (0.01, 0.09)), 0.2, 3)


def power_w(t_s):
    return next((float(np.dot(p.levels, LAMPS_W)) for p in PLAN if p.start_s <= t_s < p.end_s), 0.0)


def test_the_course_solves_the_differential_equation():
    # tau dT/dt = T_room + g P(t) - T, integrated by SciPy's Runge-Kutta method.
    ends = [p.end_s for p in PLAN]
    solved = solve_ivp(
        lambda t, temp_c: (22 + MODEL.rise_k_w * power_w(t) - temp_c) / MODEL.time_constant_s,
        (0, ends[-1]), [25.0], t_eval=ends, rtol=1e-8, max_step=30,
    )  # fmt: skip
    assert air_course_c(MODEL, PLAN, LAMPS_W, 22, 25)[1:] == pytest.approx(solved.y[0], abs=0.01)


def test_the_fit_agrees_with_scipys_curve_fit():
    # Lit for 2 h, dark for 2 h, read every minute with noise of 0.1 K: the prior hardly matters then.
    t_s = np.arange(0, 14_400, 60.0)
    lit = t_s < 7200

    def air_c(t, g, tau, room):
        settled = 40 * g
        warm = settled * (1 - np.exp(-np.minimum(t, 7200) / tau))
        return room + np.where(t < 7200, warm, settled * (1 - math.exp(-7200 / tau)) * np.exp(-(t - 7200) / tau))

    read_c = air_c(t_s, 0.31, 1700, 21.3) + np.random.default_rng(5).normal(0, 0.1, len(t_s))
    (g, tau, _), _ = curve_fit(air_c, t_s, read_c, p0=(0.2, 1500, 21))
    model = fit([Series(t_s, read_c, np.repeat(lit[:, None], 2, axis=1).astype(float))], LAMPS_W)
    assert model.rise_k_w == pytest.approx(g, rel=0.01)
    assert model.time_constant_s == pytest.approx(tau, rel=0.02)


def test_chances_and_interval_agree_with_drawing_by_lot():
    limits = Limits(air_soft_c=33, air_hard_c=36)
    found = forecast(MODEL, PLAN, LAMPS_W, limits, 22, room_sd_k=1.0)
    lot = np.random.default_rng(11)
    spread = np.add(MODEL.log_covariance, [[0.05**2, 0], [0, 0]])
    factors = np.exp(lot.multivariate_normal([0, 0], spread, 40_000))
    g, tau = MODEL.rise_k_w * factors[:, 0], MODEL.time_constant_s * factors[:, 1]
    air_c = np.full(len(g), 22.0)
    peak_c = air_c
    for piece in PLAN:
        settled = 22 + g * np.dot(piece.levels, LAMPS_W)
        air_c = settled + (air_c - settled) * np.exp(-(piece.end_s - piece.start_s) / tau)
        peak_c = np.maximum(peak_c, air_c)
    peak_c = peak_c + lot.normal(0, math.hypot(1.0, MODEL.misfit_k), len(g))
    assert found.chance_soft == pytest.approx(np.mean(peak_c >= 33), abs=0.01)
    assert found.chance_hard == pytest.approx(np.mean(peak_c >= 36), abs=0.01)
    assert (found.low_c, found.high_c) == pytest.approx(np.quantile(peak_c, [0.025, 0.975]), abs=0.15)


# dT = a E / h: 200 W/m2 give 4 to 12 K above air (our estimate, from a = 0.3-0.6 and h = 10-15 W/(m2 K)).
@pytest.mark.parametrize(("w_m2", "low", "likely", "high"), [(100, 2.0, 4.17, 6.0), (200, 4.0, 8.33, 12.0)])
def test_sheet_above_air(w_m2, low, likely, high):
    rise = sheet_rise(w_m2)
    assert (rise.low_k, rise.likely_k, rise.high_k) == pytest.approx((low, likely, high), abs=0.005)


@pytest.mark.parametrize("room_c", [24, 27, 29, 31])
@pytest.mark.parametrize("start_c", [None, 34.5])
def test_pauses_to_cool_by_walking_second_by_second(room_c, start_c):
    # The same thermostat stepped each second: light until 35 C, dark until 32 C, session time only while lit or dark by
    # plan.
    limits, tau_s = Limits(air_soft_c=35, air_hard_c=40, hysteresis_c=3), MODEL.time_constant_s
    air_c = room_c if start_c is None else start_c
    pauses = pause_s = 0
    keep = math.exp(-1 / tau_s)
    for second in range(int(PLAN[-1].end_s)):
        drawn_w = power_w(second)
        if drawn_w and air_c >= limits.air_soft_c:
            pauses += 1
            while air_c >= limits.air_soft_c - limits.hysteresis_c:
                air_c = room_c + (air_c - room_c) * keep
                pause_s += 1
        settled = room_c + MODEL.rise_k_w * drawn_w
        air_c = settled + (air_c - settled) * keep
    found = cooling(MODEL, PLAN, LAMPS_W, limits, room_c, start_c)
    assert found.pauses == pytest.approx(pauses, abs=1)
    assert found.pause_s == pytest.approx(pause_s, rel=0.02, abs=found.pause_s / max(found.pauses, 1) * 1.05)
    assert not found.for_ever


def test_a_room_above_the_limit_less_its_hysteresis_never_lets_go():
    assert cooling(MODEL, PLAN, LAMPS_W, Limits(), 32.0).for_ever
    assert cooling(MODEL, PLAN, LAMPS_W, Limits(), 15.0) == Cooling(0, 0.0, 0.0, False)
