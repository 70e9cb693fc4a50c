"""The photo with what was read drawn on it, for a person to see that the right places were looked at."""

import io
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ..colour.spaces import Array
from ..domain.reading import CellColour
from ..mask.geometry import Box, Mask
from .door import decode, look
from .found import Measured
from .marks import through

SIDE_MAX_PX = 1600
_GOOD, _DOUBT, _HELP = (0, 110, 60), (200, 60, 0), (20, 90, 190)
"""Red, green, blue of places that were used, that must not be used, and of what helps. Told apart by a cross, too."""


def draw(photo: bytes, measured: Measured, mask: Mask) -> bytes:
    """The photo as JPEG, its longer side 1600 pixels or less; with nothing drawn if it was refused.

    Raises PhotoRefused if it cannot be decoded.
    """
    seen = look(photo)
    pixels = decode(photo, seen)
    values = pixels.values if pixels.values.dtype == np.uint8 else (pixels.values >> 8).astype(np.uint8)
    scale = min(1.0, SIDE_MAX_PX / max(values.shape[:2]))
    picture: NDArray[np.uint8] = np.ascontiguousarray(
        cv2.resize(values, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), dtype=np.uint8
    )
    found = next((f for f in measured.photos if f.hash == seen.hash), None)
    if found is not None and found.mm_to_px is not None:
        to_px = np.array(found.mm_to_px).reshape(3, 3)
        shrunk = picture.shape[1] / found.width_px
        _places(picture, to_px, shrunk, measured, mask)
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=85)
    return out.getvalue()


def _places(picture: NDArray[np.uint8], to_px: Array, shrunk: float, measured: Measured, mask: Mask) -> None:
    def outline(box: Box, colour: tuple[int, int, int], width: int) -> Sequence[Sequence[float]]:
        corners = (through(to_px, box.corners_mm) + 0.5) * shrunk - 0.5
        cv2.polylines(picture, [np.rint(corners * 16).astype(np.int32)], True, colour, width, cv2.LINE_AA, 4)
        return [[float(x), float(y)] for x, y in corners]

    def cell(box: Box, colour: CellColour | None) -> None:
        good = colour is not None and colour.usable
        corners = outline(box, _GOOD if good else _DOUBT, 3)
        if not good:
            for one, two in ((0, 2), (1, 3)):
                ends = [tuple(round(v * 16) for v in corners[i]) for i in (one, two)]
                cv2.line(picture, ends[0], ends[1], _DOUBT, 2, cv2.LINE_AA, 4)

    for spot in (*mask.white, *mask.chart.patches(), *mask.greys):
        outline(spot, _HELP, 1)
    for marker in mask.markers:
        outline(marker.box, _HELP, 2)
    for aperture in mask.apertures:
        if aperture.open:
            cell(aperture.box, measured.reading.cell(aperture.name))
    for box, swatch in zip(mask.swatches, measured.reading.swatches, strict=False):
        cell(box, swatch)
