"""How warm the chamber's air gets with its lamps' power: fitted numbers, a chart, and the same as a table. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...domain.chamber import Chamber
from ...domain.units import duration_text
from ...light.forecast import AirModel, Series
from ...planning.power import powers_w
from ..wording import Taste

STEPS = 5
"""Rows of the table, from a fifth of the power to all of it."""
SURE = 1.96
"""19 times in 20 of a bell curve lie within so many standard deviations."""
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class HeatView:
    """The heating curve."""

    says: str
    facts: tuple[tuple[str, str, str], ...]
    """Label, value, what it means."""
    options: dict[str, Any]
    """For Apache ECharts."""
    said: str
    """The chart in a sentence."""
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def heat(chamber: Chamber, model: AirModel, history: Sequence[Series], taste: Taste) -> HeatView:
    """The curve of this model; `history` are the sessions it was fitted to, for the points beside it."""
    lamps_w = powers_w(chamber)
    full_w = sum(lamps_w)
    low, high = (model.rise_k_w * math.exp(sign * SURE * math.sqrt(model.log_covariance[0][0])) for sign in (-1, 1))
    powers = [full_w * step / STEPS for step in range(STEPS + 1)]
    points = [point for point in (_point(one, lamps_w, model.time_constant_s) for one in history) if point is not None]
    hour = 1 - math.exp(-HOUR_S / model.time_constant_s)
    unit = f"°{taste.scale}"
    says = (
        "No session has been long enough yet, so these are design values that nothing has tested."
        if model.sessions == 0
        else f"Fitted to {'the last session' if model.sessions == 1 else f'the last {model.sessions} sessions'}"
        f" of this chamber; the curve leaves {_grade(model.misfit_k, taste)} {unit} unexplained."
    )
    estimated = [zone.name for zone in chamber.zones if zone.lamp_w is None]
    if estimated:
        says += " The lamps' power is not in the chamber's file and was worked out from their light."
    facts = (
        (
            "Air rises by",
            f"{_grade(model.rise_k_w, taste, 2)} {unit} per W",
            f"19 times in 20 between {_grade(low, taste, 2)} and {_grade(high, taste, 2)} {unit} per W.",
        ),
        (
            "All lamps full",
            f"{full_w:.1f} W: {_grade(model.rise_k_w * full_w, taste)} {unit} above the room",
            "Once the air has settled, which takes about three times the time below.",
        ),
        (
            "Time to warm up",
            duration_text(60 * round(model.time_constant_s / 60)),
            "After this time the air has gone 63 % of its way.",
        ),
    )
    rows = tuple(
        (
            f"{power:.1f} W",
            f"{_grade(model.rise_k_w * power, taste)} {unit}",
            f"{_grade(low * power, taste)} to {_grade(high * power, taste)} {unit}",
            f"{_grade(model.rise_k_w * power * hour, taste)} {unit}",
        )
        for power in powers[1:]
    )
    return HeatView(
        says=says,
        facts=facts,
        options=_options(powers, model.rise_k_w, low, high, points, taste),
        said=f"A straight line from 0 at no power to {_grade(model.rise_k_w * full_w, taste)} {unit} at {full_w:.1f} W."
        + (f" {len(points)} earlier sessions stand beside it." if points else ""),
        head=("Lamp power", "Air above the room, settled", "19 times in 20", "After one hour"),
        rows=rows,
    )


def _point(one: Series, lamps_w: Sequence[float], tau_s: float) -> tuple[float, float] | None:
    """Where a session lies beside the line: power as the slow air feels it, W, and air above its start, K.

    The air follows power with the time constant tau, so its rise is set against power averaged over the past with that
    weight, at the moment when this was highest. None for a session without light.
    """
    power_w = one.levels @ np.asarray(lamps_w, dtype=np.float64)
    felt = np.zeros(len(power_w))
    for at in range(1, len(power_w)):
        left = math.exp(-(one.run_s[at] - one.run_s[at - 1]) / tau_s)
        felt[at] = power_w[at - 1] + (felt[at - 1] - power_w[at - 1]) * left
    at = int(felt.argmax()) if len(felt) else 0
    if not len(felt) or felt[at] <= 0:
        return None
    return float(felt[at]), float(one.air_temp_c[at] - one.air_temp_c[0])


def _grade(kelvin: float, taste: Taste, digits: int = 1) -> str:
    """A difference of temperatures in the person's degrees, without the unit."""
    return f"{kelvin * (1.8 if taste.scale == 'F' else 1.0):.{digits}f}"


def _options(
    powers: Sequence[float],
    rise_k_w: float,
    low: float,
    high: float,
    points: Sequence[tuple[float, float]],
    taste: Taste,
) -> dict[str, Any]:
    factor = 1.8 if taste.scale == "F" else 1.0

    def line(name: str, slope: float, dash: Any, colour: str) -> dict[str, Any]:
        return {
            "name": name,
            "type": "line",
            "data": [[round(power, 2), round(slope * power * factor, 2)] for power in powers],
            "symbol": "none",
            "silent": True,
            "lineStyle": {"color": colour, "width": 1.8, "type": dash},
            "itemStyle": {"color": colour},
        }

    series = [
        line("expected", rise_k_w, "solid", "var(--air)"),
        line("19 times in 20 above", low, [5, 4], "var(--ink-soft)"),
        line("and below", high, [5, 4], "var(--ink-soft)"),
        {
            "name": "earlier sessions",
            "type": "scatter",
            "symbol": "diamond",
            "symbolSize": 11,
            "silent": True,
            "data": [[round(power, 2), round(rise * factor, 2)] for power, rise in points],
            "itemStyle": {"color": "var(--bank)"},
        },
    ]
    axis = {"lineStyle": {"color": "var(--rule)"}}
    label = {"color": "var(--ink-soft)", "fontSize": 11}
    return {
        "animation": False,
        "textStyle": {"fontFamily": "inherit"},
        "grid": {"left": 8, "right": 16, "top": 56, "bottom": 26, "containLabel": True},
        "legend": {
            "top": 0,
            "left": 0,
            "selectedMode": False,
            "icon": "inherit",
            "itemWidth": 30,
            "itemHeight": 8,
            "data": ["expected", "19 times in 20 above", *(["earlier sessions"] if points else [])],
            "textStyle": label,
        },
        "xAxis": {
            "type": "value",
            "name": "lamp power, W",
            "nameLocation": "middle",
            "nameGap": 26,
            "nameTextStyle": label,
            "min": 0,
            "max": math.ceil(max([*powers, *(power for power, _ in points)])),
            "axisLine": axis,
            "axisTick": axis,
            "axisLabel": label,
            "splitLine": {"show": False},
        },
        "yAxis": {
            "type": "value",
            "name": f"°{taste.scale} above the room",
            "nameTextStyle": label | {"align": "left"},
            "min": 0,
            "axisLabel": label,
            "splitLine": {"lineStyle": {"color": "var(--rule-soft)"}},
        },
        "series": series,
    }
