"""All that a page shows beside a plan, in one call: numbers, timeline, forecast, cautions and what is wrong.

It is called as one types, so it must be fast. What takes long is done before and handed in: the chamber's air model
(`power.air_model`), fitted to its earlier sessions.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..care.cautions import Caution, Weight, cautions
from ..care.defaults import CONFIRM_PCT
from ..domain.chamber import Chamber, Zone
from ..domain.plan import Plan
from ..domain.sheet import PaperKind, Sheet, Treatment
from ..domain.units import dose_j_cm2, duration_text, mj_m2, temp_text
from ..light.band import band_caution
from ..light.cooling import Cooling, cooling
from ..light.damage import damage_statement
from ..light.defaults import DOSE_CAP_J_CM2, DOSE_CHECK_STEP_J_CM2, DOSE_SOFT_STOP_J_CM2, SHEET_WARN_C, Material
from ..light.dose import dose_cautions
from ..light.evidence import Statement, Status
from ..light.eye import INTERLOCK_CAUTION, Gaze, look_at_led, look_at_paper
from ..light.fading import Fading, Risk, fading
from ..light.forecast import WORTH_ADVICE, AirModel, Forecast, Series, forecast, stretches
from ..light.heating import SheetRise, sheet_rise, sheet_statement
from ..light.leakage import Leakage, leakage
from ..light.photometry import illuminance_lx, lux_caution
from ..light.photons import photon_dose_mol_m2
from ..light.spectrum import Spectrum, of_band
from ..timeline import Habits, Proposal, Timeline, lay_out, propose
from ..trial.compare import Course, light_differences, same_light
from ..trial.controls import REFERENCE_MATERIAL
from ..trial.replicates import SOURCE as PSEUDO_REPLICATION
from .arms import Trial, trial
from .baths import Baths, Wish, baths
from .defaults import ESTIMATE_OFF, LED_AREA_MM2, LED_DISTANCE_M, LED_FLUX_W, ROOM_C
from .notice import Level, Notice, ordered
from .power import Power, air_model, power, powers_w, zone_power_w

STRONG_PEROXIDE = "peroxide-strong"
"""Key of the sentence that a person confirms by name before peroxide of 8 % and more is used or diluted."""


@dataclass(frozen=True, slots=True)
class ZoneReview:
    """What one zone of the chamber gives under the plan."""

    zone: str
    dose_j_cm2: float
    dose_mj_m2: float
    photon_mol_m2: float
    irradiance_w_m2: float
    """Mean while its lamps are on, W/m2; 0: it stays dark."""
    level: float
    """Highest level, share of full drive; 0: it stays dark."""
    lit_s: float
    """Level-weighted lit time, s."""
    on_s: float
    """Time its lamps are on, s."""
    first_s: float | None
    """Session time of its first light, s; None: it stays dark."""
    last_s: float | None
    """Session time of its last light, s."""
    power_w: float
    """Electrical power at its highest level, W."""
    illuminance_lx: float
    """What a lux meter would show at its highest level; see the review's lux caution."""
    stray_j_cm2: float | None
    """Light that leaks in from its neighbours, J/cm2; None: no leak of this chamber was measured."""
    rise: SheetRise
    """Sheet above air at its highest level, K."""
    sheet_c: float
    """Warmest sheet expected, C: the forecast's peak of the air and the likely rise."""
    calibration: str
    """How its irradiance is known, in a sentence."""


@dataclass(frozen=True, slots=True)
class Heat:
    """How warm it gets."""

    forecast: Forecast
    cooling: Cooling
    """Pauses to cool that the likely course needs; the timeline allows for them."""
    model: AirModel
    sheet: Statement | None
    """The sheet under the strongest light, at the forecast's peak; None: no light."""


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
    spread = _leakage(chamber, {zone.name: zone.name for zone in chamber.zones})
    given = program.planned_dose_j_cm2(chamber)
    lights = {zone.name: _light(zone, plan, spectra or {}) for zone in chamber.zones}
    stray = spread.received(given) - given if chamber.leaks else [None] * len(given)
    zones = tuple(
        _zone(zone, plan, lights[zone.name], None if leak is None else float(leak), air_c.peak_c, bank_lit_h)
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
    in_cells = _leakage(chamber, {c.name: c.zone for c in sheet.cells if c.zone in lights}) if sheet else None
    compared = trial(plan, sheet, chamber, in_cells if chamber.leaks else None) if sheet else None
    faded = tuple(fading(ink, lights[brightest.zone], highest) for ink in sheet.inks) if sheet and brightest else ()
    courses = [_course(zone) for zone in lit]
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
        *_misfits(plan, chamber, sheet),
        *_trial_notices(compared, sheet),
        *_power_notices(drawn),
        *_heat_notices(heat, zones, plan, room_c, scale),
        *_timeline_notices(line, proposal),
        *_light_notices(zones, lights, chamber, bank_lit_h),
        *_leak_notices(sheet, spread, in_cells, given),
        *_look_notices(plan, chamber, lit),
        *_ink_notices(faded, sheet),
        *_sheet_notices(plan, chamber, sheet),
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


def _light(zone: Zone, plan: Plan, spectra: Mapping[str, Spectrum]) -> Spectrum:
    """The zone's light at the sheet at its highest level; at full level if it stays dark."""
    level = max((e.level for e in plan.program.exposures_of(zone.name)), default=1.0)
    if zone.name in spectra:
        return spectra[zone.name].with_irradiance(zone.irradiance_w_m2 * level)
    return of_band(zone.peak_nm, zone.irradiance_w_m2 * level, zone.width_nm)


def _leakage(chamber: Chamber, home: Mapping[str, str]) -> Leakage:
    """Leakage into places: a cell gets what leaks into the middle of its zone."""
    share = {(leak.to_zone, leak.from_zone): leak.share for leak in chamber.leaks}
    measured = {(place, zone): value for place, own in home.items() for (to, zone), value in share.items() if to == own}
    return leakage(home, [zone.name for zone in chamber.zones], measured)


def _zone(
    zone: Zone,
    plan: Plan,
    light: Spectrum,
    stray_j_cm2: float | None,
    air_peak_c: float,
    bank_lit_h: Mapping[int, float] | None,
) -> ZoneReview:
    exposures = plan.program.exposures_of(zone.name)
    full = zone.irradiance_w_m2
    lit_s = sum(e.planned_lit_s(full) for e in exposures)
    on_s = sum(e.planned_end_s(full) - e.start_s for e in exposures)
    level = max((e.level for e in exposures), default=0.0)
    dose = dose_j_cm2(full, lit_s)
    rise = sheet_rise(full * level)
    return ZoneReview(
        zone=zone.name,
        dose_j_cm2=dose,
        dose_mj_m2=mj_m2(dose),
        photon_mol_m2=photon_dose_mol_m2(dose, light.mean_nm),
        irradiance_w_m2=full * lit_s / on_s if on_s else 0.0,
        level=level,
        lit_s=lit_s,
        on_s=on_s,
        first_s=min((e.start_s for e in exposures), default=None),
        last_s=max((e.planned_end_s(full) for e in exposures), default=None),
        power_w=zone_power_w(zone) * level,
        illuminance_lx=illuminance_lx(light) if level else 0.0,
        stray_j_cm2=stray_j_cm2,
        rise=rise,
        sheet_c=air_peak_c + rise.likely_k,
        calibration=calibration_text(zone, bank_lit_h),
    )


def _course(zone: ZoneReview) -> Course:
    """A lit zone as if it were an open, dry cell of its own arm."""
    return Course(
        zone.zone, zone.zone, zone.dose_j_cm2, zone.irradiance_w_m2, zone.on_s, zone.first_s, zone.last_s, "", False
    )


def calibration_text(zone: Zone, bank_lit_h: Mapping[int, float] | None = None) -> str:
    """How a zone's irradiance is known, in a sentence."""
    known = zone.calibration
    day = f" on {known.on.isoformat()}" if known.on else ""
    means = f", {known.instrument}" if known.instrument else ""
    age = ""
    if bank_lit_h is not None and zone.bank in bank_lit_h:
        age = f" Its bank has been lit for {max(bank_lit_h[zone.bank] - known.at_lit_h, 0):.0f} h since."
    return f"{zone.irradiance_w_m2:g} W/m² at full level, {known.how}{day}{means}.{age}"


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


def _misfits(plan: Plan, chamber: Chamber, sheet: Sheet | None) -> list[Notice]:
    """What keeps the plan from being run at all."""
    found = [Notice(Level.STOP, "fit", says) for says in plan.fits(sheet)]
    for one in plan.program.zones:
        alone = plan.program.model_copy(update={"zones": (one,)})
        found += [Notice(Level.STOP, "fit", says, zone=one.zone) for says in alone.fits(chamber)]
    if plan.chamber != chamber.id:
        found.append(
            Notice(
                Level.STOP,
                "chamber",
                f"The plan is for the chamber '{plan.chamber}', not for '{chamber.id}'.",
                "Open it there, or copy it to this one.",
            )
        )
    if sheet:
        known = {zone.name for zone in chamber.zones}
        found += [
            Notice(
                Level.STOP,
                "fit",
                f"Cell '{cell.name}' lies under zone '{cell.zone}', which the chamber does not have.",
                "Put it under one of: " + ", ".join(known) + ".",
                cell=cell.name,
            )
            for cell in sheet.cells
            if cell.zone not in known
        ]
    return found


def _trial_notices(compared: Trial | None, sheet: Sheet | None) -> list[Notice]:
    if compared is None or sheet is None:
        return []
    found = [Notice(Level.STOP, "contradiction", says, cell=cell) for cell, says in compared.wrong.items()]
    found += [Notice(Level.STOP, "alike", says, cell=one) for one, _, says in compared.alike]
    if not compared.arms:
        return found
    found += [
        Notice(Level.NOTE if statement is REFERENCE_MATERIAL else Level.WARN, "control", statement.text)
        for statement in compared.missing
    ]
    found += [
        Notice(Level.WARN if statement.source == PSEUDO_REPLICATION else Level.NOTE, "replicates", statement.text)
        for statement in compared.cautions
    ]
    if not compared.control and len(compared.replicates) > 1:
        found.append(
            Notice(
                Level.WARN,
                "control",
                "No cell has the role of a control, so there is nothing to compare the others with.",
                "Give one cell the role 'control'.",
            )
        )
    if compared.shows:
        found.append(Notice(Level.NOTE, "power-of-trial", compared.shows.sentence))
    return found


def _power_notices(drawn: Power) -> list[Notice]:
    found = []
    if drawn.ceiling_w is not None and drawn.peak_w > drawn.ceiling_w + 1e-9:
        found.append(
            Notice(
                Level.STOP,
                "power",
                f"The lamps draw {drawn.peak_w:.1f} W together at {duration_text(drawn.peak_s)}; the chamber allows"
                f" {drawn.ceiling_w:g} W.",
                "Run zones in turn, lower levels, or light fewer at once.",
            )
        )
    if drawn.estimated:
        found.append(
            Notice(
                Level.NOTE,
                "lamp-power",
                f"The lamp power of {', '.join(drawn.estimated)} is worked out from irradiance and area.",
                "Give lamp_w with the chamber for a better forecast.",
            )
        )
    return found


def _heat_notices(heat: Heat, zones: Sequence[ZoneReview], plan: Plan, room_c: float, scale: str) -> list[Notice]:
    found = []
    if heat.forecast.chance_soft >= WORTH_ADVICE:
        found.append(Notice(Level.WARN, "heat", " ".join(heat.forecast.sentences)))
    limits, pauses = plan.program.limits, heat.cooling
    if pauses.for_ever:
        found.append(
            Notice(
                Level.WARN,
                "cooling",
                f"In a room of {temp_text(room_c, scale)} the air would never fall below"
                f" {temp_text(limits.air_soft_c - limits.hysteresis_c, scale)} again: the first pause to cool would not"
                " end.",
                "Cool the room, lower the levels, or raise the limit.",
            )
        )
    elif pauses.pauses:
        cut_off = pauses.per_hour > plan.program.rules.coolings_per_hour_max
        found.append(
            Notice(
                Level.WARN,
                "cooling",
                f"About {pauses.pauses} {'pause' if pauses.pauses == 1 else 'pauses'} to cool are likely,"
                f" {duration_text(round(pauses.pause_s, -1))} in all"
                + (f", up to {pauses.per_hour:.1f} an hour: the session would be cut off." if cut_off else "."),
                "Lower the levels, run zones in turn, or wait for a cooler room.",
            )
        )
    warm = [zone for zone in zones if zone.on_s and zone.sheet_c > SHEET_WARN_C.value]
    if warm and heat.sheet:
        found.append(Notice(Level.WARN, "sheet-warm", heat.sheet.text, zone=max(warm, key=lambda z: z.sheet_c).zone))
    handling_c = plan.program.limits.handling_c
    if handling_c <= room_c and plan.program.checkpoints:
        found.append(
            Notice(
                Level.WARN,
                "handling",
                f"Checkpoints call you once the air is below {temp_text(handling_c, scale)}, but the room has"
                f" {temp_text(room_c, scale)}: it will never get there.",
                "Raise the handling temperature, or cool the room.",
            )
        )
    return found


def _timeline_notices(line: Timeline, proposal: Proposal) -> list[Notice]:
    if not line.disturbed:
        return []
    return [Notice(Level.WARN, "sleep", proposal.sentences[0], " ".join(proposal.sentences[1:]))]


def _light_notices(
    zones: Sequence[ZoneReview],
    lights: Mapping[str, Spectrum],
    chamber: Chamber,
    bank_lit_h: Mapping[int, float] | None,
) -> list[Notice]:
    found = []
    lit = [zone for zone in zones if zone.on_s]
    for zone in lit:
        if caution := band_caution(lights[zone.zone]):
            found.append(Notice(Level.WARN, "band", caution.text, zone=zone.zone))
    used = {zone.zone for zone in lit}
    guessed = [lamp.name for lamp in chamber.zones if lamp.name in used and lamp.calibration.how == "estimated"]
    if guessed:
        found.append(
            Notice(
                Level.WARN,
                "estimated",
                f"The irradiance of {', '.join(guessed)} is estimated, not measured: doses may be off by"
                f" {100 * ESTIMATE_OFF.value:.0f} %.",
                "Measure it at the sheet.",
            )
        )
    for lamp in chamber.zones:
        old_h = (bank_lit_h or {}).get(lamp.bank, 0.0) - lamp.calibration.at_lit_h
        if lamp.calibration.how == "measured" and old_h > chamber.remeasure_after_h:
            found.append(
                Notice(
                    Level.WARN,
                    "old-calibration",
                    f"Zone '{lamp.name}' was measured {old_h:.0f} lit hours ago; LEDs fade.",
                    f"Measure again after {chamber.remeasure_after_h:.0f} h.",
                    zone=lamp.name,
                )
            )
    return found


def _leak_notices(
    sheet: Sheet | None, spread: Leakage, in_cells: Leakage | None, given: Sequence[float]
) -> list[Notice]:
    """Stray light by cell, where cells are laid out; else by lit zone. Nothing leaks under a cover."""
    found = []
    if sheet and in_cells and sheet.cells:
        covered = {cell.name for cell in sheet.cells if cell.treatment.covered}
        stray = in_cells.stray(given)
        found += [Notice(Level.WARN, "leak", says, cell=cell) for cell, says in stray.items() if cell not in covered]
    else:
        lit = {zone for zone, dose in zip(spread.zones, given, strict=True) if dose}
        found += [
            Notice(Level.WARN, "leak", says, zone=zone) for zone, says in spread.stray(given).items() if zone in lit
        ]
    if any(given) and (says := spread.unmeasured_text):
        found.append(Notice(Level.NOTE, "leak", says))
    return found


def _look_notices(plan: Plan, chamber: Chamber, lit: Sequence[ZoneReview]) -> list[Notice]:
    """Whether people look often enough."""
    looks = [c.at_s for c in plan.program.checkpoints]
    if not lit:
        return []
    found = []
    if not looks or looks[0] > 0:
        found.append(
            Notice(
                Level.WARN,
                "baseline",
                "There is no checkpoint at the beginning: without a baseline no change can be measured.",
                "Add a checkpoint at 0.",
            )
        )
    last_s = max(zone.last_s or 0.0 for zone in lit)
    if looks and looks[-1] < last_s - 1:
        found.append(
            Notice(
                Level.WARN,
                "last-look",
                f"Nobody looks after the last light at {duration_text(last_s)}.",
                "Add a checkpoint there, or later.",
            )
        )
    step = DOSE_CHECK_STEP_J_CM2.value
    worst, between = 0.0, (0.0, 0.0)
    for zone in chamber.zones:
        exposures = plan.program.exposures_of(zone.name)
        for begin, end in zip([0.0, *looks], [*looks, last_s], strict=True):
            lit_s = sum(
                max(min(e.planned_end_s(zone.irradiance_w_m2), end) - max(e.start_s, begin), 0.0) * e.level
                for e in exposures
            )
            if (dose := dose_j_cm2(zone.irradiance_w_m2, lit_s)) > worst:
                worst, between = dose, (begin, end)
    if worst > 2 * step:
        found.append(
            Notice(
                Level.NOTE,
                "looks",
                f"{worst:.0f} J/cm² fall between {duration_text(between[0])} and {duration_text(between[1])} without a"
                f" look; {step:.0f} J/cm² between looks are a good step.",
                "Add a checkpoint between.",
            )
        )
    return found


def _ink_notices(faded: Sequence[Fading], sheet: Sheet | None) -> list[Notice]:
    if sheet is None:
        return []
    watched = {cell.ink for cell in sheet.cells if cell.role == "ink watch"}
    return [
        Notice(Level.NOTE if one.ink in watched else Level.WARN, "ink", one.statement.text)
        for one in faded
        if one.risk is not Risk.LOW
    ]


def _sheet_notices(plan: Plan, chamber: Chamber, sheet: Sheet | None) -> list[Notice]:
    lit = [zone.name for zone in chamber.zones if plan.program.exposures_of(zone.name)]
    if sheet is None:
        return [
            Notice(
                Level.NOTE,
                "sheet",
                "No sheet is described: cautions for its paper and inks are not shown, and nothing is compared.",
                "Describe it on the page Sheets.",
            )
        ]
    if not sheet.cells:
        return [Notice(Level.WARN, "cells", "The sheet has no cells, so nothing is compared.", "Lay them out.")]
    under = {cell.zone for cell in sheet.cells}
    return [
        Notice(Level.NOTE, "no-cell", f"Zone '{name}' is lit, but no cell lies under it.", zone=name)
        for name in lit
        if name not in under
    ]
