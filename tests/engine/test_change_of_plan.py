"""A person changes what is still to come. The past stays as it was."""

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Limits, Rules
from lampwarden.engine import events as e
from lampwarden.engine import facts as f

LOOKS = [Checkpoint(name="one", at=50), Checkpoint(name="two", at=200)]
FIRST, SECOND, OTHER = Exposure(start=0, end=60), Exposure(start=80, end=400), Exposure(start=300, dose_j_cm2=1.0)


@pytest.fixture
def run(run_of):
    """At about 100 s of session time: A is in its second exposure, B is still to begin, one checkpoint passed."""
    run = run_of([FIRST, SECOND], OTHER, checkpoints=LOOKS).go(60)
    run.order(e.Answer, "one")
    return run.until(lambda run: run.session.session_s >= 100)


@pytest.fixture
def change(run, program_of):
    def order(a, b=OTHER, looks=LOOKS, **more):
        return run.order(e.ChangePlan, program_of(a, b, checkpoints=looks, **more))

    return order


@pytest.fixture
def refused(run, program_of):
    def message(a, b=OTHER, looks=LOOKS, **more):
        return run.refused(e.ChangePlan, program_of(a, b, checkpoints=looks, **more))

    return message


# --- what may change --------------------------------------------------------------------------------------------------


def test_the_end_of_what_has_begun(run, change):
    change([FIRST, Exposure(start=80, end=150)])
    run.until(lambda run: run.session.waiting is not None)
    run.order(e.Answer, "two")
    run.go(1000)
    assert run.board.true_lit_s == pytest.approx([60 + 70, 100], abs=0.1)


def test_an_end_by_time_becomes_a_dose_that_counts_what_it_already_gave(run, change):
    change([FIRST, Exposure(start=80, dose_j_cm2=0.5)])
    run.until(lambda run: run.session.waiting is not None)
    assert run.board.true_lit_s[0] == pytest.approx(60 + 50, abs=0.1)


@pytest.mark.parametrize("shorter", [Exposure(start=80, dose_j_cm2=0.1), Exposure(start=80, end=85)])
def test_shortened_below_what_it_already_got_it_ends_at_once(run, change, shorter):
    lit_s = run.session.lit_s[0]
    outcome = change([FIRST, shorter])
    assert [fact.exposure for fact in outcome.facts if isinstance(fact, f.ExposureDone)] == [1]
    assert outcome.demand.dark
    run.go(50)
    assert run.session.lit_s[0] == pytest.approx(lit_s, abs=1.01)


def test_what_it_got_too_much_counts_towards_what_follows(run, change):
    change([FIRST, Exposure(start=80, end=90), Exposure(start=120, end=180)])
    run.until(lambda run: run.session.waiting is not None)
    assert run.board.true_lit_s[0] == pytest.approx(60 + 10 + 60, abs=0.1)


def test_exposures_to_come_may_go_come_and_move(run, change):
    change([FIRST, SECOND, Exposure(start=500, end=600)], Exposure(start=150, end=160, level=0.5))
    run.until(lambda run: run.session.waiting is not None)
    run.order(e.Answer, "two")
    run.go(1000)
    assert run.board.true_lit_s == pytest.approx([60 + 320 + 100, 5], abs=0.1)


def test_a_zone_still_to_begin_may_be_left_out(run, change):
    change([FIRST, SECOND], [])
    run.until(lambda run: run.session.waiting is not None)
    run.order(e.Answer, "two")
    run.go(1000)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[1] == 0


def test_checkpoints_to_come_may_change(run, change):
    change([FIRST, SECOND], looks=[LOOKS[0], Checkpoint(name="early", at=run.session.session_s)])
    assert run.session.open_checkpoint.name == "early"
    assert not run.lit


def test_limits_and_rules_take_effect_at_the_next_reading(run, change):
    run.board.air_temp_c = 34.0
    run.go(1)
    assert run.lit
    change([FIRST, SECOND], limits=Limits(air_soft_c=33), rules=Rules(coolings_per_hour_max=0))
    run.go(1.1)
    assert run.session.outcome == "cut off"


def test_all_may_be_taken_away_and_the_session_completes(run, change):
    change([FIRST, Exposure(start=80, end=90)], [], [LOOKS[0]])
    assert run.read().session.outcome == "completed"


def test_while_a_checkpoint_waits(run, change):
    run.until(lambda run: run.session.waiting is not None)
    now_s = run.session.session_s
    change([FIRST, SECOND], Exposure(start=now_s, end=now_s + 50))
    assert not run.lit
    run.order(e.Answer, "two")
    run.go(1)
    assert run.outcome.demand.zone_levels == (1.0, 1.0)


def test_the_change_is_in_the_journal(run, change):
    change([FIRST, SECOND], [])
    assert run.of(f.PlanChanged)[0].text == "The rest of the plan was changed by Ana."


# --- what may not -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "a",
    [
        [Exposure(start=0, end=50), SECOND],
        [SECOND],
        [Exposure(start=0, end=60, level=0.5), SECOND],
        [],
    ],
)
def test_finished_exposures_stay(refused, a):
    assert refused(a, Exposure(start=300, end=400)) == "Zone 'A': its 1 finished exposures must stay as they were."


@pytest.mark.parametrize(
    "second",
    [
        [Exposure(start=81, end=400)],
        [Exposure(start=80, end=400, level=0.5)],
        [Exposure(start=300, end=400)],
        [],
    ],
)
def test_the_exposure_that_has_begun_stays(refused, second):
    assert "the exposure that has begun must stay; its end or dose may change" in refused([FIRST, *second])


@pytest.mark.parametrize("start_s", [0, 50, 99])
def test_nothing_begins_in_the_past(run, refused, start_s):
    assert f"starting at {start_s} s would begin in the past, before 100 s" in refused(
        [FIRST, SECOND], Exposure(start=start_s, end=400)
    )
    assert "would begin in the past" in refused([FIRST, Exposure(start=80, end=90), Exposure(start=95, end=400)])


def test_checkpoints_reached_stay(run, refused):
    assert refused([FIRST, SECOND], looks=[LOOKS[1]]) == "The 1 checkpoints reached so far must stay as they were."
    moved = [Checkpoint(name="one", at=51), LOOKS[1]]
    assert "must stay" in refused([FIRST, SECOND], looks=moved)
    run.until(lambda run: run.session.waiting is not None)
    assert "The 2 checkpoints" in refused([FIRST, SECOND], looks=[LOOKS[0]])


@pytest.mark.parametrize("limits", [Limits(air_hard_c=41), Limits(bank_hard_c=62), Limits(air_hard_c=38)])
def test_the_hard_limits_stay_as_the_board_was_armed(refused, limits):
    assert refused([FIRST, SECOND], limits=limits) == (
        "The hard limits must stay: the board was armed with them. Lower the soft limits instead."
    )


def test_no_checkpoint_in_the_past(refused):
    looks = [LOOKS[0], Checkpoint(name="late", at=99)]
    assert refused([FIRST, SECOND], looks=looks) == (
        "Checkpoint 'late' at 99 s would lie in the past, before 100 s of session time."
    )


def test_a_plan_that_does_not_fit_the_chamber(run, program_of, refused):
    program = program_of([FIRST, SECOND], OTHER, Exposure(start=300, end=400), checkpoints=LOOKS)
    assert "no zone 'C'; its zones are A, B" in run.refused(e.ChangePlan, program)
    slow = [Exposure(start=300, dose_j_cm2=1.0), Exposure(start=350, end=400)]
    assert "needs until 400 s" in refused([FIRST, SECOND], slow)


def test_every_mistake_is_named_at_once(refused):
    message = refused([SECOND], Exposure(start=10, end=20), looks=[])
    assert message.count("Zone") == 2
    assert "checkpoints" in message


def test_only_a_session_under_way_changes(make_run, chamber_of, program_of):
    program = program_of(FIRST)
    run = make_run(program, chamber_of(1))
    assert "planned" in run.refused(e.ChangePlan, program)
    run.begin()
    run.order(e.AskEnd)
    assert "about to end" in run.refused(e.ChangePlan, program)
    run.read()
    assert "ended" in run.refused(e.ChangePlan, program)
