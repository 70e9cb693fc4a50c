"""What the keeper shows to the rest of the program: one immutable picture per control period."""

from dataclasses import dataclass

from ..domain.chamber import Chamber
from ..engine import Demand, Session
from ..link.board import Identity, Live


@dataclass(frozen=True, slots=True)
class Kept:
    """Limits that were written to the board and read back since it was last reached."""

    air_c: float
    bank_c: float
    trouble: str | None = None
    """Why the board does not keep them, as a sentence; None: it does."""


@dataclass(frozen=True, slots=True)
class BoardView:
    """The board as the keeper last saw it."""

    identity: Identity | None = None
    """None: never answered since the daemon started."""
    live: Live | None = None
    """The last good reading; stale while `trouble` is set."""
    trouble: str | None = None
    """Why the board does not answer, as a sentence; None while it does."""
    unproved: str | None = None
    """What is missing of its commissioning, as a sentence; None if nothing is, or if none is asked for."""
    kept: Kept | None = None
    """The limits last written for a start; None: none in this boot of the board."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """All that pages and programs may know of a chamber at one moment."""

    chamber: Chamber
    number: int
    """Rises with every snapshot."""
    utc: str
    run_s: float
    """Run time of the session shown, s, now; 0 without one."""
    board: BoardView
    demand: Demand
    """The light asked of the board."""
    session_id: str | None = None
    session: Session | None = None
    """The session as far as its journal is on disk; the last one stays after its end until another begins."""
    began_utc: str | None = None
    storage_trouble: str | None = None
    """Why the journal does not reach the disk, as a sentence; None while it does."""
