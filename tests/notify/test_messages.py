"""Which journal lines are worth a message, and in which words."""

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.engine import Phase, Session
from lampwarden.engine.facts import HoldBegan, PersonCalled, fact_to_data
from lampwarden.notify.messages import SOON_S, Urgency, made_of, of_line, of_session, settles
from lampwarden.store.records import SavedLine

UTC = "2026-05-04T09:30:00.000Z"


def line(kind: str, seq: int = 7, session_id: str | None = "s", **data: object) -> SavedLine:
    return SavedLine(kind, 0.0, UTC, dict(data), f"{kind}.", "attic", session_id, seq)


def test_calls_grow_more_urgent() -> None:
    said = [of_line(line("person_called", checkpoint="4 h", urgency=n), "Attic") for n in range(3)]
    assert [m.urgency for m in said if m] == [Urgency.SOON, Urgency.SOON, Urgency.NOW]
    assert said[0] is not None
    assert said[0].title == "Your turn: photo '4 h' · Attic"
    assert said[2] is not None
    assert "reminder 2" in said[2].title


def test_facts_of_the_engine_are_understood() -> None:
    """The names used here are the engine's own: a renamed field would raise."""
    for fact in (
        PersonCalled(1.0, "4 h", 1, "Please come."),
        HoldBegan(1.0, "sensor", "The air sensor is silent.", needs_person=True),
    ):
        kind, data = fact_to_data(fact)
        assert of_line(SavedLine(kind, 1.0, UTC, data, fact.text, "attic", "s", 3), "Attic") is not None


def test_what_a_person_did_is_no_news() -> None:
    assert of_line(line("hold_began", reason="operator", needs_person=True), "Attic") is None
    assert of_line(line("hold_began", reason="door", needs_person=False), "Attic") is None
    assert of_line(line("levels_set"), "Attic") is None


def test_a_fault_is_told_at_once_and_cooling_can_wait() -> None:
    for reason in ("trip", "sensor", "board lost", "storage", "board not following"):
        told = of_line(line("hold_began", reason=reason, needs_person=True), "Attic")
        assert told is not None
        assert told.urgency is Urgency.NOW
    cooling = of_line(line("hold_began", reason="cooling", needs_person=False), "Attic")
    assert cooling is not None
    assert cooling.urgency is Urgency.CAN_WAIT


def test_a_call_is_needless_once_answered() -> None:
    call = of_line(line("person_called", checkpoint="4 h", urgency=0), "Attic")
    assert call is not None
    assert made_of(call) == 7
    assert settles(line("checkpoint_answered", 8, checkpoint="4 h"), call) == "it was answered"
    assert settles(line("person_called", 8, checkpoint="4 h"), call) == "a later call took its place"
    assert settles(line("ended", 8), call) == "the session is over"
    assert settles(line("checkpoint_answered", 8, checkpoint="8 h"), call) == ""


def session(session_s: float, *, attended: bool = True) -> Session:
    chamber = Chamber(id="attic", zones=(Zone(name="A", irradiance_w_m2=80),))
    program = Program(
        title="Short",
        zones=(ZonePlan(zone="A", exposures=(Exposure(start=0, end=7200),)),),
        checkpoints=(Checkpoint(name="1 h", at=3600, attended=attended),),
    )
    return Session(program, chamber, phase=Phase.RUNNING, session_s=session_s)


def test_a_checkpoint_is_announced_once_it_is_near() -> None:
    assert of_session(session(3600 - SOON_S - 1), "s", "Attic") is None
    near = of_session(session(3600 - SOON_S), "s", "Attic")
    assert near is not None
    assert "10 min" in near.body
    assert near.key == "soon/s/1 h"
    assert of_session(session(3000, attended=False), "s", "Attic") is None
    assert of_session(session(3600), "s", "Attic") is None
