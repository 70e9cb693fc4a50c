"""All that a page shows beside a plan, in one call: numbers, timeline, forecast, cautions and what is wrong.

It is called as one types, so it must be fast. What takes long is done before and handed in: the chamber's air model
(`power.air_model`), fitted to its earlier sessions.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..care.cautions import Caution, Weight, cautions
from ..care.defaults import CONFIRM_PCT
from ..domain.chamber import Chamber
from ..domain.plan import Plan
from ..domain.sheet import PaperKind, Sheet, Treatment
from ..light.cooling import cooling
from ..light.damage import damage_statement
from ..light.defaults import DOSE_CAP_J_CM2, DOSE_SOFT_STOP_J_CM2, Material
from ..light.dose import dose_cautions
from ..light.evidence import Statement, Status
from ..light.eye import INTERLOCK_CAUTION, Gaze, look_at_led, look_at_paper
from ..light.fading import Fading, fading
from ..light.forecast import AirModel, Series, forecast, stretches
from ..light.heating import sheet_statement
from ..light.photometry import lux_caution
from ..light.spectrum import Spectrum
from ..timeline import Habits, Proposal, Timeline, lay_out, propose
from ..trial.compare import light_differences, same_light
from . import checks
from .arms import Trial, trial
from .baths import Baths, Wish, baths
from .defaults import LED_AREA_MM2, LED_DISTANCE_M, LED_FLUX_W, ROOM_C
from .notice import Level, Notice, ordered
from .power import Power, air_model, power, powers_w
from .zones import Heat, ZoneReview, course_of, leakage_into, light_of, zone_review

STRONG_PEROXIDE = "peroxide-strong"
"""Key of the sentence that a person confirms by name before peroxide of 8 % and more is used or diluted."""


@dataclass(frozen=True, slots=True)
class Review:
    """All that a page shows beside a plan."""

    zones: tuple[ZoneReview, ...]
    """In the chamber's order, dark ones too."""
    timeline: Timeline
    proposal: Proposal
    """Better start, or moved checkpoints; empty if nothing disturbs a sleeper."""
    power: Power
    heat: Heat
    lux: Statement | None
    """Why not to plan by lux, with the strongest zone's numbers; None: no light."""
    eye: tuple[Gaze, ...]
    """Lit white paper, and an example of a bare LED."""
    interlock: Statement
    fading: tuple[Fading, ...]
    """One to an ink of the sheet."""
    damage: tuple[Statement, ...]
    """Damage per joule of each light used, for the sheet's kind of paper."""
    dose: tuple[Statement, ...]
    """What to know about the highest dose."""
    between_zones: tuple[str, ...]
    """What differs between the lit zones and what does not; empty with fewer than two."""
    same_zones: tuple[tuple[str, ...], ...]
    """Lit zones that give the same dose at the same strength: no difference between them can be an effect of light."""
    trial: Trial | None
    """The comparison; None: no sheet."""
    peroxide: Baths
    cautions: tuple[Caution, ...]
    """By weight; those that a person must confirm come first. Not repeated in `warnings`."""
    warnings: tuple[Notice, ...]
    """What is wrong or worth a thought, the weightiest first."""

    @property
    def confirm(self) -> tuple[Caution, ...]:
        """The cautions that a person must confirm before a start, each by its key."""
        return tuple(caution for caution in self.cautions if caution.weight is Weight.CONFIRM)

    @property
    def may_start(self) -> bool:
        """No notice stops it. Cautions may still wait for confirmation."""
        return not any(notice.level is Level.STOP for notice in self.warnings)


def review(
    plan: Plan,
    chamber: Chamber,
    sheet: Sheet | None,
    start: datetime,
    air: AirModel | Sequence[Series] = (),
    room_c: float = ROOM_C.value,
    *,
    wish: Wish | None = None,
    bank_lit_h: Mapping[int, float] | None = None,
    spectra: Mapping[str, Spectrum] | None = None,
    cooling_share: float | None = None,
    scale: str = "C",
) -> Review:
    """Everything about a plan that can be worked out before it runs.

    `start` is aware, in the person's own zone. `air` is the fitted model, or earlier sessions to fit it to (slow).
    `wish` is what baths are made from; None: what the plan says. `bank_lit_h` are the banks' lit hours by now; without
    them no calibration is called old. `spectra` are measured ones by zone, else each zone is a Gaussian band.
    `cooling_share` are pauses to cool as a share of lit time, from a rehearsal; None: from the forecast. `scale` is C
    or F, for words.
    """
    program = plan.program
    model = air if isinstance(air, AirModel) else air_model(chamber, air)
    pieces = stretches(program, chamber)
    drawn = power(chamber, pieces)
    full_w = powers_w(chamber)
    air_c = forecast(model, pieces, full_w, program.limits, room_c, scale=scale)
    pauses = cooling(model, pieces, full_w, program.limits, room_c)
    spread = leakage_into(chamber, {zone.name: zone.name for zone in chamber.zones})
    given = program.planned_dose_j_cm2(chamber)
    lights = {zone.name: light_of(zone, plan, spectra or {}) for zone in chamber.zones}
    stray = spread.received(given) - given if chamber.leaks else [None] * len(given)
    zones = tuple(
        zone_review(zone, plan, lights[zone.name], None if leak is None else float(leak), air_c.peak_c, bank_lit_h)
        for zone, leak in zip(chamber.zones, stray, strict=True)
    )
    lit = [zone for zone in zones if zone.on_s]
    brightest = max(lit, key=lambda zone: zone.irradiance_w_m2, default=None)
    highest = max((zone.dose_j_cm2 for zone in zones), default=0.0)
    if cooling_share is None:
        lit_s = sum(piece.end_s - piece.start_s for piece in pieces if any(piece.levels))
        cooling_share = pauses.pause_s / lit_s if lit_s and not pauses.for_ever else 0.0
    habits = Habits(plan.sleep_from, plan.sleep_to, plan.photo_s, cooling_share)
    line = lay_out(program, chamber, start, habits)
    proposal = propose(program, chamber, start, habits)
    in_cells = leakage_into(chamber, {c.name: c.zone for c in sheet.cells if c.zone in lights}) if sheet else None
    compared = trial(plan, sheet, chamber, in_cells if chamber.leaks else None) if sheet else None
    faded = tuple(fading(ink, lights[brightest.zone], highest) for ink in sheet.inks) if sheet and brightest else ()
    courses = [course_of(zone) for zone in lit]
    bath = baths(sheet.cells if sheet else (), wish or Wish.of(plan))
    look = lights[brightest.zone] if brightest else None
    doses = dose_cautions(highest) if lit else ()
    heat = Heat(
        air_c,
        pauses,
        model,
        sheet_statement(look.irradiance_w_m2, air_c.peak_c, scale) if look else None,
    )
    warnings = [
        *checks.misfits(plan, chamber, sheet),
        *checks.of_trial(compared, sheet),
        *checks.of_power(drawn),
        *checks.of_heat(heat, zones, plan, room_c, scale),
        *checks.of_timeline(line, proposal),
        *checks.of_light(zones, lights, chamber, bank_lit_h),
        *checks.of_leaks(sheet, spread, in_cells, given),
        *checks.of_looks(plan, chamber, lit),
        *checks.of_inks(faded, sheet),
        *checks.of_sheet(plan, chamber, sheet),
    ]
    return Review(
        zones=zones,
        timeline=line,
        proposal=proposal,
        power=drawn,
        heat=heat,
        lux=lux_caution(look) if look else None,
        eye=_eye(look) if look else (),
        interlock=INTERLOCK_CAUTION,
        fading=faded,
        damage=_damage(sheet, lit, lights),
        dose=doses,
        between_zones=tuple(light_differences(courses)) if len(courses) > 1 else (),
        same_zones=same_light(courses),
        trial=compared,
        peroxide=bath,
        cautions=all_cautions(plan, chamber, sheet, wish),
        warnings=ordered(warnings),
    )


def all_cautions(plan: Plan, chamber: Chamber, sheet: Sheet | None, wish: Wish | None = None) -> tuple[Caution, ...]:
    """Cautions of sheet, treatment, dose and peroxide, by weight. The keys of those to confirm are kept in records.

    Without a sheet only those of light and dose: nothing is known of the paper.
    """
    program = plan.program
    lit = [zone for zone in chamber.zones if program.exposures_of(zone.name)]
    highest = max(program.planned_dose_j_cm2(chamber), default=0.0)
    found: list[Caution] = []
    if sheet:
        treatments = [cell.treatment for cell in sheet.cells] + ([Treatment(light=True)] if lit else [])
        found += cautions(sheet, treatments, min((zone.peak_nm for zone in lit), default=435.0))
        if sentence := baths(sheet.cells, wish or Wish.of(plan)).confirm:
            found.append(
                Caution(STRONG_PEROXIDE, Weight.CONFIRM, Statement(sentence, CONFIRM_PCT.source, Status.PUBLISHED))
            )
    elif lit:
        found.append(Caution("eyes-light", Weight.CONFIRM, INTERLOCK_CAUTION))
    if highest > DOSE_SOFT_STOP_J_CM2.value:
        beyond = highest > DOSE_CAP_J_CM2.value
        key, weight = ("dose-cap", Weight.CONFIRM) if beyond else ("dose-stop", Weight.CAUTION)
        found.append(Caution(key, weight, dose_cautions(highest)[0]))
    return tuple(sorted(found, key=lambda caution: -caution.weight))


def _eye(light: Spectrum) -> tuple[Gaze, ...]:
    return (
        look_at_paper(light),
        look_at_led(LED_FLUX_W.value, LED_AREA_MM2.value, light, LED_DISTANCE_M.value),
    )


_MATERIAL = {
    PaperKind.RAG: Material.RAG_PAPER,
    PaperKind.CHEMICAL: Material.LOW_GRADE_PAPER,
    PaperKind.GROUNDWOOD: Material.LOW_GRADE_PAPER,
    PaperKind.COATED: Material.LOW_GRADE_PAPER,
    PaperKind.UNKNOWN: Material.LOW_GRADE_PAPER,
}
"""Material whose slope stands for each paper. Only rag has one of its own; for the rest the steepest is taken."""


def _damage(sheet: Sheet | None, lit: Sequence[ZoneReview], lights: Mapping[str, Spectrum]) -> tuple[Statement, ...]:
    material = _MATERIAL[sheet.paper] if sheet else Material.LOW_GRADE_PAPER
    by_peak = {lights[zone.zone].peak_nm: lights[zone.zone] for zone in lit}
    return tuple(damage_statement(light, material) for light in by_peak.values())
