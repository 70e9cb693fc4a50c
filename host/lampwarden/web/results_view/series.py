"""One treatment over the sheets of a series: a row a sheet, and the mean over them."""

from collections.abc import Sequence
from dataclasses import dataclass

from ...findings.sheets import SHEETS_LEAST, OverSheets
from ...service.series import Series

HEADS = {"treatment": "Treatment", "sheet": "Sheet", "effect": "More than the control, ΔE00", "verdict": "Verdict"}


@dataclass(frozen=True, slots=True)
class EffectRow:
    """One sheet, or the mean over sheets."""

    treatment: str
    sheet: str
    about: str
    """What it was called there, and its dose."""
    effect: str
    verdict: str
    span: tuple[float, float, float] | None
    """Lower bound, value, upper bound as places 0..1 on the drawn scale; a bound that is not known is the value."""
    mean: bool


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One sheet of the series."""

    title: str
    href: str
    """Its session's page; empty: none."""
    says: str


@dataclass(frozen=True, slots=True)
class SeriesShown:
    """Everything of a series."""

    lead: str
    sheets: tuple[SheetRow, ...]
    rows: tuple[EffectRow, ...]
    ends: tuple[str, str] | None
    """Both ends of the drawn scale; None: nothing is drawn."""
    zero: float


def series_shown(series: Series, key: str = "treatment", *, down: bool = False) -> SeriesShown:
    """A series, its rows sorted by one of HEADS."""
    titles = {sheet.id: sheet.title for sheet in series.sheets}
    edges = [0.0]
    for of in series.treatments:
        edges += [edge for each in of.effects for edge in (each.low, each.high)]
        edges += [edge for edge in (of.mean, of.low, of.high) if edge is not None]
    low, high = min(edges), max(edges)
    width = high - low or 1.0

    def span(bottom: float | None, middle: float, top: float | None) -> tuple[float, float, float]:
        ends = (middle if bottom is None else bottom, middle, middle if top is None else top)
        first, second, third = ((edge - low) / width for edge in ends)
        return first, second, third

    rows: list[tuple[EffectRow, float]] = []
    for of in series.treatments:
        for each in of.effects:
            row = EffectRow(
                treatment=of.treatment,
                sheet=titles[each.sheet],
                about=each.arm
                if not each.dose_j_cm2 or "J/cm²" in each.arm
                else f"{each.arm}, {each.dose_j_cm2:.0f} J/cm²",
                effect=_with_bounds(each.difference, each.low, each.high),
                verdict="",
                span=span(each.low, each.difference, each.high),
                mean=False,
            )
            rows.append((row, each.difference))
        rows += _mean(of, span(of.low, of.mean, of.high) if of.mean is not None else None)
    return SeriesShown(
        lead=_lead(series),
        sheets=tuple(
            SheetRow(s.title, f"/results/{s.chamber_id}/{s.session_id}" if s.session_id else "", s.why_not)
            for s in series.sheets
        ),
        rows=_sorted(rows, key, down=down),
        ends=(f"{low:.1f}", f"{high:.1f}") if rows else None,
        zero=(0.0 - low) / width,
    )


def _mean(of: OverSheets, span: tuple[float, float, float] | None) -> list[tuple[EffectRow, float]]:
    if of.mean is None:
        return []
    between = "" if of.between is None else f"from sheet to sheet ±{of.between:.1f} beyond measuring"
    row = EffectRow(
        treatment=of.treatment,
        sheet=f"Mean of {len(of.effects)} sheets",
        about=between,
        effect=_with_bounds(of.mean, of.low, of.high),
        verdict=of.verdict,
        span=span,
        mean=True,
    )
    return [(row, of.mean)]


def _with_bounds(value: float, low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return f"{value:+.1f}"
    return f"{value:+.1f} ({low:+.1f} to {high:+.1f})"


def _sorted(rows: Sequence[tuple[EffectRow, float]], key: str, *, down: bool) -> tuple[EffectRow, ...]:
    if key == "treatment":  # as they come: each treatment with its mean last
        order = list(rows)
        if down:
            names = list(dict.fromkeys(row.treatment for row, _ in rows))
            order.sort(key=lambda pair: -names.index(pair[0].treatment))
        return tuple(row for row, _ in order)
    keys = {
        "sheet": lambda pair: pair[0].sheet.casefold(),
        "effect": lambda pair: pair[1],
        "verdict": lambda pair: (not pair[0].verdict, pair[0].verdict),
    }
    return tuple(row for row, _ in sorted(rows, key=keys[key], reverse=down))


def _lead(series: Series) -> str:
    counted = max((len(of.effects) for of in series.treatments), default=0)
    if counted == 0:
        return (
            "Nothing can be compared yet. Each sheet needs a control and readings before and after; then each gives one"
            " effect for each treatment."
        )
    if counted < SHEETS_LEAST:
        have = "One sheet has" if counted == 1 else "Two sheets have"
        return (
            f"{have} effects so far. They hold for what was treated and for nothing else: how much sheets differ cannot"
            f" be told with fewer than {SHEETS_LEAST}. Treat more sheets, each by itself."
        )
    return (
        "Each sheet was treated by itself, so here the sheet counts, not the cell: these are true replicates. The"
        " interval of a mean holds for sheets of this kind, each treatment by itself at 95 %, and for no other paper."
    )
