"""What is due at a session time: levels wanted, exposures done, the next checkpoint, the next moment to look again."""

from ..domain.program import Exposure
from .state import Session

DUE_S = 0.02
"""A moment counts as reached this close to it, s: below the board's own pass, so that rounding never adds a period."""


def current_exposure(session: Session, zone: int) -> Exposure | None:
    """The exposure a zone is at or waits for; None when all of its exposures are done."""
    exposures, index = session.plans[zone], session.exposure[zone]
    return exposures[index] if index < len(exposures) else None


def missing_lit_s(session: Session, zone: int, exposure: Exposure) -> float:
    """Level-weighted light still missing from the zone's present exposure, s; not below 0."""
    return max(0.0, _planned_to_lit_s(session, zone) - session.lit_s[zone])


def settled_lit_s(session: Session, zone: int, exposure: Exposure) -> float:
    """The zone's light at which its next exposure begins to count, once this one is done, s.

    Exposures that got their light add up to the plan: what one got too much or too little by is left to the next.
    One that its end cut short stays short.
    """
    planned_to_lit_s = _planned_to_lit_s(session, zone)
    short = planned_to_lit_s - session.lit_s[zone] > DUE_S * exposure.level
    return session.lit_s[zone] if short else planned_to_lit_s


def _planned_to_lit_s(session: Session, zone: int) -> float:
    """The zone's light once its present exposure is complete, s."""
    return session.exposure_from_lit_s[zone] + session.plans_lit_s[zone][session.exposure[zone]]


def left_s(session: Session, zone: int, exposure: Exposure) -> float:
    """Session time until the zone's present exposure begins or, once begun, ends by its light or its time, s."""
    if session.session_s < exposure.start_s - DUE_S:
        return exposure.start_s - session.session_s
    light_s = (_planned_to_lit_s(session, zone) - session.lit_s[zone]) / exposure.level
    return light_s if exposure.end_s is None else min(light_s, exposure.end_s - session.session_s)


def exposure_is_done(session: Session, zone: int, exposure: Exposure) -> bool:
    """True once its light is complete, or its end has come."""
    return left_s(session, zone, exposure) <= DUE_S


def outlook(session: Session) -> tuple[tuple[float, ...], float | None]:
    """What the plan asks for now, holds aside, and how long that stays so.

    Levels have shape (zones,). The time is session time, s, until the plan next changes something: DUE_S or less if
    something is due, None if nothing is left.
    """
    now_s, levels, moments = session.session_s, [], []
    if session.checkpoints_passed < len(session.program.checkpoints):
        moments.append(session.program.checkpoints[session.checkpoints_passed].at_s - now_s)
    for zone, exposures in enumerate(session.plans):
        index = session.exposure[zone]
        if index == len(exposures):
            levels.append(0.0)
            continue
        exposure = exposures[index]
        levels.append(exposure.level if now_s >= exposure.start_s - DUE_S else 0.0)
        moments.append(left_s(session, zone, exposure))
    return tuple(levels), min(moments, default=None)


def checkpoint_due(session: Session) -> bool:
    """True if the next checkpoint's time has come."""
    index = session.checkpoints_passed
    return index < len(session.program.checkpoints) and (
        session.session_s >= session.program.checkpoints[index].at_s - DUE_S
    )


def all_done(session: Session) -> bool:
    """True if every exposure is done and every checkpoint passed."""
    if session.checkpoints_passed < len(session.program.checkpoints):
        return False
    return all(current_exposure(session, zone) is None for zone in range(len(session.plans)))


def expected_end_s(session: Session) -> float:
    """Session time at which everything is expected to be done, from what is still missing."""
    ends = [session.session_s]
    ends += [c.at_s for c in session.program.checkpoints[session.checkpoints_passed :]]
    for zone, about in enumerate(session.chamber.zones):
        exposures = session.plans[zone]
        for index in range(session.exposure[zone], len(exposures)):
            exposure = exposures[index]
            if index == session.exposure[zone] and session.session_s >= exposure.start_s:
                left_s = missing_lit_s(session, zone, exposure) / exposure.level
                ends.append(session.session_s + left_s if exposure.end_s is None else exposure.end_s)
            else:
                ends.append(exposure.planned_end_s(about.irradiance_w_m2))
    return max(ends)
