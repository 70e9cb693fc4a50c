"""A colour reading of a sheet: each cell's colour at one moment, how it was taken, and how far it can be trusted.

Doses are not in it: what each cell got by then stands in the session's record.
"""

from enum import Enum, unique
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, model_validator

Finite = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Lab = tuple[Finite, Finite, Finite]
"""L*, a*, b*, CIE 1976, 2 degree observer."""
Uncertainty = tuple[Positive, Positive, Positive]
"""Standard uncertainties of L*, a*, b*."""
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


@unique
class Way(Enum):
    """How the colours were taken. Only readings of one way are compared with each other."""

    PHONE = "phone"
    """One photo by hand, in whatever light there was."""
    FIXED = "fixed"
    """One compressed photo by a camera that stays in its place, under a lamp that stays in its place."""
    BRACKETED = "bracketed"
    """Several photos of different exposure by such a camera, or one HEIC of good quality."""
    LOSSLESS = "lossless"
    """One photo by such a camera, kept without loss: PNG or TIFF."""
    INSTRUMENT = "instrument"
    """By a colorimeter or spectrophotometer."""


class Part(BaseModel):
    """Base of a reading's parts: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class CellColour(Part):
    """The colour of one cell, or of one swatch."""

    cell: str = Field(min_length=1, max_length=20)
    """The cell's name; 'dark 1' and on for the swatches kept in the dark."""
    lab_d50: Lab
    """CIELAB under D50."""
    lab_d65: Lab | None = None
    """CIELAB under D65; from photos by chromatic adaptation."""
    u_lab: Uncertainty
    """Standard uncertainty per coordinate of this reading as one end of a *change*: two readings of the same way differ
    with sqrt(u1**2 + u2**2). What both share, such as the tolerance of the chart, is not in it."""
    u_abs_de00: Positive
    """Standard uncertainty of the colour itself, as a distance in CIEDE2000."""
    spread_de00: Positive = 0.0
    """Standard deviation within the cell, as a distance in CIEDE2000: texture, print, stains, glare."""
    unevenness: Positive = 0.0
    """By how much its brightest and darkest part differ, as a share of its light: stains, soft reflections."""
    r457_pct: Positive | None = None
    """Reflectance at 457 nm, per cent. From a photo it is an estimate; None where it cannot be estimated."""
    r457_u_pct: Positive | None = None
    """Its standard uncertainty, percentage points."""
    marks: tuple[str, ...] = ()
    """What is wrong with this cell's reading and what to do, in sentences."""
    usable: bool = True
    """False: do not draw conclusions from it."""

    @model_validator(mode="after")
    def _estimate_is_whole(self) -> "CellColour":
        if (self.r457_pct is None) != (self.r457_u_pct is None):
            raise ValueError("r457_pct and r457_u_pct belong together; give both or neither")
        return self


class Reading(Part):
    """All colours of one sheet at one moment."""

    id: str = Field(min_length=1, max_length=80)
    session: str = ""
    """Id of the session; empty outside one."""
    sheet: str
    """Id of the sheet."""
    checkpoint: str = ""
    """Name of the checkpoint; empty outside one."""
    taken_utc: str
    """When, ISO 8601 with Z or an offset; empty: nobody knows."""
    session_s: Positive | None = None
    """Session time, s; None outside a session."""
    way: Way
    photos: tuple[Hash, ...] = ()
    """SHA-256 of each photo as it came."""
    cells: tuple[CellColour, ...] = ()
    swatches: tuple[CellColour, ...] = ()
    """Untreated pieces of the same paper, kept in the dark."""
    detection_limit_de00: Positive
    """Apparent change, CIEDE2000, that a cell which did not change stays under in 95 of 100 pairs of readings."""
    warnings: tuple[str, ...] = ()
    """About the reading as a whole, in sentences."""
    refused: str = ""
    """Why nothing was measured, and what to do; empty if it was."""
    superseded: bool = False
    """Another reading was taken in its place; this one is kept for the record."""

    @model_validator(mode="after")
    def _consistent(self) -> "Reading":
        if self.refused and self.cells:
            raise ValueError("a refused reading has no cells")
        names = [colour.cell for colour in (*self.cells, *self.swatches)]
        if len(set(names)) < len(names):
            raise ValueError("a cell stands in the reading twice")
        return self

    def cell(self, name: str) -> CellColour | None:
        """The cell or swatch of this name, usable or not; None if it was not measured."""
        return next((colour for colour in (*self.cells, *self.swatches) if colour.cell == name), None)
