"""The plan of a trial: which program runs over which sheet in which chamber, and what the comparison is about."""

from datetime import time
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema, model_validator

from .chamber import Key, Name
from .program import Program
from .sheet import Sheet

LocalTime = Annotated[
    time, WithJsonSchema({"type": "string", "pattern": r"^\d\d:\d\d(:\d\d(\.\d+)?)?$", "examples": ["22:30"]})
]
"""A time of day without a zone. JSON Schema's own format `time` has one (RFC 3339, full-time)."""


class Plan(BaseModel):
    """A trial as a person plans it, before and after it is started."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Key
    """Short name used in addresses and records."""
    title: Name
    chamber: Key
    """The chamber it is planned for."""
    sheet: Key | None = None
    """The sheet it is planned for; None: none described yet."""
    program: Program
    arms: dict[str, Name] = Field(default={}, max_length=60)
    """Cell by cell the treatment arm it stands for; cells of one arm are replicates. A cell left out follows its own
    treatment and the dose of its zone."""
    stock_pct: float | None = Field(default=None, gt=0, le=50)
    """Strength of the peroxide that was bought and baths are made from, per cent by mass; None: not said."""
    sleep_from: LocalTime = time(22, 30)
    """Local time from which nobody is awake for a checkpoint."""
    sleep_to: LocalTime = time(7, 0)
    """Local time from which somebody is awake again. Equal to sleep_from: always."""
    photo_s: Annotated[float, Field(ge=0, le=7200)] = 600.0
    """Time a person needs at an attended checkpoint, s."""

    @model_validator(mode="after")
    def _awake_or_not(self) -> "Plan":
        if self.sleep_from.tzinfo or self.sleep_to.tzinfo:
            raise ValueError("sleeping hours are local times of day without a zone, such as 22:30")
        return self

    def fits(self, sheet: Sheet | None) -> list[str]:
        """What is wrong with planning this for that sheet, as sentences; empty if it fits."""
        if sheet is None:
            return [] if self.sheet is None else [f"There is no sheet '{self.sheet}'. Describe it, or choose another."]
        known = {cell.name for cell in sheet.cells}
        return [f"The plan compares cell '{name}', which the sheet does not have." for name in self.arms.keys() - known]
