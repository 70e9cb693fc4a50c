"""The one thread that minds a chamber: read the board, ask the engine, write the board, journal."""

from .clock import Clock, RealClock
from .keeper import Keeper
from .preflight import Preflight, PreflightLine, preflight
from .snapshot import BoardView, Kept, Snapshot

__all__ = ["BoardView", "Clock", "Keeper", "Kept", "Preflight", "PreflightLine", "RealClock", "Snapshot", "preflight"]
