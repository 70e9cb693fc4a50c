"""A cell's course over its dose: how far it has come, what is still to come, what one more step would bring.

The fit is made in K/S of the blue reflectance, since the amount of coloured matter is proportional to it and falls by a
constant share per dose (Feller 1987; first order is an assumption that the scatter of the readings can refute). Results
are told as gain in ΔE00.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from .approach import Bounded, Point, Readings, fit
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
    next_step: Bounded
    """Change that one more step would bring."""
    step_j_cm2: float
    dose_95_j_cm2: Bounded
    """Dose at which 95 % of the light's change in K/S is reached."""
    follows: bool
    """False: the readings scatter too much for a plain approach; the bounds are widened."""
    readings: int
    """Readings of this cell that it rests on."""
    beside: tuple[str, ...]
    """Cells with the same treatment whose readings it rests on too."""
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


def _readings(of: Series) -> Readings:
    """Dose, K/S falling and its uncertainty, at the baseline and under light.

    What a bath did lies between the baseline and the next reading, not on the curve of the light: without the baseline.
    """
    lit = lit_changes(of)
    levels = [*([] if of.bathed else [of.level]), *(change.level for change in lit)]
    return (
        [*([] if of.bathed else [0.0]), *(change.dose_j_cm2 or 0.0 for change in lit)],
        [-ks_of_blue(level.value) for level in levels],
        [u_ks_of_blue(level.value, level.u) for level in levels],
    )


def course(of: Series, next_step_j_cm2: float | None = None, beside: Sequence[Series] = ()) -> Course | None:
    """The course of a cell; None with fewer than three readings at different doses, the baseline among them.

    `next_step_j_cm2`: the step that a change is foretold for; None: as long as the last that was more than stray light.
    `beside`: cells with the same treatment, whatever their dose. They share rate and plateau with this one unless the
    readings speak against it.
    """
    lit = lit_changes(of)
    if not lit:
        return None
    own = _readings(of)
    doses = own[0]
    steps = [later - sooner for sooner, later in pairwise(doses) if later - sooner > STRAY_SHARE * doses[-1]]
    step = next_step_j_cm2 or (steps[-1] if steps else None)
    shared = [readings for each in beside if len((readings := _readings(each))[0]) > 1]
    found = fit(*own, step, shared) if shared else None
    together = found is not None and found.follows
    if not together:
        found = fit(*own, step)
    if found is None:
        return None
    end, ends, origin = lit[-1], found.x_95, found.curve[0].x
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
        next_step=bounded(found.next_step),
        step_j_cm2=found.step,
        dose_95_j_cm2=Bounded(*(None if x is None else x + origin for x in (ends.best, ends.low, ends.high))),
        follows=found.follows,
        readings=len(doses),
        beside=tuple(each.cell for each in beside if len(_readings(each)[0]) > 1) if together else (),
        curve=tuple(Point(p.x, height(p.best), height(p.low), height(p.high)) for p in found.curve),
    )
