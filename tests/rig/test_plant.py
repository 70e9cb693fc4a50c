"""The plant against closed-form solutions, an independent integrator and an energy balance.

Lumped-capacity cooling, T(t) = T_end + (T_0 - T_end) exp(-t / (C / G)), is a common textbook result (for instance
Incropera and DeWitt, chapter on transient conduction; from memory). Two coupled capacities have the two exponentials of
the characteristic quadratic.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.rig.design import RigDesign
from lampwarden.rig.plant import Plant, saturation_hpa

DEMO = Chamber(
    zones=tuple(
        Zone(name=f"Zone {index + 1}", bank=index // 2 + 1, irradiance_w_m2=irradiance)
        for index, irradiance in enumerate((100.0, 90.0, 80.0, 80.0, 70.0, 60.0))
    )
)
ONE = Chamber(zones=(Zone(name="Only", irradiance_w_m2=80.0),))
DARK, FULL = [0.0] * 6, [1.0] * 6


def settled(design: RigDesign, share=FULL, fan=1.0) -> Plant:
    plant = Plant(design, DEMO)
    plant.step(1e6, share, 0.0, fan)
    return plant


def test_starts_in_balance_with_the_room_and_stays():
    plant = Plant(RigDesign(), DEMO)
    plant.step(3600, DARK, 0.0, 0.0)
    assert plant.temps_c == pytest.approx([22.0] * 4, abs=1e-9)
    assert plant.humidity_pct == pytest.approx(45.0, abs=1e-9)


def test_demo_chamber_settles_inside_the_default_limits():
    plant = settled(RigDesign())
    assert plant.temps_c == pytest.approx([32.0, 45.0, 45.0, 45.0], abs=1e-6)


@pytest.mark.parametrize(
    ("design", "fan", "air_c", "plate_c"),
    [
        (RigDesign(ambient_c=27.0), 1.0, 37.0, 50.0),  # over the soft limit of 35 C
        (RigDesign(fan_strength=0.5), 1.0, 22 + 10 / 0.7, 22 + 23 / 0.7),
        (RigDesign(ambient_c=30.0), 0.0, 30 + 10 / 0.4, 30 + 23 / 0.4),  # dead fan, hot room: over every limit
    ],
)
def test_steady_state_is_heat_over_conductance(design, fan, air_c, plate_c):
    assert settled(design, fan=fan).temps_c == pytest.approx([air_c] + [plate_c] * 3, abs=1e-6)


@pytest.mark.parametrize("zones", range(1, 9))
@pytest.mark.parametrize("banks", [1, 3, 8])
def test_any_chamber_settles_alike(zones, banks):
    chamber = Chamber(
        zones=tuple(Zone(name=f"{i}", bank=i % banks + 1, irradiance_w_m2=50.0 + 40 * i) for i in range(zones))
    )
    plant = Plant(RigDesign(), chamber)
    plant.step(1e6, [1.0] * zones, 0.0, 1.0)
    assert plant.air_temp_c == pytest.approx(32.0, abs=1e-6)
    assert max(plant.temps_c) == pytest.approx(45.0, abs=1e-6)


def test_bank_numbers_may_leave_gaps():
    plant = Plant(RigDesign(), Chamber(zones=(Zone(name="Far", bank=3, irradiance_w_m2=80.0),)))
    plant.step(1e6, [1.0], 0.0, 1.0)
    assert plant.temps_c == pytest.approx([32.0, 32.0, 32.0, 45.0], abs=1e-6)


def test_plate_follows_lumped_cooling_when_the_air_is_held():
    design = RigDesign(air_time_constant_s=1e12)
    plant = Plant(design, DEMO)
    plant.step(3000, FULL, 0.0, 1.0)
    hot_k = plant.temps_c[1] - plant.air_temp_c
    assert hot_k == pytest.approx(13.0, rel=1e-4)
    for t_s in (60, 240, 600):
        plant.step(60 if t_s == 60 else (180 if t_s == 240 else 360), DARK, 0.0, 1.0)
        assert plant.temps_c[1] - plant.air_temp_c == pytest.approx(hot_k * math.exp(-t_s / 240), rel=1e-6)


def test_air_follows_lumped_cooling_when_the_plates_are_light():
    plant = Plant(RigDesign(plate_time_constant_s=1e-3), DEMO)
    plant.step(1e6, FULL, 0.0, 1.0)
    for _ in range(5):
        plant.step(300, DARK, 0.0, 1.0)
    assert plant.air_temp_c == pytest.approx(22 + 10 * math.exp(-1), abs=1e-3)


def test_one_bank_matches_the_two_exponentials_of_the_quadratic():
    design = RigDesign()
    plant = Plant(design, ONE)
    plant.step(1e6, [1.0], 0.0, 1.0)
    air_0, plate_0 = (temp - 22 for temp in plant.temps_c)
    loss, (plate,) = plant.conductances_w_k(1.0, door_open=False)
    c_air, c_plate = plant.capacity_j_k
    # d/dt (air, plate) = ((-(loss + plate), plate) / c_air, (plate, -plate) / c_plate)
    a, b, c, d = -(loss + plate) / c_air, plate / c_air, plate / c_plate, -plate / c_plate
    root = math.sqrt((a - d) ** 2 / 4 + b * c)
    slow, fast = (a + d) / 2 + root, (a + d) / 2 - root
    for t_s in (10, 200, 2000):
        cold = Plant(design, ONE)
        cold.step(1e6, [1.0], 0.0, 1.0)
        cold.step(t_s, [0.0], 0.0, 1.0)
        # exp(M t) = (e^slow t (M - fast) - e^fast t (M - slow)) / (slow - fast)
        e_slow, e_fast = math.exp(slow * t_s), math.exp(fast * t_s)
        air = (e_slow * ((a - fast) * air_0 + b * plate_0) - e_fast * ((a - slow) * air_0 + b * plate_0)) / (
            slow - fast
        )
        hot = (e_slow * (c * air_0 + (d - fast) * plate_0) - e_fast * (c * air_0 + (d - slow) * plate_0)) / (
            slow - fast
        )
        assert cold.temps_c == pytest.approx([22 + air, 22 + hot], abs=1e-8)


SHARES = st.lists(st.floats(0, 1), min_size=6, max_size=6)


@settings(max_examples=40, deadline=None)
@given(SHARES, st.floats(0, 1), st.floats(0, 1), st.booleans(), st.integers(1, 50))
def test_many_small_steps_are_one_large_step(shares, inspection, fan, door, parts):
    once, often = Plant(RigDesign(), DEMO), Plant(RigDesign(), DEMO)
    once.door_open = often.door_open = door
    once.step(600.0, shares, inspection, fan)
    for _ in range(parts):
        often.step(600.0 / parts, shares, inspection, fan)
    assert often.temps_c == pytest.approx(once.temps_c, abs=1e-8)
    assert often.vapour_hpa == pytest.approx(once.vapour_hpa, abs=1e-8)


@settings(max_examples=20, deadline=None)
@given(SHARES, st.floats(0, 1), st.booleans(), st.floats(-20, 200))
def test_independent_integrator_and_energy_balance(shares, fan, door, extra_w):
    """Classical fourth-order Runge-Kutta of the written equations; heat in = heat stored + heat lost."""
    design = RigDesign()
    plant = Plant(design, DEMO)
    plant.door_open, plant.extra_heat_w = door, extra_w
    loss, plate = plant.conductances_w_k(fan, door)
    power_w = np.array(plant.zone_w) * shares
    to_plate_w = np.array([sum(power_w[2 * bank : 2 * bank + 2]) / 2 for bank in range(3)])
    to_air_w = power_w.sum() / 2 + extra_w

    def slope(y):
        air, plates = y[0], y[1:4]
        flow = plate * (plates - air)
        heat = np.concatenate(([to_air_w + flow.sum() - loss * (air - 22)], to_plate_w - flow))
        return np.concatenate((heat / plant.capacity_j_k, [loss * (air - 22)]))  # last: J lost to the room

    y, dt_s = np.array([22.0] * 4 + [0.0]), 10.0
    for _ in range(180):
        k1 = slope(y)
        k2 = slope(y + dt_s / 2 * k1)
        k3 = slope(y + dt_s / 2 * k2)
        y = y + dt_s / 6 * (k1 + 2 * k2 + 2 * k3 + slope(y + dt_s * k3))
        plant.step(dt_s, shares, 0.0, fan)
    assert plant.temps_c == pytest.approx(y[:4].tolist(), abs=1e-4)
    brought_j = (power_w.sum() + extra_w) * 1800
    stored_j = float(plant.capacity_j_k @ (np.array(plant.temps_c) - 22))
    assert stored_j + y[4] == pytest.approx(brought_j, abs=1.0)


def test_open_door_cools_and_lets_moisture_in():
    closed, opened = settled(RigDesign()), settled(RigDesign())
    opened.door_open = True
    for plant in (closed, opened):
        plant.step(300, DARK, 0.0, 0.0)
    assert opened.air_temp_c < closed.air_temp_c - 3
    assert opened.air_temp_c >= 22


def test_inspection_bank_and_extra_heat_warm_the_air_alone():
    plant = Plant(RigDesign(), DEMO)
    plant.extra_heat_w = 3.0
    plant.step(1e6, DARK, 0.5, 1.0)
    assert plant.temps_c == pytest.approx([22 + 6.0 / plant.loss_w_k] * 4, abs=1e-6)


def test_warming_dries_and_the_room_rules_the_vapour():
    assert saturation_hpa(20.0) == pytest.approx(23.39, rel=0.005)  # published steam tables, from memory
    assert saturation_hpa(100.0) == pytest.approx(1013, rel=0.03)
    plant = settled(RigDesign())
    assert plant.humidity_pct == pytest.approx(45 * saturation_hpa(22) / saturation_hpa(32), rel=1e-9)
    plant.ambient_humidity_pct = 80.0
    before_hpa = plant.vapour_hpa
    plant.step(900, FULL, 0.0, 1.0)
    end_hpa = 0.8 * saturation_hpa(22)
    assert plant.vapour_hpa == pytest.approx(end_hpa + (before_hpa - end_hpa) * math.exp(-1), rel=1e-9)


def test_humidity_never_passes_saturation():
    plant = settled(RigDesign(ambient_humidity_pct=95.0))
    plant.ambient_c = -10.0
    plant.step(1500, DARK, 0.0, 1.0)
    assert plant.humidity_pct <= 100.0


def test_pauses_to_cool_look_like_pauses():
    """At 27 C: minutes to the soft limit, minutes back, again and again."""
    plant = Plant(RigDesign(ambient_c=27.0), DEMO)
    lit, turns_s = True, []
    for second in range(4 * 3600):
        plant.step(1.0, FULL if lit else DARK, 0.0, 1.0)
        if (plant.air_temp_c >= 35.0) if lit else (plant.air_temp_c <= 32.0):
            lit = not lit
            turns_s.append(second)
    spans_s = np.diff(turns_s)
    assert len(spans_s) >= 8
    assert spans_s.min() > 300
    assert spans_s.max() < 2400


@pytest.mark.parametrize("name", ["air_rise_k", "still_air_share", "plate_time_constant_s", "watchdog_ms"])
def test_senseless_numbers_are_refused(name):
    with pytest.raises(ValueError, match=name):
        replace(RigDesign(), **{name: 0})
    with pytest.raises(ValueError, match="share"):
        replace(RigDesign(), optical_efficiency=1.5)
