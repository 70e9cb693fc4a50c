"""What must be right before a plan is started, and starting it later.

confirmed.py  a person's yes to a caution
lines.py      checks of plan, sheet and host, and what a person must confirm (pure)
later.py      waits for the moment of a planned start
commands.py   `lampwarden plan ...`
"""

from .confirmed import Confirmed

__all__ = ["Confirmed"]
