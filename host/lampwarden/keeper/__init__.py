"""The one thread that minds a chamber: read the board, ask the engine, write the board, journal."""

from .clock import Clock, RealClock
from .keeper import Keeper
from .preflight import preflight
from .snapshot import BoardView, Snapshot

__all__ = ["BoardView", "Clock", "Keeper", "RealClock", "Snapshot", "preflight"]
