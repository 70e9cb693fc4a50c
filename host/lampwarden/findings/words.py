"""Numbers in sentences. What stands after ± are 95 % bounds."""

from collections.abc import Sequence

from .approach import Bounded
from .change import Z_95, Distance, Measured


def amount(measured: Measured | Distance) -> str:
    """Example: '7.9 ± 0.4'."""
    return f"{measured.value:.1f} ± {Z_95 * measured.u:.1f}"


def size(measured: Measured) -> str:
    """The same without its sign."""
    return f"{abs(measured.value):.1f} ± {Z_95 * measured.u:.1f}"


def bounds(of: Bounded) -> str:
    """Examples: '0.4 (0.1 to 0.9)', 'at least 1.2', 'not determined'."""
    if of.low is None:
        return "not determined"
    if of.high is None:
        return f"at least {of.low:.1f}" if of.low > 0 else "not determined"
    best = "" if of.best is None else f"{of.best:.1f} "
    return f"{best}({of.low:.1f} to {of.high:.1f})"


def dose(j_cm2: float) -> str:
    """Example: '72 J/cm²'."""
    return f"{j_cm2:.0f} J/cm²"


def listed(words: Sequence[str]) -> str:
    """Examples: 'A1', 'A1 and A2', 'A1, A2 and A3'."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
