"""Over the soft limit: dark, and lit again only below the limit less the hysteresis. Too often: cut off."""

import math
from dataclasses import replace

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Limits, Rules
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.engine import facts as f
from lampwarden.engine import holds as h

HOUR = Exposure(start=0, end=3600)
LIMITS = Limits(air_soft_c=35, bank_soft_c=55, hysteresis_c=3, air_hard_c=40, bank_hard_c=63)


def heat(run, air_c=None, bank_c=None):
    if air_c is not None:
        run.board.air_temp_c = air_c
    if bank_c is not None:
        run.board.bank_temps_c[0] = bank_c
    run.go(1)
    return run


@pytest.mark.parametrize("temp_c", [None, math.nan, math.inf])
def test_the_rule_itself_finds_nothing_safe_in_a_missing_temperature(run_of, temp_c):
    reading = run_of(HOUR).board.reading(0)
    assert h.heat_trouble(reading, LIMITS, banks=1) is None
    assert h.heat_trouble(replace(reading, air_temp_c=temp_c), LIMITS, banks=1)
    assert h.heat_trouble(replace(reading, bank_temps_c=(temp_c,)), LIMITS, banks=1)


@pytest.mark.parametrize(
    ("air_c", "bank_c", "holds"),
    [
        (34.99, 54.99, False),
        (35.0, 30.0, True),
        (24.0, 55.0, True),
        (39.0, 62.0, True),
    ],
)
def test_the_soft_limits_at_their_edges(run_of, air_c, bank_c, holds):
    run = heat(run_of(HOUR, limits=LIMITS).go(10), air_c, bank_c)
    assert run.holds() == ({"cooling": False} if holds else {})
    assert run.lit is not holds


def test_the_sentences_carry_both_numbers(run_of):
    run = heat(run_of(HOUR, limits=LIMITS).go(10), air_c=36.2)
    assert run.session.holds[0].why == "Air is 36.2 °C; the lamps wait until it is below 32.0 °C (soft limit 35.0 °C)."
    heat(run, air_c=30)
    assert run.of(f.HoldEnded)[0].why == "Air has cooled to 30.0 °C and the banks to 30.0 °C."
    heat(run, bank_c=55.5)
    assert run.session.holds[0].why == (
        "Bank 1 is 55.5 °C; the lamps wait until it is below 52.0 °C (soft limit 55.0 °C)."
    )


def test_it_lifts_by_itself_below_the_hysteresis_and_not_before(run_of):
    run = heat(run_of(HOUR, limits=LIMITS).go(10), air_c=35.0)
    assert run.outcome.demand.fan_min == 1.0
    for air_c in (34.0, 32.5, 32.0):
        heat(run, air_c)
        assert run.holds() == {"cooling": False}
    heat(run, 31.99)
    assert run.holds() == {}
    assert run.lit
    assert run.outcome.demand.fan_min == 0.0


def test_both_must_have_cooled(run_of):
    run = heat(run_of(HOUR, limits=LIMITS).go(10), air_c=35.0, bank_c=56.0)
    heat(run, air_c=25.0, bank_c=52.0)
    assert run.holds() == {"cooling": False}
    heat(run, bank_c=51.9)
    assert run.holds() == {}


@pytest.mark.parametrize("air_c", [None, math.nan, math.inf, -math.inf])
def test_a_missing_temperature_never_ends_a_cooling(run_of, air_c):
    run = heat(run_of(HOUR, limits=LIMITS).go(10), air_c=36.0)
    run.board.air_temp_c = air_c
    run.go(5)
    assert run.holds() == {"cooling": False, "sensor": False}
    heat(run, air_c=30.0)
    assert run.holds() == {}


def test_more_coolings_than_allowed_in_an_hour_cut_the_session_off(run_of):
    run = run_of(Exposure(start=0, end=9 * 3600), limits=LIMITS, rules=Rules(coolings_per_hour_max=2))
    for _ in range(2):
        heat(run.go(60), air_c=36.0)
        heat(run, air_c=25.0)
        assert run.lit
    heat(run.go(60), air_c=36.0)
    assert run.outcome.demand.dark
    run.read()
    assert run.session.phase is Phase.ENDED
    assert run.session.outcome == "cut off"
    assert "3 pauses to cool within one hour, more than the 2 allowed" in run.session.cause
    assert not run.lit
    told = [type(fact) for fact in run.facts if not isinstance(fact, f.Progress)]
    assert told[-3:] == [f.HoldBegan, f.Ending, f.Ended]  # the person is told at each step


def test_coolings_an_hour_apart_are_forgotten(run_of):
    run = run_of(Exposure(start=0, end=9 * 3600), limits=LIMITS, rules=Rules(coolings_per_hour_max=1))
    for _ in range(4):
        heat(run, air_c=36.0)
        heat(run, air_c=25.0)
        run.go(3599)
    assert run.session.active
    heat(run, air_c=36.0)
    heat(run, air_c=25.0)
    heat(run, air_c=36.0).read()
    assert run.session.outcome == "cut off"


def test_no_cooling_allowed_at_all(run_of):
    run = heat(run_of(HOUR, limits=LIMITS, rules=Rules(coolings_per_hour_max=0)).go(10), air_c=36.0)
    run.read()
    assert run.session.outcome == "cut off"


def test_nobody_gets_light_from_a_chamber_that_warmed_during_a_hold(run_of):
    run = run_of(HOUR, limits=LIMITS).go(10)
    run.order(e.AskHold)
    heat(run, air_c=36.0)
    run.order(e.AskContinue)
    assert not run.lit
    assert run.holds() == {"cooling": False}
    assert "36.0 °C" in run.refused(e.AskContinue)
    heat(run, air_c=25.0)
    assert run.lit


def test_only_coolings_that_interrupt_light_count(run_of):
    run = run_of(HOUR, limits=LIMITS, rules=Rules(coolings_per_hour_max=1)).go(10)
    run.order(e.AskHold)
    for _ in range(5):
        heat(run, air_c=36.0)
        heat(run, air_c=25.0)
    assert run.holds() == {"operator": True}


def test_a_session_that_begins_in_a_hot_chamber_stays_dark(make_run, chamber_of, program_of):
    run = make_run(program_of(HOUR, limits=LIMITS), chamber_of(1))
    run.board.air_temp_c = 36.0
    run.begin().go(5)
    assert run.holds() == {"cooling": False}
    assert run.board.true_lit_s == [0.0]


def test_a_checkpoint_passed_by_the_program_waits_for_the_cooling(run_of):
    run = run_of(HOUR, limits=LIMITS, checkpoints=[Checkpoint(name="look", at=10, attended=False, pause=5)]).go(12)
    heat(run, air_c=36.0)
    run.go(60)
    assert set(run.holds()) == {"checkpoint", "cooling"}
    heat(run, air_c=25.0)
    run.go(2)
    assert run.lit


# --- the hard limit ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("held", [False, True])
def test_a_heat_trip_ends_the_session(run_of, held):
    run = run_of(HOUR, limits=LIMITS).go(10)
    if held:
        run.order(e.AskHold)
    run.board.set_trip("air over its limit")
    run.pass_time(1)
    run.read()
    assert run.session.outcome == "cut off"
    assert run.session.cause == "The board cut the light off: air over its limit."
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)
    assert run.holds() == {}
