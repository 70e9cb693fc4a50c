"""Doses in proportion: when to look, when to stop, what the sun would give."""

from ..domain.units import mj_m2
from .defaults import (
    DOSE_CAP_J_CM2,
    DOSE_CHECK_STEP_J_CM2,
    DOSE_FIRST_CHECK_J_CM2,
    DOSE_SOFT_STOP_J_CM2,
    SUN_400_460_W_M2,
)
from .evidence import Statement, Status

LOOKS_MAX = 60
"""Longest list of checkpoint doses."""


def check_doses_j_cm2(total_j_cm2: float) -> tuple[float, ...]:
    """Doses at which to look, J/cm2, ascending, ending with the total. Example: 120 gives 25, 75, 120.

    For totals that would need more than 60 looks the steps are doubled until they do not.
    """
    first, step = DOSE_FIRST_CHECK_J_CM2.value, DOSE_CHECK_STEP_J_CM2.value
    while (total_j_cm2 - first) / step > LOOKS_MAX - 2:
        step *= 2
    doses = []
    while first < total_j_cm2:
        doses.append(first)
        first += step
    return (*doses, total_j_cm2)


def sun_hours(dose_j_cm2: float) -> float:
    """Hours of full sun whose light between 400 and 460 nm gives this dose. Example: 56 J/cm2 = 2.0 h."""
    return dose_j_cm2 * 1e4 / SUN_400_460_W_M2.value / 3600


def dose_cautions(dose_j_cm2: float) -> tuple[Statement, ...]:
    """What to know about one planned dose of blue light, J/cm2, the weightiest first."""
    found = []
    for limit, words in (
        (DOSE_CAP_J_CM2, "No program should give it without a person's decision for this run."),
        (DOSE_SOFT_STOP_J_CM2, "Stop there first, look, and go on only if each step still gains something."),
    ):
        if not dose_j_cm2 <= limit.value:
            found.append(
                Statement(
                    f"{dose_j_cm2:.0f} J/cm² ({mj_m2(dose_j_cm2):.1f} MJ/m²) is more than {limit}. {words}",
                    limit.source,
                    limit.status,
                )
            )
            break
    found.append(
        Statement(
            f"{dose_j_cm2:.0f} J/cm² is about the blue light (400 to 460 nm) of {sun_hours(dose_j_cm2):.1f} h of full"
            " sun; 2 to 4 h of sun were used on immersed rag paper. No published dose for dry paper under narrow blue"
            " light was found: look early and often.",
            "sun: ASTM G173; practice: van der Reyden and others 1988 (after Keyes 1980)",
            Status.COMPUTED,
        )
    )
    return tuple(found)
