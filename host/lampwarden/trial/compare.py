"""What differs between the places of a plan and what does not, and a refusal of plans that compare like with like."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ..domain.chamber import Chamber
from ..domain.program import ZonePlan
from ..domain.sheet import Cell
from ..domain.units import dose_j_cm2, duration_text
from ..errors import ProgramError
from ..light.leakage import Leakage
from .defaults import ALIKE_SHARE, ONE_LEVEL_SHARE

TRACE_S = 60.0
"""Times closer than this count as the same, s."""
TRACE_J_CM2 = 0.5
"""Doses closer than this count as the same, J/cm2."""


@dataclass(frozen=True, slots=True)
class Course:
    """What one cell goes through."""

    cell: str
    arm: str
    """Name of what it is meant to show; replicates share it."""
    dose_j_cm2: float
    """Dose at the cell, J/cm2: its zone's, and stray light if the leakage is known; 0 under a cover."""
    irradiance_w_m2: float
    """Mean irradiance while its zone is lit, W/m2; 0 if it gets no light."""
    lit_s: float
    """Time its zone's lamps are on for it, s."""
    start_s: float | None
    end_s: float | None
    """Session time of first and last light, s; None: no light."""
    bath: str
    """Chemical with strength and time; empty: dry."""
    covered: bool


def courses(
    chamber: Chamber,
    plans: Sequence[ZonePlan],
    cells: Sequence[Cell],
    arms: Mapping[str, str],
    leakage: Leakage | None = None,
) -> tuple[Course, ...]:
    """The course of every cell that has an arm. `arms` maps a cell's name to its arm; `leakage` has cells as places.

    Raises ProgramError for unknown cells and zones, and where a cell's treatment contradicts the light of its zone.
    """
    zones = {zone.name: zone for zone in chamber.zones}
    lit = {plan.zone: plan.exposures for plan in plans}
    unknown = set(arms) - {cell.name for cell in cells}
    if unknown:
        raise ProgramError(f"There is no cell '{min(unknown)}'. Correct the name.")
    arrived: dict[str, float] = {}
    if leakage:
        given = [
            dose_j_cm2(zone.irradiance_w_m2, sum(e.planned_lit_s(zone.irradiance_w_m2) for e in lit.get(zone.name, ())))
            for zone in chamber.zones
        ]
        arrived = dict(zip(leakage.places, leakage.received(given).tolist(), strict=True))
    compared = [cell for cell in cells if cell.name in arms]
    found = []
    for cell in compared:
        if cell.zone not in zones:
            raise ProgramError(
                f"Cell '{cell.name}' lies under zone '{cell.zone}', but the chamber has {', '.join(zones)}."
            )
        treatment, full = cell.treatment, zones[cell.zone].irradiance_w_m2
        exposures = () if treatment.covered else lit.get(cell.zone, ())
        lit_s = sum(e.planned_end_s(full) - e.start_s for e in exposures)
        own = dose_j_cm2(full, sum(e.planned_lit_s(full) for e in exposures))
        bath = f"{treatment.chemical} {treatment.strength_pct:g} %" if treatment.chemical else ""
        if treatment.wet_min:
            bath = f"{bath or 'wet'} for {treatment.wet_min:g} min"
        found.append(
            Course(
                cell=cell.name,
                arm=arms[cell.name],
                dose_j_cm2=0.0 if treatment.covered else arrived.get(cell.name, own),
                irradiance_w_m2=own / lit_s * 1e4 if lit_s else 0.0,
                lit_s=lit_s,
                start_s=min((e.start_s for e in exposures), default=None),
                end_s=max((e.planned_end_s(full) for e in exposures), default=None),
                bath=bath,
                covered=treatment.covered,
            )
        )
    if wrong := contradictions(plans, compared):
        raise ProgramError("\n".join(wrong.values()))
    return tuple(found)


def contradictions(plans: Sequence[ZonePlan], cells: Sequence[Cell]) -> dict[str, str]:
    """Cells whose treatment contradicts the light of their zone, with a sentence each."""
    lit = {plan.zone for plan in plans if plan.exposures}
    wrong = {}
    for cell in cells:
        if cell.zone in lit and not (cell.treatment.light or cell.treatment.covered):
            wrong[cell.name] = (
                f"Cell '{cell.name}' is meant to stay dark but lies open under zone '{cell.zone}', which is lit."
                " Cover it, or move it."
            )
        if cell.treatment.light and cell.zone not in lit:
            wrong[cell.name] = (
                f"Cell '{cell.name}' is meant to get light but zone '{cell.zone}' stays dark. Give it an exposure."
            )
    return wrong


def alike(all_courses: Sequence[Course]) -> tuple[tuple[str, str, str], ...]:
    """Pairs of cells of different arms that get the same, with a sentence each: comparing them could show nothing."""
    return tuple(
        (
            one.cell,
            other.cell,
            (
                f"'{one.cell}' ({one.arm}) and '{other.cell}' ({other.arm}) should differ but get the same:"
                f" {_words(one)}. Give one another dose, level or treatment, or call them replicates of one arm."
            ),
        )
        for index, one in enumerate(all_courses)
        for other in all_courses[index + 1 :]
        if one.arm != other.arm and _alike(one, other)
    )


def same_light(all_courses: Sequence[Course]) -> tuple[tuple[str, ...], ...]:
    """Names of cells or zones that get the same, in groups of two or more, as they come."""
    groups: list[list[Course]] = []
    for course in all_courses:
        group = next((one for one in groups if all(_alike(course, member) for member in one)), None)
        if group is None:
            groups.append([course])
        else:
            group.append(course)
    return tuple(tuple(course.cell for course in group) for group in groups if len(group) > 1)


def refuse_alike(all_courses: Sequence[Course]) -> None:
    """Raises ProgramError if cells of different arms get the same."""
    if wrong := alike(all_courses):
        raise ProgramError("\n".join(sentence for _, _, sentence in wrong))


def differences(all_courses: Sequence[Course]) -> list[str]:
    """Sentences: what differs between the arms, what does not, and what cannot be told apart because of it."""
    lit = [course for course in all_courses if course.lit_s]
    return [
        *light_differences(all_courses),
        _word("Bath", all_courses, lambda c: c.bath or "dry"),
        _word("Cover", all_courses, lambda c: "covered" if c.covered else "open"),
        *_blurred(lit),
        *_uneven(all_courses),
    ]


def light_differences(all_courses: Sequence[Course]) -> list[str]:
    """The same for the light alone, as between zones: what differs and what does not."""
    lit = [course for course in all_courses if course.lit_s]
    said = [_number("Dose", all_courses, lambda c: c.dose_j_cm2, lambda v: f"{v:.0f} J/cm²", TRACE_J_CM2)]
    if lit:
        said += [
            _number("Irradiance while lit", lit, lambda c: c.irradiance_w_m2, lambda v: f"{v:.0f} W/m²", 0.0),
            _number("Time lit", lit, lambda c: c.lit_s, duration_text, TRACE_S),
            _number("First light", lit, lambda c: c.start_s or 0.0, duration_text, TRACE_S),
            _number("Last light", lit, lambda c: c.end_s or 0.0, duration_text, TRACE_S),
        ]
    return said


def _near(one: float, other: float, trace: float, share: float = ALIKE_SHARE.value) -> bool:
    return abs(one - other) <= max(trace, share * max(abs(one), abs(other)))


def _alike(one: Course, other: Course) -> bool:
    """True if nothing but the hour of the day differs: when a dose falls is no treatment."""
    return (
        one.bath == other.bath
        and one.covered == other.covered
        and _near(one.dose_j_cm2, other.dose_j_cm2, TRACE_J_CM2)
        and _near(one.irradiance_w_m2, other.irradiance_w_m2, 0.0)
    )


def _words(course: Course) -> str:
    light = f"{course.dose_j_cm2:.0f} J/cm² at {course.irradiance_w_m2:.0f} W/m²" if course.lit_s else "no light"
    return f"{light}, {course.bath or 'dry'}{', covered' if course.covered else ''}"


def _by_arm(some: Sequence[Course]) -> dict[str, list[Course]]:
    arms: dict[str, list[Course]] = {}
    for course in some:
        arms.setdefault(course.arm, []).append(course)
    return arms


def _number(
    name: str, some: Sequence[Course], value: Callable[[Course], float], text: Callable[[float], str], trace: float
) -> str:
    values = [value(course) for course in some]
    if not values or _near(min(values), max(values), trace):
        return f"{name}: the same, {text(sum(values) / max(len(values), 1))}."
    parts = []
    for arm, members in _by_arm(some).items():
        low, high = min(map(value, members)), max(map(value, members))
        parts.append(f"{arm}: {text(low)}" if text(low) == text(high) else f"{arm}: {text(low)} to {text(high)}")
    return f"{name} differs: {'; '.join(parts)}."


def _word(name: str, some: Sequence[Course], value: Callable[[Course], str]) -> str:
    if len({value(course) for course in some}) <= 1:
        return f"{name}: the same, {value(some[0]) if some else 'none'}."
    parts = [f"{arm}: {' and '.join(sorted({value(c) for c in members}))}" for arm, members in _by_arm(some).items()]
    return f"{name} differs: {'; '.join(parts)}."


def _blurred(lit: Sequence[Course]) -> list[str]:
    """What goes together among lit cells, so that the trial cannot tell it apart."""
    if len(lit) < 2:
        return []

    def same(value: Callable[[Course], float], trace: float, share: float = ALIKE_SHARE.value) -> bool:
        values = [value(course) for course in lit]
        return _near(min(values), max(values), trace, share)

    same_dose = same(lambda c: c.dose_j_cm2, TRACE_J_CM2)
    same_level = same(lambda c: c.irradiance_w_m2, 0.0, ONE_LEVEL_SHARE.value)
    same_time = same(lambda c: c.lit_s, TRACE_S, ONE_LEVEL_SHARE.value)
    said = []
    if same_dose and not same_level:
        said.append(
            "The same dose at different irradiance: a test of reciprocity. Time and warmth differ with it, they must."
        )
    elif not same_dose and same_level and not same_time:
        said.append(
            "More dose means more time here: what hours of warmth and dry air do is not told apart from light."
            " A covered control beside the longest exposure shows it."
        )
    elif not same_dose and same_time:
        said.append(
            "More dose means stronger light here, in the same time: the sheet gets warmer with it, so warmth and light"
            " are not told apart."
        )
    elif not same_dose:
        said.append("Dose, irradiance and time all differ: a difference cannot be laid to one of them.")
    if not same(lambda c: c.end_s or 0.0, TRACE_S):
        said.append(
            "Cells that end early rest longer in the dark before the last photo, and colour may return meanwhile."
            " Let them end together, or photograph each as it ends."
        )
    return said


def _uneven(all_courses: Sequence[Course]) -> list[str]:
    """Replicates that are not alike."""
    said = []
    for arm, members in _by_arm(all_courses).items():
        other = next((one for one in members[1:] if not _alike(members[0], one)), None)
        if other:
            said.append(
                f"Replicates of '{arm}' are not alike: '{members[0].cell}' gets {_words(members[0])};"
                f" '{other.cell}' gets {_words(other)}. Set their irradiance equal."
            )
    return said
