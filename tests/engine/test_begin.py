"""A session begins dark: until the board was read, neither door nor heat nor counters are known."""

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import Phase


def test_no_light_is_asked_for_before_the_first_reading(make_run, chamber_of, program_of):
    run = make_run(program_of(Exposure(start=0, end=60)), chamber_of(1)).begin()
    assert run.session.phase is Phase.RUNNING
    assert not run.lit
    run.pass_time(5.0)
    run.read()
    assert run.lit
    assert run.session.session_s == 0.0  # session time waited too, so the exposure lost nothing
    run.go(100)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(60, abs=0.1)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)
