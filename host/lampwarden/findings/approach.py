"""The course of a change that slows towards a plateau: y = start + total (1 - exp(-rate x)), with honest bounds.

For a given rate the curve is straight in `start` and `total`, so both are solved exactly at every rate of a grid: no
optimiser, nothing to start from. Bounds are profile likelihood: every curve whose chi-square lies within 3.84 of the
best one counts as possible, and a bound is the outermost value among those. A course that may as well be a straight
line has no plateau to be seen; its bound is open, and stays None.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

THRESHOLD = 3.841
"""95 % of chi-square with one degree of freedom: each bound errs in 2.5 of 100."""
STRAIGHT = 0.01
"""Rate times span of the slowest curve tried. It bends by half a per cent over the readings: a straight line."""
SUDDEN = 20.0
"""Rate times first step of the fastest curve tried: all has happened by the first reading after the start."""
GRID = 400
ZOOMS = 3
"""Times the grid is laid anew over the rates that are possible."""
CURVE_POINTS = 33
LOG_20 = math.log(20)
"""Rate times x at which 95 % is reached."""
MISFIT_P = 0.01
"""Readings that scatter more than chance does in 1 of 100 courses do not follow the curve; then bounds are widened."""

Readings = tuple[Sequence[float], Sequence[float], Sequence[float]]
"""x, y and standard uncertainty of y of one course, each (n,)."""


@dataclass(frozen=True, slots=True)
class Bounded:
    """A number with 95 % bounds. A bound of None is open; a best value of None is not determined."""

    best: float | None
    low: float | None
    high: float | None

    def under(self, limit: float) -> bool:
        """True if both bounds are closed and nearer to 0 than the limit: the rule for a plateau."""
        return self.low is not None and self.high is not None and max(abs(self.low), abs(self.high)) < limit


@dataclass(frozen=True, slots=True)
class Point:
    """The curve at one place."""

    x: float
    best: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Approach:
    """What a course of readings says about its plateau. Units are those of the readings; x is a dose or a time."""

    rate: float | None
    """Per unit of x; None if the course may as well be straight."""
    total: float | None
    """Change from the start to the plateau."""
    now: float
    """Height of the best curve at the last reading."""
    remaining: Bounded
    """Change still to come after the last reading."""
    next_step: Bounded
    """Change that a further step would bring."""
    step: float
    """That step, in units of x."""
    x_95: Bounded
    """Where 95 % of the change is reached, counted from the first reading."""
    chi_square: float
    """Of the best curve."""
    df: int
    """Readings more than the curve has unknowns."""
    follows: bool
    """False: the readings scatter around the best curve more than their uncertainty allows."""
    curve: tuple[Point, ...]
    """The curve and its band, from the first reading to one step beyond the last."""


@dataclass(frozen=True, slots=True)
class _Curves:
    """The best start and total at each rate, arrays of shape (rates,), and how they vary together."""

    rates: Array
    start: Array
    total: Array
    start_var: Array
    total_var: Array
    covariance: Array
    chi_square: Array

    def at(self, places: Array) -> tuple[Array, Array]:
        """Value and standard uncertainty of each curve at places (n,), both of shape (n, rates)."""
        bend = -np.expm1(-np.outer(places, self.rates))
        variance = self.start_var + bend**2 * self.total_var + 2 * bend * self.covariance
        return self.start + self.total * bend, np.sqrt(np.maximum(variance, 0))


def _solve(rates: Array, x: Array, y: Array, u: Array, course: NDArray[np.intp]) -> _Curves:
    """The curves of course 0; `course` (n,) numbers the course each reading belongs to."""
    weight = 1 / u**2
    bend = -np.expm1(-np.outer(rates, x))
    share = (course[:, None] == np.arange(course.max() + 1)) * weight[:, None]
    whole = share.sum(axis=0)
    bend_mean, y_mean = bend @ share / whole, y @ share / whole
    rest, height = bend - bend_mean[:, course], y - y_mean[course]
    square = rest**2 @ weight
    total = rest @ (weight * height) / square
    own = bend_mean[:, 0]
    return _Curves(
        rates=rates,
        start=y_mean[0] - total * own,
        total=total,
        start_var=1 / whole[0] + own**2 / square,
        total_var=1 / square,
        covariance=-own / square,
        chi_square=(height - total[:, None] * rest) ** 2 @ weight,
    )


def _vertex(curves: _Curves) -> float:
    """The rate of least chi-square, by a parabola through the three lowest points of the grid."""
    i = int(np.argmin(curves.chi_square))
    if not 0 < i < len(curves.rates) - 1:
        return float(curves.rates[i])
    low, mid, high = curves.chi_square[i - 1 : i + 2]
    width = low - 2 * mid + high
    shift = 0.5 * (low - high) / width if width > 0 else 0.0
    return float(curves.rates[i] * (curves.rates[i + 1] / curves.rates[i]) ** shift)


def fit(
    x: Sequence[float],
    y: Sequence[float],
    u: Sequence[float],
    step: float | None = None,
    beside: Sequence[Readings] = (),
) -> Approach | None:
    """The approach that readings y (n,) at x (n,), each with standard uncertainty u (n,), speak for.

    x is dose or time, y any signed measure of the change. The start is a reading like the others, not taken for exact.
    `step` is the next step along x; None: as long as the last. `beside`: x, y, u of other courses with a start of their
    own that share rate and total with this one. Returns None for fewer than three different x, since two say nothing of
    a plateau, or if x is empty.
    """
    together = ((x, y, u), *beside)
    where, values, unsure = (np.concatenate([np.asarray(c[i], dtype=float) for c in together]) for i in range(3))
    course = np.repeat(np.arange(len(together)), [len(c[0]) for c in together])
    places = np.unique(where)
    if len(places) < 3 or not len(x):
        return None
    origin, span = float(places[0]), max(x) - float(places[0])
    step = float(places[-1] - places[-2]) if step is None else step

    def solved(rates: Array) -> _Curves:
        return _solve(rates, where - origin, values, unsure, course)

    whole = float(places[-1] - origin)
    curves = solved(np.geomspace(STRAIGHT / whole, SUDDEN / (places[1] - origin), GRID))
    best = solved(np.array([_vertex(curves)]))
    df = len(where) - 2 - len(together)
    follows = df <= 0 or bool(scipy.special.chdtrc(df, best.chi_square[0]) > MISFIT_P)
    widened = 1.0 if follows else float(best.chi_square[0]) / df
    straight = bool(curves.chi_square[0] <= best.chi_square[0] + THRESHOLD * widened)
    for _ in range(ZOOMS):
        inside = np.flatnonzero(curves.chi_square <= best.chi_square[0] + THRESHOLD * widened)
        low, high = (inside[0], inside[-1]) if len(inside) else (int(np.argmin(curves.chi_square)),) * 2
        curves = solved(np.geomspace(curves.rates[max(low - 1, 0)], curves.rates[min(high + 1, GRID - 1)], GRID))
        best = solved(np.array([_vertex(curves)]))
    least = float(best.chi_square[0])
    limit = least + THRESHOLD * widened
    # How many standard uncertainties start and total may be off at each rate, and which rates are possible at all.
    room = np.sqrt(np.maximum(limit - curves.chi_square, 0))
    possible = curves.chi_square <= limit
    rates = curves.rates[possible]
    known = not straight or float(best.rates[0]) > 2 * STRAIGHT / whole

    def bounded(share: Callable[[Array], Array], *, opens: bool) -> Bounded:
        """Bounds of the total times a share that depends on the rate; `opens`: no bound if the course is straight."""
        half = room * np.sqrt(curves.total_var)
        low, high = ((share(curves.rates) * (curves.total + side * half))[possible] for side in (-1, 1))
        loose = straight and opens
        return Bounded(
            best=float(share(best.rates)[0] * best.total[0]) if known or not opens else None,
            low=None if loose and low[0] < 0 else float(low.min()),
            high=None if loose and high[0] > 0 else float(high.max()),
        )

    along = np.linspace(0, span + step, CURVE_POINTS)
    middle, wide = curves.at(along)
    band = (
        along + origin,
        best.at(along)[0][:, 0],
        (middle - room * wide)[:, possible].min(axis=1),
        (middle + room * wide)[:, possible].max(axis=1),
    )
    return Approach(
        rate=float(best.rates[0]) if known else None,
        total=float(best.total[0]) if known else None,
        now=float(best.at(np.array([span]))[0][0, 0]),
        remaining=bounded(lambda rate: np.exp(-rate * span), opens=True),
        next_step=bounded(lambda rate: np.exp(-rate * span) * -np.expm1(-rate * step), opens=False),
        step=step,
        x_95=Bounded(
            best=LOG_20 / float(best.rates[0]) if known else None,
            low=LOG_20 / float(rates[-1]),
            high=None if straight else LOG_20 / float(rates[0]),
        ),
        chi_square=least,
        df=df,
        follows=follows,
        curve=tuple(Point(*map(float, row)) for row in zip(*band, strict=True)),
    )
