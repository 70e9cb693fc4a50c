"""The sheet under treatment: what it is, what it bears, and its cells, the named areas that are compared.

Places are millimetres from the sheet's upper left corner, x to the right and y down, as seen from above.
"""

from collections.abc import Iterator
from enum import Enum, unique
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from .chamber import Chamber, Key, Name

Millimetres = Annotated[float, Field(ge=0, le=2000)]
Length = Annotated[float, Field(gt=0, le=2000)]


@unique
class PaperKind(Enum):
    RAG = "rag"
    CHEMICAL = "chemical wood"
    GROUNDWOOD = "groundwood"
    COATED = "coated"
    UNKNOWN = "unknown"


@unique
class InkKind(Enum):
    CARBON_BLACK = "carbon black"
    PHTHALO = "phthalo blue or green"
    ORGANIC_RED_YELLOW = "organic red or yellow"
    DYE = "dye"
    IRON_GALL = "iron gall"
    MINERAL = "mineral colour"
    """Ground earths and metal compounds, as in hand colouring: ochre, vermilion, Prussian blue, copper green."""
    UNKNOWN = "unknown"


class Part(BaseModel):
    """Base of the sheet's parts: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Ink(Part):
    """An ink or other medium on the sheet."""

    name: Name
    """What people call it, such as 'vermilion rules'."""
    kind: InkKind = InkKind.UNKNOWN
    fugitive: bool = False
    """It is known or feared to be sensitive to water or light."""


class Treatment(Part):
    """What a cell gets. Nothing at all: an untreated cell, kept in the same air."""

    light: bool = False
    """It lies open to the light of its zone."""
    covered: bool = False
    """It lies in a lit zone but under an opaque cover: the control for heat and air."""
    chemical: str = Field(default="", max_length=60)
    """The bath or wash, such as 'hydrogen peroxide'; empty: none."""
    strength_pct: float | None = Field(default=None, gt=0, le=50)
    """Strength of the chemical, per cent by mass."""
    wet_min: float | None = Field(default=None, gt=0, le=1440)
    """How long it stays wet with it, min."""

    @model_validator(mode="after")
    def _fits(self) -> "Treatment":
        if self.light and self.covered:
            raise ValueError("a cell is either open to the light or covered, not both")
        if bool(self.chemical) != (self.strength_pct is not None):
            raise ValueError("a chemical needs its strength_pct, and a strength needs its chemical")
        return self

    @property
    def label(self) -> str:
        """The treatment in words: 'light and hydrogen peroxide 3 %', 'covered control', 'untreated'."""
        wet = f"{self.chemical} {self.strength_pct:g} %" if self.chemical else ""
        if self.light:
            return f"light and {wet}" if wet else "light"
        if self.covered:
            return f"{wet}, covered" if wet else "covered control"
        return f"{wet}, dark" if wet else "untreated"


class Cell(Part):
    """A named area of the sheet."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9-]{0,7}$")]
    """Short, as printed beside its aperture: 'B2'."""
    zone: Name
    """The chamber's zone it lies under."""
    x_mm: Millimetres
    y_mm: Millimetres
    width_mm: Length
    height_mm: Length
    treatment: Treatment = Treatment()
    role: Literal["test", "control", "ink watch"] = "test"
    """Test and control are compared; an ink watch cell warns when an ink fades."""
    block: int = Field(default=1, ge=1, le=99)
    """Cells that are alike but for their treatment, such as those of one strip of the sheet, share a block."""
    replicate: int = Field(default=1, ge=1, le=99)
    """Counts the cells with the same treatment."""
    ink: str = Field(default="", max_length=40)
    """Name of the ink an ink watch cell looks at."""

    def overlaps(self, other: "Cell") -> bool:
        """True if the two areas share a point inside."""
        return (
            self.x_mm < other.x_mm + other.width_mm
            and other.x_mm < self.x_mm + self.width_mm
            and self.y_mm < other.y_mm + other.height_mm
            and other.y_mm < self.y_mm + self.height_mm
        )


class Sheet(Part):
    """One sheet, as described before its trial."""

    id: Key
    """Short name used in addresses and records."""
    title: Name
    series: str = Field(default="", max_length=40, pattern=r"^(\S(.*\S)?)?$")
    """Name of the series it belongs to, whose sheets get the same treatments; empty: none."""
    paper: PaperKind = PaperKind.UNKNOWN
    sizing: str = Field(default="", max_length=100)
    """Gelatin, alum-rosin, none, unknown ..."""
    inks: tuple[Ink, ...] = Field(default=(), max_length=20)
    condition: str = Field(default="", max_length=2000)
    notes: str = Field(default="", max_length=4000)
    width_mm: Length = 210.0
    height_mm: Length = 297.0
    original: bool = True
    """True: a unique or valued object. False: a test piece that may be spoiled."""
    consent: bool = False
    """Its owner knows that it may change for good, and agrees."""
    cells: tuple[Cell, ...] = Field(default=(), max_length=60)
    photo: str = Field(default="", pattern=r"^([0-9a-f]{64})?$")
    """SHA-256 of a picture of the whole sheet, cut to its edges, to lay out cells on; empty: none."""
    layout_seed: int | None = None
    """Seed with which treatments were put in random places; None: by hand."""

    @model_validator(mode="after")
    def _consistent(self) -> "Sheet":
        names: set[str] = set()
        for cell in self.cells:
            if cell.name in names:
                raise ValueError(f"two cells are called '{cell.name}'; give each its own name")
            names.add(cell.name)
            if cell.x_mm + cell.width_mm > self.width_mm + 1e-6 or cell.y_mm + cell.height_mm > self.height_mm + 1e-6:
                raise ValueError(
                    f"cell '{cell.name}' reaches to {cell.x_mm + cell.width_mm:g} x {cell.y_mm + cell.height_mm:g} mm,"
                    f" beyond the sheet of {self.width_mm:g} x {self.height_mm:g} mm"
                )
        for first, second in self._pairs():
            if first.overlaps(second):
                raise ValueError(f"cells '{first.name}' and '{second.name}' overlap; move one of them")
        known = {ink.name for ink in self.inks}
        for cell in self.cells:
            if cell.ink and cell.ink not in known:
                raise ValueError(f"cell '{cell.name}' watches the ink '{cell.ink}', which the sheet does not list")
        return self

    def fits(self, chamber: Chamber) -> list[str]:
        """Sentences for each cell that names a zone the chamber does not have; empty if all is well."""
        known = {zone.name for zone in chamber.zones}
        return [
            f"Cell '{cell.name}' lies under zone '{cell.zone}', which the chamber does not have."
            for cell in self.cells
            if cell.zone not in known
        ]

    def _pairs(self) -> Iterator[tuple[Cell, Cell]]:
        for index, first in enumerate(self.cells):
            for second in self.cells[index + 1 :]:
                yield first, second
