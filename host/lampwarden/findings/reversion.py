"""Colour that comes back in the dark after the end: post-colour number, and the share of the gain that is lost."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy

from ..colour.paper import post_colour_number
from ..domain.finding import FollowUpPlan
from ..domain.reading import CellColour, Reading
from .approach import Bounded
from .blue import de00_per_blue, ks_of_blue, metric, u_ks_of_blue
from .change import Z_95, Change, Measured, Series, days_utc
from .course import lit_changes


@dataclass(frozen=True, slots=True)
class Reversion:
    """How one cell stands at one reading after its end."""

    cell: str
    end: str
    """Id of the reading that stands for the end: the first with the last dose; for a dark cell the session's last."""
    reading: str
    days: float
    """Since that reading."""
    planned_day: float | None
    """Day of the follow-up plan it stands for; None: a reading beside the plan."""
    gain: Measured
    """Gain since the end, ΔE00; negative: yellowing came back."""
    found: bool
    """It is more than noise."""
    post_colour_number: Measured | None
    """100 times the change of K/S at 457 nm since the end, by the estimated reflectance; positive is darker."""
    share_lost: Bounded | None
    """Share of the gain lost since the end, in K/S of the blue reflectance; 1 is all. None: there was no gain."""


def share_lost(before: Measured, end: Measured, later: Measured) -> Bounded | None:
    """Share of a fall in K/S that is undone again, with Fieller's 95 % bounds; None if there was no fall for certain.

    Example: 70 % raised to 75 % and back to 72 % has lost 0.56 of its gain.
    """
    fell, undone = before.value - end.value, later.value - end.value
    v_fell, v_undone, v_end = before.u**2 + end.u**2, later.u**2 + end.u**2, end.u**2
    z2 = Z_95**2
    a, b, c = fell**2 - z2 * v_fell, fell * undone - z2 * v_end, undone**2 - z2 * v_undone
    if fell <= 0 or a <= 0:
        return None
    root = math.sqrt(max(b * b - a * c, 0.0))
    return Bounded(undone / fell, (b - root) / a, (b + root) / a)


def ended(of: Series, sessions: Mapping[str, bool]) -> Change | None:
    """The change that stands for a cell's end; None if there is none. `sessions`: reading ids taken in a session."""
    lit = lit_changes(of)
    if lit:
        return lit[-1]
    inside = [change for change in of.changes if sessions.get(change.reading)]
    return inside[-1] if inside else None


def reversions(of: Series, readings: Mapping[str, Reading], plan: FollowUpPlan, chance: float) -> tuple[Reversion, ...]:
    """What became of a cell at each reading after its end. `readings` by id; `chance` as in watch.is_real."""
    end = ended(of, {name: reading.session_s is not None for name, reading in readings.items()})
    if end is None:
        return ()
    later = of.changes[of.changes.index(end) + 1 :]
    return tuple(_reversion(of, end, change, readings, plan, chance / max(len(later), 1)) for change in later)


def _reversion(
    of: Series, end: Change, change: Change, readings: Mapping[str, Reading], plan: FollowUpPlan, chance: float
) -> Reversion:
    days = days_utc(change.taken_utc) - days_utc(end.taken_utc)
    one, two = readings[end.reading].cell(of.cell), readings[change.reading].cell(of.cell)
    assert one is not None
    assert two is not None
    scale = de00_per_blue(metric((np.asarray(one.lab_d50) + np.asarray(two.lab_d50)) / 2))
    gain = Measured(scale * (change.level.value - end.level.value), scale * math.hypot(change.level.u, end.level.u))

    def k_s(level: Measured) -> Measured:
        return Measured(ks_of_blue(level.value), u_ks_of_blue(level.value, level.u))

    found = abs(gain.value) > max(-float(scipy.special.ndtri(chance / 2)) * gain.u, change.limit_de00)
    return Reversion(
        cell=of.cell,
        end=end.reading,
        reading=change.reading,
        days=days,
        planned_day=plan.day_of(days),
        gain=gain,
        found=found,
        post_colour_number=_post_colour(one, two),
        share_lost=share_lost(k_s(of.level), k_s(end.level), k_s(change.level)),
    )


def _post_colour(one: CellColour, two: CellColour) -> Measured | None:
    if not one.r457_pct or not two.r457_pct:
        return None
    before, after = one.r457_pct / 100, two.r457_pct / 100
    # d(K/S)/dR = (1 - 1/R^2) / 2; times 100 for the number, over 100 for per cent.
    slopes = [abs((1 - r**-2) / 2) * (u or 0.0) for r, u in ((before, one.r457_u_pct), (after, two.r457_u_pct))]
    return Measured(float(post_colour_number(before, after)), math.hypot(*slopes))
