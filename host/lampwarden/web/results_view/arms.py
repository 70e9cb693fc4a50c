"""Treatments beside the control, what should not have changed, watched inks, and arms across sessions."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from ...findings.change import Z_95
from ...findings.conclude import Conclusions
from ...findings.sheets import alike, given
from ...findings.treatments import Arm, Contrast
from ...findings.watch import InkWatch
from ..photos_view import WAYS, amount


@dataclass(frozen=True, slots=True)
class ArmRow:
    """One treatment."""

    name: str
    cells: str
    dose: str
    gain: str
    effect: str
    """Against the control, with its interval; empty for the control itself or without one."""
    verdict: str
    span: tuple[float, float, float] | None
    """Lower bound, value, upper bound of the effect as places 0..1 on the scale of `Arms.ends`."""


@dataclass(frozen=True, slots=True)
class Arms:
    """The treatments of one session."""

    rows: tuple[ArmRow, ...]
    lead: str
    ends: tuple[str, str] | None
    """Both ends of the drawn scale; None: nothing is drawn."""
    zero: float
    """Place of no effect on it, 0..1."""


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One thing that should not have changed, or one watched ink."""

    name: str
    about: str
    change: str
    verdict: str
    calm: bool


@dataclass(slots=True)
class _Across:
    arm: Arm
    cells: dict[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AcrossRow:
    """One treatment in several sessions."""

    name: str
    gains: tuple[str, ...]
    """By session; empty where it was not given."""


def gain_of(found: Conclusions, arm: Arm) -> tuple[float, float] | None:
    """Mean gain of an arm's independent pieces and its standard uncertainty by measuring, ΔE00."""
    units = [unit for unit in found.units if unit.arm == arm.name]
    if not units:
        return None
    u = sum(unit.u_de00**2 for unit in units) ** 0.5 / len(units)
    return sum(unit.gain_de00 for unit in units) / len(units), u


def gain_text(found: Conclusions, arm: Arm) -> str:
    """Example: '+5.4 ± 0.3'."""
    gain = gain_of(found, arm)
    return "" if gain is None else f"{gain[0]:+.1f} ± {Z_95 * gain[1]:.1f}"


def arms(found: Conclusions) -> Arms:
    """Treatments, those with most effect first, the control last."""
    of = found.comparison
    effects = {effect.one: effect for effect in of.against_control} if of else {}
    edges = [0.0, *(edge for effect in effects.values() for edge in (effect.low, effect.high))]
    low, high = min(edges), max(edges)
    width = high - low or 1.0

    def place(value: float) -> float:
        return (value - low) / width

    def row(arm: Arm) -> ArmRow:
        effect = effects.get(arm.name)
        verdict = "the others are compared with it" if of and arm.name == of.control else ""
        return ArmRow(
            name=arm.name,
            cells=", ".join(arm.cells),
            dose=f"{arm.dose_j_cm2:.0f} J/cm²" if arm.light else "dark",
            gain=gain_text(found, arm),
            effect=f"{effect.difference:+.1f} ({effect.low:+.1f} to {effect.high:+.1f})" if effect else "",
            verdict=_verdict(effect, of.margin_de00) if effect and of else verdict,
            span=(place(effect.low), place(effect.difference), place(effect.high)) if effect else None,
        )

    ordered = sorted(
        found.arms,
        key=lambda arm: (arm.name not in effects, -effects[arm.name].difference if arm.name in effects else 0.0),
    )
    ends = (f"{low:.1f}", f"{high:.1f}") if effects else None
    return Arms(tuple(row(arm) for arm in ordered), _lead(found), ends, place(0.0))


def _lead(found: Conclusions) -> str:
    of = found.comparison
    if of is None:
        return "There are fewer than two treatments with readings before and after, so nothing can be compared."
    if of.control is None:
        return "There is no control among the cells, so no effect can be told from drift and time."
    yardstick = (
        "The yardstick is how much independent pieces of one treatment scatter."
        if of.replicated
        else "Too few independent pieces: the intervals hold for these cells as measured, not for others."
    )
    return f"Each against '{of.control}', with intervals that hold together at {100 * of.level:.0f} %. {yardstick}"


def _verdict(effect: Contrast, margin_de00: float) -> str:
    if effect.found:
        return "whiter" if effect.difference > 0 else "darker or yellower"
    return f"alike within ±{margin_de00:g} ΔE00" if effect.equal else "not determined"


def drift_rows(found: Conclusions) -> tuple[CheckRow, ...]:
    """Controls and swatches kept in the dark."""
    if found.drift is None:
        return ()
    kept = [("swatch kept in the dark", change) for change in found.drift.swatches]
    kept += [("control", change) for change in found.drift.controls]
    return tuple(
        CheckRow(
            name=change.cell,
            about=about,
            change=amount(change),
            verdict="moved" if change.cell in found.drift.moved else "stayed",
            calm=change.cell not in found.drift.moved,
        )
        for about, change in kept
    )


def ink_rows(found: Conclusions) -> tuple[CheckRow, ...]:
    """Watched inks, those that fade first."""
    return tuple(
        CheckRow(
            name=ink.cell,
            about=f"{ink.ink or 'ink'}, limit {ink.limit_de00:g}",
            change=amount(ink.change),
            verdict=_ink(ink),
            calm=ink.over is False,
        )
        for ink in sorted(found.inks, key=lambda ink: not ink.fading)
    )


def _ink(ink: InkWatch) -> str:
    if ink.over is False:
        return "under its limit"
    if ink.real:
        return "fading, over its limit" if ink.over else "fading, may be over its limit"
    return "cannot tell"


def across(sessions: Sequence[Conclusions]) -> tuple[AcrossRow, ...]:
    """Arms of several sessions of one sheet in one table: the same treatment at about the same dose is one row."""
    rows: list[_Across] = []
    for number, found in enumerate(sessions):
        for arm in sorted(found.arms, key=lambda arm: arm.dose_j_cm2):
            text = gain_text(found, arm)
            if arm.light:
                text += f" at {arm.dose_j_cm2:.0f} J/cm²"
            row = next((row for row in rows if number not in row.cells and alike(row.arm, arm)), None)
            if row is None:
                rows.append(row := _Across(arm))
            row.cells[number] = text
    ordered = sorted(rows, key=lambda row: (row.arm.control, row.arm.bath, row.arm.dose_j_cm2))
    return tuple(
        AcrossRow(given(row.arm), tuple(row.cells.get(number, "") for number in range(len(sessions))))
        for row in ordered
    )


def way_text(found: Conclusions) -> str:
    """How the colours were read."""
    return WAYS[found.way] if found.way is not None else "not read"
