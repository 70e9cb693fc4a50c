"""What a rehearsal showed, in words."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from ...domain.units import duration_text
from ...engine import Reason
from ...rehearsing import Rehearsal, Rehearsed
from .. import wording as w
from ..wording import Taste
from .outcome import Pair

ENDS = {"completed": "It ran to its end", "ended by person": "It was ended", "cut off": "It was cut off"}
HOLDS = {
    Reason.CHECKPOINT: "looks and photos",
    Reason.COOLING: "cooling",
    Reason.OPERATOR: "paused by hand",
    Reason.DOOR: "door open",
    Reason.BOARD_LOST: "board lost",
    Reason.SENSOR: "a reading missing",
    Reason.TRIP: "cut off by the board",
    Reason.RESTART: "after a restart",
    Reason.STORAGE: "record not written",
    Reason.NOT_FOLLOWING: "board not following",
}


@dataclass(frozen=True, slots=True)
class ZoneLit:
    """One zone: planned, and what the simulated lamps really gave."""

    zone: str
    planned: str
    true: str
    dose: str


@dataclass(frozen=True, slots=True)
class RehearsalShown:
    running: bool
    share: float
    says: str
    well: bool
    """It ran to its end."""
    facts: tuple[Pair, ...]
    zones: tuple[ZoneLit, ...]
    journal: tuple[tuple[str, str], ...]
    """Time and sentence."""


def rehearsal_shown(found: Rehearsal, start: datetime, taste: Taste, now: datetime) -> RehearsalShown:
    """A rehearsal as far as it has got, for a session that starts then."""
    if found.result is None:
        says = {
            "running": f"{100 * found.share:.0f} % rehearsed",
            "failed": found.error,
            "cancelled": "Cancelled.",
        }.get(found.state, "")
        return RehearsalShown(found.state == "running", found.share, says, False, (), (), ())
    result = found.result
    return RehearsalShown(
        running=False,
        share=1.0,
        says=_ends(result, start, taste, now),
        well=result.outcome == "completed",
        facts=(
            Pair("Warmest air", w.temp(result.air_temp_c_max, taste)),
            Pair("Warmest LED plate", w.temp(result.bank_temp_c_max, taste)),
            *(Pair(f"Dark: {HOLDS[Reason(why)]}", w.rough_text(held_s)) for why, held_s in result.holds_s),
        ),
        zones=tuple(
            ZoneLit(
                zone.name,
                duration_text(zone.planned_s) if zone.planned_s else "dark",
                duration_text(zone.true_lit_s) if zone.true_lit_s else "dark",
                w.dose_texts(zone.dose_j_cm2)[0] if zone.dose_j_cm2 else "",
            )
            for zone in result.zones
        ),
        journal=tuple((w.rough_text(run_s), w.in_scale(text, taste)) for run_s, _, text in result.journal),
    )


def _ends(result: Rehearsed, start: datetime, taste: Taste, now: datetime) -> str:
    over = w.clock_text(start + timedelta(seconds=result.run_s), now, taste)
    cause = ""
    if result.cause and result.outcome != "completed":
        cause = f" ({w.in_scale(result.cause, taste).rstrip('.')})"
    return f"{ENDS.get(result.outcome, result.outcome)}{cause} after {w.rough_text(result.run_s)}, at {over}."
