"""Pauses to cool that a session needs in a room that warm, by the air's model: how many, how long, how often.

Light falls until the air reaches the soft limit, then pauses until it is the hysteresis below. Where the settled air S
would lie above the limit L, a pause from L to R = L - hysteresis in a room of T lasts tau ln((L - T) / (R - T)), and
the light after it tau ln((S - R) / (S - L)): solutions of the model's equation (light/forecast.py). Checkpoints cool
too and are left out, so the truth is rather less. Plates are not modelled.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..domain.program import Limits
from .forecast import AirModel, Stretch


@dataclass(frozen=True, slots=True)
class Cooling:
    """What the air's soft limit costs."""

    pauses: int
    pause_s: float
    """Length of all pauses together, s."""
    per_hour: float
    """Most pauses in an hour, once the air is warm."""
    for_ever: bool
    """The room is so warm that a pause would never end; nothing after it is counted."""


def cooling(
    model: AirModel,
    plan: Sequence[Stretch],
    lamp_w: Sequence[float],
    limits: Limits,
    room_c: float,
    start_c: float | None = None,
) -> Cooling:
    """The pauses of a plan, with the model as it is and no uncertainty. `start_c` None: the air begins as the room's.

    Example: settled at 36 C in a room of 27 C, limit 35 C, 3 K below it again, time constant 1500 s: 35 min of light,
    then 12 min of pause.
    """
    tau_s, limit_c = model.time_constant_s, limits.air_soft_c
    resume_c = limit_c - limits.hysteresis_c
    air_c = room_c if start_c is None else start_c
    pauses, per_hour = 0, 0.0
    rest_s = tau_s * math.log((limit_c - room_c) / (resume_c - room_c)) if room_c < resume_c else math.inf
    for one in plan:
        left_s = one.end_s - one.start_s
        settled_c = room_c + model.rise_k_w * sum(w * level for w, level in zip(lamp_w, one.levels, strict=True))
        if settled_c > limit_c:
            warming_s = tau_s * math.log((settled_c - min(air_c, limit_c)) / (settled_c - limit_c))
            if warming_s < left_s:
                if math.isinf(rest_s):
                    return Cooling(pauses + 1, math.inf, per_hour, True)
                again_s = tau_s * math.log((settled_c - resume_c) / (settled_c - limit_c))
                count = math.ceil((left_s - warming_s) / again_s)
                if count > 1:
                    per_hour = max(per_hour, 3600 / (again_s + rest_s))
                pauses += count
                left_s -= warming_s + (count - 1) * again_s
                air_c = resume_c
        air_c = settled_c + (air_c - settled_c) * math.exp(-left_s / tau_s)
    return Cooling(pauses, pauses * rest_s if pauses else 0.0, per_hour, False)
