"""The photo laid flat: straightened to the mask's frame, in the colours that were read, so that two lie on each other.

Light, lens and white balance of the moment are taken out as in reading; what differs between two pictures is the sheet.
"""

import io

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ..colour.spaces import rgb_to_xyz_d50, srgb_encoded, to_xyz
from ..domain.reading import Way
from ..mask.geometry import Mask
from .chart import published_chart
from .door import decode, look
from .measure import reckon, see

PX_PER_MM = 4.0
SIDE_MAX_PX = 1800
"""A mask on A2 gets fewer pixels to the mm."""
_STRIP_ROWS = 64
"""So many rows are reckoned at a time: the whole picture at once would take hundreds of megabytes."""
_INK, _OUTSIDE_MM = (34, 29, 22), 0.4


def flatten(photo: bytes, mask: Mask, way: Way) -> bytes:
    """The mask's frame as JPEG in sRGB, 4 pixels to the mm, with the open cells outlined.

    Raises PhotoRefused if nothing can be read from the photo.
    """
    found = look(photo)
    seen = see(photo, found, mask)
    colours = reckon(seen, mask, published_chart(), way is not Way.PHONE).colours
    pixels = decode(photo, found)
    scale = min(PX_PER_MM, SIDE_MAX_PX / max(mask.width_mm, mask.height_mm))
    width, height = round(mask.width_mm * scale), round(mask.height_mm * scale)
    mm_to_px = np.array(seen.found.mm_to_px).reshape(3, 3)
    # Shrunk first, where the photo has more pixels than the picture: warping alone would pick single ones.
    share = min(1.0, scale / _px_per_mm(mm_to_px, mask)) * found.width_px / pixels.values.shape[1]
    values = pixels.values
    if share < 1:
        values = cv2.resize(pixels.values, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    shrunk = values.shape[1] / found.width_px
    shift = (shrunk - 1) / 2
    to_px = np.array([[shrunk, 0, shift], [0, shrunk, shift], [0, 0, 1]]) @ mm_to_px
    to_mm = np.array([[1 / scale, 0, 0.5 / scale], [0, 1 / scale, 0.5 / scale], [0, 0, 1]])
    laid = cv2.warpPerspective(values, to_px @ to_mm, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    to_rgb = np.linalg.inv(rgb_to_xyz_d50())
    picture = np.empty((height, width, 3), np.uint8)
    for top in range(0, height, _STRIP_ROWS):
        strip = laid[top : top + _STRIP_ROWS]
        rows, columns = np.mgrid[top : top + len(strip), 0:width]
        places_mm = (np.stack((columns, rows), axis=-1).reshape(-1, 2) + 0.5) / scale
        lab = colours.lab_at(places_mm, pixels.linear[strip.reshape(-1, 3)])
        linear = np.clip(to_xyz(lab) @ to_rgb.T, 0, 1)
        picture[top : top + len(strip)] = np.rint(255 * srgb_encoded(linear)).reshape(strip.shape)
    _outline(picture, mask, scale)
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=88)
    return out.getvalue()


def _px_per_mm(mm_to_px: NDArray[np.float64], mask: Mask) -> float:
    """Of the photo, at the mask's middle."""
    x, y, w = mm_to_px @ (mask.width_mm / 2, mask.height_mm / 2, 1)
    slope = (mm_to_px[:2, :2] - np.outer((x / w, y / w), mm_to_px[2, :2])) / w
    return float(np.sqrt(abs(np.linalg.det(slope))))


def _outline(picture: NDArray[np.uint8], mask: Mask, scale: float) -> None:
    for aperture in mask.apertures:
        if aperture.open:
            corners = np.array(aperture.box.grown(_OUTSIDE_MM).corners_mm) * scale - 0.5
            cv2.polylines(picture, [np.rint(corners * 16).astype(np.int32)], True, _INK, 1, cv2.LINE_AA, 4)
