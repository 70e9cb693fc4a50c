"""The steps of somebody new: in order, each ticked by what is there."""

from dataclasses import replace

from lampwarden.web.first_steps import There, steps

NOTHING = There(sheets=0, plan_id="", rehearsed=False, channels=0, sessions=0)


def done(there: There) -> list[bool]:
    return [step.done for step in steps(there, "attic")]


def test_nothing_is_there_yet() -> None:
    shown = steps(NOTHING, "attic")
    assert [step.title for step in shown] == [
        "Describe a sheet",
        "Plan its light",
        "Rehearse the plan",
        "Say how you are called",
        "Check and start",
    ]
    assert [step.next for step in shown] == [True, False, False, False, False]
    assert not any(step.done for step in shown)
    assert shown[1].href == "/plan/attic"


def test_each_is_ticked_by_what_it_leaves() -> None:
    assert done(replace(NOTHING, sheets=2)) == [True, False, False, False, False]
    assert done(replace(NOTHING, plan_id="ladder")) == [False, True, False, False, False]
    assert done(replace(NOTHING, rehearsed=True)) == [False, False, True, False, False]
    assert done(replace(NOTHING, channels=1)) == [False, False, False, True, False]


def test_the_first_that_is_missing_comes_next() -> None:
    shown = steps(replace(NOTHING, sheets=1, plan_id="ladder"), "attic")
    assert [step.title for step in shown if step.next] == ["Rehearse the plan"]
    assert shown[2].href == "/plan/attic/ladder#plan-rehearse"
    assert shown[4].href == "/plan/attic/ladder#plan-start"


def test_a_session_needs_neither_sheet_nor_rehearsal() -> None:
    assert done(replace(NOTHING, sessions=1)) == [True, True, True, False, True]


def test_no_channels_where_nothing_is_sent() -> None:
    assert [step.title for step in steps(replace(NOTHING, channels=None), "attic")][3] == "Check and start"
