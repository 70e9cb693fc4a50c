"""All that the pages Plan and Sheets work out, as pure functions of plain data: nothing is saved or started here."""

from .arms import Trial, arms_of
from .baths import Bath, Baths, Wish
from .notice import Level, Notice
from .patterns import PATTERNS, Draft, Pattern
from .place import Arm, Drawn
from .power import Power, air_model
from .review import STRONG_PEROXIDE, Review, all_cautions, review
from .zones import Heat, ZoneReview

__all__ = [
    "PATTERNS",
    "STRONG_PEROXIDE",
    "Arm",
    "Bath",
    "Baths",
    "Draft",
    "Drawn",
    "Heat",
    "Level",
    "Notice",
    "Pattern",
    "Power",
    "Review",
    "Trial",
    "Wish",
    "ZoneReview",
    "air_model",
    "all_cautions",
    "arms_of",
    "review",
]
