"""Hydrogen peroxide: strength, dilution, labelling, and what must be confirmed or refused.

Strengths are per cent by mass (w/w) everywhere; shops also print "vol" and per cent by volume of mass (w/v), which
`from_volume_strength` and `from_grams_per_litre` turn into it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum, unique

import numpy as np

from ..domain.sheet import Treatment
from ..errors import ProgramError
from ..light.evidence import Statement, Status
from .defaults import CONFIRM_PCT, LICENCE_PCT, PUBLIC_SALE_PCT, WORKING_PCT, WORKING_PCT_MAX

MOLAR_MASS_G_MOL = 34.0147
GAS_L_PER_MOL = 11.2
"""Litres of oxygen (0 C, 1 atm) from one mole: half of 22.4."""

# Density at 18 C, g/mL, by per cent w/w: handbook table, from memory; 30 % about 1.11 (EPA summary, read) agrees.
_PCT = np.array([0, 1, 2, 3, 4, 6, 8, 10, 12, 20, 27.5, 30, 35, 50])
_G_ML = np.array([
    0.9986, 1.0022, 1.0058, 1.0095, 1.0131, 1.0204, 1.0277, 1.0351, 1.0425, 1.0725, 1.1020, 1.1122, 1.1327, 1.1966,
])  # fmt: skip
STRENGTH_PCT_MAX = 50.0
"""The density table ends here, and so does any use in this trade."""


def is_peroxide(treatment: Treatment) -> bool:
    """True if the treatment's chemical is hydrogen peroxide, by its usual spellings."""
    name = treatment.chemical.casefold().replace("₂", "2")
    return "peroxide" in name or "h2o2" in name


def density_g_ml(strength_pct: float) -> float:
    """Density at 18 C, g/mL, straight between the table's points. Example: 3 % = 1.0095.

    Raises ProgramError outside 0..50 %.
    """
    return float(np.interp(_checked(strength_pct), _PCT, _G_ML))


def grams_per_litre(strength_pct: float) -> float:
    """Peroxide in a litre, g/L. Example: 3 % = 30.3."""
    return strength_pct / 100 * density_g_ml(strength_pct) * 1000


def molarity(strength_pct: float) -> float:
    """Peroxide in a litre, mol/L. Example: 30 % = 9.81."""
    return grams_per_litre(strength_pct) / MOLAR_MASS_G_MOL


def volume_strength(strength_pct: float) -> float:
    """Litres of oxygen (0 C, 1 atm) that a litre gives, the "vol" of shops: 11.2 x molarity. Example: 3 % = 10.0."""
    return GAS_L_PER_MOL * molarity(strength_pct)


def from_grams_per_litre(grams: float) -> float:
    """Per cent w/w of a solution with so many grams of peroxide in a litre (10 x w/v per cent). Example: 30.3 = 3 %.

    Raises ProgramError beyond 50 % w/w.
    """
    strengths = np.linspace(0, STRENGTH_PCT_MAX, 5001)
    held = strengths / 100 * np.interp(strengths, _PCT, _G_ML) * 1000
    if not 0 <= grams <= held[-1]:
        raise ProgramError(f"{grams:g} g/L of peroxide is outside 0 to {held[-1]:.0f} g/L. Check the label.")
    return float(np.interp(grams, held, strengths))


def from_volume_strength(vol: float) -> float:
    """Per cent w/w of a solution sold as so many "vol". Example: 10 vol = 3.0 %."""
    return from_grams_per_litre(vol / GAS_L_PER_MOL * MOLAR_MASS_G_MOL)


@dataclass(frozen=True, slots=True)
class Label:
    """One line of the label that this strength must carry in the EU."""

    hazard: str
    """Class, such as 'Eye Dam. 1'."""
    statement: Statement
    """Hazard statement, with its number."""


# CLP Annex VI, index 008-003-00-9: (from, below, class, statement, source, status)
_CLP = (
    (70, 101, "Ox. Liq. 1", "H271: may cause fire or explosion, strong oxidiser", "ECHA registry", Status.PUBLISHED),
    (70, 101, "Skin Corr. 1A", "H314: causes severe skin burns and eye damage", "ECHA registry", Status.PUBLISHED),
    (50, 70, "Ox. Liq. 2", "H272: may intensify fire, oxidiser", "ECHA registry", Status.PUBLISHED),
    (50, 70, "Skin Corr. 1B", "H314: causes severe skin burns and eye damage", "ECHA registry", Status.PUBLISHED),
    (35, 50, "Skin Irrit. 2", "H315: causes skin irritation", "ECHA registry", Status.PUBLISHED),
    (35, 101, "STOT SE 3", "H335: may irritate the airways", "CLP Annex VI", Status.FROM_MEMORY),
    (25, 50, "Acute Tox. 4", "H302: harmful if swallowed", "suppliers' practice, gischem.de", Status.PUBLISHED),
    (8, 50, "Eye Dam. 1", "H318: causes serious eye damage", "gischem.de", Status.PUBLISHED),
    (5, 8, "Eye Irrit. 2", "H319: causes serious eye irritation", "CLP Annex VI", Status.FROM_MEMORY),
    (8, 20, "Ox. Liq. 3", "H272: may intensify fire, oxidiser", "suppliers' practice, gischem.de", Status.PUBLISHED),
)


def labels(strength_pct: float) -> tuple[Label, ...]:
    """Classes of hazard at this strength (0..100 % w/w) after EU CLP; empty below 5 %. Example: 12 % has Eye Dam. 1."""
    return tuple(
        Label(hazard, Statement(text, f"CLP 008-003-00-9; {source}", status))
        for low, high, hazard, text, source, status in _CLP
        if low <= strength_pct < high
    )


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A person's explicit yes to strong peroxide. Whoever takes it writes it to the journal, with the time."""

    strength_pct: float
    """Strongest solution meant, % w/w."""
    sentence: str
    """What the person agreed to, word for word."""
    by: str
    """Who."""


def confirmation_sentence(strength_pct: float) -> str | None:
    """What a person must confirm before a solution of this strength is used or diluted; None below 8 %."""
    if strength_pct < CONFIRM_PCT.value:
        return None
    return (
        f"I will handle hydrogen peroxide of {strength_pct:g} %. It can blind (H318) and burn. I wear splash goggles,"
        " gloves and an apron, work in moving air with water to rinse at hand, and nobody else comes near."
    )


def require_confirmation(strength_pct: float, confirmed: Confirmation | None) -> None:
    """Raises ProgramError, with the sentence to confirm, unless this strength needs none or was confirmed in full."""
    sentence = confirmation_sentence(strength_pct)
    if sentence is None:
        return
    agreed = (
        confirmed is not None
        and bool(confirmed.by.strip())
        and confirmed.strength_pct >= strength_pct
        and confirmed.sentence == confirmation_sentence(confirmed.strength_pct)
    )
    if not agreed:
        raise ProgramError(
            f"Peroxide of {strength_pct:g} % is of the class that damages eyes (from {CONFIRM_PCT})."
            f" Use a weaker one, or confirm by name: '{sentence}'"
        )


def strength_cautions(strength_pct: float) -> tuple[Statement, ...]:
    """What to know about peroxide of this strength, % w/w; empty up to 3 %. Raises ProgramError over 50 %."""
    strength = _checked(strength_pct)
    found = []
    if strength > WORKING_PCT_MAX.value:
        found.append(
            Statement(
                f"{strength:g} % is stronger than paper needs: usual are 0.5 to 3 %. Begin with {WORKING_PCT} and do"
                f" not go above {WORKING_PCT_MAX}. Strong peroxide blisters and weakens paper and acts on overnight.",
                WORKING_PCT_MAX.source,
                WORKING_PCT_MAX.status,
            )
        )
    if strength > PUBLIC_SALE_PCT.value:
        found.append(
            Statement(
                f"In the European Union peroxide above {PUBLIC_SALE_PCT} may not be sold to, kept or used by the public"
                f" without a licence, and above {LICENCE_PCT} not with one. Other places have laws of their own: know"
                " yours. Buy 3 % instead.",
                PUBLIC_SALE_PCT.source,
                PUBLIC_SALE_PCT.status,
            )
        )
    found.extend(label.statement for label in labels(strength))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Dilution:
    """How to make a solution. Peroxide goes into the water."""

    stock_pct: float
    working_pct: float
    stock_g: float
    stock_ml: float
    water_g: float
    """Deionised water, g; as many mL, within 0.2 %."""
    total_g: float
    total_ml: float
    cautions: tuple[Statement, ...]

    @property
    def text(self) -> str:
        """The recipe as a sentence."""
        if self.water_g < 0.05:
            return f"Take {self.total_g:.0f} g ({self.total_ml:.0f} mL) of {self.stock_pct:g} % peroxide as it is."
        return (
            f"For {self.total_g:.0f} g ({self.total_ml:.0f} mL) of {self.working_pct:g} %: weigh {self.water_g:.1f} g"
            f" of deionised water into glass or plastic, then add {self.stock_g:.1f} g ({self.stock_ml:.1f} mL) of"
            f" {self.stock_pct:g} % peroxide."
        )


def dilute(
    stock_pct: float,
    working_pct: float = WORKING_PCT.value,
    *,
    total_g: float | None = None,
    total_ml: float | None = None,
    confirmed: Confirmation | None = None,
) -> Dilution:
    """The recipe for a weaker solution, for a total by mass (g) or by volume (mL): m_stock = m_total w / w_stock.

    Raises ProgramError for impossible numbers, and for 8 % and more in stock or working solution that nobody confirmed.
    Example: 1000 g of 1 % from 3 %: 333.3 g (330.2 mL) of stock and 666.7 g of water.
    """
    if (total_g is None) == (total_ml is None):
        raise ProgramError("Give the total either in g or in mL.")
    for name, strength in (("stock", stock_pct), ("working solution", working_pct)):
        if not 0 < strength <= STRENGTH_PCT_MAX:
            raise ProgramError(f"The {name} is {strength:g} %; give one above 0 and up to {STRENGTH_PCT_MAX:g} %.")
    if working_pct > stock_pct:
        raise ProgramError(f"{working_pct:g} % cannot be made from {stock_pct:g} %. Ask for a weaker solution.")
    require_confirmation(max(stock_pct, working_pct), confirmed)
    mass_g = total_g if total_g is not None else (total_ml or 0.0) * density_g_ml(working_pct)
    if not 0 < mass_g <= 100_000:
        raise ProgramError("The total is outside 0 to 100 kg. Give it in g or in mL.")
    stock_g = mass_g * working_pct / stock_pct
    return Dilution(
        stock_pct=stock_pct,
        working_pct=working_pct,
        stock_g=stock_g,
        stock_ml=stock_g / density_g_ml(stock_pct),
        water_g=mass_g - stock_g,
        total_g=mass_g,
        total_ml=mass_g / density_g_ml(working_pct),
        cautions=strength_cautions(max(stock_pct, working_pct)),
    )


@unique
class Tray(StrEnum):
    """What the bath stands in."""

    GLASS = "glass"
    PLASTIC = "plastic"
    METAL = "metal"
    UNKNOWN = "unknown"


@unique
class Additive(StrEnum):
    """What people may think of putting into the bath."""

    WATER = "deionised water"
    CALCIUM_HYDROXIDE = "calcium hydroxide"
    MAGNESIUM_BICARBONATE = "magnesium bicarbonate"
    AMMONIA = "a little ammonia"
    ETHANOL = "ethanol"
    ACID = "acid"
    ACETONE = "acetone"
    OTHER_BLEACH = "another bleach"
    METAL_SALT = "metal salt or iron-rich water"
    UNKNOWN = "something else"


_GOES = {
    Additive.WATER,
    Additive.CALCIUM_HYDROXIDE,
    Additive.MAGNESIUM_BICARBONATE,
    Additive.AMMONIA,
    Additive.ETHANOL,
}
_WHY_NOT = {
    Additive.ACID: "acid and peroxide make strong oxidisers, and acid harms paper",
    Additive.ACETONE: "acetone and peroxide make an explosive",
    Additive.OTHER_BLEACH: "it gives off gas, oxygen or chlorine, and heat",
    Additive.METAL_SALT: "iron, copper and others make peroxide decompose and attack the paper",
    Additive.UNKNOWN: "nobody knows what it does",
}


def check_bath(tray: Tray, additives: Iterable[Additive] = ()) -> None:
    """Raises ProgramError unless the tray is of glass or plastic and all that goes in is known to go with peroxide.

    Clement 1983 used ethanol, textbooks a little ammonia, conservators the two alkalis; the refusals are from memory.
    """
    wrong = []
    if tray not in (Tray.GLASS, Tray.PLASTIC):
        wrong.append(
            f"The tray is of {tray} material. Metal makes peroxide decompose and stains the paper:"
            " use a glass or plastic tray."
        )
    wrong += [
        f"Do not mix peroxide with {additive}: {_WHY_NOT[additive]}." for additive in additives if additive not in _GOES
    ]
    if wrong:
        raise ProgramError(" ".join(wrong))


def _checked(strength_pct: float) -> float:
    if not 0 <= strength_pct <= STRENGTH_PCT_MAX:
        raise ProgramError(f"{strength_pct:g} % peroxide is outside 0 to {STRENGTH_PCT_MAX:g} %. Check the label.")
    return strength_pct
