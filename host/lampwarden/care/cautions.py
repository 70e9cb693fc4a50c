"""Cautions for a sheet and what is planned for it: the sentences, and when each applies.

A table of rows. Each row says whom it concerns, how weighty it is, and how far to trust it. `cautions` only sorts out
which rows apply; nothing here forbids anything, except by what must be confirmed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum, unique

from ..domain.sheet import InkKind, PaperKind, Sheet, Treatment
from ..light.defaults import PEAK_EXPERT_NM
from ..light.evidence import Statement, Status
from ..light.eye import INTERLOCK_CAUTION
from .defaults import (
    AIR_DANGER_PPM,
    AIR_LIMIT_MG_M3,
    BATH_PH_HIGH,
    BATH_PH_LOW,
    BATH_RENEWAL_MIN,
    EYE_RINSE_MIN,
    INK_STOP_DE00,
    WET_MIN_MAX,
    WORKING_PCT,
)
from .peroxide import is_peroxide, strength_cautions


@unique
class Weight(IntEnum):
    """How much a caution asks for."""

    NOTE = 1
    """Good to know."""
    CAUTION = 2
    """Shown beside the plan."""
    CONFIRM = 3
    """A person must tick it before a session starts."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution for this sheet and plan."""

    key: str
    """Short name for records: a confirmed caution is stored by it."""
    weight: Weight
    statement: Statement


@dataclass(frozen=True, slots=True)
class _Plan:
    """What the rows look at."""

    sheet: Sheet
    treatments: tuple[Treatment, ...]
    peak_nm: float

    @property
    def light(self) -> bool:
        return any(t.light for t in self.treatments)

    @property
    def wet(self) -> bool:
        return any(t.chemical or t.wet_min for t in self.treatments)

    @property
    def peroxide(self) -> bool:
        return any(is_peroxide(t) for t in self.treatments)

    @property
    def bath_pct(self) -> tuple[float, ...]:
        """Strengths of peroxide in use, ascending."""
        return tuple(sorted({t.strength_pct for t in self.treatments if is_peroxide(t) and t.strength_pct}))

    @property
    def longest_wet_min(self) -> float:
        return max((t.wet_min or 0.0 for t in self.treatments if is_peroxide(t)), default=0.0)

    def paper(self, *kinds: PaperKind) -> bool:
        return self.sheet.paper in kinds

    def ink(self, *kinds: InkKind) -> bool:
        return any(ink.kind in kinds for ink in self.sheet.inks)


@dataclass(frozen=True, slots=True)
class _Row:
    key: str
    weight: Weight
    applies: Callable[[_Plan], bool]
    text: str
    source: str
    status: Status


_ROWS = (
    _Row(
        "original",
        Weight.CONFIRM,
        lambda p: p.sheet.original and (p.light or p.wet),
        "This is an original. Whether it is treated at all is for a trained paper conservator to decide, who sees it."
        " Work on test pieces of the same kind first. What bleaching does cannot be undone.",
        "our rule; bleaching only if appearance is severely harmed and milder cleaning fails: AIC wiki, Bleaching",
        Status.PROPOSAL,
    ),
    _Row(
        "consent",
        Weight.CONFIRM,
        lambda p: not p.sheet.consent and (p.light or p.wet),
        "Nobody has noted that the sheet's owner agrees to changes for good. Ask, and note it with the sheet.",
        "trade ethics",
        Status.COMMON_PRACTICE,
    ),
    _Row(
        "groundwood-reverts",
        Weight.CONFIRM,
        lambda p: p.light and p.paper(PaperKind.GROUNDWOOD, PaperKind.UNKNOWN),
        "Groundwood paper that light has brightened turns yellow again, in days to months, even in the dark. Lignin and"
        " acid drive it. Plan to measure again after 1, 3, 7, 30, 90 days and a year.",
        "Lee, Bogaard and Feller 1989, JAIC 28:1-18; Neuvirt; Vavrova and others",
        Status.PUBLISHED,
    ),
    _Row(
        "groundwood-wet",
        Weight.CONFIRM,
        lambda p: p.wet and p.paper(PaperKind.GROUNDWOOD, PaperKind.UNKNOWN),
        "Light bleaching in a bath is practice for paper with little lignin only; groundwood is left out."
        " An alkaline bath makes groundwood more sensitive to light and darker later.",
        "Schaeffer and others 1992, JAIC 31; Tapley 2001; Bukovsky and Kuka",
        Status.PUBLISHED,
    ),
    _Row(
        "paper-unknown",
        Weight.CAUTION,
        lambda p: p.paper(PaperKind.UNKNOWN),
        "The kind of paper is not known, so the cautions for groundwood are shown. A drop of phloroglucinol test"
        " solution turns a scrap of groundwood red.",
        "paper testing",
        Status.FROM_MEMORY,
    ),
    _Row(
        "coated-wet",
        Weight.CONFIRM,
        lambda p: p.wet and p.paper(PaperKind.COATED),
        "The coating softens in water and sticks to whatever lies on it. Treat coated paper dry.",
        "trade knowledge",
        Status.FROM_MEMORY,
    ),
    _Row(
        "chemical-wood",
        Weight.NOTE,
        lambda p: p.light and p.paper(PaperKind.CHEMICAL),
        "Chemical wood paper was brightened by 330 to 440 nm at 30 °C, then yellowed in 15 months of storage.",
        "Launer and Wilson 1943, cited by Lee, Bogaard and Feller 1989",
        Status.PUBLISHED,
    ),
    _Row(
        "rag-dry",
        Weight.NOTE,
        lambda p: p.light and not p.wet and p.paper(PaperKind.RAG),
        "Rag paper that was exposed dry reverted more in humid ageing than paper exposed in a bath.",
        "Schaeffer and others 1992, JAIC 31, discussion",
        Status.PUBLISHED,
    ),
    _Row(
        "gelatin",
        Weight.CAUTION,
        lambda p: p.wet and "gelatin" in p.sheet.sizing.casefold(),
        "A warm bath takes gelatin size and strength out of the paper, in the dark as well. Keep the bath cool.",
        "Schaeffer and others 1992, JAIC 31, discussion",
        Status.PUBLISHED,
    ),
    _Row(
        "ink-wet",
        Weight.CONFIRM,
        lambda p: p.wet and (p.ink(InkKind.DYE, InkKind.UNKNOWN) or any(ink.fugitive for ink in p.sheet.inks)),
        "An ink on this sheet may run. Touch each with a damp swab in a hidden place first; only what is waterfast may"
        " get wet. Inks also soften in long baths.",
        "Tapley 2001 (bookarts list); Rugheimer 2003, Conservation DistList 17:20",
        Status.PUBLISHED,
    ),
    _Row(
        "iron-gall",
        Weight.CONFIRM,
        lambda p: (p.light or p.wet) and p.ink(InkKind.IRON_GALL),
        "Leave iron-gall ink out: it fades in light, and with peroxide its iron attacks the paper. Cover it, or keep"
        " the sheet out of the chamber.",
        "pigment handbooks; iron and peroxide: conservation science textbook",
        Status.FROM_MEMORY,
    ),
    _Row(
        "mineral-wet",
        Weight.CONFIRM,
        lambda p: p.wet and p.ink(InkKind.MINERAL, InkKind.UNKNOWN),
        "Some mineral colours change in a bath: Prussian blue turns brown in an alkaline one, and copper greens make"
        " peroxide attack the paper under them. Find out what they are, or keep them dry.",
        "copper: Ahn and others 2014, Heritage Science 2:12, Malešič and others 2020, Restaurator 41:231 (abstracts);"
        " Prussian blue and peroxide from memory",
        Status.PUBLISHED,
    ),
    _Row(
        "ink-light",
        Weight.CAUTION,
        lambda p: p.light and p.ink(InkKind.ORGANIC_RED_YELLOW, InkKind.DYE, InkKind.MINERAL, InkKind.UNKNOWN),
        f"An ink on this sheet absorbs blue light and may fade or darken. Give it an ink watch cell, cover the rest,"
        f" and stop at {INK_STOP_DE00}.",
        "where the colours absorb; Hofmann and Hofmann-Sievert 2022, Heritage 5(4):4061",
        Status.FROM_MEMORY,
    ),
    _Row(
        "short-band",
        Weight.CONFIRM,
        lambda p: p.light and p.peak_nm <= PEAK_EXPERT_NM.value,
        f"Light of {PEAK_EXPERT_NM} and shorter is near the side that darkens, and harms paper more."
        " For experts, with a reason.",
        "Forsskåhl and Tylli 1993; CIE 157:2004",
        Status.PROPOSAL,
    ),
    _Row(
        "eyes-light",
        Weight.CONFIRM,
        lambda p: p.light,
        INTERLOCK_CAUTION.text,
        INTERLOCK_CAUTION.source,
        INTERLOCK_CAUTION.status,
    ),
    _Row(
        "test-spot",
        Weight.CAUTION,
        lambda p: p.light or p.wet,
        "Try a hidden spot first, and keep untreated pieces of the same paper dark beside the trial.",
        "trade practice",
        Status.COMMON_PRACTICE,
    ),
    _Row(
        "wash-first",
        Weight.NOTE,
        lambda p: p.light or p.peroxide,
        "Washing in an alkaline bath alone may lighten the paper enough. Bleaching does not make paper last longer.",
        "AIC wiki, Bleaching, opening; Carroll 2002, Conservation DistList 16",
        Status.PUBLISHED,
    ),
    _Row(
        "stop-early",
        Weight.NOTE,
        lambda p: p.light or p.peroxide,
        "Stop before the tone you want: the gain is quick first and slow later, and over-white looks wrong.",
        "Whitmore and others (kinetics); tone: trade practice",
        Status.FROM_MEMORY,
    ),
    _Row(
        "peroxide-eyes",
        Weight.CONFIRM,
        lambda p: p.peroxide,
        "Wear splash goggles, nitrile gloves and an apron, and have water to rinse at hand. Splashed in the eye:"
        f" rinse at once for at least {EYE_RINSE_MIN}, holding the lids open, and see a doctor.",
        "safety data sheets; gloves and apron from memory",
        Status.PUBLISHED,
    ),
    _Row(
        "peroxide-air",
        Weight.CAUTION,
        lambda p: p.peroxide,
        f"Work in moving air. Limit for a working day: 1 ppm ({AIR_LIMIT_MG_M3}); danger to life from {AIR_DANGER_PPM}."
        " Never spray it, never warm it.",
        "OSHA, NIOSH, ACGIH, read at osha.gov; spraying and warming: trade practice",
        Status.PUBLISHED,
    ),
    _Row(
        "peroxide-bath",
        Weight.CAUTION,
        lambda p: p.peroxide,
        f"Begin with {WORKING_PCT} at pH {BATH_PH_LOW} to {BATH_PH_HIGH}, in glass or plastic, never metal, and at most"
        f" {WET_MIN_MAX}. Stop when blisters form: weak margins blister first. Iron and copper in paper or water make"
        " peroxide attack the fibre.",
        "Clement 1983, JAIC 23:47-62; conservation science textbook; the numbers are ours",
        Status.PUBLISHED,
    ),
    _Row(
        "peroxide-long",
        Weight.CONFIRM,
        lambda p: p.longest_wet_min > WET_MIN_MAX.value,
        f"A cell stays in peroxide longer than {WET_MIN_MAX}. Long contact blisters and weakens paper.",
        "Clement 1983, JAIC 23:47-62; the time is ours",
        Status.PROPOSAL,
    ),
    _Row(
        "peroxide-mix",
        Weight.CAUTION,
        lambda p: p.peroxide,
        "Pour peroxide into water, not water into peroxide. Never mix it with acid, acetone or another bleach.",
        "safety data sheets",
        Status.FROM_MEMORY,
    ),
    _Row(
        "peroxide-rinse",
        Weight.CAUTION,
        lambda p: p.peroxide,
        "Rinse in fresh calcium hydroxide water of pH 8 to 9 until a peroxide test strip shows none: what stays in the"
        " paper acts on overnight.",
        "Carroll 2002, Conservation DistList 16",
        Status.PUBLISHED,
    ),
    _Row(
        "peroxide-store",
        Weight.NOTE,
        lambda p: p.peroxide,
        "Keep peroxide cool and dark in its own vented bottle, away from metal, alkali and anything that burns. Never"
        " pour back what was taken out: dirt in a closed bottle can burst it.",
        "a maker's handbook; pouring back from memory",
        Status.PUBLISHED,
    ),
    _Row(
        "peroxide-light",
        Weight.CONFIRM,
        lambda p: any(is_peroxide(t) and t.light for t in p.treatments),
        "Wet paper with peroxide and electricity share this chamber. Keep wet sheets off lamps and wires, let nothing"
        " drip, never let peroxide dry in felt or blotter, and rinse the sheet before it dries.",
        "safety data sheets; trade practice",
        Status.FROM_MEMORY,
    ),
    _Row(
        "bath-acid",
        Weight.NOTE,
        lambda p: any(t.light and (t.chemical or t.wet_min) for t in p.treatments),
        f"A bath under light goes acid (pH 8 to 5 in 4 h). Measure or renew it every {BATH_RENEWAL_MIN}.",
        "Carroll 2002, Conservation DistList 16; the interval is ours",
        Status.PUBLISHED,
    ),
    _Row(
        "rest",
        Weight.NOTE,
        lambda p: p.light or p.peroxide,
        "Let the sheet rest dark at 23 °C and 50 % humidity for a day before its last measurement.",
        "Lee, Bogaard and Feller 1989 (storage); the day is ours",
        Status.PUBLISHED,
    ),
)


def cautions(
    sheet: Sheet, treatments: Sequence[Treatment] | None = None, peak_nm: float = 435.0
) -> tuple[Caution, ...]:
    """What to know about this sheet and plan, the weightiest first.

    `treatments` default to those of the sheet's cells; `peak_nm` is the shortest peak among the zones used.
    """
    plan = _Plan(sheet, tuple(treatments if treatments is not None else (c.treatment for c in sheet.cells)), peak_nm)
    found = [
        Caution(row.key, row.weight, Statement(row.text, row.source, row.status)) for row in _ROWS if row.applies(plan)
    ]
    if plan.bath_pct:
        for number, statement in enumerate(strength_cautions(plan.bath_pct[-1]), start=1):
            found.append(Caution(f"peroxide-strength-{number}", Weight.CONFIRM, statement))
    return tuple(sorted(found, key=lambda caution: -caution.weight))
