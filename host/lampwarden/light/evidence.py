"""Where a number or a sentence comes from. Every default and every caution of the program carries it."""

from dataclasses import dataclass
from enum import StrEnum, unique


@unique
class Status(StrEnum):
    """How well a fact is known. The value is the words shown to people."""

    PUBLISHED = "published"
    """Read in the cited text."""
    RESTATED = "published, read in a text or code that restates it"
    """The primary source was not read."""
    COMPUTED = "computed"
    """Worked out from facts that the source names."""
    COMMON_PRACTICE = "common practice"
    """What people of the trade do; no single source."""
    FROM_MEMORY = "from memory, not looked up again"
    """Verify before safety rests on it."""
    PROPOSAL = "our proposal, not published"
    """Chosen for this program from the facts that the source names."""


@dataclass(frozen=True, slots=True)
class Statement:
    """A sentence for people, and how far to trust it."""

    text: str
    """One or more whole sentences."""
    source: str
    """Author, year, title or number of a standard; or what it was reasoned from."""
    status: Status

    @property
    def sourced(self) -> str:
        """The sentence with its source, for a page or a record."""
        return f"{self.text} ({self.status}: {self.source})"


@dataclass(frozen=True, slots=True)
class Default:
    """A number that the program uses unless a person gives another."""

    name: str
    """What it is, in plain words; unique in its room."""
    value: float
    unit: str
    """Unit of the value; '1' for a share or a plain number."""
    source: str
    status: Status

    def __str__(self) -> str:
        return f"{self.value:,.10g}{'' if self.unit == '1' else f' {self.unit}'}"


def listed(names: dict[str, object]) -> tuple[Default, ...]:
    """Every Default among a module's names, also inside its tables, in the order written."""
    found: list[Default] = []
    for thing in names.values():
        if isinstance(thing, Default):
            found.append(thing)
        elif isinstance(thing, dict):
            found.extend(part for part in thing.values() if isinstance(part, Default))
    return tuple(found)
