"""Which journal lines are worth a message, how urgent, and in which words. Pure.

A message is named by what it is about (`key`), so that the same cause makes one message however often it is read.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from ..domain.units import duration_text
from ..engine import Phase, Reason, Session
from ..store.records import SavedLine

SOON_S = 600.0
"""A checkpoint is announced this long before it comes, s of light."""


class Urgency(IntEnum):
    CAN_WAIT = 0
    """Good to know; waits through the night."""
    SOON = 1
    """Somebody is asked for."""
    NOW = 2
    """Something went wrong, or nobody came for long."""


@dataclass(frozen=True, slots=True)
class Message:
    """What a person is told."""

    key: str
    kind: str
    """Kind of the journal line it comes from, or 'soon' or 'test'."""
    chamber_id: str
    session_id: str | None
    urgency: Urgency
    title: str
    body: str
    checkpoint: str = ""
    """The checkpoint it calls to; empty: none. Such a message is needless once that is answered."""


_ALARMS = {
    Reason.TRIP: "The board cut the light off",
    Reason.NOT_FOLLOWING: "The board does not do as told",
    Reason.BOARD_LOST: "The board does not answer",
    Reason.SENSOR: "A temperature is missing",
    Reason.STORAGE: "The record cannot be written",
}


def of_line(line: SavedLine, chamber: str) -> Message | None:
    """The message that a journal line is worth, for a chamber of this title; None for most lines."""
    worth = _RULES[line.kind](line.data) if line.kind in _RULES else None
    if worth is None:
        return None
    urgency, title = worth
    return Message(
        key=f"line/{line.seq}",
        kind=line.kind,
        chamber_id=line.chamber_id,
        session_id=line.session_id,
        urgency=urgency,
        title=f"{title} · {chamber}",
        body=line.text,
        checkpoint=str(line.data.get("checkpoint", "")) if line.kind == "person_called" else "",
    )


def of_session(session: Session, session_id: str, chamber: str) -> Message | None:
    """Announces the next checkpoint a person is needed at, once it is near; None while it is not."""
    if session.phase is not Phase.RUNNING:
        return None
    ahead = session.program.checkpoints[session.checkpoints_passed :]
    if not ahead or not ahead[0].attended:
        return None
    left_s = ahead[0].at_s - session.session_s
    if not 0 < left_s <= SOON_S:
        return None
    name = ahead[0].name
    return Message(
        key=f"soon/{session_id}/{name}",
        kind="soon",
        chamber_id=session.chamber.id,
        session_id=session_id,
        urgency=Urgency.SOON,
        title=f"Soon: photo '{name}' · {chamber}",
        body=f"The lamps go dark for photo '{name}' in {duration_text(left_s)} of light. Bring the camera.",
        checkpoint=name,
    )


SETTLING = ("ended", "checkpoint_answered", "person_called")
"""Kinds of journal lines that make a call to a checkpoint needless."""


def settles(line: SavedLine, message: Message) -> str:
    """Why a message that calls to a checkpoint is needless after this later line of its session; empty: it is not."""
    if line.kind == "ended":
        return "the session is over"
    if line.data.get("checkpoint") != message.checkpoint:
        return ""
    return {"checkpoint_answered": "it was answered", "person_called": "a later call took its place"}.get(line.kind, "")


def made_of(message: Message) -> int:
    """The journal line a message is made of; 0 for an announcement, which every line of its session comes after."""
    kind, _, rest = message.key.partition("/")
    return int(rest) if kind == "line" else 0


_Worth = tuple[Urgency, str] | None


def _called(data: dict[str, Any]) -> _Worth:
    name, urgency = data["checkpoint"], data["urgency"]
    if not urgency:
        return Urgency.SOON, f"Your turn: photo '{name}'"
    return Urgency.SOON if urgency < 2 else Urgency.NOW, f"Still waiting (reminder {urgency}): photo '{name}'"


def _held(data: dict[str, Any]) -> _Worth:
    reason = Reason(data["reason"])
    if reason in _ALARMS:
        return Urgency.NOW, _ALARMS[reason]
    if reason is Reason.COOLING:
        return Urgency.CAN_WAIT, "Cooling down"
    if reason in (Reason.DOOR, Reason.RESTART) and data["needs_person"]:
        return Urgency.SOON, "The door was opened" if reason is Reason.DOOR else "Interrupted, and waits for you"
    return None


def _ended(data: dict[str, Any]) -> _Worth:
    if data["outcome"] == "completed":
        return Urgency.SOON, "Finished"
    return (Urgency.NOW, "Cut off") if data["outcome"] == "cut off" else (Urgency.CAN_WAIT, "Ended by hand")


_RULES: dict[str, Callable[[dict[str, Any]], _Worth]] = {
    "person_called": _called,
    "hold_began": _held,
    "hold_waits": lambda data: (Urgency.SOON, "Waits for you to go on"),
    "ended": _ended,
    "board_rebooted": lambda data: (Urgency.CAN_WAIT, "The board has restarted"),
    "backup_failed": lambda data: (Urgency.SOON, "The nightly backup failed"),
    "journal_changed": lambda data: (Urgency.NOW, "The journal is not as it was written"),
    "start_began": lambda data: (Urgency.CAN_WAIT, "A planned session has begun"),
    "start_refused": lambda data: (Urgency.NOW, "A planned session could not start"),
    "start_missed": lambda data: (Urgency.NOW, "A planned start was missed"),
    "remeasure_due": lambda data: (Urgency.CAN_WAIT, "Time to measure the light again"),
    "follow_up_due": lambda data: (Urgency.CAN_WAIT, "Time for a follow-up photo"),
}
"""Journal lines worth a message, by kind."""
