"""Ready patterns to start a plan from: a program, and a sheet with its cells laid on the zones."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..care.defaults import WET_MIN_MAX, WORKING_PCT_MAX
from ..domain.chamber import Chamber
from ..domain.program import Checkpoint, Exposure, Program, ZonePlan
from ..domain.sheet import Cell, Sheet, Treatment
from ..domain.units import duration_text, lit_s_for_dose
from ..errors import ProgramError
from ..light.dose import check_doses_j_cm2
from ..trial.ladder import Scheme, Target, geometric_doses, reciprocity, zone_plans
from .defaults import (
    HIGHEST_J_CM2,
    LOOKS_APART_S,
    LOWEST_J_CM2,
    SINGLE_J_CM2,
)
from .place import changed, on_zones
from .power import lamp_powers_w

PEROXIDE = "hydrogen peroxide"
COVERED = Treatment(covered=True)
LIGHT = Treatment(light=True)
MARGIN_MM = 20.0
"""What a new sheet reaches beyond the chamber's zones, mm."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What a pattern makes."""

    program: Program
    sheet: Sheet
    """The given sheet with new cells, or a new one of the chamber's size that is still to be described."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One entry of a page's list."""

    key: str
    title: str
    says: str
    """What it is good for."""
    make: Callable[[Chamber, Sheet | None], Draft]
    """Raises ProgramError if the chamber or the sheet is too small for it."""


def single_exposure(
    chamber: Chamber, sheet: Sheet | None = None, zone: str | None = None, dose_j_cm2: float = SINGLE_J_CM2.value
) -> Draft:
    """One zone gets a dose, another stays covered; checkpoints where the dose steps of light/dose.py are reached.

    `zone` None: the first. A chamber of one zone has no covered control.
    """
    names = [one.name for one in chamber.zones]
    lit = names[0] if zone is None else zone
    irradiance = chamber.zones[_index(chamber, lit)].irradiance_w_m2
    control = next((name for name in reversed(names) if name != lit), None)
    looks_s = [lit_s_for_dose(dose, irradiance) for dose in check_doses_j_cm2(dose_j_cm2)]
    program = Program(
        title="Single exposure",
        zones=(ZonePlan(zone=lit, exposures=(Exposure(start=0, dose_j_cm2=dose_j_cm2),)),)
        + ((ZonePlan(zone=control),) if control else ()),
        checkpoints=_looks(looks_s),
    )
    given = {lit: LIGHT} | ({control: COVERED} if control else {})
    return Draft(program, _cells(chamber, sheet, given))


def ladder(
    chamber: Chamber,
    sheet: Sheet | None = None,
    zones: Sequence[str] | None = None,
    lowest_j_cm2: float = LOWEST_J_CM2.value,
    highest_j_cm2: float = HIGHEST_J_CM2.value,
    scheme: Scheme = Scheme.START_TOGETHER,
) -> Draft:
    """Rising doses over some zones, each the same factor above the last, and a covered control in the last other zone.

    `zones` None: all but the last. Runs in turn if the chamber's power does not allow all at once.
    """
    names = [one.name for one in chamber.zones]
    lit = names[:-1] if zones is None else list(zones)
    doses = geometric_doses(lowest_j_cm2, highest_j_cm2, len(lit))
    targets = [Target(zone, dose) for zone, dose in zip(lit, doses, strict=True)]
    return _of_targets(chamber, sheet, targets, scheme, "Ladder of doses")


def two_levels(
    chamber: Chamber,
    sheet: Sheet | None = None,
    zones: Sequence[str] | None = None,
    dose_j_cm2: float = SINGLE_J_CM2.value,
) -> Draft:
    """The same dose at full strength and at half of it for twice as long: does only the dose count?

    `zones` None: all but the last, an even number of them. The strength is what the weakest of them can give.
    """
    names = [one.name for one in chamber.zones]
    lit = names[: (len(names) - 1) // 2 * 2 or len(names)] if zones is None else list(zones)
    weakest = min(chamber.zones[_index(chamber, name)].irradiance_w_m2 for name in lit)
    targets = reciprocity(lit, dose_j_cm2, weakest)
    return _of_targets(chamber, sheet, targets, Scheme.END_TOGETHER, "One dose at two levels")


def light_by_chemical(
    chamber: Chamber,
    sheet: Sheet | None = None,
    hours: Sequence[float] = (2, 4, 8),
    strength_pct: float = WORKING_PCT_MAX.value,
    wet_min: float = WET_MIN_MAX.value,
    rest_until_h: float = 24,
) -> Draft:
    """Light for some hours; peroxide with the longest light, and without any; a covered control.

    With six zones and the defaults: 2, 4, 8 h of light, 3 % peroxide with 8 h and without light, covered; checkpoints
    at 0, 1, 2, 4, 8, 16 h (that one without a person) and 24 h. Fewer zones drop the shortest times, more zones repeat
    the longest. Raises ProgramError below four zones.
    """
    names = [zone.name for zone in chamber.zones]
    if len(names) < 4:
        raise ProgramError(
            "This pattern needs four zones: light, light with peroxide, peroxide, covered."
            f" The chamber has {len(names)}."
        )
    lit_zones = len(names) - 3
    times = sorted(hours)[-lit_zones:]
    times += [times[-1]] * (lit_zones - len(times))
    dark = Treatment(chemical=PEROXIDE, strength_pct=strength_pct, wet_min=wet_min)
    both = dark.model_copy(update={"light": True})
    given = dict.fromkeys(names[:-3], LIGHT) | {names[-3]: both, names[-2]: dark, names[-1]: COVERED}
    last_h = times[-1]
    lit_h = dict(zip(names[:-3], times, strict=True)) | {names[-3]: last_h}
    looks_h = sorted({h for h in (1, *hours) if h <= last_h} | ({last_h * 2} if last_h * 2 < rest_until_h else set()))
    looks = [
        Checkpoint(
            name="baseline",
            at=0,
            look_at=f"The whole sheet through the mask, before any light. Cover {names[-1]} afterwards and leave it"
            " covered.",
        ),
        *(Checkpoint(name=duration_text(h * 3600), at=h * 3600, attended=h <= last_h) for h in looks_h),
    ]
    if rest_until_h > last_h:
        looks.append(
            Checkpoint(
                name=duration_text(rest_until_h * 3600),
                at=rest_until_h * 3600,
                look_at="The whole sheet through the mask, then each cell close up. Look for yellowing that came back.",
            )
        )
    program = Program(
        title="Light and peroxide",
        zones=tuple(
            ZonePlan(zone=name, exposures=(Exposure(start=0, end=lit_h[name] * 3600),) if name in lit_h else ())
            for name in names
        ),
        checkpoints=tuple(looks),
    )
    return Draft(program, _cells(chamber, sheet, given))


PATTERNS = (
    Pattern(
        "single",
        "Single exposure",
        "One zone, one dose, one covered control. The first thing to try with a sheet.",
        single_exposure,
    ),
    Pattern(
        "ladder",
        "Ladder of doses",
        "Rising doses side by side: where does a step more no longer gain anything?",
        ladder,
    ),
    Pattern(
        "two-levels",
        "One dose at two levels",
        "Strong light for a short time beside weak light for a long time: does only the dose count?",
        two_levels,
    ),
    Pattern(
        "light-by-chemical",
        "Light × chemical trial",
        "Light for 2, 4, 8 h, peroxide with and without light, and a covered control, over a day.",
        light_by_chemical,
    ),
)
"""For a page's list. `make` is called with the chamber, and the sheet if there is one."""


def _of_targets(chamber: Chamber, sheet: Sheet | None, targets: Sequence[Target], scheme: Scheme, title: str) -> Draft:
    powers = lamp_powers_w(chamber)
    ceiling_w = chamber.power_w_max or sum(powers.values())
    lit = [target.zone for target in targets]
    full_w = sum(powers[name] for name in lit if name in powers)
    if full_w > ceiling_w:
        scheme = Scheme.IN_TURN
    plans = zone_plans(chamber, targets, scheme, lamp_w=powers, power_w_max=ceiling_w)
    control = next((zone.name for zone in reversed(chamber.zones) if zone.name not in lit), None)
    by_name = {zone.name: zone for zone in chamber.zones}
    ends = [e.planned_end_s(by_name[plan.zone].irradiance_w_m2) for plan in plans for e in plan.exposures]
    program = Program(
        title=title, zones=plans + ((ZonePlan(zone=control),) if control else ()), checkpoints=_looks(ends)
    )
    given = dict.fromkeys(lit, LIGHT) | ({control: COVERED} if control else {})
    return Draft(program, _cells(chamber, sheet, given))


def _looks(moments_s: Sequence[float]) -> tuple[Checkpoint, ...]:
    """A baseline and a checkpoint at each of these moments, on the minute after; of two too close the later."""
    kept: list[float] = []
    for at_s in sorted({60.0 * math.ceil(at_s / 60) for at_s in moments_s}):
        if kept and at_s - kept[-1] < LOOKS_APART_S.value:
            kept[-1] = at_s
        else:
            kept.append(at_s)
    return (
        Checkpoint(name="baseline", at=0, look_at="The whole sheet through the mask, before any light."),
        *(Checkpoint(name=duration_text(at_s), at=at_s) for at_s in kept),
    )


def _cells(chamber: Chamber, sheet: Sheet | None, given: dict[str, Treatment]) -> Sheet:
    laid = on_zones(chamber, sheet or new_sheet(chamber), list(given))
    cells = [
        Cell.model_validate(
            {
                **{name: getattr(cell, name) for name in Cell.model_fields},
                "treatment": given[cell.zone],
                "role": "control" if given[cell.zone].covered else "test",
            }
        )
        for cell in laid.cells
    ]
    return changed(laid, cells=tuple(cells))


def new_sheet(chamber: Chamber) -> Sheet:
    """A sheet nobody has described yet, a little larger than the chamber's zones."""
    places = [zone.place for zone in chamber.zones if zone.place]
    if len(places) < len(chamber.zones):
        return Sheet(id="new-sheet", title="New sheet")
    width = max(p.x_mm + p.width_mm for p in places) - min(p.x_mm for p in places)
    height = max(p.y_mm + p.height_mm for p in places) - min(p.y_mm for p in places)
    return Sheet(id="new-sheet", title="New sheet", width_mm=width + 2 * MARGIN_MM, height_mm=height + 2 * MARGIN_MM)


def _index(chamber: Chamber, zone: str) -> int:
    try:
        return chamber.zone_index(zone)
    except KeyError:
        known = ", ".join(one.name for one in chamber.zones)
        raise ProgramError(f"The chamber has no zone '{zone}'; its zones are {known}.") from None
