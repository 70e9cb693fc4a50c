"""Photos of a sheet under its mask: from bytes to a colour with its uncertainty for each cell.

    door      what came, is it a photo, its pixels upright
    marks     where the mask lies in it
    samples   the pixels of each place on the mask
    chart     what the reference patches should look like
    fit       from pixels to CIELAB, by all that is known on the mask
    trust     uncertainty and detection limit
    looks     what is wrong with a photo, and what to do
    measure   all of it, for one photo or several
    drawn     the photo with what was read drawn on it
    found     the results, as data
    instrument  the same from an instrument's file

Everything but `found`, `chart` and `instrument` needs the extra `photos`, and may take a second: call it in a process
of its own, through the functions here. Importing this room loads neither OpenCV nor Pillow.
"""

from typing import TYPE_CHECKING

from ..errors import LampwardenError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..domain.reading import Reading, Way
    from ..mask.geometry import Mask
    from .chart import Chart
    from .found import Measured, PhotoFound


def look(photo: bytes) -> "PhotoFound":
    """What a photo is, by its header alone: format, size, time. Raises PhotoRefused with what to do."""
    _need_photos()
    from .door import look as run

    return run(photo)


def measure_photos(
    photos: "Sequence[bytes]",
    mask: "Mask",
    way: "Way | None" = None,
    chart: "Chart | None" = None,
    before: "Reading | None" = None,
    taken_utc: str = "",
) -> "Measured":
    """The colours of a sheet from its photos, all of one moment: see `measure.measure`."""
    _need_photos()
    from .measure import measure as run

    return run(photos, mask, way, chart, before, taken_utc)


def annotated(photo: bytes, measured: "Measured", mask: "Mask") -> bytes:
    """The photo, 1600 pixels or less, with what was read drawn on it, as JPEG: see `drawn.draw`."""
    _need_photos()
    from .drawn import draw as run

    return run(photo, measured, mask)


def flattened(photo: bytes, mask: "Mask", way: "Way") -> bytes:
    """The photo straightened to the mask's frame, in the colours that were read, as JPEG: see `flat.flatten`."""
    _need_photos()
    from .flat import flatten as run

    return run(photo, mask, way)


def _need_photos() -> None:
    try:
        import cv2  # noqa: F401
        import PIL  # noqa: F401
    except ImportError:
        raise LampwardenError(
            "Photos cannot be read: OpenCV or Pillow is not installed."
            " Install them with: pip install 'lampwarden[photos]'. Sessions run without them."
        ) from None
