"""The camera in the demo's chamber: it photographs the simulated sheet as the lamps have left it."""

import threading
from concurrent.futures import ProcessPoolExecutor
from datetime import datetime
from multiprocessing import get_context

from ...domain.sheet import Sheet
from ...mask.geometry import Mask
from ..clock import VirtualClock
from ..paper.sheet import PaperState, SimPaper
from ..world import World

PHOTO_PX = (2400, 1800)
"""Enough to read the cells by; larger photos only take longer to render."""


class SimCamera:
    """The demo chamber's camera, and the simulated paper it looks at."""

    def __init__(self, world: World, clock: VirtualClock, sheet: Sheet, mask: Mask, seed: int) -> None:
        self._world, self._clock, self._sheet, self._mask, self._seed = world, clock, sheet, mask, seed
        self._shots = 0
        with world.lock:
            self.paper = SimPaper(sheet, world.chamber, seed)
            self.paper.follow(world)
        self._taking = threading.Lock()

    def __call__(self) -> list[bytes]:
        """A photo of the sheet as it is now. Rendered in a process of its own: the daemon loads no imaging."""
        with self._taking:
            with self._world.lock:
                state = self.paper.state()
            shot, self._shots = self._shots, self._shots + 1
            with ProcessPoolExecutor(1, get_context("spawn")) as process:
                return process.submit(
                    _photograph, self._sheet, self._mask, state, self._seed, shot, self._clock.utc()
                ).result()


def _photograph(sheet: Sheet, mask: Mask, state: PaperState, seed: int, shot: int, utc: datetime) -> list[bytes]:
    from .photo import photograph  # loads OpenCV and Pillow, which the daemon must not

    return photograph(sheet, mask, state, seed, "fixed", shot=shot, size=PHOTO_PX, taken_utc=utc)
