"""What a trial like this one cannot show, in plain words with their source."""

from collections.abc import Sequence

from ..domain.reading import Reading, Way
from ..domain.sheet import Sheet
from ..light.evidence import Statement, Status
from ..trial.defaults import SD_DE00
from ..trial.power import detectable
from ..trial.replicates import replicate_cautions
from .treatments import Arm, Comparison
from .words import listed


def limits(
    sheet: Sheet, used: Sequence[Reading], unread: Sequence[str], arms: Sequence[Arm], comparison: Comparison | None
) -> tuple[Statement, ...]:
    """Statements, the plainest first."""
    said = []
    if unread:
        said.append(
            Statement(
                f"Not read both before light and after: {listed(unread)}. Nothing is said of them.",
                "the readings",
                Status.COMPUTED,
            )
        )
    if arms:
        said.append(
            Statement(
                "This is one sheet. Another, even of the same print run, may answer otherwise.",
                "the sheet is the unit for whatever differs between sheets",
                Status.COMMON_PRACTICE,
            )
        )
    if comparison:
        count = max(len(comparison.units) - 1, 1)
        scatter = comparison.scatter_de00 or SD_DE00.value
        fewest = min(comparison.units.values())
        said.append(Statement(detectable(count, fewest, sd_de00=scatter).sentence, "Dunnett 1955", Status.COMPUTED))
    said += replicate_cautions(sheet.cells, {name: arm.name for arm in arms for name in arm.cells})
    if used and used[-1].way is not Way.INSTRUMENT:
        said.append(
            Statement(
                "These colours come from photos. What a real camera adds in error was only simulated: trust no change"
                " under 1 ΔE00 until an instrument or another camera agrees.",
                "simulated cameras",
                Status.PROPOSAL,
            )
        )
    return tuple(said)
