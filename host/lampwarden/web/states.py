"""The state of a chamber in plain words: one headline, one sentence, one tone. Pure."""

from dataclasses import dataclass

from ..engine import Phase, Reason, Session
from ..keeper import Snapshot
from ..link.board import Live
from .figures import outlook
from .wording import Taste, in_scale, listed, rough_text

DARK = "All treatment lamps are dark."
DARKENING = "The lamps were just ordered dark."
DARKENS = "The board darkens the lamps by itself within seconds when nobody talks to it."

STRAY_S = 3.0
"""Light reported for longer than this after dark was asked is no delay of the report any more, s: three periods."""

HOLDS = {
    Reason.TRIP: ("alarm", "The board cut the light off"),
    Reason.NOT_FOLLOWING: ("alarm", "The board does not do as told"),
    Reason.BOARD_LOST: ("alarm", "The board does not answer"),
    Reason.SENSOR: ("alarm", "A temperature is missing"),
    Reason.STORAGE: ("alarm", "The record cannot be written"),
    Reason.OPERATOR: ("ask", "Paused"),
    Reason.DOOR: ("wait", "The door is open"),
    Reason.COOLING: ("wait", "Cooling down"),
    Reason.RESTART: ("wait", "Interrupted"),
    Reason.CHECKPOINT: ("wait", "Photo pause"),
}
"""Tone and headline of each hold; when several stand, the first of this table is the one named."""

THEN = {
    Reason.CHECKPOINT: "Goes on by itself after the photo.",
    Reason.DOOR: "Waits for the door to be closed.",
    Reason.COOLING: "Goes on by itself once it is cool.",
    Reason.BOARD_LOST: "Waits for the board.",
    Reason.SENSOR: "Waits for the sensor.",
    Reason.STORAGE: "Waits for the disk.",
    Reason.RESTART: "Goes on once the board answers.",
}
"""What a hold waits for that needs no person."""

ENDS = {
    "completed": ("done", "Finished"),
    "ended by person": ("done", "Ended by hand"),
    "cut off": ("alarm", "Cut off"),
}


@dataclass(frozen=True, slots=True)
class State:
    """What is going on, for one glance."""

    tone: str
    """idle, lit, wait (goes on by itself), ask (needs a person), alarm or done."""
    headline: str
    sentence: str


def state(snapshot: Snapshot, taste: Taste, stray_s: float = 0.0) -> State:
    """The chamber's state in words. `stray_s`: how long light has been reported though dark was asked, s."""
    session = snapshot.session
    if session is None or session.phase is Phase.PLANNED:
        return _idle(snapshot, stray_s)
    if session.phase is Phase.ENDED:
        tone, headline = ENDS[session.outcome]
        return State(tone, headline, f"{in_scale(session.cause, taste)} {_dark(snapshot, stray_s)}")
    if session.phase is Phase.HELD:
        return _held(session, snapshot, stray_s)
    return _running(session, snapshot)


def reading(snapshot: Snapshot) -> Live | None:
    """What the board sees now; None while it does not answer, for what it saw before is no news."""
    return snapshot.board.live if snapshot.board.trouble is None else None


def lit_zones(snapshot: Snapshot) -> list[str]:
    """Names of the zones that have light, as the board reports."""
    live = reading(snapshot)
    if live is None:
        return []
    zones = snapshot.chamber.zones
    return [zone.name for zone, share in zip(zones, live.zone_applied, strict=False) if share > 0]


def _idle(snapshot: Snapshot, stray_s: float) -> State:
    board = snapshot.board
    if board.trouble is not None:
        headline = "Waiting for the board" if board.live is None else "The board does not answer"
        return State("alarm" if board.live else "wait", headline, f"{_sentence(board.trouble)} {DARKENS}")
    return State("idle", "At rest", f"No session is running. {_dark(snapshot, stray_s)}")


def _held(session: Session, snapshot: Snapshot, stray_s: float) -> State:
    standing = {hold.reason: hold for hold in session.holds}
    first = next(reason for reason in HOLDS if reason in standing)
    tone, headline = HOLDS[first]
    if first is Reason.DOOR and standing[first].needs_person:
        headline = "The door was opened"
    if first is Reason.CHECKPOINT and session.waiting is not None and session.open_checkpoint is not None:
        name = session.open_checkpoint.name
        if not standing[first].needs_person:
            headline = f"The camera’s turn: photo “{name}”"
        elif session.waiting.called_s is None:
            headline = f"Cooling before photo “{name}”"
        else:
            tone, headline = "ask", f"Your turn: photo “{name}”"
    elif tone == "wait" and standing[first].needs_person:
        tone = "ask"
    return State(tone, headline, _dark(snapshot, stray_s))


def _running(session: Session, snapshot: Snapshot) -> State:
    lit = lit_zones(snapshot)
    if lit:
        zones = f"Zone {lit[0]} has" if len(lit) == 1 else f"Zones {listed(lit)} have"
        return State("lit", "Lamps are lit", f"{zones} light now. Keep the door closed and never look at lit lamps.")
    if any(session.levels):
        return State("lit", "Lighting the lamps", "The board is being armed; light follows within seconds.")
    left_s = outlook(session).light_left_s
    then = "No more light is planned." if left_s is None else f"The next light is planned in {rough_text(left_s)}."
    return State("wait", "Resting in the dark", f"The plan asks for no light now. {then}")


def _dark(snapshot: Snapshot, stray_s: float) -> str:
    """What may be said about the dark: only what the board reports."""
    if reading(snapshot) is None:
        return DARKENS
    lit = lit_zones(snapshot)
    if not lit:
        return DARK
    return DARKENING if stray_s <= STRAY_S else f"But zone {listed(lit)} reports light."


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."
