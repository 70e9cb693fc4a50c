"""The machine: every pair of phase and cause either moves or is refused, and `apply` refuses what the table does."""

import itertools

import pytest

from lampwarden.domain.program import Checkpoint, Exposure
from lampwarden.engine import Phase, apply, diagram, fact_from_data, fact_to_data, replay, totals
from lampwarden.engine import events as e
from lampwarden.engine import facts as f
from lampwarden.engine.state import NEXT, move
from lampwarden.errors import NotNow

CAUSES = sorted({cause for _, cause in NEXT})
MINUTE = Exposure(start=0, end=60)


@pytest.mark.parametrize(("phase", "cause"), list(itertools.product(Phase, [*CAUSES, "no such cause"])))
def test_every_pair_moves_or_is_refused(phase, cause):
    if (phase, cause) in NEXT:
        assert move(phase, cause) is NEXT[phase, cause]
        return
    with pytest.raises(NotNow) as refusal:
        move(phase, cause)
    message = str(refusal.value)
    assert repr(cause) in message
    assert phase.value in message
    possible = sorted(c for p, c in NEXT if p is phase)
    assert message.endswith("possible: " + (", ".join(possible) if possible else "nothing"))


def test_no_way_leads_out_of_the_end_or_back_to_the_plan():
    assert not [row for row in NEXT if row[0] is Phase.ENDED]
    assert Phase.PLANNED not in NEXT.values()


def test_every_phase_is_reached_and_drawn():
    assert set(NEXT.values()) | {Phase.PLANNED} == set(Phase)
    lines = diagram().splitlines()
    assert lines[0] == "stateDiagram-v2"
    assert lines[1:] == [f"    {p.value} --> {q.value}: {cause}" for (p, cause), q in NEXT.items()]


@pytest.fixture
def sessions(make_run, chamber_of, program_of):
    """One session in each phase."""
    program = program_of(MINUTE, checkpoints=[Checkpoint(name="look", at=30)])
    runs = {phase: make_run(program, chamber_of(1)) for phase in Phase}
    for phase in (Phase.RUNNING, Phase.HELD, Phase.ENDED):
        runs[phase].begin().go(5)
    runs[Phase.HELD].order(e.AskHold)
    runs[Phase.ENDED].order(e.AskEnd)
    runs[Phase.ENDED].read()
    found = {phase: run.session for phase, run in runs.items()}
    assert all(session.phase is phase for phase, session in found.items())
    return found


FACTS = {
    "begun twice": (f.Began(10, "Ana"), {Phase.PLANNED}),
    "hold": (f.HoldBegan(10, "door", "Open.", False), {Phase.RUNNING, Phase.HELD}),
    "same hold again": (f.HoldBegan(10, "operator", "Paused.", True), {Phase.RUNNING}),
    "lift": (f.HoldEnded(10, "operator", "On."), {Phase.HELD}),
    "lift what does not stand": (f.HoldEnded(10, "trip", "On."), set()),
    "wait for what does not stand": (f.HoldWaits(10, "trip", "Look."), set()),
    "call without a checkpoint": (f.PersonCalled(10, "look", 0, "Come."), set()),
    "inspection without a checkpoint": (f.InspectionAsked(10, "Ana"), set()),
    "inspection over without a checkpoint": (f.InspectionOver(10, 1800), set()),
    "answer without a checkpoint": (f.CheckpointAnswered(10, "look", "Ana", ""), set()),
    "end": (f.Ended(10, "completed", "Done.", (0.0,)), {Phase.RUNNING, Phase.HELD}),
    "note": (f.Annotated(10, "Ana", "Note."), set(Phase)),
}


@pytest.mark.parametrize("name", FACTS)
@pytest.mark.parametrize("phase", Phase)
def test_a_fact_folds_or_is_refused(sessions, name, phase):
    fact, legal = FACTS[name]
    session, picture = sessions[phase], repr(sessions[phase])
    if phase in legal:
        apply(session, fact)
    else:
        with pytest.raises(NotNow):
            apply(session, fact)
    assert repr(session) == picture


def test_unknown_facts_are_not_swallowed():
    with pytest.raises(KeyError):
        fact_from_data("no_such_kind", {})
    with pytest.raises(KeyError):
        fact_from_data("began", {"run_s": 0.0})


def test_totals_of_an_earlier_version_are_read(run_of):
    """Fields that were added since have defaults; a session saved without them is taken up."""
    run = run_of(MINUTE).go(20)
    kind, data = fact_to_data(totals(run.session))
    for name in ("read_s", "read_levels", "unlit_s"):
        del data[name]
    old = apply(run.lean, fact_from_data(kind, data))
    assert (old.lit_s, old.read_levels) == (run.session.lit_s, run.lean.read_levels)
    run.session = run.folded = old
    run.board.reboot()
    run.go(200)
    assert run.session.outcome == "completed"
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=1.0)
    del data["lit_s"]
    with pytest.raises(KeyError, match="lit_s"):
        fact_from_data(kind, data)


def test_a_folded_journal_is_the_session(make_run, chamber_of, program_of):
    run = make_run(program_of(MINUTE), chamber_of(1)).begin().go(20)
    run.order(e.AskHold)
    run.go(5)
    run.order(e.AskContinue)
    run.go(20)
    assert replay(run.planned, run.facts) == run.session
    lines = [fact for fact in run.facts if not isinstance(fact, f.Progress)]
    assert replay(run.planned, [*lines, totals(run.session)]) == run.session


def test_time_never_runs_backwards(run_of):
    run = run_of(MINUTE).go(10)
    for run_s in (9.99, float("nan")):
        assert "older than the last one" in run.refused(lambda _, by, run_s=run_s: e.AskHold(run_s, by))
