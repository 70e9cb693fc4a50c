"""The invented numbers of the simulated paper, read from paper.toml, and one sheet drawn from them by its seed."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from ...domain.program_file import parse_as
from ...domain.sheet import Ink, InkKind
from .spectra import WAVELENGTHS_NM, Array, to_ks


class Part(BaseModel):
    """Base of the design's parts: frozen, no unknown keys. paper.toml says what each number is."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Pulp(Part):
    pulp_blue: float = Field(gt=0, lt=1)
    pulp_red: float = Field(gt=0, lt=1)
    chromophore_ks: float = Field(gt=0)
    chromophore_fall_nm: float = Field(gt=0)
    share_light: float = Field(ge=0, le=1)
    share_peroxide: float = Field(ge=0, le=1)
    wet_darkening: float = Field(ge=0)
    dry_min: float = Field(gt=0)
    under_film: float = Field(ge=0, le=1)


class Light(Part):
    rate_per_j_cm2: float = Field(ge=0)
    reciprocity: float = Field(gt=0, le=2)
    reference_w_m2: float = Field(gt=0)
    reference_c: float
    q10: float = Field(gt=0)
    heating_k_per_w_m2: float = Field(ge=0)
    darkening_rate_per_j_cm2: float = Field(ge=0)


class Peroxide(Part):
    rate_per_h_per_pct: float = Field(ge=0)
    q10: float = Field(gt=0)
    with_light: float = Field(ge=0)
    light_when_wet: float = Field(ge=0)
    half_strength_pct: float = Field(gt=0)


class Reversion(Part):
    share_light: float = Field(ge=0, le=1)
    share_peroxide: float = Field(ge=0, le=1)
    time_days: float = Field(gt=0)


class InkFilm(Part):
    bells: tuple[tuple[float, float, float], ...]
    surface: float = Field(ge=0, lt=1)
    fade_per_j_cm2: float = Field(ge=0)
    fade_per_h_per_pct: float = Field(ge=0)
    floor: float = Field(ge=0, le=1)

    def density(self) -> Array:
        """Optical density of the whole film on the grid, shape (31,)."""
        bells = (depth * np.exp(-(((WAVELENGTHS_NM - nm) / width) ** 2)) for nm, width, depth in self.bells)
        found: Array = np.sum(list(bells), axis=0)
        return found


class Spread(Part):
    sheet_rate: float = Field(ge=0)
    sheet_ks: float = Field(ge=0)
    cell_rate: float = Field(ge=0)
    cell_ks: float = Field(ge=0)
    swatch_ks: float = Field(ge=0)
    fade: float = Field(ge=0)


class Fate(Part):
    """What a sheet does, as factors on the ordinary rates."""

    weight: float = Field(ge=0)
    light: float = Field(default=1.0, ge=0)
    """On what light takes."""
    peroxide: float = Field(default=1.0, ge=0)
    """On what peroxide takes."""
    fade: float = Field(default=1.0, ge=0)
    """On the fading of inks."""
    darkening_ks: float = Field(default=0.0, ge=0)
    """K/S at 457 nm that light can form."""


class PaperDesign(Part):
    """All invented numbers of the simulated paper."""

    paper: Pulp
    light: Light
    peroxide: Peroxide
    reversion: Reversion
    inks: dict[str, InkFilm]
    spread: Spread
    fates: dict[str, Fate]

    def pulp_ks(self) -> Array:
        """K/S of the pulp without what yellowed it, shape (31,)."""
        share = (WAVELENGTHS_NM - WAVELENGTHS_NM[0]) / (WAVELENGTHS_NM[-1] - WAVELENGTHS_NM[0])
        return to_ks(self.paper.pulp_blue + (self.paper.pulp_red - self.paper.pulp_blue) * share**0.7)

    def chromophore_shape(self) -> Array:
        """Absorption of the chromophores, 1 at 457 nm, shape (31,)."""
        return np.exp(-(WAVELENGTHS_NM - 457.0) / self.paper.chromophore_fall_nm)

    def film(self, ink: Ink) -> str:
        """Which simulated ink stands for a sheet's ink: the one of its name, else one of its kind."""
        if ink.name in self.inks:
            return ink.name
        return {InkKind.PHTHALO: "teal", InkKind.ORGANIC_RED_YELLOW: "vermilion", InkKind.DYE: "vermilion"}.get(
            ink.kind, "black"
        )


@cache
def shipped_design() -> PaperDesign:
    """The design in paper.toml."""
    return parse_as(PaperDesign, (files(__package__) / "paper.toml").read_text(encoding="utf-8"), "paper.toml")


@dataclass(frozen=True, slots=True)
class Draw:
    """One sheet, drawn: how it and its cells differ from the design. Arrays have shape (cells,)."""

    fate: str
    rate: Array
    """Factor on the cells' rates."""
    ks: Array
    """K/S of the chromophores at 457 nm."""
    swatch_ks: Array
    """The same for the swatches, shape (swatches,)."""
    fade: float
    """Factor on the inks' rates."""


def draw(design: PaperDesign, seed: int, cells: int, swatches: int, fate: str = "") -> Draw:
    """The sheet of this seed. `fate`: take this one instead of the drawn one; all else stays as drawn."""
    chance = np.random.default_rng([seed, 20])
    names = list(design.fates)
    weights = np.array([design.fates[name].weight for name in names])
    drawn = names[int(chance.choice(len(names), p=weights / weights.sum()))]
    spread = design.spread
    sheet_rate, sheet_ks, fade = (
        float(np.exp(size * chance.standard_normal())) for size in (spread.sheet_rate, spread.sheet_ks, spread.fade)
    )
    ks = design.paper.chromophore_ks * sheet_ks
    return Draw(
        fate=fate or drawn,
        rate=sheet_rate * np.exp(spread.cell_rate * chance.standard_normal(cells)),
        ks=ks * np.exp(spread.cell_ks * chance.standard_normal(cells)),
        swatch_ks=ks * np.exp(spread.swatch_ks * chance.standard_normal(swatches)),
        fade=fade,
    )
