"""Where the mask lies in a photo: its corner markers, and the homography from them.

Three of four markers place the mask to 0.2 mm, two to 1.5 mm, one to 5.7 mm (rendered photos): fewer than three are
refused. A marker that is partly covered can decode with wrong corners: whichever disagrees with the rest is dropped.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..colour.spaces import Array
from ..errors import PhotoRefused
from ..mask.geometry import DICTIONARY, MARKER_MM, QUIET_MM, Box, Mask
from .door import Pixels

MARKERS_MIN = 3
OFF_MM_MAX = 0.7
"""Root mean square misfit of the markers' corners, mm, up to which they are taken to lie as on the mask."""
DETECT_PX = (1000, 2000)
"""Longer side at which markers are looked for, and again if one was not found: above, it only takes longer."""
_CORNERS = ("upper left", "upper right", "lower right", "lower left")


@dataclass(frozen=True)
class Placed:
    """A mask in a photo."""

    ids: tuple[int, ...]
    """The markers used."""
    mm_to_px: Array
    """(3, 3), to the decoded pixels; whole numbers are their middles."""
    off_mm: float
    """Root mean square misfit of the markers' corners, mm."""
    blur_mm: float
    """Width of the markers' edges from 10 to 90 %, mm."""

    def px(self, points_mm: Any) -> Array:
        """Pixel positions (n, 2) of points on the mask (n, 2)."""
        return through(self.mm_to_px, points_mm)

    def mm(self, points_px: Any) -> Array:
        """Points on the mask (n, 2) of pixel positions (n, 2)."""
        back: Array = np.asarray(np.linalg.inv(self.mm_to_px), dtype=np.float64)
        return through(back, points_px)


def through(matrix: Array, points: Any) -> Array:
    """Points (n, 2) through a homography."""
    points = np.asarray(points, dtype=float)
    moved = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(moved[:, :2] / moved[:, 2:])


def place(pixels: Pixels, mask: Mask) -> Placed:
    """Finds the mask. Raises PhotoRefused with what to do."""
    grey = _grey(pixels.values)
    corners = _found(grey, {marker.id for marker in mask.markers})
    wanted = {marker.id: np.array(marker.box.corners_mm) for marker in mask.markers}
    if len(corners) < MARKERS_MIN:
        missing = " and ".join(_CORNERS[number] for number in wanted if number not in corners)
        raise PhotoRefused(
            f"{len(corners)} of the mask's {len(wanted)} corner markers were found, and {MARKERS_MIN} are needed;"
            f" missing: {missing}. Take the whole mask into the picture, sharp, with nothing lying on its corners"
            " and no reflection on them."
        )
    ids = sorted(corners)
    matrix, off_mm = _fitted(ids, corners, wanted)
    if off_mm > OFF_MM_MAX and len(ids) > MARKERS_MIN:
        tries = {out: _fitted([i for i in ids if i != out], corners, wanted) for out in ids}
        worst = min(tries, key=lambda out: tries[out][1])
        if tries[worst][1] < off_mm / 2:
            ids.remove(worst)
            matrix, off_mm = tries[worst]
    if off_mm > OFF_MM_MAX:
        raise PhotoRefused(
            f"The markers lie {off_mm:.1f} mm from where mask {mask.code} has them. Press the mask flat, take the photo"
            " from straight above, and check that it is this sheet's mask."
        )
    return Placed(tuple(ids), matrix, off_mm, _blur_mm(grey, matrix, [wanted[i] for i in ids]))


def _grey(values: NDArray[Any]) -> NDArray[np.uint8]:
    if values.dtype == np.uint16:
        values = (values >> 8).astype(np.uint8)
    return np.asarray(cv2.cvtColor(values, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _found(grey: NDArray[np.uint8], known: set[int]) -> dict[int, Array]:
    """Corners (4, 2) of each marker seen once, in pixels, refined at full size."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    detector = cv2.aruco.ArucoDetector(dictionary, cv2.aruco.DetectorParameters())
    found: dict[int, Array] = {}
    for side_px in DETECT_PX:
        step = max(1, round(max(grey.shape) / side_px))
        small = cv2.resize(grey, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA) if step > 1 else grey
        corners, ids, _ = detector.detectMarkers(small)
        seen = [] if ids is None else [int(i) for i in np.ravel(ids)]
        scale = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
        found = {
            number: (np.asarray(corner, dtype=float).reshape(4, 2) + 0.5) * scale - 0.5
            for number, corner in zip(seen, corners, strict=True)
            if number in known and seen.count(number) == 1
        }
        if len(found) == len(known):
            break
    return {number: _refined(grey, corner) for number, corner in found.items()}


def _refined(grey: NDArray[np.uint8], corners: Array) -> Array:
    """Corners (4, 2) to a part of a pixel, looked for within a module around."""
    module_px = float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).min()) / 8
    around = max(2, round(0.8 * module_px))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    points = np.ascontiguousarray(corners, dtype=np.float32).reshape(4, 1, 2)
    return np.asarray(cv2.cornerSubPix(grey, points, (around, around), (-1, -1), stop), dtype=float).reshape(4, 2)


def _fitted(ids: list[int], corners: dict[int, Array], wanted: dict[int, Array]) -> tuple[Array, float]:
    """The homography from mm to pixels, and its root mean square misfit, mm."""
    mm, px = np.concatenate([wanted[i] for i in ids]), np.concatenate([corners[i] for i in ids])
    solved, _ = cv2.findHomography(mm, px, 0)
    if solved is None or abs(np.linalg.det(solved)) < 1e-12:
        return np.eye(3), 1e9
    matrix: Array = np.asarray(solved, dtype=np.float64)
    off = through(np.asarray(np.linalg.inv(matrix), dtype=float), px) - mm
    return matrix, float(np.sqrt((off**2).sum(axis=1).mean()))


def _blur_mm(grey: NDArray[np.uint8], matrix: Array, squares: list[Array]) -> float:
    """Width of the edge between a marker's black rim and the white around it, 10 to 90 %: the median over edges."""
    across = np.arange(-1.8, min(QUIET_MM, 3.0) + 0.01, 0.1)
    along = np.linspace(0.15, 0.85, 12) * MARKER_MM
    widths = []
    for square in squares:
        for corner, after, before in zip(square, np.roll(square, -1, 0), np.roll(square, 1, 0), strict=True):
            side, inwards = (after - corner) / MARKER_MM, (before - corner) / MARKER_MM
            points = corner + along[:, None, None] * side - across[None, :, None] * inwards
            x, y = through(matrix, points.reshape(-1, 2)).astype(np.float32).T.reshape(2, len(along), len(across))
            profile = cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).mean(axis=0)
            low, high = profile[:4].mean(), profile[-8:].mean()
            if high - low < 20:
                continue
            rise = np.maximum.accumulate((profile - low) / (high - low))
            widths.append(float(np.interp(0.9, rise, across) - np.interp(0.1, rise, across)))
    return float(np.median(widths)) if widths else float("inf")


def inside(box: Box, inset_mm: float) -> Array:
    """Corners (4, 2) of a box less a margin, mm."""
    return np.array(box.grown(-inset_mm).corners_mm)
