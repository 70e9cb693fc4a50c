"""Which cells stand for the same treatment, and what their comparison can show."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ..domain.chamber import Chamber
from ..domain.plan import Plan
from ..domain.sheet import Cell, Sheet
from ..domain.units import dose_j_cm2
from ..light.evidence import Statement
from ..light.leakage import Leakage
from ..trial.compare import Course, alike, contradictions, courses, differences
from ..trial.controls import missing_controls
from ..trial.defaults import ALIKE_SHARE, ONE_LEVEL_SHARE
from ..trial.power import Detectable, detectable
from ..trial.replicates import independent, replicate_cautions


@dataclass(frozen=True, slots=True)
class Trial:
    """What the cells of a sheet compare, and how well."""

    arms: Mapping[str, str]
    """Cell by cell the arm it stands for."""
    control: str
    """The arm that all others are compared with; empty: there is none."""
    courses: tuple[Course, ...]
    """What each compared cell goes through."""
    wrong: Mapping[str, str]
    """Cells whose treatment contradicts the light of their zone, with a sentence each."""
    alike: tuple[tuple[str, str, str], ...]
    """Pairs of cells of different arms that get the same, with a sentence each."""
    differences: tuple[str, ...]
    missing: tuple[Statement, ...]
    """Controls that are missing."""
    replicates: Mapping[str, int]
    """Independent replicates of each arm."""
    cautions: tuple[Statement, ...]
    """Where replicates are none, or too few."""
    shows: Detectable | None
    """What so many replicates can show; None with fewer than two arms."""

    @property
    def refused(self) -> str:
        """Why this comparison could show nothing, a sentence to a line; empty: it can."""
        return "\n".join([*self.wrong.values(), *(sentence for _, _, sentence in self.alike)])


def arms_of(plan: Plan, sheet: Sheet, chamber: Chamber) -> dict[str, str]:
    """The arm of each compared cell: as the plan says, or by its treatment and the light of its zone.

    Cells with the same treatment whose doses differ by less than 5 % and irradiances by less than 15 % share an arm
    (trial/defaults.py). Ink watch cells are compared only if the plan names them.
    """
    given = {cell.name: plan.arms[cell.name] for cell in sheet.cells if cell.name in plan.arms}
    free = [cell for cell in sheet.cells if cell.name not in given and cell.role != "ink watch"]
    light = {zone.name: _light(plan, zone.name, zone.irradiance_w_m2) for zone in chamber.zones}
    by_treatment: dict[tuple[str, float | None], list[Cell]] = {}
    for cell in free:
        by_treatment.setdefault((cell.treatment.label, cell.treatment.wet_min), []).append(cell)
    found: dict[str, str] = {}
    for (label, wet_min), cells in by_treatment.items():
        name = label
        if wet_min and sum(one == label for one, _ in by_treatment) > 1:
            name = f"{label} for {wet_min:g} min"
        lit = [cell for cell in cells if cell.treatment.light]
        found |= {cell.name: name for cell in cells if not cell.treatment.light}
        for same_dose in _groups(lit, lambda cell: light.get(cell.zone, (0.0, 0.0))[0], ALIKE_SHARE.value):
            levels = _groups(same_dose, lambda cell: light.get(cell.zone, (0.0, 0.0))[1], ONE_LEVEL_SHARE.value)
            for members in levels:
                doses, strengths = zip(*(light.get(cell.zone, (0.0, 0.0)) for cell in members), strict=True)
                at = f" at {sum(strengths) / len(strengths):.0f} W/m²" if len(levels) > 1 else ""
                arm = f"{name}, {sum(doses) / len(doses):.0f} J/cm²{at}"
                found |= {cell.name: arm for cell in members}
    return {cell.name: (given | found)[cell.name] for cell in sheet.cells if cell.name in given or cell.name in found}


def trial(plan: Plan, sheet: Sheet, chamber: Chamber, leakage: Leakage | None) -> Trial:
    """What the sheet's cells compare under this plan. `leakage` has the sheet's cells as places; None: not measured."""
    known = {zone.name for zone in chamber.zones}
    cells = [cell for cell in sheet.cells if cell.zone in known]
    wrong = contradictions(plan.program.zones, cells)
    arms = arms_of(plan, sheet, chamber)
    compared = {name: arm for name, arm in arms.items() if name not in wrong}
    compared = {cell.name: compared[cell.name] for cell in cells if cell.name in compared}
    found = courses(chamber, plan.program.zones, cells, compared, leakage)
    replicates = independent(cells, compared)
    control = control_arm(cells, compared)
    shows = None
    if len(replicates) > 1:
        blocked = len({cell.block for cell in cells if cell.name in compared}) > 1
        shows = detectable(len(replicates) - 1, min(replicates.values()), blocked=blocked)
    return Trial(
        arms=arms,
        control=control,
        courses=found,
        wrong=wrong,
        alike=alike(found),
        differences=tuple(differences(found)) if found else (),
        missing=missing_controls([cell.treatment for cell in cells if cell.name in arms]) if arms else (),
        replicates=replicates,
        cautions=replicate_cautions(cells, compared),
        shows=shows,
    )


def control_arm(cells: Sequence[Cell], arms: Mapping[str, str]) -> str:
    """The arm to compare with: of the first cell with the role of a control, else covered, else untreated; or ''."""
    compared = [cell for cell in cells if cell.name in arms]
    asked = [cell for cell in compared if cell.role == "control"]
    covered = [cell for cell in compared if cell.treatment.label == "covered control"]
    untreated = [cell for cell in compared if cell.treatment.label == "untreated"]
    return next((arms[cell.name] for cell in [*asked, *covered, *untreated]), "")


def _light(plan: Plan, zone: str, irradiance_w_m2: float) -> tuple[float, float]:
    """Dose, J/cm2, and mean irradiance while lit, W/m2, of a zone."""
    exposures = plan.program.exposures_of(zone)
    on_s = sum(e.planned_end_s(irradiance_w_m2) - e.start_s for e in exposures)
    dose = dose_j_cm2(irradiance_w_m2, sum(e.planned_lit_s(irradiance_w_m2) for e in exposures))
    return dose, dose * 1e4 / on_s if on_s else 0.0


def _groups(cells: Sequence[Cell], value: Callable[[Cell], float], share: float) -> list[list[Cell]]:
    """Cells in groups whose values lie within this share of the group's first, ascending."""
    groups: list[list[Cell]] = []
    for cell in sorted(cells, key=value):
        if groups and value(cell) <= value(groups[-1][0]) * (1 + share):
            groups[-1].append(cell)
        else:
            groups.append([cell])
    return groups
