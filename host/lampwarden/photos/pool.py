"""Reading photos in a process of its own. It ends when nothing came for a while, and gives its memory back."""

import multiprocessing
import threading
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures import TimeoutError as FutureTimeout
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass

from ..domain.reading import Reading, Way
from ..errors import LampwardenError, PhotoRefused
from ..imaging import annotated, flattened, measure_photos
from ..imaging.found import Measured
from ..mask.geometry import Mask

IDLE_S = 60.0
"""So long after the last photo the process ends."""
READ_S_MAX = 120.0
"""Longest time for the photos of one moment, s. Chosen: twelve of 24 megapixels take some 10 s here."""


@dataclass(frozen=True)
class Order:
    """Photos of one moment, to be read."""

    photos: tuple[bytes, ...]
    masks: tuple[Mask, ...]
    """How the mask may have been printed, the likeliest first."""
    way: Way
    before: Reading | None
    taken_utc: str


@dataclass(frozen=True)
class Made:
    """Pictures made of one photo, as JPEG; empty where nothing could be read."""

    drawn: bytes
    """The photo with the cells drawn on it."""
    flat: bytes
    """Straightened to the mask's frame; of the first photo of a moment only."""


def work(order: Order) -> tuple[Measured, tuple[Made, ...]]:
    """What was read, and the pictures made of each photo.

    A mask is laid out by the paper it is printed on, and nobody should have to tell which that was: the first layout
    that a photo agrees with counts, else what the first one said.
    """
    first: tuple[Measured, Mask] | None = None
    for mask in order.masks:
        measured = measure_photos(order.photos, mask, order.way, None, order.before, order.taken_utc)
        first = first or (measured, mask)
        if not measured.reading.refused:
            break
    else:
        assert first is not None, "an order names a mask"
        measured, mask = first
    made = []
    for photo, found in zip(order.photos, measured.photos, strict=True):
        if found.mm_to_px is None:
            made.append(Made(b"", b""))
            continue
        first_read = not any(each.flat for each in made)
        flat = flattened(photo, mask, order.way) if first_read else b""
        made.append(Made(annotated(photo, measured, mask), flat))
    return measured, tuple(made)


class Pool:
    """One reading process at a time."""

    def __init__(self) -> None:
        self._turn, self._lock = threading.Lock(), threading.Lock()
        self._process: ProcessPoolExecutor | None = None
        self._idle: threading.Timer | None = None

    def read(self, order: Order) -> tuple[Measured, tuple[Made, ...]]:
        """Reads the photos of one moment; waits for its turn and for the result.

        Raises PhotoRefused if reading them broke or took too long, LampwardenError without the extra `photos`.
        """
        with self._turn:
            process = self._up()
            try:
                return process.submit(work, order).result(READ_S_MAX)
            except BrokenProcessPool:
                self._down()
                raise PhotoRefused(
                    "Reading the photo ended unexpectedly, most likely for want of memory."
                    " Send it again at a lower resolution; 12 megapixels are plenty."
                ) from None
            except FutureTimeout:
                self._down(kill=True)
                raise PhotoRefused(
                    f"Reading took longer than {READ_S_MAX:.0f} s. Send fewer photos at once, or smaller ones."
                ) from None
            except LampwardenError:
                raise
            except Exception as error:  # a mistake in reading must not look like a fault of the photo
                raise LampwardenError(f"Reading the photo failed ({error!r}). Please report this mistake.") from error
            finally:
                self._rest()

    def close(self) -> None:
        """Ends the process; what it reads is given up."""
        self._down(kill=True)

    def _up(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._idle is not None:
                self._idle.cancel()
            if self._process is None:
                # Spawned, not forked: the daemon has threads, and the child loads what the daemon must not.
                self._process = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"))
            return self._process

    def _rest(self) -> None:
        with self._lock:
            if self._process is not None:
                self._idle = threading.Timer(IDLE_S, self._down)
                self._idle.daemon = True
                self._idle.start()

    def _down(self, *, kill: bool = False) -> None:
        with self._lock:
            process, self._process = self._process, None
            if self._idle is not None:
                self._idle.cancel()
        if process is not None:
            if kill:
                for child in list((process._processes or {}).values()):
                    child.kill()
            process.shutdown(wait=False, cancel_futures=True)
