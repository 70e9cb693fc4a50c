"""From photos of one moment to a reading."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..colour.difference import de00
from ..colour.paper import R457_U_PCT, r457_from_xyz_d50
from ..colour.spaces import Array, lab_d65_of_d50, to_xyz
from ..domain.reading import CellColour, Reading, Way
from ..errors import PhotoRefused
from ..mask.geometry import Box, Mask
from . import looks, trust
from .chart import Chart, published_chart
from .door import Pixels, decode, look
from .fit import Colours, Model, fit
from .found import Measured, PhotoFound
from .marks import Placed, place
from .samples import Sample, take

CELL_INSET_MM, SWATCH_INSET_MM, SPOT_INSET_MM, GREY_INSET_MM = 2.5, 3.5, 1.0, 2.5
"""Left out along the edges: cut by hand, in the card's shadow, blurred, and placed to about 1 mm."""
SWATCH = "dark"
"""Swatches are called 'dark 1' and on. A cell's name has no space in it."""
LOSSLESS = ("PNG", "TIFF")
FINE_SPOTS_MIN = 20
"""White spots from which a surface of 4th order is laid through them; it has 15 terms."""
BRACKET_MIN = 3
"""Photos from which a bracket counts as one."""


@dataclass(frozen=True)
class Seen:
    """What lies where in one photo, before any colour is reckoned."""

    found: PhotoFound
    white: list[Sample]
    patches: list[Sample]
    greys: list[Sample]
    names: tuple[str, ...]
    """Of the places in `samples`: cells, then swatches."""
    samples: list[Sample]
    missing: tuple[str, ...]
    """Places outside the photo."""
    to_srgb: Array
    """(3, 3), from the photo's linear light."""


@dataclass(frozen=True)
class Read:
    """What one photo gave."""

    seen: Seen
    colours: Colours
    lab: Array
    """(n, 3) CIELAB under D50 of the places."""
    slopes: Array
    """(n, 3, 3) how L*, a*, b* move with one step of each channel."""
    u_fit: Array
    """(n, 3) standard uncertainty of L*, a*, b* from the fit."""
    spread: Array
    """(n,) within each place, CIEDE2000."""
    uneven: Array
    """(n,) by how much the parts of each place differ, as a share of light."""
    marks: tuple[tuple[str, bool], ...]
    """By place: what is to be said of it, and whether it may be used."""


def measure(
    photos: Sequence[bytes],
    mask: Mask,
    way: Way | None = None,
    chart: Chart | None = None,
    before: Reading | None = None,
    taken_utc: str = "",
) -> Measured:
    """The colours of a sheet from one photo or several of the same moment.

    `way`: phone or fixed; what a fixed camera's files allow is found from them. None: phone. `before`: an earlier
    reading of the same sheet, to see whether the swatches stayed as they were. A photo that shows nothing is refused
    in its own words and the others are used; if none is left the reading is refused, not raised.
    """
    reads: list[Read] = []
    founds: list[PhotoFound] = []
    chart = chart or published_chart()
    fixed = way not in (None, Way.PHONE)
    for photo in photos:
        try:
            found = look(photo)
        except PhotoRefused as refused:
            founds.append(_refused(photo, str(refused)))
            continue
        twin = next((other for other in founds if other.hash == found.hash), None)
        if twin is not None:
            founds.append(twin)
            continue
        try:
            read = reckon(see(photo, found, mask), mask, chart, fixed)
        except PhotoRefused as refused:
            founds.append(found.model_copy(update={"refused": str(refused)}))
            continue
        founds.append(read.seen.found)
        reads.append(read)
    taken = _way(fixed, [read.seen.found for read in reads])
    return Measured(reading=_reading(reads, founds, mask, taken, before, taken_utc), photos=tuple(founds))


def _way(fixed: bool, founds: list[PhotoFound]) -> Way:
    if not fixed:
        return Way.PHONE
    if founds and all(found.format in LOSSLESS for found in founds):
        return Way.LOSSLESS
    if len(founds) >= BRACKET_MIN or (founds and all(found.format == "HEIC" for found in founds)):
        return Way.BRACKETED
    return Way.FIXED


def _refused(photo: bytes, why: str) -> PhotoFound:
    return PhotoFound(
        hash=hashlib.sha256(photo).hexdigest(),
        format="unknown",
        size_bytes=len(photo),
        width_px=0,
        height_px=0,
        refused=why,
    )


def see(photo: bytes, found: PhotoFound, mask: Mask) -> Seen:
    """Finds the mask in a photo and samples all places on it. Raises PhotoRefused."""
    pixels = decode(photo, found)
    placed = place(pixels, mask)
    looks.refuse_blur(placed)
    white = _taken(pixels, placed, mask.white, SPOT_INSET_MM)
    patches = _taken(pixels, placed, mask.chart.patches(), 0.0)
    greys = _taken(pixels, placed, mask.greys, GREY_INSET_MM)
    looks.refuse_scene(white, patches, mask)
    places: list[tuple[str, Box, float]] = [
        (aperture.name, aperture.box, CELL_INSET_MM if min(aperture.box.width_mm, aperture.box.height_mm) > 14 else 2.0)
        for aperture in mask.apertures
        if aperture.open
    ]
    places += [(f"{SWATCH} {i}", box, SWATCH_INSET_MM) for i, box in enumerate(mask.swatches, start=1)]
    taken = [(name, take(pixels, placed, box, inset, paper=True)) for name, box, inset in places]
    if all(sample is None for _, sample in taken):
        raise PhotoRefused("No cell lies wholly in the photo. Take the whole mask into the picture.")
    shift = (pixels.reduced - 1) / 2
    matrix = np.array([[pixels.reduced, 0, shift], [0, pixels.reduced, shift], [0, 0, 1]]) @ placed.mm_to_px
    found = found.model_copy(
        update={
            "markers": placed.ids,
            "mm_to_px": tuple(float(v) for v in (matrix / matrix[2, 2]).ravel()),
            "placing_mm": round(placed.off_mm, 3),
            "blur_mm": round(placed.blur_mm, 3),
            "white_level": round(looks.white_level(white), 4),
        }
    )
    return Seen(
        found=found,
        white=white,
        patches=patches,
        greys=greys,
        names=tuple(name for name, sample in taken if sample is not None),
        samples=[sample for _, sample in taken if sample is not None],
        missing=tuple(name for name, sample in taken if sample is None),
        to_srgb=pixels.matrix,
    )


def reckon(seen: Seen, mask: Mask, chart: Chart, fixed: bool, model: Model = Model.AFFINE) -> Read:
    """The colours of what was seen. Raises PhotoRefused if the chart is not what it should be."""
    size_mm = (mask.width_mm, mask.height_mm)
    white = [spot for spot in seen.white if not looks.saturated(spot)]
    clear = np.array([looks.told(patch) for patch in seen.patches])
    # A lamp that stays is worth a finer surface: what it gets wrong is the same in every photo, but for rounding.
    order = 4 if fixed and len(white) >= FINE_SPOTS_MIN else 2

    def fitted(chart: Chart) -> tuple[Colours, float]:
        colours = fit(white, seen.patches, seen.greys, chart, size_mm, model, order, seen.to_srgb, clear)
        return colours, float(np.median(de00(colours.lab(seen.patches), np.array(chart.patches))))

    try:
        colours, misfit = fitted(chart)
        odd_greys = looks.greys_off(colours, seen.greys, chart, misfit)
        if odd_greys:
            colours, misfit = fitted(chart.model_copy(update={"greys": ()}))
    except np.linalg.LinAlgError:
        raise PhotoRefused(looks.NO_CHART) from None
    looks.refuse_fit(misfit, colours)
    said = looks.warnings(seen.found.blur_mm or 0.0, misfit, colours, odd_greys)
    found = seen.found.model_copy(update={"fit_de00": round(misfit, 3), "warnings": said})
    lab, uneven = colours.lab(seen.samples), looks.unevenness(seen.samples, colours)
    away_de00 = de00(lab, np.median(colours.lab(white), axis=0))
    return Read(
        seen=replace(seen, found=found),
        colours=colours,
        lab=lab,
        slopes=colours.slopes(seen.samples),
        u_fit=colours.u_fit(seen.samples),
        spread=_spread(colours, seen.samples, lab),
        uneven=uneven,
        marks=tuple(
            looks.mark(name, sample, float(part), float(away), swatch=_is_swatch(name))
            for name, sample, part, away in zip(seen.names, seen.samples, uneven, away_de00, strict=True)
        ),
    )


def _is_swatch(name: str) -> bool:
    return name.startswith(f"{SWATCH} ")


def _taken(pixels: Pixels, placed: Placed, boxes: Sequence[Box], inset_mm: float) -> list[Sample]:
    """Samples of those boxes that lie in the photo."""
    return [s for s in (take(pixels, placed, box, inset_mm) for box in boxes) if s is not None]


def _spread(colours: Colours, samples: list[Sample], lab: Array) -> Array:
    """Standard deviation of lightness within each place as CIEDE2000: grain of paper, stains, glare."""
    grain = np.stack([s.spread for s in samples]).mean(axis=1)
    up = colours.lab(samples, np.stack([s.linear for s in samples]) * (1 + grain[:, None]))
    return de00(up, lab)


def _reading(
    reads: list[Read],
    founds: list[PhotoFound],
    mask: Mask,
    way: Way,
    before: Reading | None,
    taken_utc: str,
) -> Reading:
    hashes = tuple(dict.fromkeys(found.hash for found in founds))
    taken = taken_utc or next((f.taken for f in founds if len(f.taken) > 19), "")
    reading = Reading(
        id=hashes[0][:16] if hashes else "none",
        sheet=mask.sheet,
        taken_utc=taken,
        way=way,
        photos=hashes,
        detection_limit_de00=0.0,
    )
    if not reads:
        refused = "\n".join(dict.fromkeys(found.refused for found in founds)) or "No photo was given."
        return reading.model_copy(update={"refused": refused})
    colours = [looks.compared(colour, before) for colour in _combined(reads, way)]
    swatches = tuple(colour for colour in colours if _is_swatch(colour.cell))
    cells = tuple(colour for colour in colours if not _is_swatch(colour.cell))
    usable = [c for c in cells if c.usable] or list(cells)
    limit = trust.detection_limit(np.array([c.lab_d50 for c in usable]), np.array([c.u_lab for c in usable]))
    warnings = dict.fromkeys(warning for read in reads for warning in read.seen.found.warnings)
    if len(founds) > len(hashes):
        warnings["The same photo was sent more than once; it counts once."] = None
    for read in reads:
        for name in read.seen.missing:
            warnings[f"{name} lies outside the photo. Take the whole mask into the picture."] = None
    if drift := looks.drift(swatches, before, limit):
        warnings[drift] = None
    return reading.model_copy(
        update={
            "cells": cells,
            "swatches": swatches,
            "detection_limit_de00": round(limit, 3),
            "warnings": tuple(warnings),
        }
    )


def _combined(reads: list[Read], way: Way) -> list[CellColour]:
    """Each place over all photos that show it; those that must not be used count only if there is no other."""
    found = []
    for name in dict.fromkeys(name for read in reads for name in read.seen.names):
        at = [(read, read.seen.names.index(name)) for read in reads if name in read.seen.names]
        good = [(read, i) for read, i in at if read.marks[i][1]]
        used = good or at
        labs = np.array([read.lab[i] for read, i in used])
        lab = labs.mean(axis=0)
        scatter = labs.std(axis=0, ddof=1)[None] / np.sqrt(len(labs)) if len(labs) > 1 else None
        slopes = np.mean([read.slopes[i] for read, i in used], axis=0)
        u_fit = np.mean([read.u_fit[i] for read, i in used], axis=0)
        u = trust.u_change(way, slopes[None], [read.seen.found.format for read, _ in used], u_fit[None], scatter)[0]
        u_abs = trust.u_colour(way, lab, u, u_fit)
        r457 = float(r457_from_xyz_d50(to_xyz(lab)))
        step = np.array((0.5, 0.0, -0.5))
        slope = float(r457_from_xyz_d50(to_xyz(lab + step)) - r457_from_xyz_d50(to_xyz(lab - step)))
        found.append(
            CellColour(
                cell=name,
                lab_d50=_three(lab),
                lab_d65=_three(lab_d65_of_d50(lab)),
                u_lab=_three(u),
                u_abs_de00=round(u_abs, 3),
                spread_de00=round(float(np.mean([read.spread[i] for read, i in used])), 3),
                r457_pct=round(r457, 2),
                r457_u_pct=round(float(np.hypot(R457_U_PCT, abs(slope) * u_abs)), 2),
                unevenness=round(float(np.mean([read.uneven[i] for read, i in used])), 4),
                marks=tuple(dict.fromkeys(said for read, i in used if (said := read.marks[i][0]))),
                usable=bool(good),
            )
        )
    return found


def _three(values: Array) -> tuple[float, float, float]:
    one, two, three = (round(float(v), 4) for v in values)
    return one, two, three
