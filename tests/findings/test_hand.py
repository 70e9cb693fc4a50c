"""Hand findings and follow-up days."""

import pytest
from pydantic import ValidationError

from lampwarden.domain.finding import ASPECTS, FOLLOW_UP, Aspect, DueState, FollowUpPlan, HandFinding
from lampwarden.errors import ProgramError, UnknownName
from lampwarden.findings.hand import in_words


def finding(cell="A1", aspect="stiffness", value=1, day=1, **more):
    return HandFinding(cell=cell, aspect=aspect, value=value, found_utc=f"2026-05-0{day}T06:00:00Z", **more)


def test_findings_in_words_oldest_first_in_the_sheets_order(bench):
    said = in_words(
        bench.sheet,
        [
            finding(value=1, day=2, checkpoint="8 h"),
            finding("B1", "note", None, note="A tide line along the fold."),
            finding(value=2, day=1, checkpoint="baseline"),
            finding("A1", "ph", 6.5, note="strip"),
            finding("A1", "stain", 4),
        ],
        ASPECTS,
    )
    assert said == (
        "A1, Stiffness: as before (baseline); softer than before (8 h).",
        "A1, pH: 6.5, strip.",
        "A1, Stain size: 4 mm.",
        "B1, Note: A tide line along the fold.",
    )


@pytest.mark.parametrize(
    ("wrong", "error", "words"),
    [
        (finding("Z9"), UnknownName, "no cell 'Z9'"),
        (finding(aspect="taste"), UnknownName, "no aspect 'taste'"),
        (finding(value=5), ProgramError, "no step 5. Choose one of: 0 limp"),
        (finding(value=1.5), ProgramError, "no step 1.5"),
        (finding("A1", "ph", 15), ProgramError, "goes from 0 to 14"),
        (finding("A1", "stain", -1), ProgramError, "goes from 0 to any"),
        (finding("A1", "note", 3), ProgramError, "takes words"),
    ],
)
def test_what_is_refused(bench, wrong, error, words):
    with pytest.raises(error, match=words):
        in_words(bench.sheet, [wrong], ASPECTS)


def test_a_scale_of_ones_own(bench):
    gloss = Aspect(key="gloss", title="Gloss", steps=("matt", "silky", "shiny"))
    assert in_words(bench.sheet, [finding(aspect="gloss", value=2)], (gloss,)) == ("A1, Gloss: shiny.",)


@pytest.mark.parametrize(
    "wrong",
    [
        {"steps": ("one",)},
        {"steps": ("one", "two"), "unit": "mm"},
        {"low": 3, "high": 1},
    ],
)
def test_an_aspect_that_cannot_be(wrong):
    with pytest.raises(ValidationError):
        Aspect(key="gloss", title="Gloss", **wrong)


def test_an_empty_finding_is_refused():
    with pytest.raises(ValidationError, match="a value or a note"):
        finding(value=None, note=" ")


@pytest.mark.parametrize(
    ("elapsed", "day"), [(0.3, None), (0.9, 1), (1.6, None), (2.5, 3), (8, 7), (12, None), (31, 30), (380, 365)]
)
def test_the_day_a_reading_stands_for(elapsed, day):
    assert FOLLOW_UP.day_of(elapsed) == day


def test_how_the_days_stand():
    states = FOLLOW_UP.states(30.0, (1.1, 7.2))
    assert list(states.values()) == [
        DueState.TAKEN, DueState.MISSED, DueState.TAKEN, DueState.DUE, DueState.LATER, DueState.LATER,
    ]  # fmt: skip


def test_days_are_settable_and_must_rise():
    assert FollowUpPlan(days=(2, 14)).day_of(13) == 14
    assert FollowUpPlan(days=()).day_of(1) is None
    with pytest.raises(ValidationError, match="must rise"):
        FollowUpPlan(days=(7, 3))
