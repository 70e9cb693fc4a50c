"""A cell's course over its dose: how far it has come, what is still to come, what one more step would bring.

The fit is made in K/S of the blue reflectance, since the amount of coloured matter is proportional to it and falls by a
constant share per dose (Feller 1987; first order is an assumption that the scatter of the readings can refute). Results
are told as gain in ΔE00.
"""

from dataclasses import dataclass
from itertools import pairwise

from .approach import Bounded, Point, fit
from .blue import blue_of_ks, ks_of_blue, u_ks_of_blue
from .change import CLEAR, Change, Series
from .defaults import TRACE_J_CM2

SIDEWAYS = 1.5
"""A course that turns hue more than this makes the gain look larger is not taken at its word."""

STRAY_SHARE = 0.1
"""A step shorter than this share of the whole dose may be what strays from the neighbours."""


@dataclass(frozen=True, slots=True)
class Course:
    """What a cell's readings say of its plateau. ΔE00 along the way the cell takes, doses in J/cm²."""

    remaining: Bounded
    """Change still to come after the last dose; positive is whiter."""
    remaining_at_least: float | None
    """Lower bound of that which errs in 10 of 100; None: open."""
    next_step: Bounded
    """Change that one more step would bring."""
    step_j_cm2: float
    dose_95_j_cm2: Bounded
    """Dose at which 95 % of the light's change in K/S is reached."""
    follows: bool
    """False: the readings scatter too much for a plain approach; the bounds are widened."""
    readings: int
    """Readings it rests on."""
    curve: tuple[Point, ...]
    """Gain over dose, with its 95 % band."""


def lit_changes(of: Series) -> tuple[Change, ...]:
    """The changes up to the first reading with the last dose: what came later, the light did not do.

    Readings of unknown dose are left out; a cell that is not meant to get light, or got none, has none.
    """
    known = [change for change in of.changes if change.dose_j_cm2 is not None]
    last = max((change.dose_j_cm2 or 0.0 for change in known), default=0.0)
    if not of.lit or last <= TRACE_J_CM2.value:
        return ()
    lit = []
    for change in known:
        lit.append(change)
        if (change.dose_j_cm2 or 0.0) >= last - TRACE_J_CM2.value:
            break
    return tuple(lit)


def course(of: Series, next_step_j_cm2: float | None = None) -> Course | None:
    """The course of a cell; None with fewer than three readings at different doses, the baseline among them.

    `next_step_j_cm2`: the step that a change is foretold for; None: as long as the last that was more than stray light.
    """
    lit = lit_changes(of)
    # What a bath did lies between the baseline and the next reading: not on the curve of the light.
    levels = [*([] if of.bathed else [of.level]), *(change.level for change in lit)]
    doses = [*([] if of.bathed else [0.0]), *(change.dose_j_cm2 or 0.0 for change in lit)]
    steps = [later - sooner for sooner, later in pairwise(doses) if later - sooner > STRAY_SHARE * doses[-1]]
    found = fit(
        doses,
        [-ks_of_blue(level.value) for level in levels],
        [u_ks_of_blue(level.value, level.u) for level in levels],
        next_step_j_cm2 or (steps[-1] if steps else None),
    )
    if found is None:
        return None
    end, ends = lit[-1], found.x_95
    scale = end.de00_per_blue
    # A change that is clear has a direction of its own, in which hue takes part too: the same gain looks larger.
    clear = abs(end.gain.value) > CLEAR * end.gain.u
    along = min(max(end.de00.value / abs(end.gain.value), 1.0), SIDEWAYS) if clear else 1.0
    now = blue_of_ks(-found.now)

    def looks(fall: float | None) -> float | None:
        return None if fall is None else scale * along * (blue_of_ks(-found.now - fall) - now)

    def bounded(falls: Bounded) -> Bounded:
        return Bounded(looks(falls.best), looks(falls.low), looks(falls.high))

    def height(minus_ks: float) -> float:
        return scale * (blue_of_ks(-minus_ks) - of.level.value)

    return Course(
        remaining=bounded(found.remaining),
        remaining_at_least=looks(found.remaining_at_least),
        next_step=bounded(found.next_step),
        step_j_cm2=found.step,
        dose_95_j_cm2=Bounded(*(None if x is None else x + doses[0] for x in (ends.best, ends.low, ends.high))),
        follows=found.follows,
        readings=len(levels),
        curve=tuple(Point(p.x, height(p.best), height(p.low), height(p.high)) for p in found.curve),
    )
