"""A program laid out in clock time, and whether its moments suit a person. Pure: the start comes in as a value."""

from .moments import Habits, Moment, Timeline, lay_out
from .suit import Proposal, propose

__all__ = ["Habits", "Moment", "Proposal", "Timeline", "lay_out", "propose"]
