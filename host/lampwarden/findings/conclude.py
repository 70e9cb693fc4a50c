"""One call from readings and doses to conclusions: numbers for tables and charts, sentences for page and record."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..domain.chamber import Chamber
from ..domain.finding import HandFinding
from ..domain.plan import Plan
from ..domain.reading import Reading, Way
from ..domain.sheet import Cell, Sheet
from ..errors import ProgramError
from ..light.evidence import Statement
from . import hand as by_hand
from .advice import Advice, Kind, cell_advice, sheet_advice
from .change import Change, Series, in_order, series
from .course import Course, course
from .defaults import TRACE_J_CM2, Settings
from .limits import limits
from .reversion import Reversion, reversions
from .sentences import cell_sentence, comparison_sentences, other_way_sentences, reversion_sentences
from .treatments import Arm, Comparison, Unit, arms_of, compare, control_of
from .watch import Drift, InkWatch, drift, ink_watch, is_real


@dataclass(frozen=True, slots=True)
class CellFindings:
    """All that was found of one cell."""

    cell: str
    arm: str
    """Empty for an ink watch."""
    series: Series
    end: Change
    """Its change at the end of the session, or at the newest reading if none was taken in a session."""
    changed: bool
    """That change is more than noise and drift."""
    course: Course | None
    """None: no light, or too few readings."""
    advice: Advice | None
    """None: the cell gets no light, or is no test cell."""
    reversions: tuple[Reversion, ...]
    hand: tuple[HandFinding, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Conclusions:
    """What the readings of one sheet say, by one way of reading."""

    sheet: str
    way: Way | None
    """How the colours were taken; None: nothing was read."""
    newest: str
    """Id of the newest reading; empty: none."""
    advice: Advice
    cells: tuple[CellFindings, ...]
    drift: Drift | None
    inks: tuple[InkWatch, ...]
    arms: tuple[Arm, ...]
    units: tuple[Unit, ...]
    """What was compared; units of several sheets can be compared together."""
    comparison: Comparison | None
    hand: tuple[str, ...]
    """Hand findings in words."""
    sentences: tuple[str, ...]
    """The conclusions in words, the gravest first, the hand findings last."""
    limits: tuple[Statement, ...]
    """What this trial cannot show, and why."""


def conclude(
    sheet: Sheet,
    plan: Plan | None,
    readings: Sequence[Reading],
    doses: Mapping[str, Mapping[str, float]],
    hand: Sequence[HandFinding] = (),
    *,
    chamber: Chamber | None = None,
    way: Way | None = None,
    settings: Settings | None = None,
) -> Conclusions:
    """The conclusions from a sheet's readings.

    `doses` gives the dose of each cell by the time of each reading, J/cm2, by reading id, then by cell: what the
    session's record says arrived. `plan` names arms; with `chamber` it tells the irradiance. `way` chooses among the
    readings; None: the way with most of them. Raises UnknownName for a hand finding on a cell or an aspect that there
    is not, and ProgramError for a time, dose or value that cannot be.
    """
    settings = settings or Settings()
    told = by_hand.in_words(sheet, hand, settings.aspects)
    arrived = _arrived(sheet, doses)
    ways: dict[Way, list[Reading]] = {}
    for reading in in_order(readings, sheet.id):
        ways.setdefault(reading.way, []).append(reading)
    chosen = way or max(ways, key=lambda each: len(ways[each]), default=None)
    used = ways.get(chosen, []) if chosen else []
    courses, unread = _all_series(sheet, used, arrived)
    if not courses:
        said = Advice(Kind.UNCLEAR, (), "No cell was read both before and after, so there is nothing to compare.")
        newest = used[-1].id if used else ""
        lacking = limits(sheet, used, unread, (), None)
        return Conclusions(
            sheet.id, chosen, newest, said, (), None, (), (), (), None, told, (said.reason, *told), lacking
        )

    by_id = {reading.id: reading for reading in used}
    roles = {cell.name: cell for cell in sheet.cells}
    tests = [name for name in courses if roles[name].role == "test"]
    watched = [name for name in courses if roles[name].role == "ink watch"]
    ends = {name: _end(of, by_id) for name, of in courses.items()}
    swatch_names = dict.fromkeys(swatch.cell for reading in used for swatch in reading.swatches)
    kept = [of for name in swatch_names if (of := series(name, used, {}, swatch=True)) and of.changes]
    controls = [ends[name] for name in courses if roles[name].role == "control"]
    check = _drift(kept, controls, by_id, settings)
    inks = tuple(
        ink_watch(
            roles[name],
            ends[name],
            settings.ink_limit_de00,
            _each(settings.false_claim, len(watched)),
            check.floor_de00,
        )
        for name in watched
    )
    arms = arms_of(
        [roles[name] for name in courses],
        {name: end.dose_j_cm2 or 0.0 for name, end in ends.items() if courses[name].lit},
        plan.arms if plan else {},
        _irradiance(sheet, plan, chamber),
    )
    arm_of = {name: arm.name for arm in arms for name in arm.cells}
    chance = _each(settings.false_claim, len(tests))

    def findings(name: str) -> CellFindings:
        of = courses[name]
        alike = [courses[other] for other in tests if other != name and _alike(roles[other], roles[name])]
        way_to_plateau = None if name in watched else course(of, settings.next_step_j_cm2, alike)
        changed = is_real(ends[name], chance, check.floor_de00)
        advised = of.lit and name in tests
        advice = cell_advice(of, way_to_plateau, settings, chance, check) if advised else None
        return CellFindings(
            cell=name,
            arm=arm_of.get(name, ""),
            series=of,
            end=ends[name],
            changed=changed,
            course=way_to_plateau,
            advice=advice,
            reversions=reversions(of, by_id, settings.follow_up, chance),
            hand=tuple(finding for finding in hand if finding.cell == name),
            sentence=cell_sentence(ends[name], arm_of.get(name, ""), changed),
        )

    cells = tuple(findings(name) for name in courses)
    units = _units(arms, roles, ends, sheet)
    control = control_of(arms, sheet.cells)
    comparison = (
        compare(units, arms, control.name if control else None, settings.equal_de00, settings.false_claim)
        if len(arms) > 1
        else None
    )
    advice = sheet_advice([cell.advice for cell in cells if cell.advice], inks)
    others = {
        each: {name: _end(of, {r.id: r for r in some}) for name, of in _all_series(sheet, some, arrived)[0].items()}
        for each, some in ways.items()
        if each is not chosen
    }
    return Conclusions(
        sheet=sheet.id,
        way=chosen,
        newest=used[-1].id,
        advice=advice,
        cells=cells,
        drift=check,
        inks=inks,
        arms=arms,
        units=units,
        comparison=comparison,
        hand=told,
        sentences=(
            f"Advice: {advice.kind}. {advice.reason}",
            check.sentence,
            *(ink.sentence for ink in inks if advice.kind is not Kind.FADING or not ink.fading),
            *(cell.sentence for cell in cells if cell.cell not in watched),
            *(comparison_sentences(comparison, arms) if comparison else ()),
            *reversion_sentences([cell.reversions for cell in cells if cell.cell not in watched]),
            *other_way_sentences(ends, others),
            *told,
        ),
        limits=limits(sheet, used, unread, arms, comparison),
    )


def _each(chance: float, number: int) -> float:
    """Chance for each of so many claims that leaves this chance for all together (Šidák)."""
    return -math.expm1(math.log1p(-chance) / max(number, 1))


def _arrived(sheet: Sheet, doses: Mapping[str, Mapping[str, float]]) -> dict[str, dict[str, float]]:
    """The doses, 0 under a cover. Raises ProgramError for one that cannot be."""
    for reading, by_cell in doses.items():
        for name, dose in by_cell.items():
            if not (math.isfinite(dose) and dose >= 0):
                raise ProgramError(f"Cell '{name}' has a dose of {dose} J/cm² at reading '{reading}'. Correct it.")
    covered = {cell.name for cell in sheet.cells if cell.treatment.covered}
    return {
        reading: {name: 0.0 if name in covered else dose for name, dose in by_cell.items()}
        for reading, by_cell in doses.items()
    }


def _all_series(
    sheet: Sheet, used: Sequence[Reading], arrived: Mapping[str, Mapping[str, float]]
) -> tuple[dict[str, Series], tuple[str, ...]]:
    """The series of every cell read before its light and after, and the names of the others."""
    found = {
        cell.name: series(
            cell.name,
            used,
            arrived,
            lit=cell.treatment.light,
            bathed=bool(cell.treatment.chemical or cell.treatment.wet_min),
        )
        for cell in sheet.cells
    }
    good = {
        name: of
        for name, of in found.items()
        if of and of.changes and arrived.get(of.baseline, {}).get(name, 0.0) <= TRACE_J_CM2.value
    }
    return good, tuple(name for name in found if name not in good)


def _alike(one: Cell, other: Cell) -> bool:
    return one.treatment == other.treatment and one.treatment.light


def _end(of: Series, readings: Mapping[str, Reading]) -> Change:
    inside = [change for change in of.changes if readings[change.reading].session_s is not None]
    return (inside or of.changes)[-1]


def _drift(
    swatches: Sequence[Series], controls: Sequence[Change], readings: Mapping[str, Reading], settings: Settings
) -> Drift:
    ends = [_end(of, readings) for of in swatches]
    earlier = [change for of, end in zip(swatches, ends, strict=True) for change in of.changes[: of.changes.index(end)]]
    return drift(ends, controls, _each(settings.false_claim, len(ends) + len(controls) + len(earlier)), earlier)


def _irradiance(sheet: Sheet, plan: Plan | None, chamber: Chamber | None) -> dict[str, float]:
    """Mean irradiance while lit of each lit cell, W/m2, as planned; empty without plan or chamber."""
    if plan is None or chamber is None:
        return {}
    mean = {}
    for zone in chamber.zones:
        exposures = plan.program.exposures_of(zone.name)
        lasts_s = sum(e.planned_end_s(zone.irradiance_w_m2) - e.start_s for e in exposures)
        if lasts_s:
            lit_s = sum(e.planned_lit_s(zone.irradiance_w_m2) for e in exposures)
            mean[zone.name] = zone.irradiance_w_m2 * lit_s / lasts_s
    return {cell.name: mean[cell.zone] for cell in sheet.cells if cell.treatment.light and cell.zone in mean}


def _units(
    arms: Sequence[Arm], cells: Mapping[str, Cell], ends: Mapping[str, Change], sheet: Sheet
) -> tuple[Unit, ...]:
    """Cells of one arm under one zone are one unit: their mean."""
    units = []
    for arm in arms:
        for zone in dict.fromkeys(cells[name].zone for name in arm.cells):
            members = [name for name in arm.cells if cells[name].zone == zone]
            gains = [ends[name].gain for name in members]
            units.append(
                Unit(
                    arm.name,
                    f"{sheet.id}, block {cells[members[0]].block}",
                    float(np.mean([gain.value for gain in gains])),
                    math.hypot(*(gain.u for gain in gains)) / len(gains),
                )
            )
    return tuple(units)
