"""Random programs, random troubles, random people: what must hold in any session, and that it ends once troubles stop.

The bench (conftest) checks after every step: dark unless running without a hold; the fold of the facts through JSON is
the live state; no zone above its plan by more than a period and what fell in silence; no light recorded that did not
fall; no checkpoint passed by the program without a call; sentences that end as sentences.
"""

import math

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from lampwarden.domain.program import Checkpoint, Exposure, Rules
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.errors import NotNow, ProgramError

BUDGET = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
PERIOD_S = 1.0
END_WITHIN_S = 2000.0
SILENCE_S = 3.1
"""Light that may fall unseen in one silence, s: the heartbeat timeout and rounding."""
EXPOSURES_MAX = 3
"""Exposures of one zone. Each loses up to a period at its start if the host does not come when the engine asks."""

tenths = st.integers(1, 300).map(lambda n: n / 10)
levels = st.sampled_from([1.0, 0.5, 0.3, 0.037])


@st.composite
def zone_plans(draw):
    """Exposures of one zone that fit 100 W/m2: 0.01 J/cm2 for each second of full light."""
    exposures, at_s = [], 0.0
    for _ in range(draw(st.integers(0, EXPOSURES_MAX))):
        start_s = round(at_s + draw(st.sampled_from([0.0, 0.4, 10.0])), 3)
        seconds, level = draw(tenths), draw(levels)
        at_s = round(start_s + seconds, 3)
        if draw(st.booleans()):
            exposures.append(Exposure(start=start_s, end=at_s, level=level))
        else:
            exposures.append(Exposure(start=start_s, dose_j_cm2=0.01 * seconds * level, level=level))
            at_s += 0.001
    return exposures


@st.composite
def plans(draw):
    """Everything of a program but its title: plans of 1 to 3 zones, checkpoints, rules."""
    zones = draw(st.lists(zone_plans(), min_size=1, max_size=3).filter(any))
    times = sorted(draw(st.sets(st.integers(0, 60), max_size=3)))
    checkpoints = [
        Checkpoint(name=f"look {at_s}", at=at_s, attended=draw(st.booleans()), pause=draw(st.sampled_from([5, 20])))
        for at_s in times
    ]
    rules = Rules(
        coolings_per_hour_max=draw(st.sampled_from([0, 1, 4])),
        after_restart=draw(st.sampled_from(["ask", "continue"])),
        gap_max=draw(st.sampled_from([0, 15, 600])),
        unanswered=draw(st.sampled_from(["wait", "continue"])),
        answer_within=draw(st.sampled_from([60, 400])),
    )
    return zones, {"checkpoints": checkpoints, "rules": rules}


def attempt(run, happening):
    """Tells the session something that it may refuse; then it must stay as it was."""
    picture = repr(run.session)
    try:
        run.tell(happening)
    except (NotNow, ProgramError):
        assert repr(run.session) == picture


def change_plan(run, how, program_of):
    """A change that a person might make: cut short what runs, or add light to a zone."""
    session = run.session
    zones = []
    for index, exposures in enumerate(session.plans):
        done, now_s = session.exposure[index], session.session_s
        kept = list(exposures)
        if how == "cut":
            kept = [x for x in exposures[: done + 1] if x.start_s < now_s]
            if len(kept) > done:
                cut = kept[done]
                kept[done] = Exposure(start=cut.start_s, end=now_s, level=cut.level)
        elif how == "add":
            end_s = max([now_s, *(x.planned_end_s(100.0) for x in exposures)])
            kept.append(Exposure(start=end_s + 0.01, end=end_s + 5.0))
        elif how == "past":
            kept = [Exposure(start=0, end=0.05), *kept[1:]]
        zones.append(kept)
    if any(zones):
        more = {"checkpoints": session.program.checkpoints, "rules": session.program.rules}
        attempt(run, e.ChangePlan(run.now_s, "Ana", program_of(*zones, **more)))


def answer(run, right=True):
    checkpoint = run.session.open_checkpoint
    attempt(run, e.Answer(run.now_s, "Ana", checkpoint.name if checkpoint and right else "no such"))


def set_wire(run, up):
    run.board.wire = up


def trip(run, cause):
    run.board.set_trip(cause)
    run.board.cause_lasts = True


def blink(run, _):
    run.board.set_door(True)
    run.board.set_door(False)


HAPPENINGS = {
    "go": (lambda run, s: run.go(s), tenths),
    "go by periods": (lambda run, s: run.go(s, wake=False), tenths),
    "stall": (lambda run, s: run.stall(s), st.sampled_from([0.2, 2.5, 8.0, 100.0])),
    "crash": (lambda run, s: run.crash(s) if run.session.active else None, st.sampled_from([0.5, 5.0, 30.0, 700.0])),
    "clock back": (lambda run, s: run.crash(s, 0.0) if run.session.active else None, st.sampled_from([5.0, 30.0])),
    "wire": (set_wire, st.booleans()),
    "reboot": (lambda run, _: run.board.reboot(), st.none()),
    "door": (lambda run, is_open: run.board.set_door(is_open), st.booleans()),
    "blink": (blink, st.none()),
    "air": (
        lambda run, c: setattr(run.board, "air_temp_c", c),
        st.sampled_from([None, math.nan, math.inf, -40.0, 25.0, 33.0, 36.0]),
    ),
    "bank": (
        lambda run, c: run.board.bank_temps_c.__setitem__(0, c),
        st.sampled_from([None, math.nan, 30.0, 54.9, 58.0]),
    ),
    "trip": (trip, st.sampled_from(["stop button pressed", "air sensor silent"])),
    "mended": (lambda run, _: setattr(run.board, "cause_lasts", False), st.none()),
    "hold": (lambda run, stop: attempt(run, e.AskHold(run.now_s, "Ana", stop)), st.booleans()),
    "continue": (lambda run, _: attempt(run, e.AskContinue(run.now_s, "Ana")), st.none()),
    "answer": (answer, st.booleans()),
    "note": (lambda run, _: attempt(run, e.Annotate(run.now_s, "Ana", "Smells warm")), st.none()),
    "storage": (
        lambda run, trouble: attempt(run, e.StorageState(run.now_s, trouble)),
        st.sampled_from([None, "The disk is full."]),
    ),
    "begin": (lambda run, _: attempt(run, e.Begin(run.now_s, "Ana")), st.none()),
    "late": (lambda run, _: attempt(run, e.AskHold(run.session.run_s - 1, "Ana")), st.none()),
}
QUIET = ("go", "go by periods", "hold", "continue", "answer", "note")
ENDS = {
    "end": lambda run: attempt(run, e.AskEnd(run.now_s, "Ana", "Enough")),
    "heat": lambda run: run.board.set_trip("air over its limit"),
}


def happenings(names, size):
    one = st.sampled_from(sorted(names)).flatmap(lambda name: st.tuples(st.just(name), HAPPENINGS[name][1]))
    return st.lists(one, max_size=size)


def run_to_the_end(run):
    """Troubles stop and a person answers everything: the session must end within a bound."""
    board = run.board
    board.wire, board.air_temp_c, board.bank_temps_c = True, 25.0, [30.0] * board.banks
    board.cause_lasts = False
    board.set_door(False)
    attempt(run, e.StorageState(run.now_s, None))
    until_s = run.now_s + END_WITHIN_S
    while run.session.phase is not Phase.ENDED:
        assert run.now_s < until_s, run.texts()[-10:]
        run.go(5)
        if run.session.waiting is not None:
            answer(run)
        if any(needs for reason, needs in run.holds().items() if reason != "checkpoint"):
            run.order(e.AskContinue)


def may_be_late_s(what):
    return EXPOSURES_MAX * PERIOD_S if any(name == "go by periods" for name, _ in what) else 0.0


@pytest.fixture
def begin(make_run, chamber_of, program_of):
    def make(plan):
        zones, more = plan
        return make_run(program_of(*zones, **more), chamber_of(len(zones))).begin()

    return make


@settings(BUDGET, max_examples=250)
@given(
    plan=plans(), what=happenings(HAPPENINGS, 25), changes=st.lists(st.sampled_from(["cut", "add", "past"]), max_size=2)
)
def test_any_session_under_any_trouble(begin, program_of, plan, what, changes):
    run = begin(plan)
    for index, (name, value) in enumerate(what):
        HAPPENINGS[name][0](run, value)
        if index % 10 == 5 and changes and run.session.active:
            change_plan(run, changes.pop(), program_of)
    run_to_the_end(run)
    event(run.session.outcome)
    assert run.session.outcome in ("completed", "cut off")
    if run.session.outcome == "completed":
        silences = sum(name in ("stall", "crash", "clock back", "wire", "reboot") for name, _ in what)
        planned_s = run.session.program.planned_lit_s(run.session.chamber)
        for lit_s, plan_s in zip(run.session.lit_s, planned_s, strict=True):
            assert lit_s >= plan_s - 0.1 - SILENCE_S * silences - may_be_late_s(what)


@settings(BUDGET, max_examples=120)
@given(plan=plans(), what=happenings(QUIET, 20))
def test_without_trouble_each_zone_gets_its_plan(begin, plan, what):
    run = begin(plan)
    for name, value in what:
        HAPPENINGS[name][0](run, value)
    run_to_the_end(run)
    assert run.session.outcome == "completed"
    planned_s = run.session.program.planned_lit_s(run.session.chamber)
    assert list(run.session.lit_s) == pytest.approx(planned_s, abs=0.1 + may_be_late_s(what))
    assert list(run.session.lit_s) == pytest.approx(run.board.true_lit_s, abs=0.01)


@settings(BUDGET, max_examples=80)
@given(plan=plans(), what=happenings(HAPPENINGS, 12), way=st.sampled_from(sorted(ENDS)))
def test_an_end_is_an_end_whatever_came_before(begin, plan, what, way):
    run = begin(plan).go(3)
    for name, value in what:
        HAPPENINGS[name][0](run, value)
    run.board.wire = True
    ENDS[way](run)
    run.stall(1)
    run.read()
    if run.session.phase is not Phase.ENDED:
        assert way == "heat"  # a board that rebooted since has forgotten it
        return
    ended = run.session
    run.go(20)
    assert run.session == ended
    assert not any(run.board.levels)
