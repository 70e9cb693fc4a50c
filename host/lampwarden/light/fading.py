"""Which inks may fade under blue light, and how sure that is."""

from dataclasses import dataclass
from enum import StrEnum, unique

from ..domain.sheet import Ink, InkKind
from .evidence import Statement, Status
from .spectrum import Spectrum


@unique
class Risk(StrEnum):
    """What to expect. The value is the word shown to people."""

    LOW = "low"
    HIGH = "high"
    EXCLUDE = "too high"


@dataclass(frozen=True, slots=True)
class Fading:
    """The risk of one ink under one light."""

    ink: str
    """Its name on the sheet."""
    risk: Risk
    statement: Statement


@dataclass(frozen=True, slots=True)
class _Known:
    risk: Risk
    absorbs_nm: tuple[float, float]
    """Band in which it absorbs most, roughly."""
    words: str
    source: str
    status: Status


_HANDBOOKS = "pigment handbooks, and where the colour absorbs"
_KNOWN = {
    InkKind.CARBON_BLACK: _Known(
        Risk.LOW,
        (300, 780),
        "Carbon does not fade, but it gets warmer than the paper.",
        _HANDBOOKS,
        Status.FROM_MEMORY,
    ),
    InkKind.PHTHALO: _Known(
        Risk.LOW,
        (550, 780),
        "It absorbs red light and is among the most lasting of colours.",
        _HANDBOOKS,
        Status.FROM_MEMORY,
    ),
    InkKind.ORGANIC_RED_YELLOW: _Known(
        Risk.HIGH,
        (400, 500),
        "Yellow and red organic inks absorb just this light and may fade first.",
        _HANDBOOKS,
        Status.FROM_MEMORY,
    ),
    InkKind.DYE: _Known(
        Risk.HIGH,
        (400, 650),
        "Dyes fade each by its own action spectrum, and many run when wet.",
        "Hofmann and Hofmann-Sievert 2022, Heritage 5(4):4061",
        Status.PUBLISHED,
    ),
    InkKind.IRON_GALL: _Known(
        Risk.EXCLUDE,
        (300, 600),
        "It may fade, and the paper under it is often weak.",
        _HANDBOOKS,
        Status.FROM_MEMORY,
    ),
    InkKind.MINERAL: _Known(
        Risk.HIGH,
        (400, 560),
        "Earths and ultramarine last, but vermilion darkens in light for good, and Prussian blue fades.",
        "vermilion: reviews of 2014 (Physics Today 67(1):16) and 2017 (Heritage Science 5:12); Prussian blue: Gervais"
        " and others 2013, Appl. Phys. A; abstracts read; earths, ultramarine and the band from memory",
        Status.PUBLISHED,
    ),
    InkKind.UNKNOWN: _Known(
        Risk.HIGH,
        (400, 500),
        "Nobody knows what it is, so take it for a colour that fades.",
        "caution",
        Status.PROPOSAL,
    ),
}
_ADVICE = {
    Risk.LOW: "Watch one spot all the same.",
    Risk.HIGH: "Try a hidden spot first, make it an ink watch, and cover the rest.",
    Risk.EXCLUDE: "Cover it with black, opaque sheet.",
}


def fading(ink: Ink, spectrum: Spectrum, dose_j_cm2: float) -> Fading:
    """Risk of one ink under this light at this dose (J/cm2), in words that say how sure they are.

    The kind sets the risk, and a person's word that it is fugitive. No dose response was found for narrow blue light,
    and the blue wool scale is in white-light lux, which must not be carried over to a blue lamp.
    """
    known = _KNOWN[ink.kind]
    risk = Risk.EXCLUDE if ink.fugitive else known.risk
    feared = " It was noted as fugitive." if ink.fugitive else ""
    low, high = known.absorbs_nm
    return Fading(
        ink.name,
        risk,
        Statement(
            f"'{ink.name}' ({ink.kind.value}): risk {risk}.{feared} {known.words}"
            f" {100 * spectrum.share(low, high):.0f} % of this light falls where it absorbs, roughly {low:.0f} to"
            f" {high:.0f} nm. {_ADVICE[risk]} How much it changes at {dose_j_cm2:.0f} J/cm² is not known: your ink was"
            " not tested, and blue wool grades are in white-light lux that cannot be carried over to a blue lamp."
            " Blue wool strips laid beside the sheet do tell.",
            known.source,
            known.status,
        ),
    )
