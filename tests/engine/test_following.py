"""The board answers but does not do what it was asked: a person has to look."""

import math
from dataclasses import replace

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import Reason
from lampwarden.engine import events as e
from lampwarden.engine import holds as h

HOUR = Exposure(start=0, end=3600)


def test_dark_though_asked_for_more_than_ten_seconds(run_of):
    run = run_of(HOUR).go(20)
    run.board.obeys, run.board.levels = False, [0.0]
    run.go(10)
    assert run.holds() == {}
    before_s = run.session.session_s
    run.go(1)
    assert run.holds() == {"board not following": True}
    assert "For 11 s not every zone" in run.session.holds[0].why
    assert "10 s are allowed" in run.session.holds[0].why
    assert run.session.session_s == before_s  # session time waited for the light


def test_one_dark_zone_among_lit_ones(run_of):
    run = run_of(HOUR, HOUR).go(20)
    run.board.obeys, run.board.levels = False, [1.0, 0.0]
    run.go(h.UNLIT_S_MAX + 2)
    assert run.holds() == {"board not following": True}


def test_a_person_lets_it_go_on_and_it_is_watched_anew(run_of):
    run = run_of(HOUR).go(20)
    run.board.obeys, run.board.levels = False, [0.0]
    run.go(30)
    run.order(e.AskContinue)
    run.go(9)
    assert run.lit
    run.go(3)
    assert run.holds() == {"board not following": True}
    run.board.obeys = True
    run.order(e.AskContinue)
    run.go(4000)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(3600, abs=0.1)


@pytest.mark.parametrize(
    ("asked", "given", "said"),
    [
        (None, [0.4], "Zone A was lit at 40 % though 0 % was asked."),
        (0.3, [0.31], "Zone A was lit at 31 % though 30 % was asked."),
        (0.3, [0.301], None),
        (0.3, [0.2], None),
    ],
)
def test_brighter_than_asked(run_of, asked, given, said):
    run = run_of(Exposure(start=0, end=3600, level=asked or 1.0)).go(20)
    if asked is None:
        run.order(e.AskHold)
    run.board.obeys, run.board.levels = False, given
    run.read()
    hold = run.session.hold(Reason.NOT_FOLLOWING)
    assert hold is None if said is None else hold.why.startswith(said)


def test_the_rule_itself_finds_nothing_safe_in_what_is_no_number(run_of):
    run = run_of(HOUR)
    reading = run.board.reading(0)
    assert h.following_trouble(reading, run.session) is None
    assert h.following_trouble(replace(reading, zone_applied=(math.nan,)), run.session)
    assert h.following_trouble(reading, replace(run.session, unlit_s=math.nan))


def test_light_that_fell_unasked_is_booked(run_of):
    run = run_of(HOUR).go(20)
    run.order(e.AskHold)
    run.board.obeys, run.board.levels = False, [0.5]
    run.go(10)
    assert set(run.holds()) == {"operator", "board not following"}
    assert run.session.lit_s[0] == pytest.approx(25, abs=0.1)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


def test_arming_takes_its_time(run_of):
    run = run_of(HOUR).go(20)
    run.board.reboot()
    run.board.arm = lambda: None
    run.go(10)
    assert run.holds() == {}
