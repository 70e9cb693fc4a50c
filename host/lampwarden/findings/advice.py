"""Advice to a person, with its reason. It is data: nothing in the program acts on it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum, unique

import scipy

from .change import Series
from .course import Course, lit_changes
from .defaults import Settings
from .watch import Drift, InkWatch, is_real
from .words import amount, bounds, dose, listed, size


@unique
class Kind(StrEnum):
    """The value is its name for people."""

    FADING = "an ink is fading"
    DARKER = "getting darker"
    GO_ON = "go on"
    ENOUGH = "nothing more to gain"
    UNCLEAR = "cannot tell"


@dataclass(frozen=True, slots=True)
class Advice:
    """What the readings speak for."""

    kind: Kind
    cells: tuple[str, ...]
    """Whom it is about."""
    reason: str
    """Why, in sentences with the numbers."""


def cell_advice(of: Series, found: Course | None, settings: Settings, chance: float, check: Drift) -> Advice:
    """What more light would do for one lit cell. `chance`: see watch.is_real."""
    name, lit, floor = of.cell, lit_changes(of), check.floor_de00

    def say(kind: Kind, reason: str) -> Advice:
        return Advice(kind, (name,), reason)

    if not lit:
        return say(Kind.UNCLEAR, f"{name} has no reading after light with a known dose.")
    now = lit[-1]
    had = f"after {dose(now.dose_j_cm2 or 0.0)}"
    real, sure = is_real(now, chance, floor), _sigmas(chance)
    if real and now.gain.value < -sure * now.gain.u:
        return say(Kind.DARKER, f"{name} is darker or yellower than before, by {size(now.gain)} ΔE00 {had}.")
    best = max(lit, key=lambda change: change.gain.value)
    back = now.de00_per_blue * (best.level.value - now.level.value)
    u_back = now.de00_per_blue * math.hypot(best.level.u, now.level.u)
    if back > max(_sigmas(chance / len(lit)) * u_back, now.limit_de00, floor):
        return say(
            Kind.DARKER,
            f"{name} was whiter after {dose(best.dose_j_cm2 or 0.0)}: it has lost {back:.1f} ΔE00 since, {had}, while"
            " light went on.",
        )
    if not real:
        return say(
            Kind.UNCLEAR,
            f"No change of {name} is found {had}: {now.de00.value:.1f} ΔE00, at most {now.de00.high:.1f}, with a"
            f" detection limit of {now.limit_de00:.1f}{_at_most(found)}.",
        )
    if now.gain.value < sure * now.gain.u:
        return say(
            Kind.UNCLEAR,
            f"{name} has changed by {amount(now.de00)} ΔE00 {had}, but not towards white: only"
            f" {amount(now.gain)} of it. Look at its hue.",
        )
    if {change.reading for change in lit} & set(check.photos):
        return say(
            Kind.UNCLEAR,
            f"{name} seems whiter by {amount(now.gain)} ΔE00 {had}, but paper without light looks changed in some of"
            " the photos too. Make their light and place the same, and photograph again.",
        )
    gained = f"{name} is whiter by {amount(now.gain)} ΔE00 {had}"
    if found is None:
        return say(Kind.UNCLEAR, f"{gained}. Whether more is to come needs readings at two doses or more.")
    if not found.follows:
        gained += " (the readings do not follow a plain approach, so bounds are wide)"
    if found.beside:
        gained += f" (judged with {listed(found.beside)}, treated alike)"
    rest, step = bounds(found.remaining), f"{dose(found.step_j_cm2)} more would bring {bounds(found.next_step)}"
    limit = f"{settings.plateau_de00:g} ΔE00"
    if found.remaining.under(settings.plateau_de00):
        return say(Kind.ENOUGH, f"{gained}, and has reached its plateau: still to come {rest}, less than {limit}.")
    # Half the limit for certain and the whole limit by the best estimate. On 100 simulated sheets more than half would
    # stay without advice if the whole were asked for certain; if any gain were enough, 9 would go on for hardly any.
    least, expected = found.remaining.low, found.remaining.best
    still = least is not None and least > settings.plateau_de00 / 2
    if still and (expected is None or expected > settings.plateau_de00):
        return say(Kind.GO_ON, f"{gained}, and it still gains: still to come {rest} ΔE00; {step}.")
    return say(Kind.UNCLEAR, f"{gained}. Whether {limit} more is to come is not determined: {rest}; {step}.")


def sheet_advice(cells: Sequence[Advice], inks: Sequence[InkWatch]) -> Advice:
    """The gravest of what was found, for the sheet as a whole."""
    fading = [ink for ink in inks if ink.fading]
    if fading:
        paper = f" The paper: {listed([f'{a.cells[0]} {a.kind}' for a in cells])}." if cells else ""
        reason = " ".join(ink.sentence for ink in fading) + paper
        return Advice(Kind.FADING, tuple(ink.cell for ink in fading), reason)
    for kind in (Kind.DARKER, Kind.GO_ON, Kind.UNCLEAR, Kind.ENOUGH):
        those = [advice for advice in cells if advice.kind is kind]
        if those:
            names = tuple(name for advice in those for name in advice.cells)
            others = [a for a in cells if a.kind is not kind]
            more = f" The others: {listed([f'{a.cells[0]} {a.kind}' for a in others])}." if others else ""
            return Advice(kind, names, " ".join(advice.reason for advice in those) + more)
    return Advice(Kind.UNCLEAR, (), "No cell that gets light was read twice, so nothing can be said.")


def _at_most(found: Course | None) -> str:
    if found is None or found.next_step.high is None:
        return ""
    return f"; {dose(found.step_j_cm2)} more would bring {max(found.next_step.high, 0.0):.1f} ΔE00 at most"


def _sigmas(chance: float) -> float:
    """How many standard uncertainties noise passes upwards with that chance."""
    return -float(scipy.special.ndtri(chance))
