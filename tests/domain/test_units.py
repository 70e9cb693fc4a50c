"""Conversions against worked values, and durations as people write them."""

import math
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampwarden.domain import units

# Dose of a zone after 8 h and 24 h: project facts A3, computed from H = E t; status: computed.
DOSES_MJ_M2 = [(50, 1.44, 4.32), (100, 2.88, 8.64), (200, 5.76, 17.3), (300, 8.64, 25.9)]


def test_the_worked_example():
    assert units.dose_j_cm2(100.0, 3600.0) == pytest.approx(36.0)
    assert units.lit_s_for_dose(36.0, 100.0) == pytest.approx(3600.0)
    assert units.mw_cm2(100.0) == pytest.approx(10.0)
    assert units.mj_m2(100.0) == pytest.approx(1.0)


@pytest.mark.parametrize(("irradiance_w_m2", "after_8_h", "after_24_h"), DOSES_MJ_M2)
def test_doses_of_a_zone(irradiance_w_m2, after_8_h, after_24_h):
    assert units.mj_m2(units.dose_j_cm2(irradiance_w_m2, 8 * 3600)) == pytest.approx(after_8_h, abs=0.005)
    assert units.mj_m2(units.dose_j_cm2(irradiance_w_m2, 24 * 3600)) == pytest.approx(after_24_h, abs=0.05)


def test_a_published_exposure():
    # 405 nm, 800 mW/cm2 for 5 min = 240 J/cm2: Suemori 2008, Laser Phys. Lett. 5:379; dose computed. Facts A3.
    irradiance_w_m2 = 800 / units.mw_cm2(1.0)
    assert units.dose_j_cm2(irradiance_w_m2, 5 * 60) == pytest.approx(240)
    assert units.mj_m2(240) == pytest.approx(2.4)


@given(st.floats(0.001, 1e5), st.floats(0.1, 5000))
def test_dose_and_time_are_inverse(dose, irradiance_w_m2):
    assert units.dose_j_cm2(irradiance_w_m2, units.lit_s_for_dose(dose, irradiance_w_m2)) == pytest.approx(dose)


@pytest.mark.parametrize("irradiance_w_m2", [0.0, -1.0, math.nan])
def test_no_dose_without_light(irradiance_w_m2):
    with pytest.raises(ValueError, match="above 0 W/m2"):
        units.lit_s_for_dose(1.0, irradiance_w_m2)


@pytest.mark.parametrize(("temp_c", "temp_f"), [(0, 32), (40, 104), (100, 212), (-40, -40)])
def test_fahrenheit(temp_c, temp_f):
    assert units.fahrenheit(temp_c) == pytest.approx(temp_f)


@pytest.mark.parametrize(
    ("temp_c", "scale", "text"),
    [(38.24, "C", "38.2 °C"), (38.24, "F", "100.8 °F"), (None, "C", "no reading"), (None, "F", "no reading")],
)
def test_temperatures_for_people(temp_c, scale, text):
    assert units.temp_text(temp_c, scale) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (0.4, "0 s"),
        (45, "45 s"),
        (59.6, "1 min"),
        (60, "1 min"),
        (725, "12 min 5 s"),
        (3600, "1 h"),
        (28800, "8 h"),
        (88200, "24 h 30 min"),
        (-5, "0 s"),
    ],
)
def test_durations_for_people(seconds, text):
    assert units.duration_text(seconds) == text


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("90", None),
        ("90 s", 90),
        ("90s", 90),
        ("15 min", 900),
        ("8 h", 28800),
        ("1.5 h", 5400),
        ("1 h 30 min", 5400),
        ("1H 30MIN", 5400),
        ("  2 d ", 172800),
        ("1 h 30", None),
        ("1 hour", None),
        ("-1 h", None),
        ("1,5 h", None),
        ("h", None),
        ("", None),
        ("   ", None),
        ("nan s", None),
    ],
)
def test_durations_as_people_write_them(text, seconds):
    if seconds is None:
        with pytest.raises(ValueError, match="write it like '45 s', '15 min'"):
            units.seconds(text)
    else:
        assert units.seconds(text) == pytest.approx(seconds)


@pytest.mark.parametrize("value", [True, False, time(1, 30), [1], {}])
def test_what_is_no_duration_at_all(value):
    with pytest.raises(ValueError, match="is no duration; write seconds, or text like"):
        units.seconds(value)


@given(st.integers(0, 7 * 86400))
def test_a_duration_shown_can_be_written(seconds):
    written = units.seconds(units.duration_text(seconds))
    assert abs(written - seconds) < (60 if seconds >= 3600 else 1)
