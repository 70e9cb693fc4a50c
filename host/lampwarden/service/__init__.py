"""What a person or a script may ask of Lampwarden. Pages, API and commands all call this, and nothing below it.

service.py    the chambers: looking and orders
base.py       what all parts rest on
shelf.py      sheets and plans
seen.py       photos, readings, conclusions
by_hand.py    what hand and eye find
follow_up.py  reminders of the looks after the end
series.py     one treatment over several sheets
kept.py       what the records take, what is deleted, what is thinned
diary.py      the journal searched, checked and added to
made_with.py  versions of program and firmware, as a session's first line
measured.py   calibrations, lit hours, the air of earlier sessions
starting.py   checks before a start, starting at once and later
rehearsals.py rehearsals in the background
sheet_pictures.py   pictures of sheets to lay out cells on

Calls block until the answer is certain (an order's facts are on disk), at most ANSWER_S; web code runs them in a
worker thread.
"""

from ..keeper import Preflight, PreflightLine
from ..rehearsing import Rehearsal, Rehearsed
from ..starts import Confirmed
from ..store.records import PlannedStart
from .base import ANSWER_S
from .measured import BankAge, Calibrated
from .service import Service
from .shelf import SavedPlan, SavedSheet

__all__ = [
    "ANSWER_S",
    "BankAge",
    "Calibrated",
    "Confirmed",
    "PlannedStart",
    "Preflight",
    "PreflightLine",
    "Rehearsal",
    "Rehearsed",
    "SavedPlan",
    "SavedSheet",
    "Service",
]
