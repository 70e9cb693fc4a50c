from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from lampwarden.web.wording import (
    Taste,
    clock_text,
    dose_texts,
    in_scale,
    irradiance_text,
    listed,
    minutes_text,
    rough_text,
    temp,
)

NOW = datetime(2031, 3, 3, 8, 0, tzinfo=UTC)  # a Monday
OSLO = ZoneInfo("Europe/Oslo")


@pytest.mark.parametrize(
    ("at", "hours", "text"),
    [
        (datetime(2031, 3, 3, 13, 20, tzinfo=UTC), 24, "14:20"),
        (datetime(2031, 3, 3, 13, 20, tzinfo=UTC), 12, "2:20 pm"),
        (datetime(2031, 3, 2, 23, 5, tzinfo=UTC), 12, "12:05 am"),  # midnight in Oslo
        (datetime(2031, 3, 3, 11, 5, tzinfo=UTC), 12, "12:05 pm"),
        (datetime(2031, 3, 4, 1, 10, tzinfo=UTC), 24, "Tue 02:10"),
        (datetime(2031, 3, 12, 1, 10, tzinfo=UTC), 24, "12 Mar 02:10"),
        (datetime(2031, 3, 31, 6, 0, tzinfo=UTC), 24, "31 Mar 08:00"),  # summer time since the day before
    ],
)
def test_clock(at: datetime, hours: int, text: str) -> None:
    assert clock_text(at, NOW, Taste(hours=hours, zone=OSLO)) == text


def test_today_is_the_readers_today() -> None:
    late = datetime(2031, 3, 3, 23, 30, tzinfo=UTC)
    assert clock_text(late, NOW, Taste()) == "23:30"
    assert clock_text(late, NOW, Taste(zone=OSLO)) == "Tue 00:30"


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "0 s"), (59.4, "59 s"), (599, "9 min 59 s"), (3571, "1 h"), (28772, "8 h")]
)
def test_rough(seconds: float, text: str) -> None:
    assert rough_text(seconds) == text


@pytest.mark.parametrize(("seconds", "text"), [(40.2, "40 s"), (60, "1 min"), (61, "2 min"), (3601, "1 h 1 min")])
def test_minutes(seconds: float, text: str) -> None:
    assert minutes_text(seconds) == text


def test_temperatures() -> None:
    assert temp(38.2, Taste()) == "38.2 °C"
    assert temp(38.2, Taste("F")) == "100.8 °F"
    assert temp(None, Taste("F")) == "no reading"


def test_sentences_follow_the_scale() -> None:
    said = "Air is 35.1 °C; the lamps wait until it is below -4.0 °C."
    assert in_scale(said, Taste()) == said
    assert in_scale(said, Taste("F")) == "Air is 95.2 °F; the lamps wait until it is below 24.8 °F."


def test_units_of_light() -> None:
    assert dose_texts(60.48) == ("60.5 J/cm²", "0.605 MJ/m²")
    assert irradiance_text(84.0) == "8.4 mW/cm² (84 W/m²)"


def test_names_in_a_sentence() -> None:
    assert [listed(names) for names in ([], ["A1"], ["A1", "A2"], ["A1", "A2", "A3"])] == [
        "", "A1", "A1 and A2", "A1, A2 and A3"
    ]  # fmt: skip
