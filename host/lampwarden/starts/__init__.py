"""What must be right before a plan is started, and starting it later.

lines.py   checks of plan, sheet and host, and what a person must confirm (pure)
later.py   waits for the moment of a planned start
"""

from .later import Later
from .lines import Confirmed, Host, confirmation_lines, host_lines, plan_lines

__all__ = ["Confirmed", "Host", "Later", "confirmation_lines", "host_lines", "plan_lines"]
