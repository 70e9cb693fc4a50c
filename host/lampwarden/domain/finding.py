"""What a person finds by hand and eye, cell by cell, and the days on which a treated sheet is looked at again.

Hand findings are data beside the colour readings: they are shown and kept, never reckoned into a colour.
"""

from collections.abc import Sequence
from enum import StrEnum, unique
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, model_validator

from ..errors import ProgramError
from .chamber import Key, Name

Number = Annotated[float, Field(allow_inf_nan=False)]


class Part(BaseModel):
    """Base of the findings' parts: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Aspect(Part):
    """One thing to look for, and how it is noted: by steps, by a number, or in words alone."""

    key: Key
    """Short name used in records."""
    title: Name
    """What people call it."""
    steps: tuple[Name, ...] = Field(default=(), max_length=12)
    """Words of a scale, from 0 upwards; a value is the number of its step. Empty: no scale."""
    unit: str = Field(default="", max_length=12)
    """Unit of a number, such as 'mm'."""
    low: Number | None = None
    high: Number | None = None
    """Least and greatest number; None: no bound. Without steps, bounds and unit the aspect takes words alone."""
    hint: str = Field(default="", max_length=200)
    """How to find it out."""

    @model_validator(mode="after")
    def _one_way(self) -> "Aspect":
        if len(self.steps) == 1:
            raise ValueError(f"aspect '{self.key}' has one step; give two or more, or none")
        if self.steps and (self.unit or self.low is not None or self.high is not None):
            raise ValueError(f"aspect '{self.key}' has steps and a number; give either")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"aspect '{self.key}' goes from {self.low:g} to {self.high:g}; give the lower first")
        return self

    @property
    def words_only(self) -> bool:
        """True if it takes a note and no value."""
        return not (self.steps or self.unit or self.low is not None or self.high is not None)

    def checked(self, value: float) -> float:
        """The value, if it fits. Raises ProgramError if it does not."""
        if self.words_only:
            raise ProgramError(f"'{self.title}' takes words, no number. Write a note instead of {value:g}.")
        if self.steps and not (value == int(value) and 0 <= value < len(self.steps)):
            choice = ", ".join(f"{number} {words}" for number, words in enumerate(self.steps))
            raise ProgramError(f"'{self.title}' has no step {value:g}. Choose one of: {choice}.")
        if (self.low is not None and value < self.low) or (self.high is not None and value > self.high):
            low = "any" if self.low is None else f"{self.low:g}"
            high = "any" if self.high is None else f"{self.high:g}"
            raise ProgramError(f"'{self.title}' is {value:g}, but goes from {low} to {high}. Correct the number.")
        return value

    def text(self, value: float) -> str:
        """A value for people: 'soft', '6.5', '4 mm'."""
        return self.steps[int(value)] if self.steps else f"{value:g}{f' {self.unit}' if self.unit else ''}"


ASPECTS = (
    Aspect(
        key="stiffness",
        title="Stiffness",
        steps=("limp", "softer than before", "as before", "stiffer than before", "brittle"),
        hint="Lift a corner of the cell and let it fall back. Do not fold it.",
    ),
    Aspect(
        key="surface",
        title="Surface",
        steps=("as before", "slightly raised fibres", "rough or felted", "blisters or cracks"),
        hint="In raking light, with a lens.",
    ),
    Aspect(key="smell", title="Smell", steps=("none", "faint", "clear", "strong")),
    Aspect(key="ph", title="pH", low=0.0, high=14.0, hint="Flat electrode or strip on a drop of water; say which."),
    Aspect(key="stain", title="Stain size", unit="mm", low=0.0, hint="Longest way across the stain or its rim."),
    Aspect(key="note", title="Note", hint="Anything else, in your own words."),
)
"""The aspects unless a person sets others. Steps are ours, chosen to be told apart without instruments."""


class HandFinding(Part):
    """One aspect of one cell, as a person found it."""

    cell: str = Field(min_length=1, max_length=20)
    aspect: Key
    value: Number | None = None
    """Number or step; None: words alone."""
    note: str = Field(default="", max_length=1000)
    checkpoint: str = ""
    """Name of the checkpoint; empty outside one."""
    found_utc: str
    """When, ISO 8601 with Z."""

    @model_validator(mode="after")
    def _says_something(self) -> "HandFinding":
        if self.value is None and not self.note.strip():
            raise ValueError("a finding needs a value or a note")
        return self


@unique
class DueState(StrEnum):
    """The value is its name for people."""

    TAKEN = "taken"
    DUE = "due"
    MISSED = "missed"
    LATER = "later"


class FollowUpPlan(Part):
    """Days after the end of a treatment on which the sheet is read again, kept dark meanwhile."""

    days: tuple[Annotated[float, Field(gt=0, le=36_525)], ...] = (1.0, 3.0, 7.0, 30.0, 90.0, 365.0)
    """Rising. Our proposal after published follow-ups of 15 months and two years."""

    @model_validator(mode="after")
    def _rising(self) -> "FollowUpPlan":
        if any(later <= sooner for sooner, later in zip(self.days, self.days[1:], strict=False)):
            raise ValueError("the days of a follow-up must rise; order them and name each once")
        return self

    @staticmethod
    def leeway_days(day: float) -> float:
        """How far from its day a reading may be taken and still stand for it: a quarter of it, half a day at least."""
        return max(0.5, day / 4)

    def day_of(self, elapsed_days: float) -> float | None:
        """The planned day that a reading so long after the end stands for; None if it stands for none."""
        near = min(self.days, key=lambda day: abs(day - elapsed_days), default=None)
        return near if near is not None and abs(near - elapsed_days) <= self.leeway_days(near) else None

    def states(self, elapsed_days: float, taken_days: tuple[float, ...]) -> dict[float, DueState]:
        """Each planned day and how it stands, so long after the end, with readings at those days."""
        taken = {self.day_of(day) for day in taken_days}
        return {day: DueState.TAKEN if day in taken else self._open(day, elapsed_days) for day in self.days}

    def fresh(self, elapsed_days: float, taken_days: Sequence[float], told_days: Sequence[float]) -> tuple[float, ...]:
        """Planned days that have come and were neither told of nor looked at since, so long after the end.

        A look covers its day and all days before it.
        """
        looked = max(taken_days, default=-1.0)
        return tuple(
            day
            for day in self.days
            if day <= elapsed_days and day not in told_days and looked < day - self.leeway_days(day)
        )

    def _open(self, day: float, elapsed_days: float) -> DueState:
        leeway = self.leeway_days(day)
        if elapsed_days < day - leeway:
            return DueState.LATER
        return DueState.DUE if elapsed_days <= day + leeway else DueState.MISSED


FOLLOW_UP = FollowUpPlan()
"""The days unless a person sets others."""


def days_text(days: float) -> str:
    """A number of days for people: '1 day', '30 days', '1 year'."""
    return "1 year" if days == 365 else f"{days:g} day{'' if days == 1 else 's'}"
