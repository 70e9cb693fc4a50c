"""The session so far as charts, and the same as a table and a sentence for those who do not see them. Pure.

Colours are names of the page's own style sheet, so that a chart follows dark and light without being drawn anew.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from ..domain.program import Limits
from ..store.records import SavedLine, Stretch
from . import wording as w
from .wording import Taste

SPAN_S_MIN = 600.0
"""Least time a chart spans, s, so that it does not jump about while a session begins."""
POINTS_MAX = 240
"""Points a chart is asked for: the charts are some 500 pixels wide."""
TABLE_ROWS_MAX = 12
DAYS_MS = 36 * 3600 * 1000
"""A chart longer than this shows the date as well, ms."""
GRID = 10
"""Vertical ends are multiples of this, so that noise does not fill a chart; temperature degrees or %."""
BANK_DASHES = ("solid", [7, 3], [2, 3], [9, 3, 2, 3], [4, 2], [1, 2], [12, 4], [6, 2, 1, 2])
"""Line patterns of banks 1 to 8, so that colour is not all that tells them apart."""

Options = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Chart:
    title: str
    options: Options
    """For Apache ECharts."""
    said: str
    """The chart in a sentence."""


@dataclass(frozen=True, slots=True)
class Strip:
    """When one zone had light: parts of the session's whole time."""

    zone: str
    lit: tuple[tuple[float, float, float], ...]
    """From, to (0..1 of the time shown) and level 0..1."""
    said: str


@dataclass(frozen=True, slots=True)
class Course:
    """The whole session as the page shows it."""

    charts: tuple[Chart, ...]
    strips: tuple[Strip, ...]
    ends: tuple[str, str]
    """Clock times at both ends of the strips."""
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def course(
    stretches: Sequence[Stretch],
    levels: Sequence[SavedLine],
    began_utc: str,
    run_s: float,
    limits: Limits,
    zones: Sequence[str],
    taste: Taste,
) -> Course:
    """Charts of a session. `levels`: its journal lines of kind levels_set and ended, oldest first."""
    began = w.moment(began_utc)
    until_s = max([run_s, *(s.run_s for s in stretches)])
    banks = max((len(s.bank_temps_c_mean) for s in stretches), default=0)
    span = (_at(began, 0.0), _at(began, max(SPAN_S_MIN, until_s)))
    air = [[_at(began, s.run_s), w.temp_number(s.air_temp_c_mean, taste)] for s in stretches]
    humidity = [[_at(began, s.run_s), _rounded(s.humidity_pct_mean)] for s in stretches]
    by_bank = [
        [[_at(began, s.run_s), w.temp_number(_nth(s.bank_temps_c_mean, bank), taste)] for s in stretches]
        for bank in range(banks)
    ]
    unit = f"°{taste.scale}"
    marks_air = ((limits.air_soft_c, "lamps pause"), (limits.air_hard_c, "cut off"))
    marks_bank = ((limits.bank_soft_c, "lamps pause"), (limits.bank_hard_c, "cut off"))
    charts = (
        Chart(
            f"Air at the sheet, {unit}",
            _options([_series("Air", air, "var(--air)", "solid")], span, unit, marks_air, taste),
            _said("Air", [s.air_temp_c_mean for s in stretches], limits.air_soft_c, taste),
        ),
        Chart(
            f"Lamp banks, {unit}",
            _options(
                [
                    _series(f"Bank {n}", points, "var(--bank)", BANK_DASHES[n - 1])
                    for n, points in enumerate(by_bank, start=1)
                ],
                span,
                unit,
                marks_bank,
                taste,
            ),
            _said("The warmest bank", [_most(s.bank_temps_c_max) for s in stretches], limits.bank_soft_c, taste),
        ),
        Chart(
            "Humidity, %",
            _options([_series("Humidity", humidity, "var(--water)", "solid")], span, "%", (), taste),
            _said_humidity([s.humidity_pct_mean for s in stretches]),
        ),
    )
    end = began + timedelta(seconds=max(SPAN_S_MIN, until_s))
    head, rows = _table(stretches, began, banks, taste)
    ends = (w.clock_text(began, end, taste), w.clock_text(end, end, taste))
    return Course(charts, _strips(levels, until_s, zones), ends, head, rows)


def _options(
    series: list[Options],
    span: tuple[int, int],
    unit: str,
    limits_c: tuple[tuple[float, str], ...],
    taste: Taste,
) -> Options:
    marks = [{"yAxis": w.temp_number(value, taste), "name": name} for value, name in limits_c]
    if series and marks:
        series[0]["markLine"] = {
            "silent": True,
            "symbol": "none",
            "animation": False,
            "label": {"formatter": "{b} {c}", "position": "insideStartTop", "color": "var(--ink)", "fontSize": 11},
            "lineStyle": {"color": "var(--stop)", "type": [5, 4], "width": 1.2},
            "data": marks,
        }
    legend = len(series) > 1
    values = [value for one in series for _, value in one["data"] if value is not None]
    values += [mark["yAxis"] for mark in marks]
    low = GRID * math.floor(min(values, default=0) / GRID)
    high = GRID * math.ceil((max(values, default=0) + 1) / GRID)
    clock = "{HH}:{mm}" if taste.hours == 24 else "{h}:{mm} {a}"
    if span[1] - span[0] > DAYS_MS:
        clock = "{d} {MMM} " + clock
    axis = {"lineStyle": {"color": "var(--rule)"}}
    return {
        "animation": False,
        "textStyle": {"fontFamily": "inherit"},
        "grid": {"left": 4, "right": 12, "top": 26 if legend else 14, "bottom": 4, "containLabel": True},
        "legend": {
            "show": legend,
            "top": 0,
            "right": 8,
            "icon": "inherit",
            "itemWidth": 30,
            "itemHeight": 0,
            "selectedMode": False,
            "textStyle": {"color": "var(--ink-soft)", "fontSize": 11},
        },
        "tooltip": {
            "trigger": "axis",
            "confine": True,
            "backgroundColor": "var(--sheet)",
            "borderColor": "var(--rule)",
            "textStyle": {"color": "var(--ink)", "fontSize": 12},
            "axisPointer": {"lineStyle": {"color": "var(--ink-soft)"}, "animation": False},
        },
        "xAxis": {
            "type": "time",
            "min": span[0],
            "max": span[1],
            "splitNumber": 4,
            "axisLine": axis,
            "axisTick": axis,
            "axisLabel": {
                "color": "var(--ink-soft)",
                "hideOverlap": True,
                "fontSize": 11,
                "formatter": {
                    "hour": clock,
                    "minute": clock,
                    "second": clock,
                    "day": "{d} {MMM}",
                    "month": "{d} {MMM}",
                },
            },
        },
        "yAxis": {
            "type": "value",
            "min": low,
            "max": high,
            "interval": next((step for step in (5, 10, 20) if high - low <= 6 * step), 50),
            "axisLabel": {"color": "var(--ink-soft)", "fontSize": 11, "showMinLabel": False},
            "splitLine": {"lineStyle": {"color": "var(--rule-soft)"}},
        },
        "series": series,
    }


def _series(name: str, points: list[list[Any]], colour: str, dash: Any) -> Options:
    return {
        "name": name,
        "type": "line",
        "data": points,
        "showSymbol": False,
        "silent": True,
        "emphasis": {"disabled": True},
        "lineStyle": {"color": colour, "width": 1.8, "type": dash},
        "itemStyle": {"color": colour},
    }


def _strips(levels: Sequence[SavedLine], until_s: float, zones: Sequence[str]) -> tuple[Strip, ...]:
    whole_s = max(SPAN_S_MIN, until_s)
    strips = []
    for index, zone in enumerate(zones):
        lit, since_s, level = [], 0.0, 0.0
        for run_s, new in [*((line.run_s, _level(line, index)) for line in levels), (until_s, 0.0)]:
            if new != level:
                if level > 0:
                    lit.append((since_s / whole_s, run_s / whole_s, level))
                since_s, level = run_s, new
        count = len(lit)
        said = f"Zone {zone}: {f'light in {count} stretches' if count > 1 else 'light once' if count else 'no light'}"
        strips.append(Strip(zone, tuple(lit), said))
    return tuple(strips)


def _level(line: SavedLine, zone: int) -> float:
    levels = line.data.get("levels", ())
    return levels[zone] if zone < len(levels) else 0.0


def _table(
    stretches: Sequence[Stretch], began: datetime, banks: int, taste: Taste
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    head = ("Time", "Air", *(f"Bank {n}" for n in range(1, banks + 1)), "Humidity")
    every = max(1, -(-len(stretches) // TABLE_ROWS_MAX))
    rows = []
    for stretch in stretches[::-1][::every]:
        at = began + timedelta(seconds=stretch.run_s)
        humidity = stretch.humidity_pct_mean
        rows.append(
            (
                w.clock_text(at, began, taste),
                w.temp(stretch.air_temp_c_mean, taste),
                *(w.temp(_nth(stretch.bank_temps_c_mean, bank), taste) for bank in range(banks)),
                "no reading" if humidity is None else f"{humidity:.0f} %",
            )
        )
    return head, tuple(rows)


def _said(what: str, temps_c: Sequence[float | None], soft_c: float, taste: Taste) -> str:
    known = [temp_c for temp_c in temps_c if temp_c is not None]
    if not known:
        return f"{what}: no readings yet."
    low, high, last = (w.temp(temp_c, taste) for temp_c in (min(known), max(known), known[-1]))
    return f"{what} went from {low} to {high} and is {last} at the end; lamps pause at {w.temp(soft_c, taste)}."


def _said_humidity(values: Sequence[float | None]) -> str:
    known = [value for value in values if value is not None]
    if not known:
        return "Humidity: no readings yet."
    return f"Humidity went from {min(known):.0f} to {max(known):.0f} % and is {known[-1]:.0f} % at the end."


def _at(began: datetime, run_s: float) -> int:
    """Milliseconds since 1970, as charts count."""
    return round((began.timestamp() + run_s) * 1000)


def _nth(values: Sequence[float | None], index: int) -> float | None:
    return values[index] if index < len(values) else None


def _most(values: Sequence[float | None]) -> float | None:
    return max((value for value in values if value is not None), default=None)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
