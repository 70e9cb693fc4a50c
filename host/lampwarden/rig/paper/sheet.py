"""The sheet under the simulated lamps: it steps along with their true light, and shows its true spectra.

A cell whose treatment says light gets the light of its zone; any other lies in the dark. A chemical that is called a
peroxide acts while the cell is wet; any other liquid only wets it.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ...domain.chamber import Chamber
from ...domain.sheet import Cell, Sheet
from ...errors import ProgramError
from ..world import World
from . import change
from .design import PaperDesign, draw, shipped_design
from .spectra import WAVELENGTHS_NM, Array, from_ks, lab, r457_pct

PAPER = "paper"
FOLLOW_S = 30.0
"""How often a followed world is looked at, s."""


@dataclass(frozen=True, slots=True)
class PaperState:
    """True spectra of a sheet at one moment; all a camera needs to know of it."""

    seed: int
    """Of the sheet: its texture and print follow from it."""
    cells: Mapping[str, Mapping[str, Array]]
    """By cell, then 'paper' and each of the sheet's inks: reflectance 0..1 on the grid, shape (31,)."""
    rest: Mapping[str, Array]
    """The same for the sheet around the cells."""
    swatches: Array
    """Reflectance of the swatches, shape (swatches, 31)."""

    def to_json(self) -> str:
        """As text, for a camera in another process."""
        return json.dumps(
            {
                "seed": self.seed,
                "cells": {cell: _listed(parts) for cell, parts in self.cells.items()},
                "rest": _listed(self.rest),
                "swatches": self.swatches.tolist(),
            }
        )

    @classmethod
    def from_json(cls, text: str, where: str = "state") -> "PaperState":
        """Back from that text. Raises ProgramError if it is none; `where` is for the message."""
        try:
            data = json.loads(text)
            return cls(
                seed=int(data["seed"]),
                cells={cell: _spectra(parts) for cell, parts in data["cells"].items()},
                rest=_spectra(data["rest"]),
                swatches=_spectra({"": data["swatches"]})[""].reshape(-1, len(WAVELENGTHS_NM)),
            )
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise ProgramError(f"{where}: no state of a simulated paper ({error!r}). Write it anew.") from None

    def reflectance(self, cell: str, part: str = PAPER) -> Array:
        """Of the bare paper of a cell, or of an ink on it; shape (31,)."""
        return self.cells[cell][part]

    def lab_d50(self, cell: str, part: str = PAPER) -> tuple[float, float, float]:
        """True CIELAB under D50."""
        lightness, a, b = lab(self.reflectance(cell, part))
        return float(lightness), float(a), float(b)

    def r457_pct(self, cell: str, part: str = PAPER) -> float:
        """True ISO brightness, per cent."""
        return float(r457_pct(self.reflectance(cell, part)))


def _listed(parts: Mapping[str, Array]) -> dict[str, list[float]]:
    return {part: spectrum.tolist() for part, spectrum in parts.items()}


def _spectra(parts: Mapping[str, list[float]]) -> dict[str, Array]:
    found = {part: np.array(spectrum, dtype=np.float64) for part, spectrum in parts.items()}
    for spectrum in found.values():
        if spectrum.shape[-1] != len(WAVELENGTHS_NM) or not np.all((spectrum > 0) & (spectrum <= 1)):
            raise ValueError(f"a spectrum needs {len(WAVELENGTHS_NM)} values from 0 to 1")
    return found


def measured_part(sheet: Sheet, cell: str) -> str:
    """What the colour of a cell is about: the ink that an ink watch cell watches, else the bare paper."""
    found = next(each for each in sheet.cells if each.name == cell)
    return found.ink if found.role == "ink watch" and found.ink else PAPER


class SimPaper:
    """One simulated sheet. The same seed and steps give the same sheet.

    `fate`: what it does, one of the design's fates; drawn from the seed if empty.
    """

    def __init__(
        self,
        sheet: Sheet,
        chamber: Chamber,
        seed: int,
        *,
        fate: str = "",
        swatches: int = 3,
        design: PaperDesign | None = None,
    ) -> None:
        self.design = shipped_design() if design is None else design
        self.sheet, self.seed = sheet, seed
        self._irradiance_w_m2 = {zone.name: zone.irradiance_w_m2 for zone in chamber.zones}
        self._zones = [zone.name for zone in chamber.zones]
        paper, count = self.design.paper, len(sheet.cells)
        self._draw = draw(self.design, seed, count, swatches, fate)
        self._fate = self.design.fates[self._draw.fate]
        shares = np.array([paper.share_light, paper.share_peroxide])
        self._left: Array = shares[:, None] * self._draw.ks
        """Chromophores that light and that peroxide can take, K/S at 457 nm, shape (2, cells)."""
        self._waiting: Array = np.zeros((2, count))
        """What will return in the dark, likewise."""
        self._formed: Array = np.zeros(count)
        """New chromophores formed by light, K/S at 457 nm."""
        self._ink: Array = np.ones((len(sheet.inks), count))
        """What is left of each ink, 0..1, shape (inks, cells)."""
        self._films = [self.design.inks[self.design.film(ink)] for ink in sheet.inks]
        self._wet_s: Array = np.zeros(count)
        """How long the cell still stays soaked, s."""
        self._dry_share: Array = np.ones(count)
        """0 while soaked, 1 when dry."""
        self._strength_pct: Array = np.zeros(count)
        self.dose_j_cm2: Array = np.zeros(count)
        """True dose of each cell so far, J/cm2, in the sheet's order."""

    @property
    def fate(self) -> str:
        """What this sheet does."""
        return self._draw.fate

    def wet(self, cell: str = "") -> None:
        """Soak a cell (all that have a chemical, if none is named) as its treatment says, from now on."""
        for index, each in enumerate(self.sheet.cells):
            if each.treatment.chemical and cell in ("", each.name):
                self._wet_s[index] = 60 * (each.treatment.wet_min or 0.0)
                self._dry_share[index] = 0.0
                acts = "peroxide" in each.treatment.chemical.lower()
                self._strength_pct[index] = (each.treatment.strength_pct or 0.0) if acts else 0.0

    def step(self, dt_s: float, zone_share: Mapping[str, float], air_temp_c: float) -> None:
        """Let dt_s pass with each zone at this share of full level (0..1; none named: dark) held throughout.

        Exact for any length while nothing is wet; a step in which a cell dries is cut at that moment.
        """
        while dt_s > 0:
            wet = self._wet_s[self._wet_s > 0]
            piece_s = min(dt_s, float(wet.min())) if len(wet) else dt_s
            self._piece(piece_s, zone_share, air_temp_c)
            dt_s -= piece_s

    def rest(self, days: float, temp_c: float = 23.0) -> None:
        """So long in a dark drawer."""
        self.step(days * 86400, {}, temp_c)

    def follow(self, world: World) -> None:
        """Step along with a simulated world from now on, by what its lamps really give."""
        before = [world.truth.lit_permille_ms(zone) for zone in range(len(self._zones))]

        def look() -> None:
            now = [world.truth.lit_permille_ms(zone) for zone in range(len(self._zones))]
            shares = [(new - old) / (FOLLOW_S * 1e6) for new, old in zip(now, before, strict=True)]
            before[:] = now
            self.step(FOLLOW_S, dict(zip(self._zones, shares, strict=True)), world.plant.air_temp_c)
            world.at(world.now_s + FOLLOW_S, look)

        world.at(world.now_s + FOLLOW_S, look)

    def state(self) -> PaperState:
        """Its true spectra now."""
        wet = 1 + self.design.paper.wet_darkening * (1 - self._dry_share)
        first, now = self._draw.ks, self._chromophores()
        bare = self._bare(now, wet)
        below = self._bare(first + self.design.paper.under_film * (now - first), wet)
        rest = self._bare(self._draw.swatch_ks.mean(keepdims=True), np.ones(1))[0]
        return PaperState(
            seed=self.seed,
            cells={
                cell.name: self._parts(bare[index], below[index], self._ink[:, index])
                for index, cell in enumerate(self.sheet.cells)
            },
            rest=self._parts(rest, rest, np.ones(len(self._films))),
            swatches=self._bare(self._draw.swatch_ks, np.ones(len(self._draw.swatch_ks))),
        )

    def _bare(self, chromophores: Array, wet: Array) -> Array:
        """Reflectance of paper with these chromophores (K/S at 457 nm, shape (n,)), shape (n, 31)."""
        ks = self.design.pulp_ks() + np.outer(chromophores, self.design.chromophore_shape())
        return from_ks(ks * wet[:, None])

    def _parts(self, bare: Array, below: Array, left: Array) -> dict[str, Array]:
        """Bare paper, and each ink on the paper below it."""
        parts = {PAPER: bare}
        for ink, film, share in zip(self.sheet.inks, self._films, left, strict=True):
            parts[ink.name] = film.surface + (1 - film.surface) * below * 10 ** (-film.density() * share)
        return parts

    def _chromophores(self) -> Array:
        """K/S at 457 nm of each cell's chromophores, shape (cells,)."""
        paper = self.design.paper
        stays = 1 - paper.share_light - paper.share_peroxide
        found: Array = stays * self._draw.ks + self._left.sum(axis=0) + self._formed
        return found

    def _piece(self, dt_s: float, zone_share: Mapping[str, float], air_temp_c: float) -> None:
        light, peroxide, reversion = self.design.light, self.design.peroxide, self.design.reversion
        irradiance = np.array([self._reaching_w_m2(cell, zone_share) for cell in self.sheet.cells])
        self.dose_j_cm2 = self.dose_j_cm2 + irradiance * dt_s / 1e4
        temp_c = air_temp_c + light.heating_k_per_w_m2 * irradiance
        wet = self._wet_s > 0
        strength = np.where(wet, self._strength_pct, 0.0)
        warm = change.by_temperature(temp_c, light.q10, light.reference_c)
        dose_rate = warm * change.effective_j_cm2_s(irradiance, light.reciprocity, light.reference_w_m2)
        boost = 1 + light_when_wet(strength, peroxide.light_when_wet, peroxide.half_strength_pct)
        wet_rate_s = (
            strength
            / 3600
            * change.by_temperature(temp_c, peroxide.q10, light.reference_c)
            * (1 + peroxide.with_light * irradiance / light.reference_w_m2)
        )
        rates = np.stack(
            [
                self._fate.light * self._draw.rate * light.rate_per_j_cm2 * dose_rate * boost,
                self._fate.peroxide * self._draw.rate * peroxide.rate_per_h_per_pct * wet_rate_s,
            ]
        )
        returning = np.array([[reversion.share_light], [reversion.share_peroxide]])
        return_s = np.full_like(rates, 1 / (reversion.time_days * 86400))
        self._left, self._waiting = change.pool_after(
            self._left, self._waiting, rates, return_s, np.broadcast_to(returning, rates.shape), dt_s
        )
        if self._fate.darkening_ks:
            doses = self._draw.rate * light.darkening_rate_per_j_cm2 * dose_rate * dt_s
            self._formed = change.towards(self._formed, self._fate.darkening_ks, doses)
        for index, film in enumerate(self._films):
            fading = (film.fade_per_j_cm2 * dose_rate + film.fade_per_h_per_pct * wet_rate_s) * dt_s
            fading = self._fate.fade * self._draw.fade * fading
            self._ink[index] = change.towards(self._ink[index], film.floor, fading)
        drying = np.where(wet, 0.0, dt_s / (60 * self.design.paper.dry_min))
        self._dry_share = np.minimum(1.0, self._dry_share + drying)
        self._wet_s = np.maximum(0.0, self._wet_s - dt_s)

    def _reaching_w_m2(self, cell: Cell, zone_share: Mapping[str, float]) -> float:
        lit = cell.treatment.light
        return self._irradiance_w_m2.get(cell.zone, 0.0) * zone_share.get(cell.zone, 0.0) if lit else 0.0


def light_when_wet(strength_pct: Array, most: float, half_pct: float) -> Array:
    """How much faster light works in peroxide of this strength: 0 without, `most` at great strength."""
    return most * strength_pct / (strength_pct + half_pct)
