"""From the scene to pixels: perspective and lens, light, flare, noise, colour and tone.

Places on the mask are mm from its frame's corner; pixels are counted so that whole numbers are their middles. All is
for the picture as it is looked at; how a file stores it turned is for `files`.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ...mask.geometry import Mask
from ..paper.spectra import Array
from .device import Device, Shot, channel_gains, colour_matrix, tone_curve
from .faults import Fault
from .scene import MARGIN_MM, UNIT, Picture

STEP_PX = 32
"""Places and light are worked out on a grid of this step and interpolated: off by less than 0.03 pixels."""
STRIP_PX = 128
"""Rows developed at a time, to spare memory."""
PIXELS = 12e6
"""To which a camera's noise refers."""

Field = NDArray[Any]
"""Single precision, to spare memory."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the mask is in the picture."""

    width_px: int
    height_px: int
    to_mm: Array
    """Homography from pixels, freed of the lens's distortion, to mm on the mask; shape (3, 3)."""
    distortion: tuple[float, float]

    def mm(self, px: Array) -> Array:
        """Mask places of pixels, both shape (..., 2)."""
        return _mapped(self.to_mm, self._centre + (px - self._centre) * self._stretch(px))

    def px(self, mm: Array) -> Array:
        """Pixels of mask places, both shape (..., 2)."""
        straight = _mapped(np.linalg.inv(self.to_mm), mm)
        px = straight
        for _ in range(8):  # the distortion is small: each round gains two digits or more
            px = self._centre + (straight - self._centre) / self._stretch(px)
        return px

    @property
    def _centre(self) -> Array:
        return np.array([self.width_px - 1, self.height_px - 1]) / 2

    def _stretch(self, px: Array) -> Array:
        """How much farther from the middle these pixels would be without the lens's distortion, shape (..., 1)."""
        away = (px - self._centre) / np.hypot(self.width_px, self.height_px) * 2
        r2 = np.sum(away**2, axis=-1, keepdims=True)
        found: Array = 1 + self.distortion[0] * r2 + self.distortion[1] * r2**2
        return found


def _mapped(homography: Array, points: Array) -> Array:
    whole = points @ homography[:, :2].T + homography[:, 2]
    found: Array = whole[..., :2] / whole[..., 2:]
    return found


def place(mask: Mask, device: Device, shot: Shot, width_px: int, height_px: int) -> Place:
    """A pinhole camera above the mask, far enough to fill the picture as the shot says."""
    focal = device.focal_share * max(width_px, height_px)
    tilt_x, tilt_y, roll = np.deg2rad([*shot.tilt_deg, shot.roll_deg])
    turn = _about(0, tilt_x) @ _about(1, tilt_y) @ _about(2, roll)
    middle = np.array([mask.width_mm / 2, mask.height_mm / 2])
    corners = np.array([[0, 0], [mask.width_mm, 0], [mask.width_mm, mask.height_mm], [0, mask.height_mm]]) - middle
    aim = np.array([(0.5 + shot.centre_share[0]) * width_px - 0.5, (0.5 + shot.centre_share[1]) * height_px - 0.5])
    room = np.array([width_px, height_px])
    away_mm = focal * max(mask.width_mm / width_px, mask.height_mm / height_px) / shot.fill
    while True:
        # Columns: the plane's two directions and its middle, seen from the camera.
        seen = np.column_stack([turn[:, 0], turn[:, 1], [0.0, 0.0, away_mm]])
        lens = np.array([[focal, 0, aim[0]], [0, focal, aim[1]], [0, 0, 1]])
        to_px = lens @ seen @ np.array([[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, 1]])
        found = _mapped(to_px, corners + middle)
        if np.all(found > 0.004 * room) and np.all(found < 0.996 * room):
            return Place(width_px, height_px, np.linalg.inv(to_px), device.distortion)
        away_mm *= 1.02


def _about(axis: int, angle: float) -> Array:
    """Rotation about an axis."""
    c, s = np.cos(angle), np.sin(angle)
    turn = np.eye(3)
    one, two = [other for other in range(3) if other != axis]
    turn[one, one] = turn[two, two] = c
    turn[one, two], turn[two, one] = -s, s
    return turn


class _Grid:
    """Nodes every STEP_PX over the picture, and how to come from them to all pixels of some rows."""

    def __init__(self, width_px: int, height_px: int) -> None:
        self._rows, self._columns = (np.arange(length, dtype=np.float32) / STEP_PX for length in (height_px, width_px))
        ys, xs = (np.arange(int(at[-1]) + 2) * STEP_PX for at in (self._rows, self._columns))
        self.px: Array = np.stack(np.meshgrid(xs, ys), axis=-1).astype(np.float64)
        """Pixel of each node, shape (rows, columns, 2); the last ones lie outside."""

    def spread(self, nodes: Field, start: int, stop: int) -> Field:
        """Values at the nodes (rows, columns) to those of the pixels in these rows of the picture."""
        return _between(_between(nodes, self._rows[start:stop], 0), self._columns, 1)


def _between(nodes: Field, at: Field, axis: int) -> Field:
    """Linear interpolation along an axis. No matrix product: its threads would wait for each other."""
    low = at.astype(int)
    share = at - np.floor(at)
    share = share[:, None] if axis == 0 else share
    found: Field = nodes.take(low, axis)
    found += (nodes.take(low + 1, axis) - found) * share
    return found


def light(shot: Shot, mask: Mask, mm: Array, edge: Array, device: Device, faults: Collection[Fault]) -> Array:
    """What each channel gets at these places (..., 2), 1 at the brightest of the mask; shape (..., 3).

    `edge`: distance from the picture's middle (1: corner), shape (...).
    """
    middle = np.array([mask.width_mm / 2, mask.height_mm / 2])
    on_mask = np.stack(np.meshgrid(np.linspace(0, mask.width_mm, 21), np.linspace(0, mask.height_mm, 21)), axis=-1)
    peak = _falling(shot, on_mask - middle).max()
    lost = device.vignetting * edge**2
    found: Array = _falling(shot, mm - middle) / peak * (1 - lost)[..., None]
    if Fault.SHADOW in faults:
        across = (mm - middle) @ np.array([0.8, 0.6]) / 12.0
        found = found * (1 - 0.45 / (1 + np.exp(-across)))[..., None]
    return found


def _falling(shot: Shot, away_mm: Array) -> Array:
    """Light of small lamps on a plane: strength x cos / r^2, against that right below them, and the ambient."""
    total = np.full((*away_mm.shape[:-1], 3), shot.ambient)
    for lamp in shot.lamps:
        flat2 = (away_mm[..., 0] - lamp.x_mm) ** 2 + (away_mm[..., 1] - lamp.y_mm) ** 2
        high2 = lamp.height_mm**2
        at_middle = (high2 + lamp.x_mm**2 + lamp.y_mm**2) ** -1.5
        total += (lamp.strength * (high2 + flat2) ** -1.5 / at_middle)[..., None] * np.array(lamp.tint)
    return total


def highlights(mask: Mask, mm: Array, faults: Collection[Fault]) -> Array:
    """Reflections of the lamp, in white, at these places; shape (...)."""
    found = np.zeros(mm.shape[:-1])
    boxes = [aperture.box for aperture in mask.apertures if aperture.open]
    widest_mm = max(box.width_mm for box in boxes)
    boxes = [box for box in boxes if box.width_mm > widest_mm / 2]
    for fault, box, strength, width_mm in (
        (Fault.GLARE, boxes[0], 2.5, 9.0),
        (Fault.HAZE, boxes[-1], 0.10, 12.0),
    ):
        if fault in faults:
            # A little off the middle, so that it grows across the cell.
            centre = np.array(box.centre_mm) + 0.15 * np.array([box.width_mm, box.height_mm])
            found += strength * np.exp(-0.5 * np.sum((mm - centre) ** 2, axis=-1) / width_mm**2)
    return found


def developed(
    picture: Picture,
    px_mm: int,
    where: Place,
    mask: Mask,
    device: Device,
    shot: Shot,
    exposures: Sequence[float],
    chance: np.random.Generator,
    *,
    bits: int = 8,
    faults: Collection[Fault] = (),
) -> list[NDArray[np.uint8] | NDArray[np.uint16]]:
    """The pixels of one picture for each exposure (white card at the brightest place, as a share of saturation)."""
    width_px, height_px = where.width_px, where.height_px
    grid = _Grid(width_px, height_px)
    mm = where.mm(grid.px)
    warped = _warped(picture, px_mm, where, grid, mm)
    photo_px_mm = 1 / np.sqrt(abs(area_mm2(where)))
    blur_px = device.blur_share * max(width_px, height_px)
    if Fault.BLUR in faults:
        blur_px = max(blur_px, 2.0 * photo_px_mm)
    warped = cv2.GaussianBlur(warped, (0, 0), max(0.35, blur_px))
    half = np.array([width_px - 1, height_px - 1]) / 2
    edge = np.linalg.norm(grid.px - half, axis=-1) / np.linalg.norm(half)
    lit = (light(shot, mask, mm, edge, device, faults) * shot.balance).astype(np.float32)
    mirrored = (highlights(mask, mm, faults)[..., None] * shot.balance).astype(np.float32)
    veil = _flare(warped, lit, device, grid) + mirrored
    return [
        _exposed(warped, lit * (white / UNIT), veil * white, grid, device, shot, bits, chance) for white in exposures
    ]


def area_mm2(where: Place) -> float:
    """Of one pixel in the middle of the picture."""
    middle = np.array([where.width_px / 2, where.height_px / 2])
    corner, right, below = where.mm(middle + np.array([[0, 0], [1, 0], [0, 1]]))
    (a, b), (c, d) = right - corner, below - corner
    return float(a * d - b * c)


def _warped(picture: Picture, px_mm: int, where: Place, grid: _Grid, mm: Array) -> Picture:
    finer = px_mm * np.sqrt(abs(area_mm2(where)))
    if finer > 1.2:  # or fine print would alias
        picture = cv2.GaussianBlur(picture, (0, 0), 0.4 * finer)
    source = ((mm + MARGIN_MM) * px_mm - 0.5).astype(np.float32)
    warped: Picture = np.empty((where.height_px, where.width_px, 3), np.uint16)
    for start in range(0, where.height_px, STRIP_PX):
        stop = min(start + STRIP_PX, where.height_px)
        x, y = (grid.spread(source[..., axis], start, stop) for axis in range(2))
        warped[start:stop] = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return warped


def _flare(warped: Picture, lit: Field, device: Device, grid: _Grid) -> Field:
    """Light that strays in the lens, at the nodes, shape (rows, columns, 3), in shares of a perfect white."""
    rows, columns = lit.shape[:2]
    small = cv2.resize(warped, (columns, rows), interpolation=cv2.INTER_AREA).astype(np.float32) / UNIT * lit
    near = cv2.GaussianBlur(small, (0, 0), max(1.0, columns / 16))
    found: Array = device.flare_near * near + device.flare_even * small.mean(axis=(0, 1))
    return found


def _exposed(
    warped: Picture,
    lit: Field,
    veil: Field,
    grid: _Grid,
    device: Device,
    shot: Shot,
    bits: int,
    chance: np.random.Generator,
) -> NDArray[np.uint8] | NDArray[np.uint16]:
    height_px, width_px = warped.shape[:2]
    gains = channel_gains(device, shot.spectrum)
    binned = PIXELS / (height_px * width_px)  # larger pixels catch more light
    shot_noise = (gains / (device.electrons * binned)).astype(np.float32)
    read_noise = ((gains * device.read_noise) ** 2 / binned).astype(np.float32)
    matrix = colour_matrix(device, shot.spectrum).astype(np.float32)
    kind = np.uint8 if bits == 8 else np.uint16
    curve = np.rint(tone_curve(device, 65536) * (2**bits - 1)).astype(kind)
    found = np.empty((height_px, width_px, 3), kind)
    for start in range(0, height_px, STRIP_PX):
        stop = min(start + STRIP_PX, height_px)
        level = warped[start:stop].astype(np.float32)
        for channel in range(3):
            level[..., channel] *= grid.spread(lit[..., channel], start, stop)
            level[..., channel] += grid.spread(veil[..., channel], start, stop)
        noise = chance.standard_normal(level.shape, dtype=np.float32)
        noise *= np.sqrt(level * shot_noise + read_noise)
        level += noise
        np.clip(level, 0, 1, out=level)
        index: Field = cv2.transform(level, matrix)
        np.clip(index, 0, 1, out=index)
        index *= 65535
        index += 0.5
        found[start:stop] = curve[index.astype(np.uint16)]
    if device.sharpening:
        soft = cv2.GaussianBlur(found, (0, 0), 1.2)
        found = cv2.addWeighted(found, 1 + device.sharpening, soft, -device.sharpening, 0)
    return found
