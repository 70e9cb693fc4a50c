"""Every number of the findings that a person may replace, each with its source."""

from dataclasses import dataclass

from ..domain.finding import ASPECTS, FOLLOW_UP, Aspect, FollowUpPlan
from ..light.evidence import Default, Status, listed

PLATEAU_DE00 = Default(
    "remaining change under which a plateau is reached",
    1.0,
    "ΔE00",
    "measured on simulated courses: at most 3 of 100 plateaus are called falsely",
    Status.PROPOSAL,
)
INK_LIMIT_DE00 = Default(
    "change of an ink that is too much",
    1.6,
    "ΔE00",
    "just noticeable light damage, grey scale 4, as restated from conservation data",
    Status.RESTATED,
)
EQUAL_DE00 = Default(
    "difference within which two treatments count as equally good",
    1.0,
    "ΔE00",
    "about what the eye just sees",
    Status.PROPOSAL,
)
FALSE_CLAIM = Default(
    "chance of claiming something where nothing happened, for each kind of claim and all cells together",
    0.007,
    "1",
    "seven kinds of claim (drift, cells, inks, effects, pairs, interactions, reversion) share 0.05",
    Status.PROPOSAL,
)
TRACE_J_CM2 = Default("dose that counts as none", 0.5, "J/cm²", "as in the plan of a trial", Status.PROPOSAL)

DEFAULTS = listed(dict(globals()))
"""All of the above."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a person may set for the conclusions."""

    plateau_de00: float = PLATEAU_DE00.value
    ink_limit_de00: float = INK_LIMIT_DE00.value
    equal_de00: float = EQUAL_DE00.value
    false_claim: float = FALSE_CLAIM.value
    next_step_j_cm2: float | None = None
    """Dose of the next step that a gain is foretold for; None: as long as the last."""
    follow_up: FollowUpPlan = FOLLOW_UP
    aspects: tuple[Aspect, ...] = ASPECTS
