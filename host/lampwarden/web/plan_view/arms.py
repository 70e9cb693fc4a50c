"""What is compared with what: each cell's arm, by name."""

from dataclasses import dataclass

from ...domain.chamber import Chamber
from ...domain.plan import Plan
from ...domain.sheet import Sheet
from ...planning import arms_of


@dataclass(frozen=True, slots=True)
class CellArm:
    """One cell and what it stands for."""

    cell: str
    about: str
    """Its zone and treatment."""
    given: str
    """The arm as a person named it; empty: by itself."""
    itself: str
    """The arm it has without a name; empty: it is not compared."""


def cell_arms(plan: Plan, sheet: Sheet | None, chamber: Chamber) -> tuple[CellArm, ...]:
    """All cells of the sheet, in its order, and those that the plan names although the sheet lost them."""
    if sheet is None:
        return ()
    free = arms_of(plan.model_copy(update={"arms": {}}), sheet, chamber)
    there = {cell.name: f"zone {cell.zone}, {cell.treatment.label}" for cell in sheet.cells}
    gone = dict.fromkeys(sorted(plan.arms.keys() - there.keys()), "no longer on the sheet: clear its name")
    return tuple(
        CellArm(name, about, plan.arms.get(name, ""), free.get(name, "")) for name, about in (there | gone).items()
    )


def named(plan: Plan, sheet: Sheet, chamber: Chamber) -> dict[str, str]:
    """Names for the arms that a plan has by itself, without its numbers: 'light 1', 'light 2', 'covered control'.

    Kept with a plan they say which cells are meant to differ: if a later step makes two of them alike, that is refused.
    """
    arms = arms_of(plan, sheet, chamber)
    labels = {cell.name: cell.treatment.label for cell in sheet.cells}
    by_label: dict[str, list[str]] = {}
    for cell, arm in arms.items():
        members = by_label.setdefault(labels[cell], [])
        if arm not in members:
            members.append(arm)
    return {
        cell: _name(labels[cell], by_label[labels[cell]].index(arm), len(by_label[labels[cell]]))
        for cell, arm in arms.items()
    }


def _name(label: str, index: int, of: int) -> str:
    return label[:40].strip() if of == 1 else f"{label[:36].strip()} {index + 1}"
