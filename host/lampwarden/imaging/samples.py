"""The pixels of each place on the mask, and what they come to.

Means are taken in linear light. Print, stains and dust are left out of a cell by what they are not: paper.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..colour.spaces import Array
from ..mask.geometry import Box
from .door import Pixels
from .marks import Placed, inside

TILES = 4
"""A cell is looked at in so many parts across and down, for reflections that cover a part of it."""
CLIPPED = 0.985
"""Encoded share of full scale from which a channel counts as saturated."""
DARK = 0.004
"""Mean linear light below which a channel was cut off: a cyan patch outside sRGB has no red left to tell of."""
PIXELS_MIN, PIXELS_MAX = 60, 12_000
"""Pixels to a place: fewer say too little, more only take longer."""
_LUMA = np.array([0.25, 0.625, 0.125], np.float32)


@dataclass(frozen=True)
class Sample:
    """One place in one photo."""

    middle_mm: tuple[float, float]
    size_mm: tuple[float, float]
    linear: Array
    """(3,) mean linear light of the photo's red, green and blue, 0..1."""
    spread: Array
    """(3,) standard deviation of the pixels used, relative to the mean."""
    pixels: int
    """How many were used."""
    clipped: float
    """Share of all pixels with a saturated channel."""
    kept: float
    """Share of the pixels that were used."""
    tiles: Array
    """(n, 3) mean linear light of each part that has enough paper; empty if not asked for."""
    tiles_mm: Array
    """(n, 2) where the parts are."""


def take(pixels: Pixels, placed: Placed, box: Box, inset_mm: float, *, paper: bool = False) -> Sample | None:
    """The sample of a box less a margin; None if it is not wholly in the photo, or too small in it.

    `paper`: a cell or swatch: print is left out and parts are looked at. Otherwise the middle 80 % are used.
    """
    corners = placed.px(inside(box, inset_mm))
    (left, top), (right, bottom) = np.floor(corners.min(axis=0)).astype(int), np.ceil(corners.max(axis=0)).astype(int)
    rows, columns = pixels.values.shape[:2]
    if left < 0 or top < 0 or right >= columns or bottom >= rows:
        return None
    # Of a large place every second, third ... pixel is enough.
    step = max(1, round(float(np.sqrt((right - left) * (bottom - top) / PIXELS_MAX))))
    window = pixels.values[top : bottom + 1 : step, left : right + 1 : step]
    covered = np.zeros(window.shape[:2], np.uint8)
    cv2.fillConvexPoly(covered, np.rint((corners - (left, top)) / step * 16).astype(np.int32), 1, shift=4)
    within = covered.astype(bool)
    if np.count_nonzero(within) < PIXELS_MIN:
        return None
    luma, full = window @ _LUMA, len(pixels.linear) - 1
    low, high = _paper_range(luma[within], full / 255) if paper else np.percentile(luma[within], (10, 90))
    used = within & (luma >= low) & (luma <= high)
    values = window[used]
    mean, spread = _moments(values, pixels.linear)
    tiles, tiles_px = [], []
    if paper:
        for rows_at in np.array_split(np.arange(window.shape[0]), TILES):
            for columns_at in np.array_split(np.arange(window.shape[1]), TILES):
                part = slice(rows_at[0], rows_at[-1] + 1), slice(columns_at[0], columns_at[-1] + 1)
                if np.count_nonzero(used[part]) >= max(PIXELS_MIN // 4, rows_at.size * columns_at.size // 3):
                    tiles.append(_moments(window[part][used[part]], pixels.linear)[0])
                    tiles_px.append((left + step * columns_at.mean(), top + step * rows_at.mean()))
    return Sample(
        middle_mm=box.centre_mm,
        size_mm=(box.width_mm - 2 * inset_mm, box.height_mm - 2 * inset_mm),
        linear=mean,
        spread=spread / np.maximum(mean, 1e-6),
        pixels=len(values),
        clipped=float(np.mean(np.any(window[within] >= CLIPPED * full, axis=1))),
        kept=len(values) / np.count_nonzero(within),
        tiles=np.array(tiles).reshape(-1, 3),
        tiles_mm=placed.mm(np.array(tiles_px).reshape(-1, 2)),
    )


def _paper_range(luma: NDArray[Any], step: float) -> tuple[float, float]:
    """The range of brightness that is paper: around the middle of the commonest, as wide as the paper's own grain.

    Print is darker than paper, and less than half of the area: the grain is judged on the bright side. It is
    taken for at least most of a `step` of 8 bits, since a compressed file may hold a few values only.
    """
    values = luma[:: max(1, len(luma) // 8_000)]
    low, high = -np.inf, np.inf
    for _ in range(6):
        kept = values[(values >= low) & (values <= high)]
        middle = float(np.median(kept))
        grain = max(float(np.percentile(kept[kept >= middle], 68)) - middle, 0.8 * step)
        low, high = middle - 2.5 * grain, middle + 3.0 * grain
    return low, high


def _moments(values: NDArray[Any], linear: Array) -> tuple[Array, Array]:
    """Mean and standard deviation (3,) of pixels (n, 3) in linear light."""
    if values.dtype == np.uint8:
        counts = np.stack([np.bincount(values[:, channel], minlength=256) for channel in range(3)])
        mean = counts @ linear / len(values)
        square = counts @ linear**2 / len(values)
        return mean, np.sqrt(np.maximum(square - mean**2, 0))
    light = linear[values]
    return light.mean(axis=0), light.std(axis=0)
