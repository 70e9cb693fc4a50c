"""Several holds at once: any one of them keeps the session dark, and they may be lifted in any order."""

import itertools

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.engine import holds as h

HOUR = Exposure(start=0, end=3600)


def storage(run, trouble):
    run.tell(e.StorageState(run.now_s, trouble))


BEGIN = {
    "operator": lambda run: run.order(e.AskHold),
    "door": lambda run: run.board.set_door(True),
    "cooling": lambda run: run.board.bank_temps_c.__setitem__(0, 60.0),
    "sensor": lambda run: setattr(run.board, "air_temp_c", None),
    "trip": lambda run: run.board.set_trip("stop button pressed"),
    "storage": lambda run: storage(run, "The disk is full."),
}
CURE = {
    "operator": lambda run: None,
    "door": lambda run: run.board.set_door(False),
    "cooling": lambda run: run.board.bank_temps_c.__setitem__(0, 30.0),
    "sensor": lambda run: setattr(run.board, "air_temp_c", 25.0),
    "trip": lambda run: None,
    "storage": lambda run: storage(run, None),
}
NEEDS_PERSON = {"operator", "door", "trip"}


@pytest.mark.parametrize("reason", BEGIN)
def test_each_begins_and_lifts_as_meant(run_of, reason):
    run = run_of(HOUR).go(10)
    BEGIN[reason](run)
    run.go(2)
    assert list(run.holds()) == [reason]
    assert not run.lit
    CURE[reason](run)
    run.go(60)
    assert run.holds() == ({reason: True} if reason in NEEDS_PERSON else {})
    if reason in NEEDS_PERSON:
        run.order(e.AskContinue)
        run.go(3)
    assert run.lit


@pytest.mark.parametrize(("first", "second"), list(itertools.permutations(BEGIN, 2)))
def test_two_at_once_in_either_order(run_of, first, second):
    run = run_of(HOUR).go(10)
    for reason in (first, second):
        BEGIN[reason](run)
        run.go(2)
    # A missing air temperature says nothing of heat, so nothing begins to cool while it is missing.
    hidden = {"cooling"} if (first, second) == ("sensor", "cooling") else set()
    assert set(run.holds()) == {first, second} - hidden
    for reason in (first, second):
        CURE[reason](run)
        run.go(2)
        asked = {r for r, needs in run.holds().items() if needs}
        if reason == first and second not in NEEDS_PERSON:
            assert second in run.holds()
        if asked:
            run.order(e.AskContinue)
            run.go(3)
    assert run.holds() == {}
    assert run.lit
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


def test_all_at_once(run_of):
    run = run_of(HOUR).go(10)
    for begin in ("cooling", "sensor", "operator", "door", "trip", "storage"):
        BEGIN[begin](run)
        run.go(1)
    before_s = run.session.session_s
    run.go(60)
    assert set(run.holds()) == set(BEGIN)
    assert run.session.session_s == before_s
    for reason in BEGIN:
        assert not run.lit
        CURE[reason](run)
        run.go(1)
    while run.holds():
        run.order(e.AskContinue)
        run.go(2)
    assert run.session.phase is Phase.RUNNING


def test_storage_trouble_says_why_and_is_told_once(run_of):
    run = run_of(HOUR).go(10)
    for _ in range(3):
        storage(run, "The disk is full; 0 MB are left.")
        run.go(1)
    assert [hold.why for hold in run.session.holds] == ["The disk is full; 0 MB are left."]
    assert "The disk is full" in run.refused(e.AskContinue)


def test_storage_trouble_outside_a_session_changes_nothing(make_run, chamber_of, program_of):
    run = make_run(program_of(HOUR), chamber_of(1))
    storage(run, "The disk is full.")
    assert run.session == run.planned
    run.begin().go(5)
    run.order(e.AskEnd)
    run.read()
    ended = run.session
    storage(run, "The disk is full.")
    assert run.session == ended


@pytest.mark.parametrize(
    ("waited_s", "due"),
    [(0, 0), (299.9, 0), (300, 1), (900, 2), (1800, 3), (3599, 3), (3600, 4), (7199, 4), (7200, 5), (36000, 13)],
)
def test_reminders_due(waited_s, due):
    assert h.reminders_due(waited_s) == due
