"""Every number of the planning room that a person may replace, each with its source."""

from ..light.evidence import Default, Status, listed

ZONE_AREA_M2 = Default(
    "area of a zone whose place is not described", 0.0036, "m²", "60 x 60 mm, a small zone", Status.PROPOSAL
)
LED_FLUX_W = Default("light of one bare LED, for the eye's sake", 1.0, "W", "power LEDs", Status.FROM_MEMORY)
LED_AREA_MM2 = Default("shining area of one bare LED", 1.0, "mm²", "power LED chips", Status.FROM_MEMORY)
LED_DISTANCE_M = Default("distance from which a bare LED is looked at", 0.2, "m", "reading distance", Status.PROPOSAL)
ROOM_C = Default("room temperature, if nobody gives one", 22, "°C", "a heated room", Status.PROPOSAL)
ESTIMATE_OFF = Default(
    "how far an estimated irradiance may be off, as a share", 0.5, "1", "light/estimate.py", Status.PROPOSAL
)
CELL_SHARE = Default(
    "side of a cell as a share of its zone's",
    0.62,
    "1",
    "a zone's edge gets less light and more of its neighbours'; 36 mm of 58 mm in the demo",
    Status.PROPOSAL,
)
CELL_GAP_MM = Default(
    "least distance between two cells", 8, "mm", "mask: 6 mm hold it together, 2 mm for names", Status.PROPOSAL
)
LOWEST_J_CM2 = Default("lowest dose of a ladder", 30, "J/cm²", "about 1 h of sun in the blue", Status.PROPOSAL)
HIGHEST_J_CM2 = Default(
    "highest dose of a ladder", 240, "J/cm²", "below the dose at which to stop and think", Status.PROPOSAL
)
SINGLE_J_CM2 = Default(
    "dose of a single exposure", 75, "J/cm²", "two looks: the first check and one step more", Status.PROPOSAL
)
BATH_ML = Default("volume of a bath, if nobody gives one", 500, "mL", "a small tray", Status.PROPOSAL)
STOCK_PCT = Default(
    "peroxide bought, if nobody gives one", 3.0, "% w/w", "drugstore peroxide, 10 vol", Status.COMMON_PRACTICE
)
LOOKS_APART_S = Default(
    "checkpoints of a ready pattern are at least this far apart", 900, "s", "a photo stop takes 10 min", Status.PROPOSAL
)

DEFAULTS = listed(dict(globals()))
"""All of the above."""
