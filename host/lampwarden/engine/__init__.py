"""The rules of a session, pure: what happened and what a person ordered go in, facts and demands come out.

`step(session, event)` decides; `apply(session, fact)` folds. A session is the fold of its facts, so the journal
can always rebuild it. Nothing in this room reads a clock, a port, a disk or a page.
"""

from .facts import Fact, fact_from_data, fact_to_data
from .state import Hold, Phase, Reason, Session, apply, diagram, planned, replay, totals
from .step import Demand, Outcome, step

__all__ = [
    "Demand",
    "Fact",
    "Hold",
    "Outcome",
    "Phase",
    "Reason",
    "Session",
    "apply",
    "diagram",
    "fact_from_data",
    "fact_to_data",
    "planned",
    "replay",
    "step",
    "totals",
]
