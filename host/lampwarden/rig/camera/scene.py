"""What lies under the camera, straight from above, in camera colours.

A picture of 16 bit values, UNIT for a perfect white under even light, with a whole number of pixels to the millimetre
and its corner MARGIN_MM outside the mask's frame.
"""

from collections.abc import Callable, Collection, Mapping
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ...domain.sheet import Sheet
from ...mask.geometry import Box, Mask
from ..paper.sheet import PAPER, PaperState
from ..paper.spectra import WAVELENGTHS_NM, Array
from . import printing
from .chart import made_greys, made_patches
from .faults import Fault

Picture = NDArray[Any]
UNIT = 48000
MARGIN_MM = 30.0
_TEXTURE_PX_MM = 4
_TEXTURE = 0.02
"""Invented: standard deviation of the paper's cloudiness at a quarter of a millimetre, as a share."""
_SHADE_MM, _SHADE = 0.7, 0.25
"""Invented: how far and how deep the card's cut edge shades the paper on the side of the lamp."""

CARD = 0.90 - 0.02 * np.exp(-(WAVELENGTHS_NM - 400) / 60)
"""Invented reflectance of the white card, without brightener."""
PRINT = np.full(31, 0.045)
"""Invented reflectance of black print on it."""
TABLE = 0.10 + 0.05 * (WAVELENGTHS_NM - 400) / 300
"""Invented reflectance of the table below: dark brown."""
FRAME = np.full(31, 0.04)
"""Invented reflectance of the chart's black rim."""


def lay(
    sheet: Sheet,
    mask: Mask,
    paper: PaperState,
    colours: Callable[[Array], Array],
    px_mm: int,
    *,
    chart_seed: int,
    laid_mm: tuple[float, float] = (0.0, 0.0),
    faults: Collection[Fault] = (),
) -> Picture:
    """The scene, shape (rows, columns, 3). `colours`: camera colours (..., 3) of reflectance (..., 31).

    `laid_mm`: how far the mask lies from its place over the sheet.
    """
    table = _Table(mask, px_mm, colours)
    chance = np.random.default_rng([paper.seed, 25])
    table.card(printing.card(mask, px_mm))
    bare = [_Clouds(paper.seed, piece, *_size(mask)) for piece in range(2)]
    prints = printing.sheet(sheet, paper.seed, px_mm)
    for aperture in mask.apertures:
        if aperture.open and aperture.name in paper.cells:
            cut = chance.normal(0, 0.12, 4)
            box = Box(
                x_mm=aperture.box.x_mm + cut[0],
                y_mm=aperture.box.y_mm + cut[1],
                width_mm=aperture.box.width_mm + cut[2],
                height_mm=aperture.box.height_mm + cut[3],
            )
            at_mm = (mask.sheet_x_mm + laid_mm[0], mask.sheet_y_mm + laid_mm[1])
            table.paper(box, paper.cells[aperture.name], bare[0], prints, at_mm)
            table.shade(box)
    if Fault.CHART_MISSING not in faults:
        table.fill(mask.chart.box, FRAME)
        pitch = mask.chart.patches()[0].width_mm * 2
        for box, patch in zip(mask.chart.patches(), made_patches(chart_seed), strict=True):
            table.fill(Box.around(*box.centre_mm, pitch - 2.0), patch)
    for box, grey in zip(mask.greys, made_greys(chart_seed), strict=True):
        table.fill(box, grey)
    moved = 0.55 * mask.swatches[0].width_mm if Fault.SWATCHES_MOVED in faults and mask.swatches else 0.0
    for box, swatch in zip(mask.swatches, paper.swatches, strict=False):
        place = box.moved(*chance.normal(0, 0.3, 2)).moved(moved, -0.6 * moved)
        table.paper(place, {PAPER: swatch}, bare[1], {}, (0.0, 0.0))
    for slip in _slips(mask, faults):
        table.fill(slip, CARD)
    return table.picture


def _slips(mask: Mask, faults: Collection[Fault]) -> list[Box]:
    """Slips of paper that lie over markers."""
    boxes = [marker.box for marker in mask.markers]
    found = []
    if Fault.MARKER_COVERED in faults or Fault.TWO_MARKERS_COVERED in faults:
        found.append(boxes[1].grown(1.5))
    if Fault.TWO_MARKERS_COVERED in faults:
        found.append(boxes[2].grown(1.5))
    if Fault.MARKER_CUT in faults:
        found.append(boxes[0].moved(-0.6 * boxes[0].width_mm, 0).grown(1.0))
    return found


def _size(mask: Mask) -> tuple[float, float]:
    """Room that texture must cover, mm: the frame and the sheet, wherever it lies."""
    return max(mask.width_mm, mask.sheet_width_mm) + 40, max(mask.height_mm, mask.sheet_height_mm) + 40


@lru_cache(maxsize=4)
def _clouds(seed: int, piece: int, columns: int, rows: int) -> Array:
    chance = np.random.default_rng([seed, piece, 27])
    fine, wide = chance.standard_normal((2, rows, columns), dtype=np.float32)
    wide = cv2.GaussianBlur(wide, (0, 0), 2.5 * _TEXTURE_PX_MM)
    found: Array = 1 + _TEXTURE * (0.9 * fine + 0.3 * wide / wide.std())
    return found


class _Clouds:
    """Cloudiness of paper: fine fibres and wide clouds, fixed to the paper."""

    def __init__(self, seed: int, piece: int, width_mm: float, height_mm: float) -> None:
        self._factor = _clouds(seed, piece, int(width_mm * _TEXTURE_PX_MM), int(height_mm * _TEXTURE_PX_MM))

    def over(self, x_mm: float, y_mm: float, rows: int, columns: int, px_mm: int) -> Array:
        """The factor for each pixel of a piece whose corner is there on the paper, shape (rows, columns)."""
        step = _TEXTURE_PX_MM / px_mm
        into = np.array([[step, 0, (x_mm + 20) * _TEXTURE_PX_MM], [0, step, (y_mm + 20) * _TEXTURE_PX_MM]])
        return cv2.warpAffine(
            self._factor,
            into,
            (columns, rows),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REFLECT,
        )


class _Table:
    """The picture being laid. Places are in mm from the mask's frame."""

    def __init__(self, mask: Mask, px_mm: int, colours: Callable[[Array], Array]) -> None:
        self._mask, self._px_mm, self._colours = mask, px_mm, colours
        shape = tuple(round((side + 2 * MARGIN_MM) * px_mm) for side in (mask.height_mm, mask.width_mm))
        self.picture: Picture = np.empty((*shape, 3), np.uint16)
        self.picture[:] = self._value(TABLE)

    def _value(self, reflectance: Array) -> NDArray[np.uint16]:
        found: Array = np.clip(np.rint(self._colours(reflectance) * UNIT), 0, 65535).astype(np.uint16)
        return found

    def _view(self, box: Box) -> NDArray[np.uint16]:
        """The pixels of a place."""
        left, right = (round((x + MARGIN_MM) * self._px_mm) for x in (box.x_mm, box.right_mm))
        top, bottom = (round((y + MARGIN_MM) * self._px_mm) for y in (box.y_mm, box.bottom_mm))
        return self.picture[max(0, top) : bottom, max(0, left) : right]

    def fill(self, box: Box, reflectance: Array) -> None:
        self._view(box)[:] = self._value(reflectance)

    def card(self, coverage: printing.Coverage) -> None:
        """The card with its print."""
        mask = self._mask
        view = self._view(Box(x_mm=0, y_mm=0, width_mm=mask.width_mm, height_mm=mask.height_mm))
        steps = np.linspace(0, 1, 256)[:, None]
        table = np.rint((1 - steps) * self._value(CARD) + steps * self._value(PRINT)).astype(np.uint16)
        view[:] = table[coverage[: view.shape[0], : view.shape[1]]]

    def paper(
        self,
        box: Box,
        parts: Mapping[str, Array],
        clouds: _Clouds,
        prints: dict[str, printing.Coverage],
        at_mm: tuple[float, float],
    ) -> None:
        """Paper with what is printed on it; `at_mm`: where the sheet's corner lies."""
        view = self._view(box)
        rows, columns = view.shape[:2]
        x_mm, y_mm = box.x_mm - at_mm[0], box.y_mm - at_mm[1]
        colour = np.empty((rows, columns, 3), np.float32)
        colour[:] = self._value(parts[PAPER])
        left, top = round(x_mm * self._px_mm), round(y_mm * self._px_mm)
        for ink, coverage in prints.items():
            piece = coverage[max(0, top) : top + rows, max(0, left) : left + columns]
            share = np.zeros((rows, columns, 1), np.float32)
            share[max(0, -top) :, max(0, -left) :][: piece.shape[0], : piece.shape[1], 0] = piece / np.float32(255)
            colour += share * (self._value(parts[ink]).astype(np.float32) - colour)
        colour *= clouds.over(x_mm, y_mm, rows, columns, self._px_mm)[:, :, None]
        view[:] = np.clip(colour + 0.5, 0, 65535)

    def shade(self, box: Box) -> None:
        """The shadow of the card's edge along the upper and left rim of an opening."""
        view = self._view(box)
        reach = max(1, round(_SHADE_MM * self._px_mm))
        ramp = 1 - _SHADE * (1 - (np.arange(reach, dtype=np.float32) + 0.5) / reach)
        view[:reach] = view[:reach] * ramp[:, None, None]
        view[:, :reach] = view[:, :reach] * ramp[None, :, None]
