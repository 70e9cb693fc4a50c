"""Every number of the trial room that a person may replace, each with its source."""

from ..light.evidence import Default, Status, listed

SD_DE00 = Default(
    "scatter of a treatment's effect between alike cells (standard deviation)",
    0.5,
    "ΔE00",
    "assumed; replace it by the scatter of your own replicates",
    Status.PROPOSAL,
)
ALPHA = Default(
    "chance of finding a difference where there is none, all arms together", 0.05, "1", "custom", Status.COMMON_PRACTICE
)
POWER = Default("chance of finding a difference that is there", 0.8, "1", "custom", Status.COMMON_PRACTICE)
REPLICATES_MIN = Default(
    "replicates of each arm, at least", 3, "1", "ASTM G155, as an abstract of it says", Status.PUBLISHED
)
VISIBLE_DE00 = Default(
    "difference that a person just sees",
    0.8,
    "ΔE00",
    "50:50 perceptibility in dentistry, an analogue",
    Status.FROM_MEMORY,
)
ALIKE_SHARE = Default(
    "doses, levels and times closer than this count as the same",
    0.05,
    "1",
    "spread of irradiance within a zone is up to 0.15, hardware_notes/calibration.md",
    Status.PROPOSAL,
)
ONE_LEVEL_SHARE = Default(
    "zones whose irradiance or time differs by less count as one level beside a ladder of doses",
    0.15,
    "1",
    "goal for the spread within a zone, hardware_notes/calibration.md",
    Status.PROPOSAL,
)
TURN_GAP_S = Default(
    "pause between exposures that run in turn", 60, "s", "one never overlaps the next", Status.PROPOSAL
)
LOWER_LEVEL = Default(
    "lower level of a test of reciprocity, as a share of the higher", 0.5, "1", "two levels", Status.PROPOSAL
)

DEFAULTS = listed(dict(globals()))
"""All of the above."""
