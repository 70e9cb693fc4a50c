"""What a person may order: pause, stop, continue, end. A wrong order is refused and changes nothing."""

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import events as e

MINUTE = Exposure(start=0, end=60)


def test_a_stopped_board_stays_disarmed_until_light_is_wanted_again(run_of):
    run = run_of(MINUTE).go(10)
    run.board.armed = False  # the keeper disarms at a stop, before anything else
    run.order(e.AskHold, stop=True)
    run.go(30)
    assert not run.board.armed
    run.order(e.AskContinue)
    run.go(2)
    assert run.board.armed
    run.go(100)
    assert run.board.true_lit_s[0] == pytest.approx(60, abs=0.1)
