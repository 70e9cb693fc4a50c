"""How far a colour from a photo can be trusted: standard uncertainties, and the least change that can be told.

Repeats alone say too little: they cover 84 to 96 % for a nominal 95 %, because a file's rounding repeats. So the parts
are added in quadrature: the scatter of repeats, the rounding of the file, the fit's own uncertainty as far as it does
not cancel between two photos, and a floor. The shares and floors of each way were set on rendered photos
(`python -m tests.bench.photos`); no real photo was taken yet.
"""

from dataclasses import dataclass

import numpy as np
import scipy

from ..colour.difference import de00, u_de00
from ..colour.spaces import Array
from ..domain.reading import Way

REAL_CAMERA_DE00 = 1.0
"""Promise a person nothing below this before a real camera was tried: rendered ones know no spectral surprises."""


@dataclass(frozen=True, slots=True)
class Shares:
    """What one way of taking photos leaves uncertain."""

    fit_change: float
    """Share of the fit's uncertainty that does not cancel between two photos."""
    floor: tuple[float, float, float]
    """Of L*, a*, b* in a change, beside what rounding and fit explain: b* most, for yellow paper is where a camera's
    channels differ most from the eye's."""
    fit_colour: float
    """Share of the fit's uncertainty that the colour itself has: less than 1, for paper lies amid the chart's."""


SHARES = {
    Way.PHONE: Shares(0.2, (0.15, 0.24, 0.5), 0.34),
    Way.FIXED: Shares(0.07, (0.09, 0.08, 0.15), 0.46),
    Way.BRACKETED: Shares(0.03, (0.01, 0.01, 0.08), 0.42),
    Way.LOSSLESS: Shares(0.02, (0.022, 0.035, 0.048), 0.27),
}
ROUNDING_STEPS = {"JPEG": 0.20, "HEIC": 0.17, "WebP": 0.25, "PNG": 0.03, "TIFF": 0.03}
"""Standard uncertainty of a cell's mean by the file's rounding, in steps of 8 bits, each channel by itself. HEIC and
WebP by comparison with JPEG (chosen)."""


SCATTER_SHARE = 0.7
"""Of the scatter over several photos: part of it is the exposures' own difference, which the next bracket has too."""


def u_change(way: Way, slopes: Array, formats: list[str], u_fit: Array, scatter: Array | None) -> Array:
    """Standard uncertainty (n, 3) of L*, a*, b* in a change.

    `slopes`: Lab by channel step (n, 3, 3); `u_fit` (n, 3); `scatter`: standard deviation of the mean over photos.
    """
    share = SHARES[way]
    steps = ROUNDING_STEPS[formats[0]] / np.sqrt(len(formats))
    rounding = steps * np.sqrt((slopes**2).sum(axis=-1))
    parts = [rounding, share.fit_change * u_fit, np.broadcast_to(share.floor, u_fit.shape)]
    if scatter is not None:
        parts.append(SCATTER_SHARE * scatter)
    return np.asarray(np.sqrt(sum(part**2 for part in parts)))


def u_colour(way: Way, lab: Array, u_lab: Array, u_fit: Array) -> float:
    """Standard uncertainty of one colour itself (3,), as a distance in CIEDE2000: of reading it, and of the fit, in
    which the chart's tolerance is."""
    return float(np.hypot(u_de00(lab, u_lab), SHARES[way].fit_colour * u_de00(lab, u_fit)))


def detection_limit(lab: Array, u_lab: Array) -> float:
    """CIEDE2000 that the apparent change of unchanged colours (n, 3) stays under in 95 of 100 pairs of readings.

    The squared distance of two readings is a sum of weighted chi-squares; its 95 % point by the two-moment
    approximation (F. Satterthwaite, Biometrics Bulletin 2 (1946) 110-114), then the mean over the colours.
    """
    steps = np.eye(3) * 0.1
    weight = np.stack([de00(lab - step / 2, lab + step / 2) / 0.1 for step in steps], axis=-1)
    parts = 2 * (weight * u_lab) ** 2
    mean, square = parts.sum(axis=-1), (parts**2).sum(axis=-1)
    freedom = mean**2 / square
    return float(np.mean(np.sqrt(square / mean * 2 * scipy.special.gammaincinv(freedom / 2, 0.95))))
