"""Which controls a trial lacks, in words. Each control answers one question that the others cannot."""

from collections.abc import Sequence

from ..care.peroxide import is_peroxide
from ..domain.sheet import Treatment
from ..light.evidence import Statement, Status

_IMMERSED = "Schaeffer and others 1992, JAIC 31; 1996, JAIC 35"
REFERENCE_MATERIAL = Statement(
    "Lay a material of known behaviour beside the sheet, such as blue wool strips: it shows whether two runs gave the"
    " same light.",
    "ASTM G155, as an abstract of it says",
    Status.PUBLISHED,
)
"""Said of every trial with light: no plan can show that it is there."""


def missing_controls(treatments: Sequence[Treatment]) -> tuple[Statement, ...]:
    """What is missing among the treatments of a trial's cells, the most needed first."""
    light = [t for t in treatments if t.light]
    wet = [t for t in treatments if t.chemical or t.wet_min]
    peroxide = [t for t in treatments if is_peroxide(t)]
    plain_bath = [t for t in wet if not is_peroxide(t)]
    dry_dark = [t for t in treatments if not (t.light or t.chemical or t.wet_min)]
    said: list[Statement] = []

    def lacks(text: str, source: str, status: Status) -> None:
        said.append(Statement(text, source, status))

    if not any(not t.covered for t in dry_dark):
        lacks(
            "No untreated cell: keep a piece of the same paper dry, dark and out of the chamber, or nothing shows what"
            " handling, photos and time alone do.",
            _IMMERSED,
            Status.PUBLISHED,
        )
    if light and not any(t.covered and not (t.chemical or t.wet_min) for t in treatments):
        lacks(
            "No covered control: lay one cell under black sheet in the same air as the lit ones, or warmth and dry air"
            " look like an effect of light.",
            "trial practice; one chamber at one time is one climate",
            Status.PROPOSAL,
        )
    if wet and not any(not t.light and not is_peroxide(t) for t in wet):
        lacks(
            "No immersed, dark control: bathe one cell in the same water without peroxide and without light. In a"
            " published trial loss of strength came from the bath, not from the light.",
            _IMMERSED,
            Status.PUBLISHED,
        )
    if any(t.light for t in peroxide):
        if not any(not t.light for t in peroxide):
            lacks(
                "Peroxide is only used with light: add a cell with peroxide kept dark, or the share of the light is not"
                " known.",
                "factorial design",
                Status.COMMON_PRACTICE,
            )
        if not any(not is_peroxide(t) for t in light):
            lacks(
                "Light is only used with peroxide: add a cell with light alone, or the share of the peroxide is not"
                " known.",
                "factorial design",
                Status.COMMON_PRACTICE,
            )
        elif not any(t.light for t in plain_bath):
            lacks(
                "Light alone is dry and light with peroxide is wet: add a cell lit in plain water, or water and"
                " peroxide are not told apart.",
                "factorial design",
                Status.COMMON_PRACTICE,
            )
    if light:
        said.append(REFERENCE_MATERIAL)
    return tuple(said)
