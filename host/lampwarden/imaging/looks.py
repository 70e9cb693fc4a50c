"""What is wrong with a photo, and what to do: refusals, marks on cells, warnings.

Every threshold stands between what photos without and with the fault gave, 11 faults by 12 rendered photos each; the
ranges are told beside it. On real paper some will be too strict: then a mark warns, and only what is certain refuses.
"""

import numpy as np

from ..colour.difference import de00
from ..colour.spaces import Array, srgb_encoded
from ..domain.reading import CellColour, Reading
from ..errors import PhotoRefused
from ..mask.geometry import Mask
from .chart import PATCHES, Chart
from .fit import Colours
from .marks import Placed
from .samples import DARK, TILES, Sample

BLUR_MM_MAX, BLUR_MM_WARN = 2.5, 1.2
"""Width of the markers' edges, mm. Sharp photos: 0.2 to 0.3. Cells are read from 2.5 mm inside their edge."""
SATURATED_MAX = 0.01
"""Share of saturated pixels. Without a reflection 0.001 at most, with one 0.66 and more."""
WHITE_MIN = 8
"""White spots that a surface of light can be laid through (chosen)."""
WHITE_DARK = 0.25
"""Encoded level of white below which rounding and noise rule (chosen)."""
WHITE_OFF_MAX, WHITE_OFF_WARN = 0.02, 0.006
"""Median misfit of the white spots, as a share. Without shadow 0.001 to 0.003, with a hand's shadow 0.008 to 0.018."""
CHART_OFF_MAX, CHART_OFF_WARN = 10.0, 2.5
"""Median misfit of the chart, CIEDE2000. Well lit 0.4 to 1, in a hand's shadow up to 6, without a chart from 22."""
GREYS_OFF_MAX = 3.0
"""Median misfit of the grey steps, CIEDE2000, from which they are not those described. Right ones: 0.3 to 1.5."""
UNEVEN_MAX, UNEVEN_WARN, UNEVEN_MORE = 0.15, 0.036, 0.03
"""Unevenness of a cell. Bare 0.006 to 0.025, a haze of a tenth of white 0.043 to 0.094, a shadow's edge from 0.12."""
WHITE_AWAY_MIN = 1.0
"""CIEDE2000 between a cell and the mask's white, below which it is taken for the mask (chosen)."""
KEPT_MIN = 0.7
"""Share of a swatch that is one paper. In place 0.92 and more, half beside it 0.3 to 0.55."""


NO_CHART = (
    "The reference chart is not where the mask has it, or not the one described. Lay it on its place, its first patch"
    " at the black corner."
)


def refuse_blur(placed: Placed) -> None:
    """Raises PhotoRefused if edges are wider than what is left out around cells."""
    if placed.blur_mm > BLUR_MM_MAX:
        raise PhotoRefused(
            f"The photo is blurred over {placed.blur_mm:.1f} mm; up to {BLUR_MM_MAX:g} mm can be read."
            " Tap on the mask to focus, hold still or use a stand, and give more light."
        )


def refuse_scene(white: list[Sample], patches: list[Sample], mask: Mask) -> None:
    """Raises PhotoRefused if what all colours rest on is not there, or not to be read."""
    if len(white) < WHITE_MIN:
        raise PhotoRefused(
            f"{len(white)} of the mask's {len(mask.white)} white spots lie in the photo; {WHITE_MIN} are needed."
            " Take the whole mask into the picture."
        )
    if len(patches) < PATCHES:
        raise PhotoRefused("The reference chart does not lie wholly in the photo. Take all of it into the picture.")
    bright = [spot for spot in white if saturated(spot)]
    if len(white) - len(bright) < WHITE_MIN:
        raise PhotoRefused(
            f"The photo is overexposed: {len(bright)} of {len(white)} white spots are saturated. Expose one step less."
        )
    level = white_level(white)
    if level < WHITE_DARK:
        raise PhotoRefused(
            f"The photo is too dark: the mask's white reaches {level:.0%} of full scale. Give it more light."
        )


def refuse_fit(chart_off_de00: float, colours: Colours) -> None:
    """Raises PhotoRefused if chart or white cannot be what the fit took them for."""
    if not chart_off_de00 <= CHART_OFF_MAX:
        raise PhotoRefused(NO_CHART)
    white_off = float(np.median(colours.white_off))
    if white_off > WHITE_OFF_MAX:
        raise PhotoRefused(
            f"A shadow or a reflection lies over the mask: its white spots differ by {white_off:.1%} from any lamp's"
            " even light. Step out of the light, turn reflections away, and press the mask flat."
        )


def saturated(sample: Sample) -> bool:
    return sample.clipped > SATURATED_MAX


def told(sample: Sample) -> bool:
    """No channel is cut off, above or below: the sample says what the camera saw."""
    return not saturated(sample) and float(sample.linear.min()) > DARK


def white_level(white: list[Sample]) -> float:
    """Encoded share of full scale of the brightest channel, at the brightest spots."""
    return float(srgb_encoded(np.percentile([spot.linear.max() for spot in white], 90)))


def greys_off(colours: Colours, greys: list[Sample], chart: Chart, chart_off_de00: float) -> bool:
    """True if the grey steps are plainly others than the chart's file says, while the chart itself is as it says."""
    if not chart.greys or not greys or chart_off_de00 > CHART_OFF_MAX:
        return False
    off = de00(colours.lab(greys), np.array(chart.greys[: len(greys)]))
    return float(np.median(off)) > GREYS_OFF_MAX


def warnings(blur_mm: float, chart_off_de00: float, colours: Colours, odd_greys: bool) -> tuple[str, ...]:
    """About one photo that can be read."""
    said = []
    if blur_mm > BLUR_MM_WARN:
        said.append(f"The photo is a little blurred ({blur_mm:.1f} mm). Focus on the mask for the next one.")
    if chart_off_de00 > CHART_OFF_WARN:
        said.append(
            f"The reference chart is off by {chart_off_de00:.1f} CIEDE2000. It may have faded, lie in other light"
            " than the cells, or need its own values (--chart)."
        )
    if odd_greys:
        said.append(
            "The grey steps are not those of the chart's values; only their being grey was used. Give their own values"
            " (--chart), or leave them out of the file."
        )
    white_off = float(np.median(colours.white_off))
    if white_off > WHITE_OFF_WARN:
        said.append(
            f"The mask's white is lit unevenly, by {white_off:.1%}: perhaps a shadow, or the mask is not flat."
            " Colours are uncertain by that; better take another photo."
        )
    return tuple(said)


def mark(name: str, sample: Sample, unevenness: float, white_away_de00: float, *, swatch: bool) -> tuple[str, bool]:
    """What is to be said of one place (mostly nothing), and whether it may be used."""
    if saturated(sample):
        said = f"{sample.clipped:.0%} of {name} is saturated, by a reflection or because the photo is overexposed."
        return f"{said} Turn the reflection away from {name}, or expose less.", False
    if unevenness > UNEVEN_MAX:
        said = f"One part of {name} is {unevenness:.0%} brighter than another: the edge of a shadow or of a reflection."
        return f"{said} Step out of the light and turn reflections away.", False
    if swatch and sample.kept < KEPT_MIN:
        return f"{name} does not lie in its place, or something lies on it. Lay the swatch on its place.", False
    if white_away_de00 < WHITE_AWAY_MIN:
        said = f"{name} shows the mask's own white, as if its opening were not cut. Use the mask for photos"
        return f"{said} (--open-all); if the paper is as white as that, a mask of another white.", False
    if unevenness > UNEVEN_WARN:
        said = f"One part of {name} is {unevenness:.0%} brighter than another: a stain, or a soft reflection."
        return f"{said} If it is no stain, turn the lamp's reflection away from {name}.", True
    return "", True


def unevenness(samples: list[Sample], colours: Colours) -> Array:
    """(n,) by how much the brightest and the darkest part of each place differ, as a share, the lamp's slope aside."""
    found = []
    for sample in samples:
        parts = np.log(np.maximum(sample.tiles.mean(axis=1), 1e-6)) - colours.light(sample.tiles_mm)
        found.append(float(np.ptp(parts)) if len(parts) >= TILES else 0.0)
    return np.array(found)


def compared(colour: CellColour, before: Reading | None) -> CellColour:
    """The colour with a mark if a soft reflection lay on its cell in only one of two readings."""
    earlier = before.cell(colour.cell) if before else None
    if earlier is None or not colour.usable or abs(colour.unevenness - earlier.unevenness) < UNEVEN_MORE:
        return colour
    which = "this" if colour.unevenness > earlier.unevenness else "the earlier"
    said = (
        f"In {which} reading one part of {colour.cell} is brighter than another, and not in the other reading: a soft"
        f" reflection lay on it. Turn the lamp's reflection away from {colour.cell} and take another photo."
    )
    return colour.model_copy(update={"marks": (*colour.marks, said), "usable": which != "this"})


def drift(swatches: tuple[CellColour, ...], before: Reading | None, limit_de00: float) -> str:
    """A warning if the swatches kept in the dark seem to have changed since an earlier reading; empty if not."""
    changes = [
        float(de00(earlier.lab_d50, swatch.lab_d50))
        for swatch in swatches
        if before and (earlier := before.cell(swatch.cell)) and earlier.usable and swatch.usable
    ]
    limit_de00 = max(limit_de00, before.detection_limit_de00 if before else 0.0)
    if not changes or float(np.median(changes)) <= limit_de00:
        return ""
    return (
        f"The swatches kept in the dark seem to have changed by {np.median(changes):.1f}; up to {limit_de00:.1f} can be"
        " chance. Light, camera or chart are not as they were, or the swatches got light or water. Take another photo;"
        " if it says the same, trust no change smaller than that."
    )
