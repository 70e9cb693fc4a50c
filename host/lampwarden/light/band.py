"""Whether a lamp's band suits: clear of ultraviolet, which yellows and weakens paper, and where bleaching is best."""

from .defaults import PEAK_BEST_HIGH_NM, PEAK_BEST_LOW_NM, PEAK_EXPERT_NM, UV_EDGE_NM, UV_FOOT_SHARE
from .evidence import Statement, Status
from .spectrum import Spectrum


def band_caution(spectrum: Spectrum) -> Statement | None:
    """What speaks against this light for yellowed wood paper, the weightiest; None if nothing does.

    Its 1 % foot must be seen to lie at 400 nm or above, and its peak between 430 and 455 nm.
    """
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
    if not PEAK_BEST_LOW_NM.value <= spectrum.peak_nm <= PEAK_BEST_HIGH_NM.value:
        return Statement(
            f"A peak of {spectrum.peak_nm:.0f} nm is outside {PEAK_BEST_LOW_NM.value:.0f} to {PEAK_BEST_HIGH_NM}, where"
            " browned wood pulp bleached best. It may still work, with another dose.",
            PEAK_BEST_LOW_NM.source,
            PEAK_BEST_LOW_NM.status,
        )
    return None
