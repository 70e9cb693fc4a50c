"""What a session is made with: versions of program, Python and firmware, and which board, as a line of its journal."""

import platform

from .. import __version__
from ..link.board import Identity
from ..store.records import Json

KIND = "made_with"


def made_with(board: Identity | None) -> tuple[str, Json]:
    """The line's sentence and data. `board`: what the board says of itself; None: it was not reached."""
    data: Json = {
        "lampwarden": __version__,
        "python": platform.python_version(),
        "system": platform.system(),
        "board_id": None,
        "firmware": None,
        "map_version": None,
    }
    host = f"Lampwarden {__version__} on Python {data['python']} ({data['system']})"
    if board is None:
        return f"Made with {host}; the board was not read.", data
    data |= {"board_id": board.unique_id, "firmware": board.firmware, "map_version": board.map_version}
    says = f"board {board.unique_id} with firmware {board.firmware}, register map {board.map_version}"
    return f"Made with {host}; {says}.", data


def same_host(one: Json, other: Json) -> bool:
    """True if both were made with the same program and Python."""
    return all(one.get(key) == other.get(key) for key in ("lampwarden", "python", "system"))
