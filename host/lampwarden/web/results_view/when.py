"""Moments with their date: results are looked at long after."""

from datetime import datetime

from .. import wording as w
from ..wording import Taste


def date_text(at: datetime, taste: Taste) -> str:
    """Example: '3 Mar 2031, 09:00'."""
    local = at.astimezone(taste.zone)
    return f"{local.day} {local.strftime('%b %Y')}, {w.clock_text(at, at, taste)}"


def day_text(at: datetime, taste: Taste) -> str:
    """Example: '3 Mar 2031'."""
    local = at.astimezone(taste.zone)
    return f"{local.day} {local.strftime('%b %Y')}"
