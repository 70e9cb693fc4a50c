"""What each zone or cell really gets when its neighbours are lit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import ProgramError
from .defaults import LEAK_SHARE_MAX
from .spectrum import Array

TRACE_J_CM2 = 0.05
"""Stray doses below this are not worth a sentence: they print as 0.0."""


@dataclass(frozen=True, slots=True, eq=False)
class Leakage:
    """How the light of each zone spreads over the places."""

    places: tuple[str, ...]
    """Zones or cells where light arrives."""
    zones: tuple[str, ...]
    """Zones that give light."""
    home: tuple[int, ...]
    """For each place the index of the zone it lies in."""
    share: Array
    """Share 0..1 of each zone's light that arrives at each place, 1 from its own zone, shape (places, zones)."""
    unmeasured: tuple[tuple[str, str], ...]
    """(place, zone) whose leak counts as 0 only because nobody measured it."""

    def received(self, given: Sequence[float]) -> Array:
        """What arrives, shape (places,), of what the zones give, shape (zones,): W/m2 or J/cm2 alike."""
        arrived: Array = self.share @ np.asarray(given, dtype=np.float64)
        return arrived

    def stray(self, dose_j_cm2: Sequence[float]) -> dict[str, str]:
        """Places where stray light spoils a comparison, with a sentence each.

        The zones give these doses, J/cm2, shape (zones,). Any stray light speaks where a place is meant to be dark;
        elsewhere more than 1 % of the place's own dose.
        """
        sentences = {}
        for place, home, total in zip(self.places, self.home, self.received(dose_j_cm2), strict=True):
            own = dose_j_cm2[home]
            stray = total - own
            if not own and stray >= TRACE_J_CM2:
                sentences[place] = (
                    f"'{place}' is meant to stay dark but gets {stray:.1f} J/cm² of its neighbours' light."
                    " Cover it with black, opaque sheet, or put a wall between."
                )
            elif own and stray > LEAK_SHARE_MAX.value * own:
                sentences[place] = (
                    f"'{place}' gets {total:.1f} J/cm² and not {own:.1f}: {stray:.1f} J/cm² leak in from neighbours."
                )
        return sentences

    def cautions(self, dose_j_cm2: Sequence[float]) -> list[str]:
        """All sentences on stray light, and on leaks that nobody measured."""
        sentences = list(self.stray(dose_j_cm2).values())
        if any(dose_j_cm2) and (said := self.unmeasured_text):
            sentences.append(said)
        return sentences

    @property
    def unmeasured_text(self) -> str:
        """How many leaks nobody measured, in a sentence; empty if none."""
        if not self.unmeasured:
            return ""
        pairs = "1 leak" if len(self.unmeasured) == 1 else f"{len(self.unmeasured)} leaks"
        return f"{pairs} between zones not measured and counted as none. See the calibration sheet."


def leakage(home: Mapping[str, str], zones: Sequence[str], measured: Mapping[tuple[str, str], float]) -> Leakage:
    """The leakage between zones and places.

    `home` maps each place, a zone or a cell, to the zone it lies in. `measured` maps (place, zone) to the share 0..1 of
    that zone's irradiance which arrives there. Raises ProgramError for unknown names and shares outside 0..1.
    """
    places, columns = tuple(home), tuple(zones)
    share = np.zeros((len(places), len(columns)))
    for row, (place, zone) in enumerate(home.items()):
        if zone not in columns:
            raise ProgramError(f"'{place}' lies in zone '{zone}', but the chamber has {', '.join(columns)}.")
        share[row, columns.index(zone)] = 1.0
    for (place, zone), value in measured.items():
        if place not in places or zone not in columns:
            raise ProgramError(f"Leak from '{zone}' to '{place}': there is no such zone or cell. Correct the name.")
        if home[place] == zone:
            raise ProgramError(f"Leak from '{zone}' to '{place}': it lies in that zone, so this is no leak. Remove it.")
        if not 0 <= value <= 1:
            raise ProgramError(f"Leak from '{zone}' to '{place}' is {value:g}; give a share from 0 to 1.")
        share[places.index(place), columns.index(zone)] = value
    missing = tuple((p, z) for p in places for z in columns if z != home[p] and (p, z) not in measured)
    return Leakage(places, columns, tuple(columns.index(zone) for zone in home.values()), share, missing)
