"""How many cells are really independent, and a warning where they are not.

The experimental unit is what was treated on its own: a zone in one run for light, a bath for a chemical. Cells that
share it repeat the measurement, not the treatment (Hurlbert 1984, restated: pseudo-replication). Which cells lay in one
bath is not known here: wetted cells are counted by zone, and that is said.
"""

from collections.abc import Mapping, Sequence

from ..domain.sheet import Cell
from ..light.evidence import Statement, Status
from .defaults import REPLICATES_MIN

SOURCE = "Hurlbert 1984, Lazic 2018, restated"


def independent(cells: Sequence[Cell], arms: Mapping[str, str]) -> dict[str, int]:
    """Independent replicates of each arm in one run. `arms` maps a cell's name to its arm.

    Two cells of an arm under one zone count once.
    """
    units: dict[str, set[str]] = {}
    for cell in cells:
        if cell.name in arms:
            units.setdefault(arms[cell.name], set()).add(cell.zone)
    return {arm: len(zones) for arm, zones in units.items()}


def replicate_cautions(cells: Sequence[Cell], arms: Mapping[str, str]) -> tuple[Statement, ...]:
    """Where cells are counted as replicates that are none or may be none, and where there are too few."""
    real = independent(cells, arms)
    said = []
    for arm, count in real.items():
        members = [cell.name for cell in cells if arms.get(cell.name) == arm]
        if count < len(members):
            said.append(
                Statement(
                    f"'{arm}': {len(members)} cells ({', '.join(members)}) but only {count} independent. Cells under"
                    " one zone in one run are one replicate measured several times: take their mean.",
                    SOURCE,
                    Status.RESTATED,
                )
            )
    wetted = {arms[cell.name] for cell in cells if cell.name in arms and _is_wetted(cell)}
    doubtful = [arm for arm, count in real.items() if count > 1 and arm in wetted]
    if doubtful:
        said.append(
            Statement(
                f"Counted as if each wetted cell had a bath of its own: {'; '.join(doubtful)}. Cells out of one bath"
                " are one replicate: they cannot show how one bath differs from the next.",
                SOURCE,
                Status.RESTATED,
            )
        )
    few = [arm for arm, count in real.items() if count < REPLICATES_MIN.value]
    if few:
        said.append(
            Statement(
                f"Fewer than {REPLICATES_MIN} independent replicates: {'; '.join(few)}. Repeat them in other zones or"
                " runs, and change places between runs.",
                REPLICATES_MIN.source,
                REPLICATES_MIN.status,
            )
        )
    if len(real) > 1:
        said.append(
            Statement(
                "All cells of one run share its air and its day. Whether the result holds on another day only another"
                " run can tell.",
                "one chamber at one time is one climate",
                Status.PROPOSAL,
            )
        )
    return tuple(said)


def _is_wetted(cell: Cell) -> bool:
    return bool(cell.treatment.chemical or cell.treatment.wet_min)
