"""The peroxide baths that a sheet's cells need: recipe, label, what must be confirmed."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..care.peroxide import (
    STRENGTH_PCT_MAX,
    Confirmation,
    Dilution,
    Label,
    confirmation_sentence,
    dilute,
    grams_per_litre,
    is_peroxide,
    labels,
    strength_cautions,
    volume_strength,
)
from ..domain.plan import Plan
from ..domain.sheet import Cell
from ..errors import ProgramError
from ..light.evidence import Statement
from .defaults import BATH_ML, STOCK_PCT


@dataclass(frozen=True, slots=True)
class Wish:
    """What the person has and wants."""

    stock_pct: float = STOCK_PCT.value
    """Strength of the peroxide that was bought, % w/w."""
    total_ml: float = BATH_ML.value
    """Volume of each bath, mL."""
    confirmed: Confirmation | None = None
    """A person's yes to 8 % and more."""

    def __post_init__(self) -> None:
        """Raises ProgramError for numbers that cannot be."""
        if not 0 < self.stock_pct <= STRENGTH_PCT_MAX:
            raise ProgramError(
                f"A stock of {self.stock_pct:g} % is out of range; give one above 0 and up to {STRENGTH_PCT_MAX:g} %."
            )
        if not 0 < self.total_ml <= 50_000:
            raise ProgramError(f"A bath of {self.total_ml:g} mL is out of range; give one above 0 and up to 50 L.")

    @classmethod
    def of(cls, plan: Plan) -> "Wish":
        """A small tray, from the plan's stock, or from drugstore peroxide if it names none."""
        return cls() if plan.stock_pct is None else cls(stock_pct=plan.stock_pct)


@dataclass(frozen=True, slots=True)
class Bath:
    """One strength in use."""

    strength_pct: float
    cells: tuple[str, ...]
    wet_min: float | None
    """Longest contact, min; None: not given."""
    grams_per_litre: float
    volume_strength: float
    """The "vol" of shops."""
    labels: tuple[Label, ...]
    """Classes that the bath's own label must carry; empty below 5 %."""
    recipe: Dilution | None
    """How to make it from the stock; None: see `trouble`."""
    trouble: str
    """Why there is no recipe; empty if there is one."""
    cautions: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Baths:
    """All peroxide of a trial."""

    baths: tuple[Bath, ...]
    """One to a strength, ascending; empty: no peroxide."""
    stock_pct: float
    stock_labels: tuple[Label, ...]
    stock_cautions: tuple[Statement, ...]
    confirm: str
    """The sentence a person must confirm by name; empty: none, below 8 % in bath and stock."""


def baths(cells: Sequence[Cell], wish: Wish) -> Baths:
    """The baths of these cells."""
    strengths = sorted(
        {c.treatment.strength_pct for c in cells if is_peroxide(c.treatment) and c.treatment.strength_pct}
    )
    if not strengths:
        return Baths((), wish.stock_pct, (), (), "")
    return Baths(
        baths=tuple(_bath(strength, cells, wish) for strength in strengths),
        stock_pct=wish.stock_pct,
        stock_labels=labels(wish.stock_pct),
        stock_cautions=strength_cautions(wish.stock_pct),
        confirm=confirmation_sentence(max(wish.stock_pct, strengths[-1])) or "",
    )


def _bath(strength_pct: float, cells: Sequence[Cell], wish: Wish) -> Bath:
    mine = [c for c in cells if is_peroxide(c.treatment) and c.treatment.strength_pct == strength_pct]
    recipe, trouble = None, ""
    try:
        recipe = dilute(wish.stock_pct, strength_pct, total_ml=wish.total_ml, confirmed=wish.confirmed)
    except ProgramError as error:
        trouble = str(error)
    return Bath(
        strength_pct=strength_pct,
        cells=tuple(cell.name for cell in mine),
        wet_min=max((cell.treatment.wet_min for cell in mine if cell.treatment.wet_min), default=None),
        grams_per_litre=grams_per_litre(strength_pct),
        volume_strength=volume_strength(strength_pct),
        labels=labels(strength_pct),
        recipe=recipe,
        trouble=trouble,
        cautions=strength_cautions(strength_pct),
    )
