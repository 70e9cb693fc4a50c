"""What is wrong with a plan or worth a thought, as notices: one function for each thing that is looked at."""

from collections.abc import Mapping, Sequence

from ..domain.chamber import Chamber
from ..domain.plan import Plan
from ..domain.sheet import Sheet
from ..domain.units import dose_j_cm2, duration_text, temp_text
from ..light.band import band_caution
from ..light.defaults import DOSE_CHECK_STEP_J_CM2, SHEET_WARN_C
from ..light.fading import Fading, Risk
from ..light.forecast import WORTH_ADVICE
from ..light.leakage import Leakage
from ..light.spectrum import Spectrum
from ..timeline import Proposal, Timeline
from ..trial.controls import REFERENCE_MATERIAL
from ..trial.replicates import SOURCE as PSEUDO_REPLICATION
from .arms import Trial
from .defaults import ESTIMATE_OFF
from .notice import Level, Notice
from .power import Power
from .zones import Heat, ZoneReview


def misfits(plan: Plan, chamber: Chamber, sheet: Sheet | None) -> list[Notice]:
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


def of_trial(compared: Trial | None, sheet: Sheet | None) -> list[Notice]:
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


def of_power(drawn: Power) -> list[Notice]:
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


def of_heat(heat: Heat, zones: Sequence[ZoneReview], plan: Plan, room_c: float, scale: str) -> list[Notice]:
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


def of_timeline(line: Timeline, proposal: Proposal) -> list[Notice]:
    if not line.disturbed:
        return []
    return [Notice(Level.WARN, "sleep", proposal.sentences[0], " ".join(proposal.sentences[1:]))]


def of_light(
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


def of_leaks(sheet: Sheet | None, spread: Leakage, in_cells: Leakage | None, given: Sequence[float]) -> list[Notice]:
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


def of_looks(plan: Plan, chamber: Chamber, lit: Sequence[ZoneReview]) -> list[Notice]:
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


def of_inks(faded: Sequence[Fading], sheet: Sheet | None) -> list[Notice]:
    if sheet is None:
        return []
    watched = {cell.ink for cell in sheet.cells if cell.role == "ink watch"}
    return [
        Notice(Level.NOTE if one.ink in watched else Level.WARN, "ink", one.statement.text)
        for one in faded
        if one.risk is not Risk.LOW
    ]


def of_sheet(plan: Plan, chamber: Chamber, sheet: Sheet | None) -> list[Notice]:
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
