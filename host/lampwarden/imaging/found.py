"""The results of reading photos, as data."""

from typing import Annotated

from pydantic import Field

from ..domain.reading import Hash, Part, Reading

Matrix = Annotated[tuple[float, ...], Field(min_length=9, max_length=9)]


class PhotoFound(Part):
    """What was found in one photo; kept beside the original."""

    hash: Hash
    """SHA-256 of the bytes as they came."""
    format: str
    """JPEG, PNG, TIFF, HEIC or WebP."""
    size_bytes: int
    width_px: int
    """Upright, as a person sees it."""
    height_px: int
    bits: int = 8
    """Bits of each channel."""
    orientation: int = 1
    """How the pixels are stored, EXIF 1 to 8, and 1 for HEIC and TIFF, which are turned as they are opened."""
    profile: str = "sRGB"
    """Name of its colour space."""
    taken: str = ""
    """When by the camera's own clock, ISO 8601, with an offset if the camera gave one; empty if it did not say."""
    camera: str = ""
    """Maker and model as the camera gives them; readings by different cameras are not compared."""
    exposure_s: float | None = None
    """Exposure time, s."""
    markers: tuple[int, ...] = ()
    """Numbers of the corner markers that were used."""
    mm_to_px: Matrix | None = None
    """Homography by rows, from millimetres on the mask to pixels of the upright photo (whole numbers are the pixels'
    middles)."""
    placing_mm: float | None = None
    """Root mean square distance of the markers' corners from where the mask has them, mm."""
    blur_mm: float | None = None
    """Width of the markers' edges from 10 to 90 %, mm."""
    white_level: float | None = None
    """How bright the mask's white is, share of full scale as encoded."""
    fit_de00: float | None = None
    """Median CIEDE2000 between the chart as read and its reference values."""
    warnings: tuple[str, ...] = ()
    """In sentences."""
    refused: str = ""
    """Why nothing was read from it, and what to do; empty if it was."""


class Measured(Part):
    """A reading and what was found in each of its photos."""

    reading: Reading
    photos: tuple[PhotoFound, ...]
