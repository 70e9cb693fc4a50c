"""How many cells are really independent, and a warning where they are not.

The experimental unit is what was treated on its own: a zone in one run for light, a bath for a chemical. Cells that
share it repeat the measurement, not the treatment (Hurlbert 1984, restated: pseudo-replication).
"""

from collections.abc import Mapping, Sequence

from ..domain.sheet import Cell
from ..light.evidence import Statement, Status
from .defaults import REPLICATES_MIN

SOURCE = "Hurlbert 1984, Lazic 2018, restated"


def independent(
    cells: Sequence[Cell], arms: Mapping[str, str], baths: Mapping[str, str] | None = None
) -> dict[str, int]:
    """Independent replicates of each arm in one run. `arms` and `baths` map a cell's name to its arm and its bath.

    Two cells of an arm under one zone count once; so do two that were bathed together.
    """
    units: dict[str, set[str]] = {}
    for cell in cells:
        if cell.name in arms:
            bath = (baths or {}).get(cell.name)
            units.setdefault(arms[cell.name], set()).add(f"bath {bath}" if bath else f"zone {cell.zone}")
    return {arm: len(members) for arm, members in units.items()}


def replicate_cautions(
    cells: Sequence[Cell], arms: Mapping[str, str], baths: Mapping[str, str] | None = None
) -> tuple[Statement, ...]:
    """Where cells are counted as replicates that are none, and where there are too few."""
    real = independent(cells, arms, baths)
    said = []
    for arm, count in real.items():
        members = [cell.name for cell in cells if arms.get(cell.name) == arm]
        if count < len(members):
            said.append(
                Statement(
                    f"'{arm}': {len(members)} cells ({', '.join(members)}) but only {count} independent. Cells under"
                    " one zone in one run, or in one bath, are one replicate measured several times: take their mean.",
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
