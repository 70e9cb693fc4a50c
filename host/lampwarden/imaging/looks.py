"""What is wrong with a photo, and what to do: refusals, marks on cells, warnings."""

import numpy as np

from ..colour.difference import de00
from ..colour.spaces import Array, srgb_encoded
from ..domain.reading import CellColour, Reading
from ..errors import PhotoRefused
from ..mask.geometry import Mask
from .chart import PATCHES
from .fit import Colours
from .marks import Placed
from .samples import CLIPPED, Sample

BLUR_MM_MAX, BLUR_MM_WARN = 3.0, 1.5
CLIPPED_MAX = 0.01
WHITE_FEW = 6
WHITE_DARK = 0.25
CHART_DE_MAX = 12.0
UNEVEN_MAX = 0.035


def refuse_blur(placed: Placed) -> None:
    if placed.blur_mm > BLUR_MM_MAX:
        raise PhotoRefused(
            f"The photo is blurred over {placed.blur_mm:.1f} mm; up to {BLUR_MM_MAX:g} mm can be read."
            " Tap on the mask to focus, hold still or use a stand, and give more light."
        )


def refuse_scene(white: list[Sample], patches: list[Sample], mask: Mask) -> None:
    """Raises PhotoRefused if what all colours rest on is not there."""
    if len(white) < WHITE_FEW:
        raise PhotoRefused(
            f"{len(white)} of the mask's {len(mask.white)} white spots lie in the photo; {WHITE_FEW} are needed."
            " Take the whole mask into the picture."
        )
    if len(patches) < PATCHES:
        raise PhotoRefused(
            "The reference chart does not lie wholly in the photo. Take the whole mask into the picture."
        )
    level = white_level(white)
    if level >= CLIPPED:
        raise PhotoRefused("The photo is overexposed: the mask's white is saturated. Expose less, by 1 step.")
    if level < WHITE_DARK:
        raise PhotoRefused(f"The photo is too dark: the mask's white reaches {level:.0%} of full scale. Expose longer.")


def refuse_chart(colours: Colours) -> None:
    off = float(np.median(colours.residual_de))
    if off > CHART_DE_MAX:
        raise PhotoRefused(
            f"The reference chart is not where the mask has it, or not the one described (median misfit {off:.0f})."
            " Lay it on its place, its first patch at the black corner."
        )


def white_level(white: list[Sample]) -> float:
    """Encoded share of full scale of the brightest channel, at the brightest spots."""
    return float(srgb_encoded(np.percentile([s.linear.max() for s in white], 90)))


def warnings(placed: Placed, white: list[Sample], patches: list[Sample]) -> tuple[str, ...]:
    said = []
    if placed.blur_mm > BLUR_MM_WARN:
        said.append(f"The photo is a little blurred ({placed.blur_mm:.1f} mm); a sharper one is safer.")
    return tuple(said)


def marks(names: tuple[str, ...], samples: list[Sample], colours: Colours) -> tuple[tuple[str, ...], ...]:
    """By place: sentences that say why it must not be used; none if it may."""
    uneven = unevenness(samples, colours)
    found = []
    for name, sample, part in zip(names, samples, uneven, strict=True):
        said = []
        if sample.clipped > CLIPPED_MAX:
            said.append(
                f"A reflection saturates {sample.clipped:.0%} of {name}."
                f" Turn the lamp's reflection away from {name}, or expose less."
            )
        elif part > UNEVEN_MAX:
            said.append(f"{name} is brighter in one part than in another, as by a soft reflection or a shadow.")
        found.append(tuple(said))
    return tuple(found)


def unevenness(samples: list[Sample], colours: Colours) -> Array:
    """(n,) how much the parts of a place differ, as a share, after the light's own slope."""
    found = []
    for sample in samples:
        parts = np.log(np.maximum(sample.tiles.mean(axis=2), 1e-6))
        known = np.isfinite(parts)
        found.append(float(np.ptp(parts[known])) if known.sum() >= 4 else 0.0)
    return np.array(found)


def swatch_warnings(swatches: tuple[CellColour, ...], before: Reading | None, limit: float) -> list[str]:
    said = []
    for swatch in swatches if before else ():
        earlier = next((s for s in before.swatches if s.cell == swatch.cell), None) if before else None
        if earlier is None or not (earlier.usable and swatch.usable):
            continue
        change = float(de00(earlier.lab_d50, swatch.lab_d50))
        if change > 1.5 * limit:
            said.append(f"The swatch {swatch.cell} seems to have changed by {change:.1f}.")
    return said
