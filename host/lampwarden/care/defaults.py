"""Every number of the care room that a person may replace or that safety words rest on, each with its source."""

from ..light.evidence import Default, Status, listed

_CSB = "conservation science textbook on bleaches: 0.5-3.0 %, just alkaline, usual"

WORKING_PCT = Default("strength of peroxide to begin with", 1.0, "% w/w", _CSB, Status.PROPOSAL)
WORKING_PCT_MAX = Default("highest strength that is ever suggested", 3.0, "% w/w", _CSB, Status.PUBLISHED)
CONFIRM_PCT = Default(
    "strength from which a person must confirm",
    8.0,
    "% w/w",
    "Eye Dam. 1 from 8 %: CLP Annex VI 008-003-00-9, read at gischem.de",
    Status.PUBLISHED,
)
PUBLIC_SALE_PCT = Default(
    "strength above which sale to the public is restricted in the EU",
    12.0,
    "% w/w",
    "Regulation (EU) 2019/1148, read at kft.de",
    Status.RESTATED,
)
LICENCE_PCT = Default(
    "strength that even a licence does not exceed in the EU",
    35.0,
    "% w/w",
    "Regulation (EU) 2019/1148",
    Status.FROM_MEMORY,
)
BATH_PH_LOW = Default("pH of the peroxide bath, lower end", 8.5, "1", _CSB + "; others buffer to 8-9", Status.PROPOSAL)
BATH_PH_HIGH = Default("pH of the peroxide bath, upper end", 9.0, "1", _CSB + "; others buffer to 8-9", Status.PROPOSAL)
WET_MIN_MAX = Default(
    "longest contact with peroxide", 30, "min", "blisters: Clement 1983, JAIC 23:47-62", Status.PROPOSAL
)
AIR_LIMIT_MG_M3 = Default(
    "peroxide in the air, mean of a working day",
    1.4,
    "mg/m³",
    "1 ppm: OSHA PEL, NIOSH REL, ACGIH TLV, read at osha.gov",
    Status.PUBLISHED,
)
AIR_DANGER_PPM = Default("peroxide in the air, danger to life", 75, "ppm", "IDLH, read at osha.gov", Status.PUBLISHED)
EYE_RINSE_MIN = Default(
    "rinse the eyes for at least", 15, "min", "safety data sheets; a state fact sheet says 30", Status.PUBLISHED
)
BATH_RENEWAL_MIN = Default(
    "renew or measure the bath every",
    60,
    "min",
    "pH fell from 8 to 5 in 4 h under light: Carroll, Conservation DistList 16 (2002)",
    Status.PROPOSAL,
)
INK_STOP_DE00 = Default(
    "change of an ink that ends its cell",
    1.6,
    "ΔE00",
    "just noticeable change for heritage, ISO grey scale 4, about ΔE 1.6, restated",
    Status.PROPOSAL,
)

DEFAULTS = listed(dict(globals()))
"""All of the above."""
