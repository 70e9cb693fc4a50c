"""What the reference chart should look like: the published values, or those a person measured."""

import csv
from functools import cache
from importlib.resources import files

from pydantic import Field, ValidationError

from ..domain.reading import Lab, Part, Positive
from ..errors import ProgramError
from ..mask.geometry import GREY_STEPS, PATCH_COLUMNS, PATCH_ROWS

PATCHES = PATCH_COLUMNS * PATCH_ROWS


class Chart(Part):
    """Reference values, CIELAB under D50, 2 degree observer."""

    name: str
    """The file they came from."""
    patches: tuple[Lab, ...] = Field(min_length=PATCHES, max_length=PATCHES)
    """By rows, the first at the chart's dark corner."""
    greys: tuple[Lab, ...] = ()
    """The six grey steps, the white one first; empty: their values are not known, only that they are grey."""
    tolerance_de00: Positive = 0.7
    """Standard uncertainty of these values for the chart in use, CIEDE2000."""


@cache
def published_chart() -> Chart:
    """The set that ships with the program; its file names the source."""
    return parse_chart_csv((files(__package__) / "chart.csv").read_text(encoding="utf-8"), "the published set")


def parse_chart_csv(text: str, name: str) -> Chart:
    """A chart from CSV: columns patch, L, a, b; patches 1 to 24 and, if known, grey-1 to grey-6.

    Lines beginning with # are left out, but for '# tolerance NUMBER'. Raises ProgramError naming the line.
    """
    values: dict[str, Lab] = {}
    tolerance: dict[str, float] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        where = f"{name}, line {number}"
        words = line.lstrip("# ").split()
        if line.startswith("#") and len(words) == 2 and words[0] == "tolerance":
            tolerance = {"tolerance_de00": _number(words[1], where)}
        if line.startswith("#") or not line.strip() or line.lower().startswith("patch"):
            continue
        fields = [field.strip() for field in next(csv.reader([line]))]
        if len(fields) != 4:
            raise ProgramError(f"{where}: {len(fields)} fields; a patch needs four: patch, L, a, b.")
        if fields[0] in values:
            raise ProgramError(f"{where}: patch '{fields[0]}' stands there a second time.")
        lab = _number(fields[1], where), _number(fields[2], where), _number(fields[3], where)
        if not (0 <= lab[0] <= 110 and max(abs(lab[1]), abs(lab[2])) <= 150):
            raise ProgramError(f"{where}: {lab} is no CIELAB of a patch: L 0 to 100, a and b within 150.")
        values[fields[0]] = lab
    patches = [str(number) for number in range(1, PATCHES + 1)]
    greys = [f"grey-{number}" for number in range(1, GREY_STEPS + 1)]
    known_greys = [grey for grey in greys if grey in values]
    if known_greys:
        patches += greys
    wrong = [patch for patch in patches if patch not in values] + [patch for patch in values if patch not in patches]
    if wrong:
        raise ProgramError(
            f"{name}: patches missing or unknown: {', '.join(wrong)}. It needs 1 to {PATCHES}, and all of grey-1 to"
            f" grey-{GREY_STEPS} or none."
        )
    in_order = tuple(values[patch] for patch in patches)
    try:
        return Chart(name=name, patches=in_order[:PATCHES], greys=in_order[PATCHES:], **tolerance)
    except ValidationError as error:
        raise ProgramError(f"{name}: {error.errors()[0]['msg']}.") from None


def _number(text: str, where: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ProgramError(f"{where}: '{text}' is no number. Write it with a point: 37.54.") from None
