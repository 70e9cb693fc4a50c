"""Exposures for target doses: together, ending together, or in turn; and tests of reciprocity.

Doses are given as doses, not as times, so that the board's counter ends each exposure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum, unique

from ..domain.chamber import Chamber, Zone
from ..domain.program import SESSION_S_MAX, Exposure, ZonePlan
from ..domain.units import duration_text, lit_s_for_dose
from ..errors import ProgramError
from .defaults import LOWER_LEVEL, TURN_GAP_S

LEVEL_MIN = 0.001
"""The board's smallest step."""


@unique
class Scheme(StrEnum):
    """When the zones are lit. The value is its name for people."""

    START_TOGETHER = "start together"
    """All see the same first hours; those with less dose wait in the dark."""
    END_TOGETHER = "end together"
    """All are equally fresh at the last photo."""
    IN_TURN = "in turn"
    """As many at a time as the power allows, the longest first."""


@dataclass(frozen=True, slots=True)
class Target:
    """What one zone is to get."""

    zone: str
    dose_j_cm2: float
    """0: the zone stays dark."""
    irradiance_w_m2: float | None = None
    """None: full level. Given, the level is set so that zones of unequal strength get the same."""


@dataclass(frozen=True, slots=True)
class _Run:
    """One exposure before it has its place in time."""

    zone: str
    dose_j_cm2: float
    level: float
    lasts_s: float
    power_w: float


def geometric_doses(lowest_j_cm2: float, highest_j_cm2: float, steps: int) -> tuple[float, ...]:
    """Doses of a ladder, each the same factor above the last, to three digits. Example: 30, 240, 4: 30 60 120 240.

    Raises ProgramError unless 0 < lowest < highest and steps >= 2.
    """
    if not (0 < lowest_j_cm2 < highest_j_cm2 and steps >= 2):
        raise ProgramError(
            f"A ladder from {lowest_j_cm2:g} to {highest_j_cm2:g} J/cm² in {steps} steps: give two steps or more,"
            " and a highest dose above the lowest."
        )
    factor = (highest_j_cm2 / lowest_j_cm2) ** (1 / (steps - 1))
    return tuple(float(f"{lowest_j_cm2 * factor**step:.3g}") for step in range(steps))


def reciprocity(zones: Sequence[str], dose_j_cm2: float, irradiance_w_m2: float) -> tuple[Target, ...]:
    """Equal dose at two levels: every second zone gets this irradiance, the others half of it for twice as long.

    Raises ProgramError for fewer than two zones.
    """
    if len(zones) < 2:
        raise ProgramError("A test of reciprocity needs two zones or more: one at each level.")
    lower = irradiance_w_m2 * LOWER_LEVEL.value
    return tuple(
        Target(zone, dose_j_cm2, irradiance_w_m2 if index % 2 == 0 else lower) for index, zone in enumerate(zones)
    )


def zone_plans(
    chamber: Chamber,
    targets: Sequence[Target],
    scheme: Scheme,
    *,
    lamp_w: Mapping[str, float] | None = None,
    power_w_max: float | None = None,
) -> tuple[ZonePlan, ...]:
    """The exposures that give each zone its target, in the order of the targets.

    `lamp_w` is each zone's electrical power at full level, W; with `power_w_max` the sum of what is lit at once stays
    at or below that. Starts are whole seconds. Raises ProgramError for zones, doses, levels and powers that do not fit.
    """
    if power_w_max is not None and lamp_w is None:
        raise ProgramError("A power ceiling needs the power of each zone at full level, W.")
    if scheme is Scheme.IN_TURN and power_w_max is None:
        raise ProgramError("To run in turn, give the highest power that may be lit at once, W.")
    runs = [_run(_zone(chamber, target.zone), target, lamp_w) for target in targets]
    names = [run.zone for run in runs]
    for name in names:
        if names.count(name) > 1:
            raise ProgramError(f"Zone '{name}' has two targets. Give it one dose.")
    lit = [run for run in runs if run.dose_j_cm2 > 0]
    if not lit:
        raise ProgramError("No zone gets any light. Give at least one a dose above 0.")
    if scheme is Scheme.IN_TURN:
        starts = _in_turn(lit, power_w_max or 0.0)
    else:
        total_w = sum(run.power_w for run in lit)
        if power_w_max is not None and not total_w <= power_w_max:
            raise ProgramError(
                f"All zones together draw {total_w:.0f} W, more than {power_w_max:.0f} W. Run them in turn,"
                " lower the levels, or light fewer zones."
            )
        longest_s = max(run.lasts_s for run in lit)
        together = scheme is Scheme.START_TOGETHER
        starts = {run.zone: 0.0 if together else round(longest_s - run.lasts_s) for run in lit}
    for run in lit:
        end_s = starts[run.zone] + run.lasts_s
        if end_s > SESSION_S_MAX:
            raise ProgramError(
                f"Zone '{run.zone}' would be lit until {duration_text(end_s)}; programs end within"
                f" {duration_text(SESSION_S_MAX)}. Ask for less dose, more irradiance, or more zones at once."
            )
    return tuple(
        ZonePlan(
            zone=run.zone,
            exposures=(Exposure(start=starts[run.zone], dose_j_cm2=run.dose_j_cm2, level=run.level),)
            if run.zone in starts
            else (),
        )
        for run in runs
    )


def _zone(chamber: Chamber, name: str) -> Zone:
    for zone in chamber.zones:
        if zone.name == name:
            return zone
    raise ProgramError(f"The chamber has no zone '{name}'; its zones are {', '.join(z.name for z in chamber.zones)}.")


def _run(zone: Zone, target: Target, lamp_w: Mapping[str, float] | None) -> _Run:
    if not 0 <= target.dose_j_cm2 <= 100_000:
        raise ProgramError(f"Zone '{zone.name}': a dose of {target.dose_j_cm2:g} J/cm² is outside 0 to 100,000.")
    level = 1.0
    if target.irradiance_w_m2 is not None:
        level = round(target.irradiance_w_m2 / zone.irradiance_w_m2, 3)
        if not LEVEL_MIN <= level <= 1:
            raise ProgramError(
                f"Zone '{zone.name}' gives up to {zone.irradiance_w_m2:g} W/m², not {target.irradiance_w_m2:g}."
                f" Ask for {zone.irradiance_w_m2 * LEVEL_MIN:g} to {zone.irradiance_w_m2:g} W/m²."
            )
    power_w = 0.0
    if lamp_w is not None and target.dose_j_cm2 > 0:
        if not lamp_w.get(zone.name, 0.0) > 0:
            raise ProgramError(f"The power of zone '{zone.name}' is not given. Give it in W at full level.")
        power_w = lamp_w[zone.name] * level
    lasts_s = lit_s_for_dose(target.dose_j_cm2, zone.irradiance_w_m2) / level
    return _Run(zone.name, target.dose_j_cm2, level, lasts_s, power_w)


def _in_turn(lit: Sequence[_Run], power_w_max: float) -> dict[str, float]:
    """Starts, s: the longest first, each as early as the power allows. Not the shortest plan there is, but near it."""
    placed: list[tuple[float, float, float]] = []  # start, end with its gap, power
    starts = {}
    for run in sorted(lit, key=lambda run: -run.lasts_s):
        if not run.power_w <= power_w_max:
            raise ProgramError(
                f"Zone '{run.zone}' alone draws {run.power_w:.1f} W, more than {power_w_max:.1f} W. Lower its level."
            )
        lasts_s = run.lasts_s + TURN_GAP_S.value
        for start_s in sorted({0.0, *(float(round(end_s + 0.5)) for _, end_s, _ in placed)}):
            end_s = start_s + lasts_s
            moments = [start_s, *(s for s, _, _ in placed if start_s < s < end_s)]
            drawn_w = max(sum(w for s, e, w in placed if s <= moment < e) for moment in moments)
            if drawn_w + run.power_w <= power_w_max + 1e-9:
                starts[run.zone] = start_s
                placed.append((start_s, end_s, run.power_w))
                break
    return starts
