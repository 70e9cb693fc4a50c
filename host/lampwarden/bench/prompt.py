"""The board's prompt for the one step of commissioning that needs it: a firmware that stalls while a lamp is lit."""

from ..link.board import Board
from .install import wait_for_prompt

ELSEWHERE = (
    "The board is not on a serial port of this computer, so its prompt is out of reach. Try it by the sheet, B13."
)


class BoardPrompt:
    """See driver.Prompt."""

    def __init__(self, board: Board, address: str) -> None:
        scheme, _, rest = address.partition(":")
        self._board = board
        self._device = rest.split("@")[0] if scheme == "serial" else None

    def stall(self, zone: int, level: float) -> str | None:
        """Stalls the firmware while a zone is lit. A sentence if it cannot be done here. Raises LinkError."""
        if self._device is None:
            return ELSEWHERE
        self._board.service_mode()
        self._board.close()
        with wait_for_prompt(self._device) as console:
            platform = console.look().platform
            if platform != "rp2":
                console.restart(platform)
                return f"This MicroPython runs on '{platform}': it has no hardware watchdog to try."
            console.stall(zone, round(1000 * level))
        return None
