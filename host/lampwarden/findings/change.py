"""How far a colour moved between two readings of one way, with what noise alone would do."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from ..colour.difference import de00
from ..domain.reading import CellColour, Reading
from ..errors import ProgramError
from .blue import blue, de00_per_blue, metric, u_blue

Z_95 = 1.959964
CLEAR = 5.0
"""A change this many times its noise has a direction of its own."""
NOTHING = 1e-6
"""A bound below this is 0, ΔE00."""
U_LEAST = 0.01
"""No reading of a coordinate is taken to be better than this, L* a* b*."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A signed number with its standard uncertainty."""

    value: float
    u: float

    @property
    def low(self) -> float:
        """Lower 95 % bound."""
        return self.value - Z_95 * self.u

    @property
    def high(self) -> float:
        """Upper 95 % bound."""
        return self.value + Z_95 * self.u


@dataclass(frozen=True, slots=True)
class Distance:
    """A colour difference in ΔE00. Noise makes it larger, never smaller; the bounds allow for that."""

    value: float
    u: float
    """Standard uncertainty along the direction of the change."""
    low: float
    """Lower 95 % bound; 0 if the colours may be the same."""
    high: float


@dataclass(frozen=True, slots=True)
class Change:
    """A cell's change from its baseline to one reading."""

    cell: str
    reading: str
    """Id of the later reading."""
    checkpoint: str
    taken_utc: str
    session_s: float | None
    dose_j_cm2: float | None
    """Dose the cell had by then, J/cm2; None if the session's record does not say."""
    de00: Distance
    lightness: Measured
    """ΔL*; positive is lighter."""
    redness: Measured
    """Δa*; positive is redder, negative greener."""
    yellowness: Measured
    """Δb*; positive is yellower."""
    gain: Measured
    """The whitening part of the change in ΔE00; negative is darker or yellower."""
    r457: Measured | None
    """Change of the estimated reflectance at 457 nm, percentage points."""
    chance: float
    """Chance that a cell which did not change looks changed as much, from the stated uncertainty alone."""
    limit_de00: float
    """Detection limit of the readings."""
    level: Measured
    """`blue` of this reading by itself, see blue.py."""
    de00_per_blue: float
    """ΔE00 of a unit step of `blue` between the two."""


@dataclass(frozen=True, slots=True)
class Series:
    """All changes of one cell, in order of time, and where they start."""

    cell: str
    baseline: str
    """Id of the reading they are counted from."""
    start: CellColour
    level: Measured
    """`blue` at the baseline."""
    changes: tuple[Change, ...]
    lit: bool
    """It is meant to get light; a dose of other cells is stray light."""
    bathed: bool
    """A bath did part of its change, right after the baseline."""


def days_utc(text: str) -> float:
    """Days since 1970 of an ISO 8601 time in UTC, such as '2026-05-01T06:00:00Z'. Raises ProgramError for others."""
    for end in ("Z", "+00:00"):
        if text.endswith(end):
            try:
                return float(np.datetime64(text.removesuffix(end), "ms").astype(np.int64)) / 86_400_000
            except ValueError:
                break
    raise ProgramError(f"'{text}' is no time in UTC. Write it like 2026-05-01T06:00:00Z.")


def in_order(readings: Sequence[Reading], sheet: str) -> tuple[Reading, ...]:
    """The readings of a sheet that count, oldest first: not refused, none that was taken again."""
    count = [r for r in readings if r.sheet == sheet and not r.refused and not r.superseded]
    return tuple(sorted(count, key=lambda reading: days_utc(reading.taken_utc)))


def series(
    cell: str,
    readings: Sequence[Reading],
    doses: Mapping[str, Mapping[str, float]],
    *,
    lit: bool = True,
    bathed: bool = False,
    swatch: bool = False,
) -> Series | None:
    """The changes of a cell or swatch over readings of one way, oldest first; None if it was never read.

    `doses` gives each cell's dose, J/cm2, by reading id. The first usable reading of the cell is the baseline.
    """
    seen = [(r, c) for r in readings for c in (r.swatches if swatch else r.cells) if c.cell == cell and c.usable]
    if not seen:
        return None
    (first, start), *later = seen
    return Series(
        cell,
        first.id,
        start,
        Measured(blue(start.lab_d50), u_blue(_u(start))),
        tuple(_change(first, start, reading, colour, doses.get(reading.id, {}).get(cell)) for reading, colour in later),
        lit,
        bathed,
    )


def _u(colour: CellColour) -> NDArray[np.float64]:
    return np.asarray(np.maximum(colour.u_lab, U_LEAST))


def _change(first: Reading, start: CellColour, reading: Reading, colour: CellColour, dose: float | None) -> Change:
    before, after = np.asarray(start.lab_d50), np.asarray(colour.lab_d50)
    step, u = after - before, np.hypot(_u(start), _u(colour))
    g = metric((before + after) / 2)
    rise, scale = blue(after) - blue(before), de00_per_blue(g)
    r457 = None
    if start.r457_pct is not None and colour.r457_pct is not None:
        assert start.r457_u_pct is not None
        assert colour.r457_u_pct is not None
        r457 = Measured(colour.r457_pct - start.r457_pct, math.hypot(start.r457_u_pct, colour.r457_u_pct))
    lightness, redness, yellowness = (Measured(float(d), float(s)) for d, s in zip(step, u, strict=True))
    return Change(
        cell=colour.cell,
        reading=reading.id,
        checkpoint=reading.checkpoint,
        taken_utc=reading.taken_utc,
        session_s=reading.session_s,
        dose_j_cm2=dose,
        de00=_distance(float(de00(before, after)), step, g, u),
        lightness=lightness,
        redness=redness,
        yellowness=yellowness,
        gain=Measured(scale * rise, scale * u_blue(u)),
        r457=r457,
        chance=float(scipy.special.chdtrc(3, np.sum((step / u) ** 2))),
        limit_de00=max(first.detection_limit_de00, reading.detection_limit_de00),
        level=Measured(blue(after), u_blue(_u(colour))),
        de00_per_blue=scale,
    )


def _distance(value: float, step: NDArray[np.float64], g: NDArray[np.float64], u: NDArray[np.float64]) -> Distance:
    """Bounds of a distance whose parts carry noise: its square is nearly a noncentral chi-square.

    Scale and degrees of freedom are matched to mean and variance (Satterthwaite); the bounds invert its distribution.
    A change that stands clear of the noise is bounded along its own direction.
    """
    noise = g * u**2
    trace, square = float(np.trace(noise)), float(np.trace(noise @ noise))
    along = g @ step
    looks = float(step @ along)
    u_along = math.sqrt(float(along**2 @ u**2) / looks) if looks > 0 else math.sqrt(trace / 3)
    scale, freedom = square / trace, trace**2 / square
    seen = value**2 / scale
    if seen > CLEAR**2:
        return Distance(value, u_along, value - Z_95 * u_along, value + Z_95 * u_along)
    low, high = (math.sqrt(scale * float(scipy.special.chndtrinc(seen, freedom, p))) for p in (0.975, 0.025))
    return Distance(value, u_along, low if low > NOTHING else 0.0, max(high, value, Z_95 * u_along))
