"""What a plan comes to: a review in words and figures."""

from dataclasses import dataclass
from datetime import datetime

from ...care.cautions import Weight
from ...domain.chamber import Chamber
from ...domain.plan import Plan
from ...domain.units import duration_text
from ...light.evidence import Statement
from ...light.fading import Risk
from ...planning import Level, Notice, Review, Trial
from ...planning.baths import Bath
from .. import wording as w
from ..wording import Taste

WORDS = {Level.STOP: "Stop", Level.WARN: "Mind", Level.NOTE: "Note"}
SCALE_LOW_C = 10.0
"""Left end of the temperature scale, C; its right end is the cutoff."""


@dataclass(frozen=True, slots=True)
class Remark:
    """One notice."""

    tone: str
    """stop, warn or note."""
    word: str
    says: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Pair:
    label: str
    text: str
    also: str = ""


@dataclass(frozen=True, slots=True)
class ZoneLine:
    """One zone of the table."""

    zone: str
    dose: str
    dose_also: str
    strength: str
    strength_also: str
    time: str
    time_also: str
    about: str
    """How the numbers are known, and what falls in from the neighbours."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A better time, taken up by one press."""

    key: str
    """start or moved."""
    button: str


@dataclass(frozen=True, slots=True)
class Warmth:
    """The warmest air expected, on a scale from SCALE_LOW_C to the cutoff; places are shares 0..1."""

    value: str
    between: str
    verdict: str
    over: bool
    low: float
    likely: float
    high: float
    soft: float
    limits: str


@dataclass(frozen=True, slots=True)
class Saying:
    """A sentence with where it comes from."""

    text: str
    source: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Sentences about one thing."""

    title: str
    lines: tuple[Saying, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    ends: str
    """When it is over, by the clock."""
    brief: str
    """All of it in one line."""
    facts: tuple[Pair, ...]
    refused: str
    """'' or how many things stop it, in words."""
    remarks: tuple[Remark, ...]
    """What stops it first."""
    notes: tuple[Remark, ...]
    """What is only good to know."""
    sleep: str
    """Which checkpoints fall into sleep; empty: none."""
    suggestions: tuple[Suggestion, ...]
    zones: tuple[ZoneLine, ...]
    warmth: Warmth
    groups: tuple[Group, ...]
    """Cautions first, the weightiest on top."""


def outcome(review: Review, plan: Plan, chamber: Chamber, taste: Taste, now: datetime) -> Outcome:
    """Everything the page says about a plan that was reviewed."""
    stops = [notice for notice in review.warnings if notice.level is Level.STOP]
    line = review.timeline
    session_s = plan.program.planned_session_s(chamber)
    attended = sum(c.attended for c in plan.program.checkpoints)
    alone = len(plan.program.checkpoints) - attended
    facts = [
        Pair("Session", duration_text(60 * round(session_s / 60)), "without pauses"),
        Pair("Pauses", w.rough_text(line.pauses_s), "at checkpoints, to cool and to look"),
        Pair("Checkpoints", f"{attended} with you", f"{alone} by itself" if alone else ""),
        Pair(
            "Power",
            f"{review.power.peak_w:.1f} W at most",
            f"of {review.power.ceiling_w:g} W" if review.power.ceiling_w is not None else "no ceiling given",
        ),
        Pair("Energy", f"{review.power.energy_wh:.0f} Wh", "of the lamps"),
    ]
    # What disturbs a sleeper stands beside its remedies.
    remarks = [_remark(notice, taste) for notice in review.warnings if notice.key != "sleep"]
    ends = f"Ends {w.clock_text(line.end, now, taste)}"
    minds = sum(notice.level is Level.WARN for notice in review.warnings)
    brief = [ends, f"{w.temp(review.heat.forecast.peak_c, taste)} at most", f"{minds} to mind" if minds else ""]
    if stops:
        brief = [f"{len(stops)} {'thing stops' if len(stops) == 1 else 'things stop'} it", *brief]
    return Outcome(
        ends=ends,
        brief=" · ".join(filter(None, brief)),
        facts=tuple(facts),
        refused=_refused(len(stops)),
        remarks=tuple(one for one in remarks if one.tone != Level.NOTE),
        notes=tuple(one for one in remarks if one.tone == Level.NOTE),
        sleep=review.proposal.sentences[0] if review.proposal.sentences else "",
        suggestions=_suggestions(review, now, taste),
        zones=tuple(_zones(review)),
        warmth=_warmth(review, plan, taste),
        groups=tuple(group for group in _groups(review, taste) if group.lines),
    )


def _refused(stops: int) -> str:
    if not stops:
        return ""
    return "One thing stops this plan:" if stops == 1 else f"{stops} things stop this plan:"


def _remark(notice: Notice, taste: Taste) -> Remark:
    return Remark(
        notice.level.value, WORDS[notice.level], w.in_scale(notice.says, taste), w.in_scale(notice.remedy, taste)
    )


def _suggestions(review: Review, now: datetime, taste: Taste) -> tuple[Suggestion, ...]:
    found = []
    if review.proposal.start is not None:
        found.append(Suggestion("start", f"Start at {w.clock_text(review.proposal.start, now, taste)}"))
    if review.proposal.program is not None:
        found.append(Suggestion("moved", "Move the night's checkpoints"))
    return tuple(found)


def _zones(review: Review) -> list[ZoneLine]:
    lines = []
    for zone in review.zones:
        stray = f"; {zone.stray_j_cm2:.1f} J/cm² leak in from its neighbours" if zone.stray_j_cm2 else ""
        if not zone.on_s:
            about = f"Stays dark{stray}."
            lines.append(ZoneLine(zone.zone, "dark", "", "", "", "", "", about))
            continue
        dose, dose_also = w.dose_texts(zone.dose_j_cm2)
        lines.append(
            ZoneLine(
                zone=zone.zone,
                dose=dose,
                dose_also=dose_also,
                strength=f"{zone.irradiance_w_m2 / 10:.1f} mW/cm²",
                strength_also=f"{zone.irradiance_w_m2:.0f} W/m²",
                time=w.rough_text(zone.on_s),
                time_also=f"until {w.rough_text(zone.last_s or 0.0)}",
                about=f"{zone.calibration.rstrip('.')}{stray}.",
            )
        )
    return lines


def _warmth(review: Review, plan: Plan, taste: Taste) -> Warmth:
    forecast, limits = review.heat.forecast, plan.program.limits

    def place(temp_c: float) -> float:
        return min(1.0, max(0.0, (temp_c - SCALE_LOW_C) / max(limits.air_hard_c - SCALE_LOW_C, 1.0)))

    known = (
        f"from {review.heat.model.sessions} earlier sessions" if review.heat.model.sessions else "before any session"
    )
    return Warmth(
        value=w.temp(forecast.peak_c, taste),
        between=f"{w.temp(forecast.low_c, taste)} to {w.temp(forecast.high_c, taste)}, 19 times in 20 ({known})",
        verdict=w.in_scale(" ".join(forecast.sentences), taste),
        over=forecast.chance_soft >= 0.5,
        low=place(forecast.low_c),
        likely=place(forecast.peak_c),
        high=place(forecast.high_c),
        soft=place(limits.air_soft_c),
        limits=f"Pause to cool at {w.temp(limits.air_soft_c, taste)}, cut off at {w.temp(limits.air_hard_c, taste)}",
    )


def _groups(review: Review, taste: Taste) -> list[Group]:
    eye = [*(gaze.statement for gaze in review.eye), review.interlock]
    paper = [*review.dose, *review.damage, *filter(None, (review.heat.sheet, review.lux))]
    return [
        Group(
            "Cautions",
            tuple(_saying(c.statement, taste, strong=c.weight is Weight.CONFIRM) for c in review.cautions),
        ),
        Group("Inks", tuple(_saying(f.statement, taste, strong=f.risk is not Risk.LOW) for f in review.fading)),
        Group("Light on the sheet", tuple(_saying(one, taste) for one in paper)),
        Group("Eyes", tuple(_saying(one, taste) for one in eye)),
        Group("Peroxide baths", tuple(line for bath in review.peroxide.baths for line in _bath(bath, taste))),
        Group("What is compared", _compared(review.trial) if review.trial else ()),
    ]


def _saying(statement: Statement, taste: Taste, *, strong: bool = False) -> Saying:
    return Saying(w.in_scale(statement.text, taste), f"{statement.status.value}: {statement.source}", strong)


def _bath(bath: Bath, taste: Taste) -> list[Saying]:
    for_whom = f"{bath.strength_pct:g} % for {w.listed(list(bath.cells))}"
    how = bath.recipe.text if bath.recipe is not None else bath.trouble
    return [Saying(f"{for_whom}: {how}", "", bool(bath.trouble))]


def _compared(trial: Trial) -> tuple[Saying, ...]:
    members: dict[str, list[str]] = {}
    for cell, arm in trial.arms.items():
        members.setdefault(arm, []).append(cell)
    lines = [
        Saying(f"{w.listed(cells)}: {arm}{' (compared with)' if arm == trial.control else ''}.", "")
        for arm, cells in members.items()
    ]
    lines += [Saying(says, "") for says in trial.differences]
    return tuple(lines)
