"""Whether a lamp keeps clear of the ultraviolet, which yellows wood paper and weakens every paper."""

from .defaults import PEAK_EXPERT_NM, UV_EDGE_NM, UV_FOOT_SHARE
from .evidence import Statement, Status
from .spectrum import Spectrum


def ultraviolet_caution(spectrum: Spectrum) -> Statement | None:
    """What is wrong with the short end of this light; None if its 1 % foot is seen to lie at 400 nm or above."""
    edge, foot = UV_EDGE_NM.value, spectrum.foot_nm
    reasons = "Schaeffer and others 1992 (JAIC 31), Lee, Bogaard and Feller 1989 (JAIC 28); the 1 % rule is ours"
    if foot < edge:
        return Statement(
            f"This light begins at {foot:.0f} nm (there it has {100 * UV_FOOT_SHARE.value:.0f} % of its peak) and"
            f" {100 * spectrum.share(0, edge):.1f} % of it lies below {edge:.0f} nm, in the ultraviolet."
            " Choose an LED bin of longer wavelength, or lay a long-pass sheet of 400 to 420 nm before it.",
            reasons,
            Status.PROPOSAL,
        )
    if spectrum.wavelength_nm[0] >= edge:
        return Statement(
            f"The spectrum was measured from {spectrum.wavelength_nm[0]:.0f} nm on, so nothing is known of ultraviolet."
            " Measure from 350 nm.",
            reasons,
            Status.PROPOSAL,
        )
    if spectrum.peak_nm <= PEAK_EXPERT_NM.value:
        return Statement(
            f"A peak of {spectrum.peak_nm:.0f} nm is near the light that darkens groundwood (below about 385 nm) and"
            " does more damage per joule than 435 to 455 nm. Use it only with a reason.",
            "Nolan and others 1945 for 385 nm; CIE 157:2004 for damage",
            Status.FROM_MEMORY,
        )
    return None
