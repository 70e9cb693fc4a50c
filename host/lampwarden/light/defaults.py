"""Every number of the light room that a person may replace or that safety words rest on, each with its source."""

from enum import StrEnum, unique

from .evidence import Default, Status, listed

_BRIDGED = (
    "bridged from 2-4 h of sun (AM1.5, 400-460 nm) and from xenon practice; no dose for dry narrow-band blue found"
)

# Lamps and band
PEAK_BEST_LOW_NM = Default(
    "best supported band, lower end",
    430,
    "nm",
    "Forsskåhl and Tylli 1993, ACS Symp. Ser. 531 ch. 3: browned pulp bleaches best at 430-450 nm",
    Status.PUBLISHED,
)
PEAK_BEST_HIGH_NM = Default(
    "best supported band, upper end",
    455,
    "nm",
    "Forsskåhl and Tylli 1993 (450 nm), widened to the common 455 nm LED bin",
    Status.PROPOSAL,
)
PEAK_EXPERT_NM = Default(
    "peak at and below which light is for experts",
    415,
    "nm",
    "near the side that darkens; damage weight of CIE 157",
    Status.PROPOSAL,
)
WIDTH_NM = Default("width of an LED band at half height", 20, "nm", "LED data sheets, 15-25 nm", Status.FROM_MEMORY)
UV_EDGE_NM = Default(
    "wavelength below which no light may be counted",
    400,
    "nm",
    "far UV is filtered out in light bleaching: Schaeffer and others 1992, van der Reyden and others 1988",
    Status.PROPOSAL,
)
UV_FOOT_SHARE = Default(
    "share of the peak that counts as light", 0.01, "1", "no light counted below 400 nm", Status.PROPOSAL
)
VIEWING_ANGLE_DEG = Default(
    "full viewing angle of a bare LED", 120, "degrees", "Lambertian emitter", Status.FROM_MEMORY
)
OPTICS_SHARE = Default(
    "share of the lamps' light that reaches its zone", 0.70, "1", "hardware_notes/thermal.md", Status.PROPOSAL
)
LAMP_SHARE = Default(
    "share of electrical power that becomes light",
    0.50,
    "1",
    "hardware_notes/thermal.md: LED 0.62 (from memory) x string 0.80",
    Status.COMPUTED,
)
LEAK_SHARE_MAX = Default(
    "leak from a neighbour that is still good", 0.01, "1", "hardware_notes/calibration.md", Status.PROPOSAL
)

# Dose
DOSE_FIRST_CHECK_J_CM2 = Default("dose of the first checkpoint", 25, "J/cm²", _BRIDGED, Status.PROPOSAL)
DOSE_CHECK_STEP_J_CM2 = Default("dose between later checkpoints", 50, "J/cm²", _BRIDGED, Status.PROPOSAL)
DOSE_SOFT_STOP_J_CM2 = Default("dose at which to stop and think", 300, "J/cm²", _BRIDGED, Status.PROPOSAL)
DOSE_CAP_J_CM2 = Default(
    "dose beyond which a person must decide for each run", 1000, "J/cm²", _BRIDGED, Status.PROPOSAL
)
SUN_400_460_W_M2 = Default(
    "sun on a tilted plane, 400-460 nm",
    77.2,
    "W/m²",
    "ASTM G173 AM1.5 global tilt, from colour-science's table",
    Status.COMPUTED,
)

# Heat
ABSORBED_LOW = Default("share of the light a sheet absorbs, low", 0.3, "1", "pale paper", Status.PROPOSAL)
ABSORBED = Default("share of the light a sheet absorbs", 0.5, "1", "browned paper", Status.PROPOSAL)
ABSORBED_HIGH = Default("share of the light a sheet absorbs, high", 0.6, "1", "brown or printed paper", Status.PROPOSAL)
COOLING_LOW_W_M2_K = Default("heat given off by a sheet, low", 10, "W/(m² K)", "still air", Status.PROPOSAL)
COOLING_W_M2_K = Default("heat given off by a sheet", 12, "W/(m² K)", "gently moved air", Status.PROPOSAL)
COOLING_HIGH_W_M2_K = Default("heat given off by a sheet, high", 15, "W/(m² K)", "air moved by a fan", Status.PROPOSAL)
SHEET_TARGET_C = Default(
    "sheet temperature to aim at",
    30,
    "°C",
    "Launer and Wilson 1943, cited by Lee, Bogaard and Feller 1989, JAIC 28:1-18",
    Status.PUBLISHED,
)
SHEET_WARN_C = Default("sheet temperature to warn at", 33, "°C", "3 K above the classic 30 °C", Status.PROPOSAL)
AIR_RISE_K = Default(
    "air above the room, all lamps full, before any session",
    7,
    "K",
    "hardware_notes/thermal.md: 4 K with the fan at full, 11.6 K with it stopped; between them",
    Status.PROPOSAL,
)
AIR_RISE_FACTOR = Default(
    "how far that rise may be off, as a factor", 1.7, "1", "reaches from 4 K to 11.6 K", Status.PROPOSAL
)
AIR_TIME_CONSTANT_S = Default(
    "time constant of the air, before any session", 1500, "s", "a small lined box with trays", Status.PROPOSAL
)
AIR_TIME_FACTOR = Default(
    "how far that time may be off, as a factor", 2, "1", "boxes of different make", Status.PROPOSAL
)
AIR_RISE_SPREAD = Default(
    "how far the rise differs between sessions, as a share",
    0.05,
    "1",
    "filter, fan and what stands before the vents",
    Status.PROPOSAL,
)
ROOM_SD_K = Default(
    "how far the room may drift (standard deviation)", 2, "K", "a heated room over a day", Status.PROPOSAL
)
AIR_SENSOR_SD_K = Default(
    "error of the air sensor (standard deviation)", 0.3, "K", "SHT3x class, typical accuracy", Status.FROM_MEMORY
)

# Eyes
PAPER_REFLECTANCE = Default(
    "reflectance of white paper, for the eye's sake", 0.8, "1", "bright paper, on the safe side", Status.PROPOSAL
)
BLUE_RADIANCE_DOSE = Default(
    "blue-light limit up to 10,000 s",
    1e6,
    "J/(m² sr)",
    "IEC 62471:2006 4.3.3 eq. 4.5a, restated by a public code",
    Status.RESTATED,
)
BLUE_RADIANCE = Default(
    "blue-light limit beyond 10,000 s", 100, "W/(m² sr)", "IEC 62471:2006 eq. 4.5b, ICNIRP 2013 eq. 14", Status.RESTATED
)
SMALL_SOURCE_RAD = Default(
    "angle below which a source counts as small",
    0.011,
    "rad",
    "IEC 62471:2006, restated by a public code",
    Status.RESTATED,
)
SMALL_SOURCE_DOSE_J_M2 = Default(
    "small source, blue-light limit up to 10,000 s",
    100,
    "J/m²",
    "Directive 2006/25/EC; stricter than IEC 62471 after 100 s",
    Status.FROM_MEMORY,
)
SMALL_SOURCE_W_M2 = Default(
    "small source, blue-light limit beyond 10,000 s",
    0.01,
    "W/m²",
    "Directive 2006/25/EC; IEC 62471:2006 allows 1",
    Status.FROM_MEMORY,
)
RISK_GROUP_2_W_M2_SR = Default(
    "blue-weighted radiance from which a lamp is of risk group 2",
    1e4,
    "W/(m² sr)",
    "IEC 62471:2006",
    Status.FROM_MEMORY,
)
RISK_GROUP_3_W_M2_SR = Default(
    "blue-weighted radiance from which a lamp is of risk group 3",
    4e6,
    "W/(m² sr)",
    "IEC 62471:2006",
    Status.FROM_MEMORY,
)


# Damage
@unique
class Material(StrEnum):
    """Materials with a published slope of damage over wavelength. The value is the words shown to people."""

    REFERENCE = "the CIE reference material"
    LOW_GRADE_PAPER = "low-grade paper"
    RAG_PAPER = "rag paper"
    OIL_ON_CANVAS = "oil paint on canvas"
    TEXTILES = "textiles"
    WATERCOLOUR_ON_RAG = "watercolour on rag paper"


_CIE_157 = "CIE 157:2004 after Krochmann 1988"
SLOPE_PER_NM: dict[Material, Default] = {
    Material.REFERENCE: Default(
        "damage slope b, the CIE reference material",
        0.0115,
        "1/nm",
        "CIE 157:2004 eq. 2.5, restated by a public code",
        Status.RESTATED,
    )
} | {
    material: Default(f"damage slope b, {material}", b, "1/nm", _CIE_157, Status.FROM_MEMORY)
    for material, b in (
        (Material.LOW_GRADE_PAPER, 0.0377),
        (Material.RAG_PAPER, 0.0125),
        (Material.OIL_ON_CANVAS, 0.0115),
        (Material.TEXTILES, 0.0100),
        (Material.WATERCOLOUR_ON_RAG, 0.0115),
    )
}

DEFAULTS = listed(dict(globals()))
"""All of the above."""
