"""Air temperature of a planned session, from a small model fitted to earlier sessions, with its uncertainty.

Theory of operation. One lumped node, the air with walls and trays:

    tau dT/dt = T_room + g P(t) - T        P = sum of share x lamp power over the zones, W

g (K per W) and tau (s) belong to the chamber, T_room to a session. While the levels stand still the answer is exact, so
the air is highest at the end of some stretch. Plates are not modelled: their few minutes cannot be told apart from the
air's own time in readings of the air alone.

The fit is least squares on ln g, ln tau and each session's room and first temperature, with the design values as prior:
a session that never varied its light leaves what it cannot tell at the prior, with the prior's width, instead of
running away. Readings are thinned, and what the model leaves over is correlated in time; so the noise is scaled up by
the residuals' own lag-1 correlation before the second and last pass, or the uncertainty would be far too small.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum, unique
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from ..domain.chamber import Chamber
from ..domain.program import Limits, Program
from ..domain.units import duration_text, temp_text
from ..errors import ProgramError
from .defaults import (
    AIR_RISE_FACTOR,
    AIR_RISE_K,
    AIR_RISE_SPREAD,
    AIR_SENSOR_SD_K,
    AIR_TIME_CONSTANT_S,
    AIR_TIME_FACTOR,
    ROOM_SD_K,
)
from .roots import zero_of
from .spectrum import Array

POINTS_MAX = 300
"""Readings used of one session: more tell nothing new about a time constant of many minutes."""
POINTS_MIN = 10
SPAN_S_MIN = 600.0
"""A session shorter than this, or with fewer readings, is left out of the fit."""
START_SD_K = 0.5
"""How far the first reading may be off the model's air, K."""
ROOM_SD_WIDE_K = 6.0
"""How far the room may be off the first reading, K: a session may start warm, right after another."""
NOISE_K_MIN = 0.05
"""No fit is taken to be better than this, K, or noiseless readings would make it too sure."""
SESSIONS_MAX = 12
"""The newest sessions are enough; more only take time."""
NODES = 9
"""Gauss-Hermite nodes along each of ln g and ln tau."""
WORTH_ADVICE = 0.1
"""From this chance of a pause to cool on, say what to do against it."""


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """What one earlier session measured. Rows without a temperature are left out before."""

    run_s: Array
    """Ascending, s, shape (n,)."""
    air_temp_c: Array
    """Air, C, shape (n,)."""
    levels: Array
    """Share of each zone, 0..1, from this reading until the next, shape (n, zones)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of a session during which no level changes."""

    start_s: float
    end_s: float
    levels: tuple[float, ...]
    """Share of each zone, 0..1."""


@dataclass(frozen=True, slots=True)
class AirModel:
    """How the chamber's air answers its lamps."""

    rise_k_w: float
    """g, K per W of lamp power, settled."""
    time_constant_s: float
    """tau, s."""
    log_covariance: tuple[tuple[float, float], tuple[float, float]]
    """Covariance of ln g and ln tau."""
    misfit_k: float
    """What the model leaves over (standard deviation), K."""
    sessions: int
    """Earlier sessions it was fitted to; 0: design values."""


@unique
class Chance(StrEnum):
    """How likely a limit is reached. The value is the words shown to people."""

    REMOTE = "is very unlikely to be reached"
    UNLIKELY = "is unlikely to be reached"
    POSSIBLE = "may be reached"
    LIKELY = "will probably be reached"
    SURE = "will almost surely be reached"


@dataclass(frozen=True, slots=True)
class Forecast:
    """The warmest air expected, if nothing pauses the session to cool."""

    peak_c: float
    peak_s: float
    """Session time of the peak, s."""
    low_c: float
    high_c: float
    """19 times in 20 the peak lies between low and high, C."""
    chance_soft: float
    """Chance 0..1 that the air reaches the soft limit, so that the session pauses to cool."""
    chance_hard: float
    """Chance 0..1 that it would reach the cutoff, did nothing pause it before."""
    sentences: tuple[str, ...]


def stretches(program: Program, chamber: Chamber) -> tuple[Stretch, ...]:
    """The program as stretches of constant level, from 0 to its last light. Holds are left out: they only cool."""
    lit = [
        (index, e.start_s, e.planned_end_s(zone.irradiance_w_m2), e.level)
        for index, zone in enumerate(chamber.zones)
        for e in program.exposures_of(zone.name)
    ]
    times = sorted({0.0, *(start for _, start, _, _ in lit), *(end for _, _, end, _ in lit)})
    pieces = []
    for start_s, end_s in pairwise(times):
        levels = [0.0] * len(chamber.zones)
        for index, lit_start_s, lit_end_s, level in lit:
            if lit_start_s <= start_s and end_s <= lit_end_s:
                levels[index] = level
        pieces.append(Stretch(start_s, end_s, tuple(levels)))
    return tuple(pieces)


def design_model(lamp_w: Sequence[float]) -> AirModel:
    """The model before any session, from the design values; `lamp_w` is each zone's power at full level, W."""
    total_w = sum(lamp_w)
    if not 0 < total_w < math.inf:
        raise ProgramError(f"The lamps' power is {total_w:g} W in all; give each zone's power above 0 W.")
    spread = (math.log(AIR_RISE_FACTOR.value) ** 2, math.log(AIR_TIME_FACTOR.value) ** 2)
    return AirModel(
        rise_k_w=AIR_RISE_K.value / total_w,
        time_constant_s=AIR_TIME_CONSTANT_S.value,
        log_covariance=((spread[0], 0.0), (0.0, spread[1])),
        misfit_k=AIR_SENSOR_SD_K.value,
        sessions=0,
    )


def fit(series: Sequence[Series], lamp_w: Sequence[float]) -> AirModel:
    """The model fitted to the newest sessions, given oldest first; the design's if none is long enough.

    Raises ProgramError if a series' levels do not fit the zones, or if it has gaps.
    """
    design = design_model(lamp_w)
    for one in series:
        if one.levels.shape != (len(one.run_s), len(lamp_w)) or one.air_temp_c.shape != one.run_s.shape:
            raise ProgramError(
                f"A series of shape {one.levels.shape} does not fit {len(one.run_s)} readings of {len(lamp_w)} zones."
                " Leave out sessions of another chamber."
            )
        whole = np.isfinite(one.air_temp_c).all() and np.isfinite(one.levels).all() and (np.diff(one.run_s) > 0).all()
        if not whole:
            raise ProgramError("A series has gaps or times that do not rise. Leave out readings without a value.")
    usable = [_thin(one, lamp_w) for one in series if _long_enough(one)][-SESSIONS_MAX:]
    if not usable:
        return design
    prior = np.array([math.log(design.rise_k_w), math.log(design.time_constant_s)])
    prior_sd = np.sqrt(np.diag(np.array(design.log_covariance)))
    firsts = np.array([one.air_temp_c[0] for one in usable])
    sessions = len(usable)

    def leftovers(x: Array) -> list[Array]:
        """Model less reading, K, per session. x: ln g, ln tau, rooms, first temperatures."""
        g, tau_s = math.exp(x[0]), math.exp(x[1])
        rooms, starts = x[2 : 2 + sessions], x[2 + sessions :]
        return [
            _air_c(starts[i], rooms[i], g, tau_s, one.dt_s, one.power_w) - one.air_temp_c
            for i, one in enumerate(usable)
        ]

    from scipy.optimize import least_squares  # 27 MB: only where a session was long enough to learn from

    def solve(guess: Array, noise_k: float) -> tuple[Array, Array]:
        def residuals(x: Array) -> Array:
            return np.concatenate(
                [
                    np.concatenate(leftovers(x)) / noise_k,
                    (x[:2] - prior) / prior_sd,
                    (x[2 : 2 + sessions] - firsts) / ROOM_SD_WIDE_K,
                    (x[2 + sessions :] - firsts) / START_SD_K,
                ]
            )

        found = least_squares(residuals, guess, x_scale="jac", max_nfev=60)
        return found.x, np.linalg.inv(found.jac.T @ found.jac)[:2, :2]

    x, _ = solve(np.concatenate([prior, firsts, firsts]), AIR_SENSOR_SD_K.value)
    left = leftovers(x)
    misfit_k = max(_rms(left), NOISE_K_MIN)
    x, covariance = solve(x, misfit_k * math.sqrt(_repeats(left)))
    return AirModel(
        rise_k_w=math.exp(x[0]),
        time_constant_s=math.exp(x[1]),
        log_covariance=(
            (float(covariance[0, 0]), float(covariance[0, 1])),
            (float(covariance[1, 0]), float(covariance[1, 1])),
        ),
        misfit_k=max(_rms(leftovers(x)), NOISE_K_MIN),
        sessions=sessions,
    )


def air_course_c(
    model: AirModel, plan: Sequence[Stretch], lamp_w: Sequence[float], room_c: float, start_c: float | None = None
) -> Array:
    """Air at the start and at the end of each stretch, C, shape (stretches + 1,). `start_c` None: the room's."""
    dt_s, power_w = _steps(plan, lamp_w)
    start = room_c if start_c is None else start_c
    return _air_c(start, room_c, model.rise_k_w, model.time_constant_s, dt_s, power_w)


def forecast(
    model: AirModel,
    plan: Sequence[Stretch],
    lamp_w: Sequence[float],
    limits: Limits,
    room_c: float,
    *,
    room_sd_k: float = ROOM_SD_K.value,
    start_c: float | None = None,
    scale: str = "C",
) -> Forecast:
    """The warmest air expected for a plan in a room of this temperature (C), against the program's limits.

    What is not known of g, tau and between sessions is bell-shaped in their logarithms, so the chances are summed over
    Gauss-Hermite nodes of both; the room's and the model's own error are added as a bell curve. Zones warm no more than
    planned: holds only cool. `start_c` is the air at the beginning, if it is not the room's. `scale` (C or F) is for
    the words.
    """
    start = room_c if start_c is None else start_c
    course_c = air_course_c(model, plan, lamp_w, room_c, start)
    hottest = int(course_c.argmax())
    peak_c, peak_s = float(course_c[hottest]), plan[hottest - 1].end_s if hottest else 0.0
    spread = np.array(model.log_covariance)
    if model.sessions:
        spread[0, 0] += AIR_RISE_SPREAD.value**2
    root = np.linalg.cholesky(spread)
    u, v, share = _nodes()
    dt_s, power_w = _steps(plan, lamp_w)
    factor = np.exp(root @ np.stack([u, v]))
    g, tau_s = model.rise_k_w * factor[0], model.time_constant_s * factor[1]
    peaks_c = _air_c(np.full_like(g, start), room_c, g, tau_s, dt_s, power_w).max(axis=0)
    sd_k = math.hypot(room_sd_k, model.misfit_k)

    def chance_above(limit_c: float) -> float:
        return float(share @ _below((peaks_c - limit_c) / sd_k))

    def exceeded_with(wanted: float) -> float:
        reach_k = 8 * sd_k
        low_c, high_c = float(peaks_c.min()) - reach_k, float(peaks_c.max()) + reach_k
        return zero_of(lambda c: chance_above(c) - wanted, low_c, high_c, xtol=1e-4)

    low_c, high_c = exceeded_with(0.975), exceeded_with(0.025)
    chance_soft, chance_hard = chance_above(limits.air_soft_c), chance_above(limits.air_hard_c)
    basis = {0: "design values that no session has tested yet", 1: "1 earlier session"}
    expected = (
        f"The air is expected to reach {temp_text(peak_c, scale)} after {duration_text(peak_s)} in a room of"
        f" {temp_text(room_c, scale)}. 19 times in 20 its peak lies between {temp_text(low_c, scale)} and"
        f" {temp_text(high_c, scale)}. This rests on {basis.get(model.sessions, f'{model.sessions} earlier sessions')}."
    )
    sentences = [
        expected,
        f"The limit to pause and cool, {temp_text(limits.air_soft_c, scale)}, {chance(chance_soft)}.",
    ]
    if chance_soft >= WORTH_ADVICE:
        sentences.append(
            "Lower the levels, run zones in turn, or wait for a cooler room; pauses to cool make the session longer."
        )
    if chance_hard >= WORTH_ADVICE:
        sentences.append(
            f"Without pauses the cutoff at {temp_text(limits.air_hard_c, scale)} {chance(chance_hard)}:"
            " too much heat for this chamber."
        )
    return Forecast(peak_c, peak_s, low_c, high_c, chance_soft, chance_hard, tuple(sentences))


def chance(share: float) -> Chance:
    """Words for a chance 0..1."""
    for below, word in ((0.01, Chance.REMOTE), (0.1, Chance.UNLIKELY), (0.5, Chance.POSSIBLE), (0.99, Chance.LIKELY)):
        if share < below:
            return word
    return Chance.SURE


@dataclass(frozen=True, slots=True, eq=False)
class _Thin:
    """A session as few readings with the mean power between them."""

    dt_s: Array  # (n - 1,)
    power_w: Array  # (n - 1,)
    air_temp_c: Array  # (n,)


def _long_enough(one: Series) -> bool:
    return len(one.run_s) >= POINTS_MIN and float(one.run_s[-1] - one.run_s[0]) >= SPAN_S_MIN


def _thin(one: Series, lamp_w: Sequence[float]) -> _Thin:
    power_w = one.levels @ np.asarray(lamp_w, dtype=np.float64)
    energy_j = np.concatenate([[0.0], np.cumsum(power_w[:-1] * np.diff(one.run_s))])
    picks = np.unique(np.linspace(0, len(one.run_s) - 1, min(len(one.run_s), POINTS_MAX)).round().astype(int))
    dt_s = np.diff(one.run_s[picks])
    return _Thin(dt_s, np.diff(energy_j[picks]) / dt_s, one.air_temp_c[picks])


def _steps(plan: Sequence[Stretch], lamp_w: Sequence[float]) -> tuple[Array, Array]:
    """Length, s, and power, W, of each stretch, shapes (stretches,)."""
    levels = np.array([one.levels for one in plan], dtype=np.float64).reshape(len(plan), len(lamp_w))
    return np.array([one.end_s - one.start_s for one in plan]), levels @ np.asarray(lamp_w, dtype=np.float64)


def _below(z: Array) -> Array:
    """The normal distribution, by Python itself: SciPy's takes 25 MB, and each open plan asks for it."""
    return np.array([0.5 * math.erfc(-each / math.sqrt(2)) for each in z])


@lru_cache(maxsize=1)
def _nodes() -> tuple[Array, Array, Array]:
    """Gauss-Hermite nodes of two bell curves and their weights, shapes (NODES^2,)."""
    nodes, weights = hermegauss(NODES)
    u, v = np.meshgrid(nodes, nodes)
    share = np.outer(weights, weights) / weights.sum() ** 2
    return u.ravel(), v.ravel(), share.ravel()


def _air_c(
    start_c: float | Array, room_c: float, rise_k_w: float | Array, tau_s: float | Array, dt_s: Array, power_w: Array
) -> Array:
    """Air at the start and after each step, C, shape (n + 1,) or (n + 1, m), for steps of constant power, shapes (n,).

    Start, rise and time constant are numbers, or m of each, shape (m,).
    """
    left = np.exp(-dt_s / tau_s) if np.ndim(tau_s) == 0 else np.exp(-dt_s[:, None] / tau_s)
    settled_c = room_c + (rise_k_w * power_w if np.ndim(rise_k_w) == 0 else power_w[:, None] * rise_k_w)
    air_c = [start_c]
    # Numbers of Python are quicker than NumPy's, one at a time.
    steps = zip(left.tolist(), settled_c.tolist(), strict=True) if left.ndim == 1 else zip(left, settled_c, strict=True)
    for share, end_c in steps:
        air_c.append(end_c + (air_c[-1] - end_c) * share)
    return np.array(air_c)


def _rms(left: Sequence[Array]) -> float:
    return float(np.sqrt(np.mean(np.concatenate(left) ** 2)))


def _repeats(left: Sequence[Array]) -> float:
    """How many readings in a row say the same once, (1 + r)/(1 - r) with r the lag-1 correlation; at least 1."""
    product = sum(float(np.dot(one[1:], one[:-1])) for one in left)
    square = sum(float(np.dot(one, one)) for one in left)
    r = min(max(product / square, 0.0), 0.99) if square > 0 else 0.0
    return (1 + r) / (1 - r)
