"""A serial cable between a board and the name the daemon opens: it can be pulled while the board stays powered."""

import os
import pty
import select
import threading
import tty
from contextlib import suppress
from pathlib import Path

PIECE = 4096


class Cable:
    """Carries bytes between a board's port and a port of its own under `name`, as udev keeps such a name.

    Each plugging gives another device behind the name; the daemon's end hangs up when it is pulled.
    """

    def __init__(self, board_port: str, name: Path) -> None:
        self.name = name
        self._board = os.open(board_port, os.O_RDWR | os.O_NOCTTY)
        self._pulled = threading.Event()
        self._pump: threading.Thread | None = None
        self._far: list[int] = []
        """Kept open after a pull, so that no device is given twice."""
        self.plug()

    def plug(self) -> None:
        near, far = pty.openpty()
        tty.setraw(far)
        self._far.append(far)
        fresh = self.name.with_name(f"{self.name.name}.new")
        fresh.symlink_to(os.ttyname(far))
        fresh.replace(self.name)
        self._pulled.clear()
        self._pump = threading.Thread(target=self._carry, args=(near,), daemon=True)
        self._pump.start()

    def pull(self) -> None:
        self.name.unlink()
        self._pulled.set()
        assert self._pump is not None
        self._pump.join()

    def close(self) -> None:
        self._pulled.set()
        if self._pump is not None:
            self._pump.join()
        for end in (self._board, *self._far):
            os.close(end)

    def _carry(self, near: int) -> None:
        ends = {near: self._board, self._board: near}
        try:
            while not self._pulled.is_set():
                for end in select.select(list(ends), [], [], 0.01)[0]:
                    with suppress(OSError):  # the other end hung up
                        os.write(ends[end], os.read(end, PIECE))
        finally:
            os.close(near)
