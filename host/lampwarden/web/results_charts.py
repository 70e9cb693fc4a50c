"""How colours changed over dose or time, as a chart, a sentence and a table. Pure.

Colours are names of the style sheet; each treatment also has a shape and a line pattern of its own.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..domain.reading import Reading
from ..findings.change import Z_95
from ..findings.conclude import CellFindings, Conclusions
from ..findings.treatments import Arm

Options = dict[str, Any]

HEIGHTS = {
    "gain": "Whiter by, ΔE00",
    "de00": "Changed by, ΔE00",
    "b": "Yellowness, b*",
}
"""What can be drawn upwards."""
ABOUT = {
    "gain": "The whitening part of the change. Below 0: darker or yellower.",
    "de00": "The whole change of colour, whatever its direction. Noise makes it larger than 0, never smaller.",
    "b": "How yellow the colour itself is: 0 is neutral, old newsprint has 15 to 25.",
}
ACROSS = {"dose": "dose, J/cm²", "time": "session time, h"}
"""What can be drawn sideways."""
SHAPES = (("circle", "●"), ("rect", "■"), ("triangle", "▲"), ("diamond", "◆"))
COLOURS = ("--glow", "--bank", "--teal", "--water", "--alarm", "--ink")
DASHES: tuple[Any, ...] = ("solid", [7, 3], [2, 3], [9, 3, 2, 3], [4, 2])
DODGE = 0.006
"""Points of several treatments at one place are moved apart by this share of the width, to see their bars."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What a person wants to see."""

    height: str = "gain"
    across: str = "dose"
    arm: str = ""
    """One treatment alone, cell by cell; empty: all."""


@dataclass(frozen=True, slots=True)
class Key:
    """One entry of the legend."""

    mark: str
    colour: str
    """Name of a colour of the style sheet."""
    name: str


@dataclass(frozen=True, slots=True)
class Curves:
    """The chart and what says the same without it."""

    options: Options
    """For Apache ECharts."""
    keys: tuple[Key, ...]
    said: str
    note: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class _Point:
    x: float
    value: float
    low: float
    high: float
    label: str


def curves(found: Conclusions, readings: Mapping[str, Reading], choice: Choice) -> Curves:
    """Curves of all treatments, or of the cells of one. `readings` by id."""
    by_cell = {cell.cell: cell for cell in found.cells}
    alone = next((arm for arm in found.arms if arm.name == choice.arm), None)
    groups: list[tuple[str, list[CellFindings]]]
    if alone is None:
        groups = [(arm.name, [by_cell[name] for name in arm.cells if name in by_cell]) for arm in _ordered(found.arms)]
    else:
        groups = [(name, [by_cell[name]]) for name in alone.cells if name in by_cell]
    drawn = [(name, _points(cells, readings, choice)) for name, cells in groups]
    lit = {arm.name for arm in found.arms if arm.light}
    dark = [name for name, _ in drawn if choice.across == "dose" and alone is None and name not in lit]
    drawn = [(name, points) for name, points in drawn if name not in dark]
    # Hue, shape and pattern change together, so that neighbours differ in everything.
    looks = {name: _look(number) for number, (name, _) in enumerate(groups)}
    width = max((point.x for _, points in drawn for point in points), default=1.0) or 1.0
    wanted = alone is not None and (choice.height, choice.across) == ("gain", "dose")
    fitted = {cell.cell: cell for _, cells in groups for cell in cells if wanted and cell.course is not None}
    series: list[Options] = []
    for number, (name, points) in enumerate(drawn):
        shift = (number - (len(drawn) - 1) / 2) * DODGE * width if len(points) > 1 else 0.0
        joined = name not in fitted
        series += _lines(name, [replace(point, x=point.x + shift) for point in points], looks[name], joined=joined)
    note = ABOUT[choice.height]
    for name, cell in fitted.items():
        series += _fitted(cell, looks[name])
    if fitted:
        note += " The line is the course that was fitted, between its 95 % bounds, one step further than the readings."
    if dark:
        note += f" Without light, so not drawn over dose: {'; '.join(dark)}. Choose time to see them."
    unit = "" if choice.height == "b" else " ΔE00"
    return Curves(
        options=_options(series, choice),
        keys=tuple(Key(looks[name].mark, looks[name].colour, name) for name, _ in drawn),
        said=_said(drawn, choice, unit),
        note=note,
        head=(
            "Treatment" if alone is None else "Cell",
            "Reading",
            ACROSS[choice.across],
            HEIGHTS[choice.height],
            "95 %",
        ),
        rows=tuple(
            (name, point.label, f"{point.x:.1f}", f"{point.value:+.1f}", f"{point.low:+.1f} to {point.high:+.1f}")
            for name, points in drawn
            for point in points
        ),
    )


@dataclass(frozen=True, slots=True)
class _Look:
    shape: str
    mark: str
    colour: str
    dash: Any


def _look(number: int) -> _Look:
    shape, mark = SHAPES[number % len(SHAPES)]
    return _Look(shape, mark, COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)])


def _ordered(arms: Sequence[Arm]) -> list[Arm]:
    return sorted(arms, key=lambda arm: (arm.control, not arm.light, arm.dose_j_cm2))


def _points(cells: Sequence[CellFindings], readings: Mapping[str, Reading], choice: Choice) -> list[_Point]:
    """One point a reading within the session: the mean of the cells that were read then."""
    ids = dict.fromkeys(
        each
        for cell in cells
        for each in (cell.series.baseline, *(change.reading for change in cell.series.changes))
        if each in readings and readings[each].session_s is not None
    )
    found = []
    for key in sorted(ids, key=lambda each: readings[each].session_s or 0.0):
        values = [one for cell in cells if (one := _value(cell, readings[key], choice)) is not None]
        if not values:
            continue
        count = len(values)
        middle = sum(value for _, value, _, _ in values) / count
        if count == 1:
            low, high = values[0][2], values[0][3]
        else:
            half = math.sqrt(sum(((high - low) / 2) ** 2 for _, _, low, high in values)) / count
            low, high = middle - half, middle + half
        x = sum(place for place, *_ in values) / count
        label = readings[key].checkpoint or readings[key].taken_utc[:16].replace("T", " ")
        found.append(_Point(x, middle, low, high, label))
    return sorted(found, key=lambda point: point.x)


def _value(cell: CellFindings, reading: Reading, choice: Choice) -> tuple[float, float, float, float] | None:
    """Place, value and 95 % bounds of one cell at one reading."""
    baseline = cell.series.baseline == reading.id
    change = next((each for each in cell.series.changes if each.reading == reading.id), None)
    x = (reading.session_s or 0.0) / 3600
    if choice.across == "dose":
        if not baseline and (change is None or change.dose_j_cm2 is None):
            return None
        x = 0.0 if change is None else change.dose_j_cm2 or 0.0
    if choice.height == "b":
        colour = reading.cell(cell.cell)
        if colour is None or not colour.usable:
            return None
        value, half = colour.lab_d50[2], Z_95 * colour.u_lab[2]
        return x, value, value - half, value + half
    if baseline:
        return x, 0.0, 0.0, 0.0
    if change is None:
        return None
    if choice.height == "de00":
        return x, change.de00.value, change.de00.low, change.de00.high
    return x, change.gain.value, change.gain.low, change.gain.high


def _lines(name: str, points: Sequence[_Point], look: _Look, *, joined: bool) -> list[Options]:
    colour = f"var({look.colour})"
    bars = [
        pair
        for p in points
        if p.high > p.low
        for pair in ([_r(p.x), _r(p.low)], [_r(p.x), _r(p.high)], [_r(p.x), None])
    ]
    plain = {"type": "line", "silent": True, "emphasis": {"disabled": True}, "itemStyle": {"color": colour}}
    return [
        plain
        | {
            "name": f"{name}, 95 %",
            "data": bars,
            "showSymbol": False,
            "lineStyle": {"color": colour, "width": 1.4, "type": "solid"},
        },
        plain
        | {
            "name": name,
            "data": [[_r(point.x), _r(point.value)] for point in points],
            "symbol": look.shape,
            "symbolSize": 9,
            "lineStyle": {"color": colour, "width": 1.6 if joined else 0, "type": look.dash},
        },
    ]


def _fitted(cell: CellFindings, look: _Look) -> list[Options]:
    """The fitted course and its band."""
    if cell.course is None:
        return []
    colour = f"var({look.colour})"
    curve = cell.course.curve

    def line(height: list[list[float]], dash: Any, width: float) -> Options:
        return {
            "name": f"{cell.cell}, fitted",
            "type": "line",
            "data": height,
            "showSymbol": False,
            "silent": True,
            "smooth": True,
            "lineStyle": {"color": colour, "width": width, "type": dash, "opacity": 0.75},
        }

    return [
        line([[_r(p.x), _r(p.best)] for p in curve], "solid", 2.2),
        line([[_r(p.x), _r(p.low)] for p in curve], [3, 3], 1.2),
        line([[_r(p.x), _r(p.high)] for p in curve], [3, 3], 1.2),
    ]


def _said(drawn: Sequence[tuple[str, list[_Point]]], choice: Choice, unit: str) -> str:
    if not any(points for _, points in drawn):
        return "Nothing to draw: there are no readings with these numbers."
    told = [
        f"{name}: {points[0].value:+.1f} to {points[-1].value:+.1f}{unit} at {points[-1].x:.0f}"
        f" {'J/cm²' if choice.across == 'dose' else 'h'}"
        for name, points in drawn
        if points
    ]
    return f"{HEIGHTS[choice.height]} over {ACROSS[choice.across]}. {'; '.join(told)}."


def _options(series: list[Options], choice: Choice) -> Options:
    axis = {"lineStyle": {"color": "var(--rule)"}}
    label = {"color": "var(--ink-soft)", "fontSize": 12}
    return {
        "animation": False,
        "textStyle": {"fontFamily": "inherit"},
        "grid": {"left": 8, "right": 18, "top": 30, "bottom": 28, "containLabel": True},
        "legend": {"show": False},
        "xAxis": {
            "type": "value",
            "name": ACROSS[choice.across],
            "nameLocation": "middle",
            "nameGap": 28,
            "nameTextStyle": label,
            "min": 0,
            "axisLine": axis | {"onZero": False},
            "axisTick": axis,
            "axisLabel": label | {"hideOverlap": True, "showMinLabel": False},
            "splitLine": {"show": False},
        },
        "yAxis": {
            "type": "value",
            "name": HEIGHTS[choice.height],
            "nameTextStyle": label | {"align": "left"},
            "scale": choice.height == "b",
            "axisLabel": label,
            "splitLine": {"lineStyle": {"color": "var(--rule-soft)"}},
        },
        "series": series,
    }


def _r(value: float) -> float:
    return round(value, 2)
