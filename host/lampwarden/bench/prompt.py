"""The board's prompt for the one step of commissioning that needs it: a firmware that stalls while a lamp is lit."""

from contextlib import suppress

from ..errors import BoardConfused, BoardSilent
from ..link.board import Board
from .console import WATCHDOG_S_MAX
from .install import wait_for_prompt

ELSEWHERE = (
    "The board's prompt is out of reach: it is on no serial port of this computer that was named."
    " Try it by the sheet, B13."
)


class BoardPrompt:
    """See driver.Prompt. `device` is the serial port of the prompt; None: it cannot be reached."""

    def __init__(self, board: Board, device: str | None) -> None:
        self._board, self._device = board, device

    def stall(self, zone: int, level: float) -> str | None:
        """Stalls the firmware while a zone is lit. A sentence if it cannot be done here. Raises LinkError.

        Raises BoardConfused if no watchdog ended it; the board was restarted then.
        """
        if self._device is None:
            return ELSEWHERE
        with suppress(BoardSilent):  # it may have restarted before its answer got out
            self._board.service_mode()
        self._board.close()
        with wait_for_prompt(self._device) as console:
            platform = console.look().platform
            if platform != "rp2":
                console.restart(platform)
                return f"This MicroPython runs on '{platform}': it has no hardware watchdog to try."
            if not console.stall(zone, round(1000 * level)):
                raise BoardConfused(
                    f"The watchdog did not reset a stalled board within {WATCHDOG_S_MAX:.0f} s; it was restarted from"
                    " here. A stalled firmware would leave lamps burning: do not use this board."
                )
        return None
