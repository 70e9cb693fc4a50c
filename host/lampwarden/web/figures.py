"""Numbers about a session that pages and the API both show. Pure."""

from dataclasses import dataclass

from ..domain.units import dose_j_cm2
from ..engine import Session
from ..engine.schedule import DUE_S, current_exposure, expected_end_s, missing_lit_s


@dataclass(frozen=True, slots=True)
class ZoneFigures:
    """One zone: what the plan gives it and what it has had."""

    planned_s: float
    """Level-weighted light planned in all, s."""
    lit_s: float
    """Level-weighted light so far, s."""
    left_s: float
    """Time its lamps will still be on, at the planned levels, s."""
    planned_j_cm2: float
    dose_j_cm2: float
    done: bool
    """All its exposures are over; also True for a zone without any."""
    starts_s: float | None
    """Session time at which its next light begins, s; None if it is due now or there is none to come."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is still to come, in seconds of session time from now: holds come on top."""

    checkpoint: str | None
    """Name of the next checkpoint that has not been reached."""
    checkpoint_left_s: float | None
    end_left_s: float
    checkpoints_left: int
    """Checkpoints that have not been reached."""
    light_left_s: float | None
    """Until the next lamp lights by plan; None if one is due now or none is left."""
    share: float
    """Part of the whole session time that is over, 0..1."""


def zone_figures(session: Session) -> tuple[ZoneFigures, ...]:
    """Figures of each zone, in the chamber's order."""
    return tuple(_zone(session, index) for index in range(len(session.chamber.zones)))


def _zone(session: Session, index: int) -> ZoneFigures:
    about, exposures, at = session.chamber.zones[index], session.plans[index], session.exposure[index]
    irradiance_w_m2, lit_s = about.irradiance_w_m2, session.lit_s[index]
    planned_s = sum(exposure.planned_lit_s(irradiance_w_m2) for exposure in exposures)
    current = current_exposure(session, index)
    begun = current is not None and session.session_s >= current.start_s - DUE_S
    left_s = sum(e.planned_lit_s(irradiance_w_m2) / e.level for e in exposures[at + begun :])
    if current is not None and begun:
        missing_s = missing_lit_s(session, index, current) / current.level
        left_s += missing_s if current.end_s is None else min(missing_s, max(0.0, current.end_s - session.session_s))
    return ZoneFigures(
        planned_s=planned_s,
        lit_s=lit_s,
        left_s=left_s if session.active else 0.0,
        planned_j_cm2=dose_j_cm2(irradiance_w_m2, planned_s),
        dose_j_cm2=dose_j_cm2(irradiance_w_m2, lit_s),
        done=current is None,
        starts_s=current.start_s if current is not None and not begun else None,
    )


def outlook(session: Session) -> Outlook:
    """What is still to come of an active session."""
    reached = session.checkpoints_passed + (session.waiting is not None)
    ahead = session.program.checkpoints[reached:]
    end_s = expected_end_s(session)
    starts = [figures.starts_s for figures in zone_figures(session) if figures.starts_s is not None]
    waits = not any(session.levels) and starts
    return Outlook(
        checkpoint=ahead[0].name if ahead else None,
        checkpoint_left_s=max(0.0, ahead[0].at_s - session.session_s) if ahead else None,
        end_left_s=end_s - session.session_s,
        checkpoints_left=len(ahead),
        light_left_s=max(0.0, min(starts) - session.session_s) if waits else None,
        share=min(1.0, session.session_s / end_s) if end_s > 0 else 0.0,
    )
