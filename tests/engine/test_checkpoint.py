"""A checkpoint: dark, cool enough to handle, a call, reminders, an answer; or the program's word when nobody comes."""

import math

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Limits, Rules
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.engine import facts as f
from lampwarden.engine import holds as h

HOUR = Exposure(start=0, end=3600)


def calls(run):
    return [(call.urgency, round(call.run_s)) for call in run.of(f.PersonCalled)]


# --- when -------------------------------------------------------------------------------------------------------------


def test_the_baseline_comes_before_any_light(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="baseline", at=0)])
    assert run.holds() == {"checkpoint": True}
    run.go(120)
    assert run.board.true_lit_s == [0.0]
    run.order(e.Answer, "baseline")
    run.go(2)
    assert run.lit
    assert run.of(f.CheckpointReached)[0].session_s == 0.0


def test_it_comes_at_its_session_time_and_takes_none(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=100.5)]).go(150)
    reached = run.of(f.CheckpointReached)[0]
    assert reached.session_s == pytest.approx(100.5, abs=0.06)
    assert reached.lit_s == run.session.lit_s
    before_s = run.session.session_s
    run.go(500)
    assert run.session.session_s == before_s
    run.order(e.Answer, "look")
    run.go(4000)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(3600, abs=0.1)


def test_at_the_end_of_an_exposure_the_exposure_is_closed_first(run_of):
    run = run_of([Exposure(start=0, end=60), Exposure(start=60, end=90)], checkpoints=[Checkpoint(name="look", at=60)])
    run.go(70)
    kinds = [type(fact) for fact in run.facts if isinstance(fact, f.ExposureDone | f.CheckpointReached | f.HoldBegan)]
    assert kinds == [f.ExposureDone, f.CheckpointReached, f.HoldBegan]
    assert run.board.true_lit_s[0] == pytest.approx(60, abs=0.06)
    run.order(e.Answer, "look")
    run.go(60)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(90, abs=0.1)


def test_after_all_light_it_still_comes_and_then_the_session_ends(run_of):
    run = run_of(Exposure(start=0, end=60), checkpoints=[Checkpoint(name="last", at=100)]).go(110)
    assert run.of(f.CheckpointReached)[0].session_s == pytest.approx(100, abs=0.06)
    assert run.session.active
    run.order(e.Answer, "last")
    assert run.read().session.outcome == "completed"


def test_two_that_are_due_open_one_after_the_other(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="one", at=10), Checkpoint(name="two", at=10.001)]).go(20)
    run.order(e.Answer, "one")
    assert run.session.open_checkpoint.name == "two"
    assert not run.lit


# --- calls ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("air_c", "called"), [(31.99, True), (32.0, False), (None, False), (math.nan, False)])
def test_a_person_is_called_below_the_handling_temperature(run_of, air_c, called):
    run = run_of(HOUR, limits=Limits(handling_c=32), checkpoints=[Checkpoint(name="look", at=10)]).go(5)
    run.board.air_temp_c = 33.0
    run.go(10)
    assert calls(run) == []
    assert run.outcome.demand.fan_min == 1.0
    run.board.air_temp_c = air_c
    run.go(1)
    assert bool(calls(run)) is called
    if called:
        assert "air is 32.0 °C, below the 32.0 °C for handling" in run.of(f.PersonCalled)[0].text
        assert run.outcome.demand.fan_min == 0.0


@pytest.mark.parametrize("air_c", [-40.0, math.nan, math.inf, -math.inf])
def test_an_impossible_temperature_is_not_cool(run_of, air_c):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(5)
    run.board.air_temp_c = 33.0
    run.go(10)
    run.board.air_temp_c = air_c
    run.go(60)
    assert calls(run) == []


@pytest.mark.parametrize(("trouble", "said"), [("warm", "33.0 °C"), ("sensor", "unknown"), ("silent", "unknown")])
def test_a_person_is_called_anyway_after_half_an_hour(run_of, trouble, said):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(5)
    run.board.air_temp_c = 33.0
    run.until(lambda run: run.session.waiting is not None)
    reached_s = run.session.waiting.reached_s
    if trouble == "sensor":
        run.board.air_temp_c = None
    elif trouble == "silent":
        run.board.wire = False
    run.go(h.CALL_ANYWAY_S - 2)
    assert calls(run) == []
    run.go(3)
    assert [(0, round(reached_s + h.CALL_ANYWAY_S))] == calls(run)
    assert f"air is {said}, not below 32.0 °C. Let the sheet cool first." in run.of(f.PersonCalled)[0].text


def test_reminders_grow_more_urgent(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=0)]).go(3 * 3600)
    assert calls(run) == [(0, 0), (1, 300), (2, 900), (3, 1800), (4, 3600), (5, 7200), (6, 10800)]
    assert "has waited 5 min in the dark" in run.of(f.PersonCalled)[1].text
    assert not run.lit


def test_reminders_missed_in_a_gap_are_made_once(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=0)]).go(60)
    run.crash(2 * 3600)
    run.go(60)
    assert [urgency for urgency, _ in calls(run)] == [0, 5]


def test_reminders_go_on_while_the_board_is_lost(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=0)]).go(60)
    run.board.wire = False
    run.go(1000)
    assert [urgency for urgency, _ in calls(run)] == [0, 1, 2]


# --- answers ----------------------------------------------------------------------------------------------------------


def test_wrong_answers_are_refused(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="one", at=10), Checkpoint(name="two", at=20)])
    assert run.refused(e.Answer, "one") == "no checkpoint waits for an answer"
    run.go(15)
    assert run.refused(e.Answer, "two") == "checkpoint 'two' does not wait; 'one' does"
    assert run.refused(e.Answer, "")
    assert "'one' waits for its answer" in run.refused(e.AskContinue)
    run.order(e.Answer, "one", "Corner lifted a little.")
    assert run.of(f.CheckpointAnswered)[0].text == "Checkpoint 'one' answered by Ana: Corner lifted a little."
    assert run.refused(e.Answer, "one")
    run.go(15)
    assert run.refused(e.Answer, "one") == "checkpoint 'one' does not wait; 'two' does"


def test_an_answer_may_come_before_the_call(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(5)
    run.board.air_temp_c = 33.0
    run.go(10)
    run.order(e.Answer, "look")
    run.go(2)
    assert run.lit


def test_an_answer_leaves_the_other_holds(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(15)
    run.order(e.AskHold)
    run.order(e.Answer, "look")
    assert run.holds() == {"operator": True}
    assert not run.lit


# --- without a person -------------------------------------------------------------------------------------------------


def test_nobody_answers_and_the_program_waits(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)], rules=Rules(answer_within=600))
    run.go(24 * 3600, period_s=30)
    assert run.holds() == {"checkpoint": True}


def test_nobody_answers_and_the_program_goes_on(run_of):
    rules = Rules(unanswered="continue", answer_within=600)
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)], rules=rules).go(5)
    run.board.air_temp_c = 33.0
    run.go(1000)
    assert run.holds() == {"checkpoint": True}  # the time to answer runs from the call
    run.board.air_temp_c = 25.0
    run.go(1)
    called_s = run.now_s
    run.go(598)
    assert not run.lit
    run.go(3)
    assert run.lit
    answered = run.of(f.CheckpointAnswered)[0]
    assert (answered.by, answered.note) == ("the program", "nobody answered within 10 min")
    assert answered.run_s - called_s == pytest.approx(600, abs=1.1)


def test_an_unattended_one_pauses_and_goes_on(run_of):
    look = Checkpoint(name="camera", at=10, attended=False, pause=30)
    run = run_of(HOUR, checkpoints=[look]).go(20)
    assert run.holds() == {"checkpoint": False}
    assert "The fixed camera has its turn." in run.of(f.PersonCalled)[0].text
    run.go(30)
    assert run.lit
    answered = run.of(f.CheckpointAnswered)[0]
    assert answered.run_s - run.of(f.PersonCalled)[0].run_s == pytest.approx(30, abs=1.1)
    assert len(run.of(f.PersonCalled)) == 1


def test_an_unattended_one_waits_for_every_other_hold(run_of):
    look = Checkpoint(name="camera", at=10, attended=False, pause=30)
    run = run_of(HOUR, checkpoints=[look]).go(15)
    run.order(e.AskHold)
    run.go(600)
    assert set(run.holds()) == {"checkpoint", "operator"}
    run.order(e.AskContinue)
    run.go(2)
    assert run.lit


def test_a_person_may_cut_an_unattended_one_short(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="camera", at=10, attended=False, pause=600)]).go(15)
    run.order(e.Answer, "camera")
    run.go(2)
    assert run.lit


# --- the inspection bank ----------------------------------------------------------------------------------------------


def test_the_white_bank_lights_only_for_a_checkpoint_that_called_and_nothing_else_holds(run_of):
    run = run_of(HOUR, inspection_level=0.4, checkpoints=[Checkpoint(name="look", at=10)]).go(9)
    assert run.outcome.demand.inspection == 0.0
    run.board.air_temp_c = 33.0
    run.go(3)
    assert run.outcome.demand.inspection == 0.0
    run.board.air_temp_c = 25.0
    run.go(1)
    assert run.outcome.demand.inspection == 0.4
    run.board.set_door(True)
    run.go(1)
    assert run.outcome.demand.inspection == 0.0
    run.board.set_door(False)
    run.go(1)
    assert run.outcome.demand.inspection == 0.4
    run.order(e.Answer, "look")
    assert run.outcome.demand.inspection == 0.0


def inspected(run):
    return run.outcome.demand.inspection > 0


def test_the_white_bank_goes_out_after_half_an_hour_and_says_so(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(12)
    assert inspected(run)
    run.go(h.INSPECTION_S_MAX - 5)
    assert inspected(run)
    run.go(10)
    assert not inspected(run)
    run.go(6 * 3600, period_s=30)  # reminders do not light it
    assert not inspected(run)
    assert [fact.text for fact in run.of(f.InspectionOver)] == [
        "Inspection light off after 30 min; it comes on again when someone asks for it."
    ]
    assert run.session.lit_s == (run.board.true_lit_s[0],) or run.session.lit_s[0] == pytest.approx(10, abs=0.1)
    run.order(e.Answer, "look")
    run.go(2)
    assert run.lit


@pytest.mark.parametrize("how", ["ask", "door"])
def test_the_white_bank_comes_on_again_for_whoever_is_there(run_of, how):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(2000)
    assert not inspected(run)
    if how == "ask":
        run.order(e.AskInspection)
    else:
        run.board.set_door(True)
        run.go(60)
        run.board.set_door(False)
        run.go(1)
    assert inspected(run)
    run.go(h.INSPECTION_S_MAX - 5)
    assert inspected(run)
    run.go(10)
    assert not inspected(run)
    assert len(run.of(f.InspectionOver)) == 2


def test_each_checkpoint_has_its_own_time_of_white_light(run_of):
    looks = [Checkpoint(name="one", at=10), Checkpoint(name="two", at=20)]
    run = run_of(HOUR, checkpoints=looks).go(2000)
    run.order(e.Answer, "one")
    run.until(lambda run: run.session.waiting is not None).go(1)
    assert inspected(run)


def test_the_white_bank_cannot_be_asked_for_out_of_turn(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(5)
    assert "no checkpoint waits" in run.refused(e.AskInspection)
    dark = run_of(HOUR, inspection_level=0, checkpoints=[Checkpoint(name="look", at=10)]).go(15)
    assert "leaves it dark" in dark.refused(e.AskInspection)
    dark.go(2000)
    assert dark.of(f.InspectionOver) == []


def test_a_session_that_ends_at_a_checkpoint_leaves_the_white_bank_dark(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(15)
    assert run.order(e.AskEnd).demand.inspection == 0.0
    outcome = run.read()
    assert outcome.session.phase is Phase.ENDED
    assert outcome.demand.inspection == 0.0
    assert outcome.session.waiting is None
