"""Takes photos of the simulated sheet. The interface is told in __init__.py."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ...domain.sheet import Sheet
from ...mask.geometry import Mask
from ...mask.layout import PAPERS, lay_out
from ..clock import DEMO_UTC
from ..paper.sheet import PaperState
from . import develop, device, files, scene
from .device import Device, Kind, Shot
from .faults import Fault
from .files import Format

SIZE_PX = (4000, 3000)
PX_MM_MIN = 6
BRACKET_WHITE = (0.92, 0.50)
"""White card as a share of saturation, in the brightest and the darkest of a bracket."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What `take` gives: upright pixels and how they came about."""

    pixels: tuple[NDArray[np.uint8] | NDArray[np.uint16], ...]
    """One picture an exposure, shape (rows, columns, 3), RGB."""
    place: develop.Place
    """Where the mask truly is."""
    mask: Mask
    """What was photographed: another mask if the fault says so."""
    device: Device
    shot: Shot


def photograph(
    sheet: Sheet,
    mask: Mask,
    paper: PaperState,
    camera_seed: int,
    kind: Kind = "phone",
    *,
    shot: int = 0,
    size: tuple[int, int] = SIZE_PX,
    format: Format = "jpeg",
    quality: int | None = None,
    subsampling: int | None = None,
    bracket: int = 1,
    orientation: int | None = None,
    taken_utc: datetime = DEMO_UTC,
    faults: Collection[Fault] = (),
) -> list[bytes]:
    """Photos as files; see the package's text. A bracket's photos follow each other by a second."""
    bits = 16 if format == "png16" else 8
    taken = take(sheet, mask, paper, camera_seed, kind, shot=shot, size=size, bracket=bracket, bits=bits, faults=faults)
    made = taken.device
    return [
        files.written(
            pixels,
            format,
            orientation=taken.shot.orientation if orientation is None else orientation,
            taken=(taken_utc.astimezone(UTC) + timedelta(seconds=second)).strftime("%Y:%m:%d %H:%M:%S"),
            quality=made.quality if quality is None else quality,
            subsampling=made.subsampling if subsampling is None else subsampling,
        )
        for second, pixels in enumerate(taken.pixels)
    ]


def take(
    sheet: Sheet,
    mask: Mask,
    paper: PaperState,
    camera_seed: int,
    kind: Kind = "phone",
    *,
    shot: int = 0,
    size: tuple[int, int] = SIZE_PX,
    bracket: int = 1,
    bits: int = 8,
    faults: Collection[Fault] = (),
) -> Taken:
    """The same as pixels, with the truth of where everything is."""
    camera, press = device.draw_device(camera_seed, kind), device.draw_shot(camera_seed, shot, kind)
    if Fault.WRONG_SHEET in faults:
        sheet, mask, paper = _another(sheet, mask, paper)
    long_px, short_px = max(size), min(size)
    upright = mask.height_mm > mask.width_mm
    width_px, height_px = (short_px, long_px) if upright else (long_px, short_px)
    where = develop.place(mask, camera, press, width_px, height_px)
    px_mm = max(PX_MM_MIN, round(1 / np.sqrt(abs(develop.area_mm2(where)))))
    colours = partial(device.camera_colours, camera, press.spectrum)
    picture = scene.lay(
        sheet, mask, paper, colours, px_mm, chart_seed=camera_seed, laid_mm=press.laid_mm, faults=faults
    )
    whites = (press.white,) if bracket == 1 else tuple(np.geomspace(*BRACKET_WHITE, bracket))
    # The white card is not perfect, and balancing lifts a channel: exposures speak of the card as it is stored.
    card = float((colours(scene.CARD) * press.balance).max())
    pixels = develop.developed(
        picture,
        px_mm,
        where,
        mask,
        camera,
        press,
        [white / card for white in whites],
        np.random.default_rng([camera_seed, shot, 26]),
        bits=bits,
        faults=faults,
    )
    return Taken(tuple(pixels), where, mask, camera, press)


def _another(sheet: Sheet, mask: Mask, paper: PaperState) -> tuple[Sheet, Mask, PaperState]:
    """A wider sheet that bears two of the cells only, and its mask."""
    cells = tuple(
        cell.model_copy(update={"x_mm": 20.0 + 110.0 * index, "y_mm": 20.0})
        for index, cell in enumerate(sheet.cells[:2])
    )
    other = sheet.model_copy(update={"id": "another", "width_mm": 400.0, "height_mm": 150.0, "cells": cells})
    return other, lay_out(other, PAPERS["a2"], open_all=True), paper
