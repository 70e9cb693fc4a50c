"""From pixels to a file, as a camera would write it."""

import io
import struct
import zlib
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.ExifTags import IFD, Base

Format = Literal["jpeg", "png", "png16"]

STORED = {
    1: lambda upright: upright,
    2: lambda upright: upright[:, ::-1],
    3: lambda upright: upright[::-1, ::-1],
    4: lambda upright: upright[::-1],
    5: lambda upright: upright.transpose(1, 0, 2),
    6: lambda upright: np.rot90(upright, 1),
    7: lambda upright: upright[::-1, ::-1].transpose(1, 0, 2),
    8: lambda upright: np.rot90(upright, -1),
}
"""How an upright picture is stored, by EXIF orientation (EXIF 2.32, table 6): 6 is turned clockwise to be looked at."""


def exif(orientation: int, taken: str) -> Image.Exif:
    """EXIF data. `taken`: local time, 'YYYY:MM:DD HH:MM:SS', in UTC."""
    data = Image.Exif()
    data[Base.Make] = "simulated"
    data[Base.Model] = "simulated camera"
    data[Base.Orientation] = orientation
    data[Base.DateTime] = taken
    data.get_ifd(IFD.Exif).update({Base.DateTimeOriginal: taken, Base.OffsetTimeOriginal: "+00:00"})
    return data


def written(
    pixels: NDArray[np.uint8] | NDArray[np.uint16],
    format: Format,
    *,
    orientation: int,
    taken: str,
    quality: int,
    subsampling: int,
) -> bytes:
    """The file of upright pixels (rows, columns, 3), RGB, 8 bits or, for png16, 16."""
    stored = np.ascontiguousarray(STORED[orientation](pixels))
    about = exif(orientation, taken)
    if format == "png16":
        return _png16(stored, about)
    out = io.BytesIO()
    image = Image.fromarray(stored)
    if format == "jpeg":
        image.save(out, "JPEG", quality=quality, subsampling=subsampling, exif=about)
    else:
        image.save(out, "PNG", compress_level=1, exif=about)
    return out.getvalue()


def _png16(stored: NDArray[np.uint16], about: Image.Exif) -> bytes:
    """Pillow writes no 16 bit colour: OpenCV does, and the EXIF chunk goes behind the header (PNG 3rd ed., 11.3.4)."""
    done, encoded = cv2.imencode(".png", stored[:, :, ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 1])
    if not done:
        raise ValueError("OpenCV could not write the PNG")
    data = encoded.tobytes()
    body = b"eXIf" + about.tobytes().removeprefix(b"Exif\0\0")
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    after_header = 8 + 25
    return data[:after_header] + chunk + data[after_header:]
