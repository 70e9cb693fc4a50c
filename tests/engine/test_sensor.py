"""A temperature that guards the sheet is missing: dark until all are read again."""

import math

import pytest

from lampwarden.domain.program import Exposure, Limits
from lampwarden.engine import Reason
from lampwarden.engine import events as e
from lampwarden.engine import holds as h

HOUR = Exposure(start=0, end=3600)
NO_TEMPS = [None, math.nan, math.inf, -math.inf, -20.01, 120.01]


@pytest.mark.parametrize("temp_c", NO_TEMPS)
def test_no_temperature(temp_c):
    assert not h.sane_temp(temp_c)


@pytest.mark.parametrize("temp_c", [-20.0, 0.0, 120.0])
def test_temperatures_at_the_edges(temp_c):
    assert h.sane_temp(temp_c)


@pytest.mark.parametrize("where", ["air", "bank 2"])
@pytest.mark.parametrize("temp_c", NO_TEMPS)
def test_it_holds_and_lifts_by_itself(make_run, chamber_of, program_of, where, temp_c):
    run = make_run(program_of(HOUR), chamber_of(4)).begin()
    run.go(10)
    if where == "air":
        run.board.air_temp_c = temp_c
    else:
        run.board.bank_temps_c[1] = temp_c
    run.go(1)
    assert not run.lit
    assert run.holds().get("sensor") is False
    why = run.session.hold(Reason.SENSOR).why
    assert where in why
    assert "-20 to 120 °C" in why
    if temp_c is not None and math.isfinite(temp_c):
        assert f"{temp_c:.1f} °C" in why
    assert "nan" not in why
    run.board.air_temp_c, run.board.bank_temps_c[1] = 25.0, 30.0
    run.go(1)
    assert run.holds() == {}
    assert run.lit


def test_too_few_bank_sensors(run_of):
    run = run_of(HOUR).go(5)
    run.board.bank_temps_c = []
    run.go(1)
    assert run.holds() == {"sensor": False}
    assert "0 bank sensors, but the chamber has 1 banks" in run.session.holds[0].why


def test_sensors_of_banks_that_the_chamber_lacks_do_not_matter(run_of):
    run = run_of(HOUR).go(5)
    run.board.bank_temps_c = [30.0, None, 99.0]
    run.go(5)
    assert run.lit


def test_a_sensor_that_returns_hot_turns_into_a_cooling(run_of):
    run = run_of(HOUR, limits=Limits(air_soft_c=35)).go(5)
    run.board.air_temp_c = None
    run.go(1)
    run.board.air_temp_c = 36.0
    run.go(1)
    assert run.holds() == {"cooling": False}


def test_a_person_cannot_continue_without_a_temperature(run_of):
    run = run_of(HOUR).go(5)
    run.board.air_temp_c = None
    run.go(1)
    assert "air temperature is unknown" in run.refused(e.AskContinue)
