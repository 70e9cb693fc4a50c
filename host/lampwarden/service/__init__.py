"""What a person or a script may ask of Lampwarden. Pages, API and commands all call this, and nothing below it.

service.py    the chambers: looking and orders
base.py       what all parts rest on
shelf.py      sheets and plans
measured.py   calibrations, lit hours, the air of earlier sessions

Calls block until the answer is certain (an order's facts are on disk), at most ANSWER_S; web code runs them in a
worker thread.
"""

from .base import ANSWER_S
from .measured import Calibrated
from .service import Service
from .shelf import SavedPlan, SavedSheet

__all__ = ["ANSWER_S", "Calibrated", "SavedPlan", "SavedSheet", "Service"]
