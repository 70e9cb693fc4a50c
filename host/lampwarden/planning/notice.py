"""What a page shows beside the fields of a plan: one sentence on what is wrong, and what to do."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum, unique


@unique
class Level(StrEnum):
    """How much a notice asks for. The value names it in records."""

    STOP = "stop"
    """The plan cannot be started like this."""
    WARN = "warn"
    """It can, but think first."""
    NOTE = "note"
    """Good to know."""


@dataclass(frozen=True, slots=True)
class Notice:
    """One remark on a plan."""

    level: Level
    key: str
    """Short name of the rule, such as 'power' or 'leak'."""
    says: str
    """What is wrong, in whole sentences."""
    remedy: str = ""
    """What to do; empty where `says` has it."""
    zone: str = ""
    """Zone it is about; empty: the whole plan."""
    cell: str = ""
    """Cell it is about; empty: the whole plan."""

    @property
    def where(self) -> str:
        """'zone A1', 'cell B2' or the rule's name."""
        return f"cell {self.cell}" if self.cell else f"zone {self.zone}" if self.zone else self.key

    @property
    def text(self) -> str:
        """Both sentences."""
        return f"{self.says} {self.remedy}".strip()


def ordered(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    """The weightiest first, otherwise as they came, each once."""
    weight = list(Level)
    return tuple(sorted(dict.fromkeys(notices), key=lambda notice: weight.index(notice.level)))
