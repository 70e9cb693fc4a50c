"""Treatments compared at the end: each against the control, which are equally good, and what goes together.

The unit is what was treated by itself: cells of one arm under one zone are averaged first (trial.replicates). With
replicates the scatter between them is the yardstick, by least squares on arms and blocks: Dunnett's intervals against
the control (1955), two one-sided tests for equivalence. With one unit per arm there is no such scatter, and with hardly
more it is not known. Then only the uncertainty of measuring is, and what is said holds for these very cells.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import scipy
from numpy.typing import NDArray

from ..domain.sheet import Cell
from ..errors import ProgramError
from ..trial.defaults import ALIKE_SHARE, ALPHA, ONE_LEVEL_SHARE
from ..trial.power import critical_value
from .defaults import EQUAL_DE00, FALSE_CLAIM, TRACE_J_CM2

Array = NDArray[np.float64]

DF_LEAST = 3
"""With fewer degrees of freedom the scatter of replicates is too badly known to be a yardstick."""


@dataclass(frozen=True, slots=True)
class Arm:
    """A treatment as it was given."""

    name: str
    cells: tuple[str, ...]
    light: bool
    bath: str
    """Chemical with strength, or water; empty: dry."""
    control: bool
    dose_j_cm2: float
    irradiance_w_m2: float | None
    """Mean irradiance while lit, W/m²; None: not known or dark."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One independently treated piece and what it gained. Units of several sheets or runs may be compared together."""

    arm: str
    block: str
    """Units that are alike but for their treatment, such as those of one sheet, share a block."""
    gain_de00: float
    u_de00: float
    """Standard uncertainty of measuring it."""


@dataclass(frozen=True, slots=True)
class Contrast:
    """A difference between arms in gain, ΔE00; positive: the first is whiter."""

    one: str
    other: str
    difference: float
    low: float
    high: float
    found: bool
    """It is not zero, at the level of the comparison."""
    equal: bool
    """It lies within the margin: two one-sided tests at 5 % each."""


@dataclass(frozen=True, slots=True)
class Interaction:
    """What light and a bath do together beyond the sum of what each does alone, ΔE00."""

    bath: str
    arms: tuple[str, str, str, str]
    """Both, light alone, bath alone, neither."""
    value: float
    low: float
    high: float
    found: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that the units of a trial say about its arms."""

    control: str | None
    replicated: bool
    """True: the scatter of replicates is the yardstick. False: only the uncertainty of measuring is."""
    blocked: bool
    """Blocks took their part of the scatter out."""
    scatter_de00: float | None
    """Standard deviation between replicates; None without replicates."""
    df: int | None
    """Its degrees of freedom."""
    level: float
    """Of the intervals against the control, all together: 0.95 with replicates, else stricter, see FALSE_CLAIM."""
    margin_de00: float
    means: Mapping[str, float]
    units: Mapping[str, int]
    """Independent units of each arm."""
    against_control: tuple[Contrast, ...]
    pairs: tuple[Contrast, ...]
    """Treatments against each other: 90 % intervals, as the test of equivalence takes them."""
    interactions: tuple[Interaction, ...]
    reciprocity: tuple[Contrast, ...]
    """Arms that differ in irradiance alone, at the same dose."""


def arms_of(
    cells: Sequence[Cell],
    doses: Mapping[str, float],
    named: Mapping[str, str],
    irradiance_w_m2: Mapping[str, float],
) -> tuple[Arm, ...]:
    """The arms among cells: as a person named them, else by treatment, dose and irradiance. Ink watches are none.

    `doses` in J/cm² and `irradiance_w_m2` by cell, of lit cells; a dose not given is 0.
    """
    groups: list[list[Cell]] = []
    for cell in sorted(
        (c for c in cells if c.role != "ink watch"),
        key=lambda c: (doses.get(c.name, 0.0), irradiance_w_m2.get(c.name, 0.0)),
    ):
        for group in groups:
            if _same_arm(group[0], cell, doses, named, irradiance_w_m2):
                group.append(cell)
                break
        else:
            groups.append([cell])
    arms = [_arm(group, named, doses, irradiance_w_m2) for group in groups]
    # A name that several arms share says more, until it tells them apart.
    for more in (_dosed, _wetted, _placed):
        names = [arm.name for arm in arms]
        arms = [
            replace(arm, name=arm.name + more(arm, group[0])) if names.count(arm.name) > 1 else arm
            for arm, group in zip(arms, groups, strict=True)
        ]
    return tuple(arms)


def _near(one: float, other: float, trace: float, share: float) -> bool:
    return abs(one - other) <= max(trace, share * max(abs(one), abs(other)))


def _same_arm(
    one: Cell, other: Cell, doses: Mapping[str, float], named: Mapping[str, str], irradiance: Mapping[str, float]
) -> bool:
    if one.name in named or other.name in named:
        return named.get(one.name) == named.get(other.name)
    strong, weak = (irradiance.get(cell.name, 0.0) for cell in (one, other))
    return (
        one.treatment == other.treatment
        and _near(doses.get(one.name, 0.0), doses.get(other.name, 0.0), TRACE_J_CM2.value, ALIKE_SHARE.value)
        and _near(strong, weak, 0.0, ONE_LEVEL_SHARE.value)
    )


def _dosed(arm: Arm, _: Cell) -> str:
    level = "" if arm.irradiance_w_m2 is None else f" at {arm.irradiance_w_m2:.0f} W/m²"
    return f", {arm.dose_j_cm2:.0f} J/cm²{level}" if arm.light else ""


def _wetted(_: Arm, cell: Cell) -> str:
    return f", wet {cell.treatment.wet_min:g} min" if cell.treatment.wet_min else ""


def _placed(arm: Arm, _: Cell) -> str:
    return f" ({', '.join(arm.cells)})"


def _arm(
    group: Sequence[Cell], named: Mapping[str, str], doses: Mapping[str, float], irradiance: Mapping[str, float]
) -> Arm:
    first = group[0].treatment
    known = [irradiance[cell.name] for cell in group if cell.name in irradiance] if first.light else []
    return Arm(
        name=named.get(group[0].name) or first.label,
        cells=tuple(cell.name for cell in group),
        light=first.light,
        bath=f"{first.chemical} {first.strength_pct:g} %" if first.chemical else "water" if first.wet_min else "",
        control=any(cell.role == "control" for cell in group),
        dose_j_cm2=float(np.mean([doses.get(cell.name, 0.0) for cell in group])),
        irradiance_w_m2=float(np.mean(known)) if known else None,
    )


def control_of(arms: Sequence[Arm], cells: Sequence[Cell]) -> Arm | None:
    """The arm that the others are compared with: marked as control, or covered, or untreated, in this order."""
    treated = {cell.name: cell.treatment for cell in cells}
    plain = [arm for arm in arms if not arm.light and not arm.bath]
    ranked = [
        *(arm for arm in plain if arm.control and treated[arm.cells[0]].covered),
        *(arm for arm in arms if arm.control),
        *(arm for arm in plain if treated[arm.cells[0]].covered),
        *plain,
    ]
    return ranked[0] if ranked else None


class _Estimates:
    """Means of the arms with their covariance, by least squares on arms and blocks."""

    def __init__(self, units: Sequence[Unit]) -> None:
        self.arms = list(dict.fromkeys(unit.arm for unit in units))
        blocks = list(dict.fromkeys(unit.block for unit in units))
        self.n = {arm: sum(unit.arm == arm for unit in units) for arm in self.arms}
        gain = np.array([unit.gain_de00 for unit in units])
        one_hot = np.array([[float(unit.arm == arm) for arm in self.arms] for unit in units])
        # Blocks as deviations from their mean, so that the arms' own columns stay their means over equal blocks.
        strips = np.array([[(unit.block == b) - (unit.block == blocks[-1]) for b in blocks[:-1]] for unit in units])
        both = np.hstack([one_hot, strips.reshape(len(units), -1)])
        self.blocked = len(blocks) > 1 and len(units) > both.shape[1] == int(np.linalg.matrix_rank(both))
        design = both if self.blocked else one_hot
        self.df = len(units) - design.shape[1]
        spread = np.linalg.inv(design.T @ design)
        found = spread @ design.T @ gain
        self.scatter: float | None = None
        if self.df >= DF_LEAST:
            off = gain - design @ found
            self.scatter = math.sqrt(float(off @ off) / self.df)
            covariance = spread * self.scatter**2
        else:
            weight = spread @ design.T
            covariance = weight @ np.diag([unit.u_de00**2 for unit in units]) @ weight.T
        k = len(self.arms)
        self.means, self.covariance = found[:k], covariance[:k, :k]

    def contrast(self, weights: Mapping[str, float]) -> tuple[float, float]:
        """A weighted sum of arms and its standard error."""
        w = np.array([weights.get(arm, 0.0) for arm in self.arms])
        return float(w @ self.means), math.sqrt(float(w @ self.covariance @ w))

    def quantile(self, chance: float) -> float:
        """One-sided quantile of Student's t, or of the normal without replicates."""
        return float(-scipy.special.ndtri(chance) if self.scatter is None else -scipy.special.stdtrit(self.df, chance))


def compare(
    units: Sequence[Unit],
    arms: Sequence[Arm],
    control: str | None,
    margin_de00: float = EQUAL_DE00.value,
    false_claim: float = FALSE_CLAIM.value,
) -> Comparison:
    """Compares the arms' gains. Units of several sheets: put each sheet in a block of its own.

    With replicates Dunnett's intervals hold together at 95 %. Without, at 1 - `false_claim`, from the uncertainty of
    measuring. Raises ProgramError if a unit's arm is not among `arms`.
    """
    strays = {unit.arm for unit in units} - {arm.name for arm in arms}
    if strays:
        raise ProgramError(f"There is no arm '{min(strays)}'. Name each arm that a unit belongs to.")
    fit = _Estimates(units)
    replicated = fit.scatter is not None
    alpha = ALPHA.value if replicated else false_claim
    present = [arm for arm in arms if arm.name in fit.n]
    against = control if control in fit.n else None
    treated = [arm for arm in present if arm.name != against]
    alone = fit.quantile(0.05)

    def contrast(one: str, other: str, half: float, critical: float) -> Contrast:
        value, error = fit.contrast({one: 1.0, other: -1.0})
        inside = abs(value) + alone * error < margin_de00
        return Contrast(
            one, other, value, value - half * error, value + half * error, abs(value) > critical * error, inside
        )

    effects: tuple[Contrast, ...] = ()
    if against is not None and treated:
        if replicated:
            critical = critical_value([fit.n[arm.name] for arm in treated], fit.n[against], fit.df, alpha)
        else:
            critical = fit.quantile((1 - (1 - alpha) ** (1 / len(treated))) / 2)
        effects = tuple(contrast(arm.name, against, critical, critical) for arm in treated)
    couples = list(combinations([arm.name for arm in treated], 2))
    strict = fit.quantile(alpha / 2 / max(len(couples), 1))
    paired = {couple: contrast(*couple, alone, strict) for couple in couples}
    return Comparison(
        control=against,
        replicated=replicated,
        blocked=fit.blocked,
        scatter_de00=fit.scatter,
        df=fit.df if replicated else None,
        level=1 - alpha,
        margin_de00=margin_de00,
        means={arm: float(mean) for arm, mean in zip(fit.arms, fit.means, strict=True)},
        units=fit.n,
        against_control=effects,
        pairs=tuple(paired.values()),
        interactions=_interactions(fit, present, against, alpha),
        reciprocity=tuple(paired[a.name, b.name] for a, b in combinations(treated, 2) if _same_dose_other_level(a, b)),
    )


def _same_dose_other_level(one: Arm, other: Arm) -> bool:
    if one.irradiance_w_m2 is None or other.irradiance_w_m2 is None or one.bath != other.bath:
        return False
    return _near(one.dose_j_cm2, other.dose_j_cm2, TRACE_J_CM2.value, ALIKE_SHARE.value) and not _near(
        one.irradiance_w_m2, other.irradiance_w_m2, 0.0, ONE_LEVEL_SHARE.value
    )


def pairwise_alike(arms: Sequence[Arm]) -> tuple[tuple[Arm, Arm], ...]:
    """Pairs of treatments that differ in one thing: neighbouring doses of one bath, or baths at about the same dose."""
    treated = [arm for arm in arms if arm.light or arm.bath]

    def one_thing(one: Arm, other: Arm) -> bool:
        if one.light != other.light:
            return False
        if one.bath != other.bath:
            return _near(one.dose_j_cm2, other.dose_j_cm2, TRACE_J_CM2.value, ALIKE_SHARE.value)
        between = [a for a in treated if a.bath == one.bath and one.dose_j_cm2 < a.dose_j_cm2 < other.dose_j_cm2]
        return not between

    ordered = sorted(treated, key=lambda arm: arm.dose_j_cm2)
    return tuple(pair for pair in combinations(ordered, 2) if one_thing(*pair))


def _interactions(fit: _Estimates, arms: Sequence[Arm], neither: str | None, alpha: float) -> tuple[Interaction, ...]:
    """Every 2 x 2 of light and a bath: with both, light alone at about the same dose, the bath alone in the dark."""
    if neither is None:
        return ()
    squares = [
        (both, light, bath)
        for both in arms
        if both.light and both.bath
        for light in arms
        if light.light and not light.bath
        and _near(both.dose_j_cm2, light.dose_j_cm2, TRACE_J_CM2.value, ALIKE_SHARE.value)
        for bath in arms
        if bath.bath == both.bath and not bath.light
    ]  # fmt: skip
    critical = fit.quantile(alpha / 2 / max(len(squares), 1))
    found = []
    for both, light, bath in squares:
        value, error = fit.contrast({both.name: 1.0, light.name: -1.0, bath.name: -1.0, neither: 1.0})
        found.append(
            Interaction(
                both.bath,
                (both.name, light.name, bath.name, neither),
                value,
                value - critical * error,
                value + critical * error,
                abs(value) > critical * error,
            )
        )
    return tuple(found)
