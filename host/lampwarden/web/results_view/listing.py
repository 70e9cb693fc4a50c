"""The sessions of a chamber, a line each."""

from dataclasses import dataclass

from ...findings.conclude import Conclusions
from ...store.records import Session
from .. import wording as w
from ..wording import Taste
from .said import advice, headline
from .when import date_text


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One session in the list."""

    id: str
    title: str
    about: str
    """When, how it ended, which sheet."""
    readings: str
    result: str
    """In a line; empty: not known yet."""
    advice: str


@dataclass(frozen=True, slots=True)
class Result:
    """What the list needs to know of a session's readings."""

    readings: int
    refused: int
    found: Conclusions | None
    """None: nothing could be concluded."""
    trouble: str = ""


def ended_text(session: Session) -> str:
    """How a session ended."""
    if session.ended is None:
        return "under way"
    return session.ended.outcome


def session_line(session: Session, result: Result | None, taste: Taste) -> SessionLine:
    """A session in the list. `result`: None while it is worked out."""
    sheet = session.sheet["title"] if session.sheet else "no sheet"
    began = date_text(w.moment(session.began_utc), taste)
    counted, line, does = "", "", ""
    if session.sheet is None:
        counted = "Started without a sheet: there are no cells to read."
    elif result is None:
        counted = "Reading the record…"
    elif result.trouble:
        counted = result.trouble
    else:
        counted = f"{result.readings} reading{'' if result.readings == 1 else 's'}"
        if result.refused:
            counted += f", {result.refused} refused"
        if result.found is not None and result.found.cells:
            line, does = headline(result.found), advice(result.found)
        elif result.readings:
            line = "One more reading is needed before anything can be compared."
        else:
            line = "No photo yet. Take one at a checkpoint, on the page Now."
    return SessionLine(session.id, session.title, f"{began} · {ended_text(session)} · {sheet}", counted, line, does)
