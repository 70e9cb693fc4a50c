"""The door: from bytes that somebody sent to upright pixels. Nothing is decoded before its header was looked at.

Faults met here: what is no photo, bombs of pixels (OpenCV decodes 200 megapixels from 24 kB without complaint), files
cut short, photos turned twice (Pillow leaves EXIF orientation to us but for TIFF and HEIC), wide-gamut photos
squeezed into 8 bits, 16 bits quietly halved. A file damaged in its middle may still decode; the markers will tell.
"""

import hashlib
import io
import re
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from pi_heif.as_plugin import register_heif_opener
from PIL import (
    Image,
    JpegImagePlugin,  # noqa: F401 - each of these registers its format
    PngImagePlugin,  # noqa: F401
    TiffImagePlugin,  # noqa: F401
    WebPImagePlugin,  # noqa: F401
)

from ..colour.spaces import Array, rgb_to_xyz_d50, srgb_linear
from ..errors import PhotoRefused
from .found import PhotoFound

BYTES_MAX = 80_000_000
"""Largest file. A 16-bit TIFF of 12 megapixels has 72 MB."""
PIXELS_MAX = 64_000_000
"""Largest photo: 192 MB of memory at 8 bits."""
SIDE_MIN_PX = 600
"""Shorter side: below, a marker on an A4 mask has under 4 pixels a module."""
DRAFT_FROM_PX = 2800
"""Longer side from which JPEGs are decoded at half size. It costs at most 0.033 CIEDE2000 and saves half the time."""

FORMATS = {"JPEG": "JPEG", "PNG": "PNG", "TIFF": "TIFF", "HEIF": "HEIC", "WEBP": "WebP", "MPO": "JPEG"}
"""Pillow's names, and the names shown. MPO: what it finds a JPEG to be that has a second one behind it."""
_OPENED = tuple(FORMATS)[:-1]
ACCEPTED = "JPEG, PNG, TIFF, HEIC or WebP"
_ORIENTATION, _MAKE, _MODEL, _EXIF, _TIME, _OFFSET, _EXPOSURE = 274, 271, 272, 0x8769, 36867, 36881, 33434

register_heif_opener()


@dataclass(frozen=True)
class Pixels:
    """A decoded photo, upright."""

    values: NDArray[Any]
    """(rows, columns, 3), red, green, blue, uint8 or uint16, as encoded."""
    reduced: int
    """Photo pixels to one of these, along a side: 1 or 2."""
    linear: Array
    """Linear light, 0..1, of each encoded value."""
    matrix: Array
    """(3, 3), from the photo's linear red, green, blue to those of sRGB. Float: 8-bit conversion errs by 3.7."""


def look(photo: bytes) -> PhotoFound:
    """What a photo is, by its header alone. Raises PhotoRefused with what to do."""
    if len(photo) > BYTES_MAX:
        raise PhotoRefused(
            f"The file has {len(photo) / 1e6:.0f} MB; at most {BYTES_MAX / 1e6:.0f} MB are taken."
            " Send the photo as JPEG or HEIC, or at a lower resolution."
        )
    with _opened(photo) as image:
        width, height = image.size
        if width * height > PIXELS_MAX:
            raise PhotoRefused(
                f"The photo has {width} x {height} pixels; at most {PIXELS_MAX / 1e6:.0f} megapixels are taken."
                " Set the camera to a lower resolution; 12 megapixels are plenty."
            )
        if min(width, height) < SIDE_MIN_PX:
            raise PhotoRefused(
                f"The photo has {width} x {height} pixels; its shorter side needs {SIDE_MIN_PX}."
                " Send the original, not a preview."
            )
        if getattr(image, "n_frames", 1) > 1 and image.format not in ("MPO", "HEIF"):
            raise PhotoRefused("The file holds several pictures. Send each photo in a file of its own.")
        if image.mode in ("1", "L", "LA", "I", "I;16", "I;16B", "F", "CMYK"):
            raise PhotoRefused(f"The picture's colours are of the kind '{image.mode}'. Send a colour photo (RGB).")
        exif = _exif(image)
        more = exif.get_ifd(_EXIF)
        # HEIC and TIFF are turned by whoever opens them.
        turned = 1 if image.format in ("HEIF", "TIFF") else _whole(exif.get(_ORIENTATION))
        turned = turned if 1 <= turned <= 8 else 1
        if turned >= 5:
            width, height = height, width
        return PhotoFound(
            hash=hashlib.sha256(photo).hexdigest(),
            format=FORMATS[image.format or ""],
            size_bytes=len(photo),
            width_px=width,
            height_px=height,
            bits=_bits(photo, image),
            orientation=turned,
            profile=_profile(image)[0],
            taken=_taken(more.get(_TIME), more.get(_OFFSET)),
            camera=" ".join(filter(None, (_text(exif.get(_MAKE)), _text(exif.get(_MODEL))))),
            exposure_s=_positive(more.get(_EXPOSURE)),
        )


def decode(photo: bytes, found: PhotoFound, draft: bool = True) -> Pixels:
    """The pixels of a photo that `look` let in. Raises PhotoRefused if the file is cut short or damaged."""
    with _opened(photo) as image:
        _, curve, matrix = _profile(image)
        if found.bits > 8:
            # Pillow would keep the upper 8 bits. The flag also keeps OpenCV from turning the photo itself.
            values = cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_UNCHANGED)
            if values is None or values.dtype != np.uint16 or values.ndim != 3:
                raise PhotoRefused(_CUT_SHORT)
            values = values[..., 2::-1]
        else:
            if draft and image.format in ("JPEG", "MPO") and max(image.size) >= DRAFT_FROM_PX:
                image.draft("RGB", (image.width // 2, image.height // 2))
            values = np.asarray(image if image.mode == "RGB" else image.convert("RGB"))
    upright = np.ascontiguousarray(_upright(values, found.orientation))
    scale = np.linspace(0, 1, 65536 if values.dtype == np.uint16 else 256)
    return Pixels(upright, round(found.width_px / upright.shape[1]), curve(scale), matrix)


_CUT_SHORT = "The photo's file is cut short or damaged. Send it again; if it stays so, take another photo."


@contextmanager
def _opened(photo: bytes) -> Iterator[Image.Image]:
    """The photo by its header. Whatever goes wrong with it is a refusal: readers of a damaged file raise anything from
    SyntaxError to KeyError, as their parsing goes."""
    try:
        image = Image.open(io.BytesIO(photo), formats=_OPENED)
    except Image.DecompressionBombError:
        raise PhotoRefused(f"The picture has far more than {PIXELS_MAX / 1e6:.0f} megapixels.") from None
    except Exception:
        raise PhotoRefused(f"The file is no photo that can be read. Send {ACCEPTED}.") from None
    with image:
        try:
            yield image
        except PhotoRefused:
            raise
        except Exception:
            raise PhotoRefused(_CUT_SHORT) from None


def _exif(image: Image.Image) -> Image.Exif:
    """What a camera wrote about the photo. Pillow would decode a whole PNG in search of it behind the pixels."""
    if image.format != "PNG":
        return image.getexif()
    exif = Image.Exif()
    if isinstance(stored := image.info.get("exif"), bytes):
        exif.load(stored)
    return exif


def _upright(values: NDArray[Any], orientation: int) -> NDArray[Any]:
    """The picture as a person sees it, of EXIF orientation 1 to 8."""
    if orientation >= 5:
        values = values.transpose(1, 0, 2)
    if orientation in (3, 4, 7, 8):
        values = values[::-1]
    if orientation in (2, 3, 6, 7):
        values = values[:, ::-1]
    return values


def _bits(photo: bytes, image: Image.Image) -> int:
    if image.format == "PNG":
        return photo[24]
    if image.format == "TIFF":
        stored = getattr(image, "tag_v2", {}).get(258, (8,))
        return int(max(stored) if isinstance(stored, tuple) else stored)
    return 8


def _whole(value: Any) -> int:
    return value if isinstance(value, int) else 1


def _text(value: Any) -> str:
    return re.sub(r"[^\x20-\x7e]", "", value).strip()[:40] if isinstance(value, str) else ""


def _positive(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if 0 < number < 1e6 else None


def _taken(time: Any, offset: Any) -> str:
    """EXIF's '2024:05:01 10:00:00' and '+02:00' as ISO 8601; empty if they are not so."""
    parts = (
        re.fullmatch(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)", time.strip("\0 ")) if isinstance(time, str) else None
    )
    if parts is None:
        return ""
    zone = offset.strip("\0 ") if isinstance(offset, str) else ""
    known = re.fullmatch(r"[+-]\d\d:\d\d", zone) is not None
    return f"{parts[1]}-{parts[2]}-{parts[3]}T{parts[4]}{zone if known else ''}"


# Colour profile


def _profile(image: Image.Image) -> tuple[str, Any, Array]:
    """Name, curve (encoded to linear, both 0..1) and matrix to linear sRGB of the photo's colour space."""
    icc = image.info.get("icc_profile")
    if isinstance(icc, bytes):
        try:
            return _of_icc(icc)
        except (struct.error, KeyError, ValueError, IndexError):
            return "unreadable, taken as sRGB", srgb_linear, np.eye(3)
    if image.info.get("nclx_profile", {}).get("color_primaries") == 12:
        return "Display P3", srgb_linear, _to_srgb(rgb_to_xyz_d50("Display P3") / 100)
    return "sRGB", srgb_linear, np.eye(3)


@cache
def _of_icc(icc: bytes) -> tuple[str, Any, Array]:
    """From a matrix profile (ICC.1:2010, clause 8.3.3). Raises KeyError or ValueError if it is of another kind."""
    count = struct.unpack_from(">I", icc, 128)[0]
    tags = {}
    for index in range(min(count, 100)):
        name, start, size = struct.unpack_from(">4sII", icc, 132 + 12 * index)
        tags[name] = icc[start : start + size]
    columns = [struct.unpack_from(">3i", tags[name], 8) for name in (b"rXYZ", b"gXYZ", b"bXYZ")]
    matrix = _to_srgb(np.array(columns).T / 65536)
    plain = bool(np.abs(matrix - np.eye(3)).max() < 0.005)
    wide = bool(np.abs(matrix - _to_srgb(rgb_to_xyz_d50("Display P3") / 100)).max() < 0.005)
    name = "sRGB" if plain else "Display P3" if wide else "by its own profile"
    return name, _curve(tags[b"gTRC"]), np.eye(3) if plain else matrix


def _to_srgb(to_xyz_d50: Array) -> Array:
    return np.asarray(np.linalg.solve(rgb_to_xyz_d50() / 100, to_xyz_d50))


def _curve(tag: bytes) -> Any:
    """An ICC tone curve: 'curv' (10.6) or 'para' (10.18)."""
    if tag[:4] == b"para":
        kind = struct.unpack_from(">H", tag, 8)[0]
        values = [v / 65536 for v in struct.unpack_from(f">{(1, 3, 4, 5, 7)[kind]}i", tag, 12)]
        g, a, b, c, d, e, f = (*values, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)[:7]
        if kind in (1, 2):
            c, d, e, f = 0.0, -b / a, c, c
        elif kind == 0:
            a = 1.0
        return lambda x: np.where(x >= d, np.maximum(a * x + b, 0) ** g + e, c * x + f)
    if tag[:4] != b"curv":
        raise ValueError("unknown kind of curve")
    count = struct.unpack_from(">I", tag, 8)[0]
    if count == 0:
        return lambda x: x
    table = np.array(struct.unpack_from(f">{count}H", tag, 12))
    if count == 1:
        return lambda x: x ** (table[0] / 256)
    return lambda x: np.interp(x, np.linspace(0, 1, count), table / 65535)
