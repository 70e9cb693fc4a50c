"""What was put on a board and what was tried with it before its first light: the papers of a board."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Outcome = Literal["passed", "failed", "not done"]


class _Paper(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    utc: str
    """When, ISO 8601 with Z."""
    board_id: str
    """Serial number of the microcontroller, 16 hex digits."""
    firmware: str
    """Version the board reports, for example "0.01"."""
    map_version: int
    """Version of the register table the board reports."""


class Installed(_Paper):
    """The firmware files that were put on a board, each proved by its hash."""

    files: dict[str, str]
    """SHA-256 of each file by its path on the board, hex, computed by the board."""
    boot_count: int
    """Boots the board counted when it answered again."""


class StepResult(BaseModel):
    """One step of commissioning."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    key: str
    title: str
    outcome: Outcome
    text: str
    """What was found, in a sentence."""
    figures: dict[str, float | int | str | None] = Field(default_factory=dict)
    """The numbers behind it; each name ends in its unit."""
    attempts: tuple[str, ...] = ()
    """What earlier attempts found, oldest first."""


class Commissioning(_Paper):
    """A signed commissioning record."""

    by: str
    """Who did it and signs."""
    chamber: str
    """The chamber's title; empty: no chamber file was given."""
    notes: str
    files: dict[str, str] | None
    """The files last installed on this board from this computer, as in Installed; None: none known."""
    steps: tuple[StepResult, ...]

    @property
    def open_steps(self) -> tuple[StepResult, ...]:
        """The steps that did not pass."""
        return tuple(step for step in self.steps if step.outcome != "passed")

    def as_text(self) -> str:
        """The record for people to read and to file."""
        lines = [
            f"Commissioning record of board {self.board_id}",
            "",
            f"Chamber   {self.chamber or 'not named'}",
            f"Firmware  {self.firmware}, register table {self.map_version}",
            f"When      {self.utc}",
            f"Signed    {self.by}",
            f"Notes     {self.notes or 'none'}",
            "",
        ]
        for step in self.steps:
            lines.append(f"{step.outcome.upper():<9} {step.title}: {step.text}")
            lines += [f"{'':<10}before: {text}" for text in step.attempts]
            lines += [f"{'':<10}{name} = {value}" for name, value in step.figures.items()]
        still_open = ", ".join(step.title for step in self.open_steps)
        lines += ["", f"Not passed: {still_open}." if still_open else "All steps passed.", ""]
        return "\n".join(lines)


class Papers(BaseModel):
    """The newest papers of one board on this computer; None: there is none."""

    model_config = ConfigDict(frozen=True)

    installed: Installed | None = None
    commissioning: Commissioning | None = None
