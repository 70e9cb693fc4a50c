"""The conclusions in plain sentences with their numbers."""

from collections.abc import Mapping, Sequence

from ..domain.reading import Way
from .change import Z_95, Change
from .reversion import Reversion
from .treatments import Arm, Comparison, Contrast, Interaction, pairwise_alike
from .words import amount, listed, size

AGREE_SIGMAS = 3.0
"""Two ways of reading that differ by more than so many standard uncertainties disagree."""


def cell_sentence(end: Change, arm: str, changed: bool) -> str:
    """What became of one cell by the end."""
    who = f"{end.cell} ({arm})" if arm else end.cell
    if not changed:
        return f"{who}: no change found; {end.de00.value:.1f} ΔE00 with a detection limit of {end.limit_de00:.1f}."
    gain = end.gain
    if abs(gain.value) > Z_95 * gain.u:
        said = f"{'whiter' if gain.value > 0 else 'darker or yellower'} by {size(gain)} ΔE00"
    else:
        said = f"changed by {amount(end.de00)} ΔE00, but neither whiter nor darker"
    parts = f"ΔL* {end.lightness.value:+.1f}, Δa* {end.redness.value:+.1f}, Δb* {end.yellowness.value:+.1f}"
    r457 = f", R457 {end.r457.value:+.1f} points, estimated" if end.r457 else ""
    return f"{who}: {said} ({parts}{r457})."


def comparison_sentences(of: Comparison, arms: Sequence[Arm]) -> tuple[str, ...]:
    """Treatments against the control and each other, in words that fit what the trial can bear.

    Of the pairs those are told that differ in one thing alone.
    """
    said = []
    one_thing = {(a.name, b.name) for a, b in pairwise_alike(arms)}
    if of.control is None:
        said.append("There is no control among the cells, so no effect can be told from drift and time.")
    for effect in of.against_control:
        said.append(_effect(effect, of))
    for pair in of.pairs:
        if pair in of.reciprocity or not {(pair.one, pair.other), (pair.other, pair.one)} & one_thing:
            continue
        if pair.equal:
            said.append(
                f"'{pair.one}' and '{pair.other}' did equally well within ±{of.margin_de00:g} ΔE00: they differ by"
                f" {pair.difference:+.1f} ({pair.low:+.1f} to {pair.high:+.1f})."
            )
        elif pair.found:
            better, worse = (pair.one, pair.other) if pair.difference > 0 else (pair.other, pair.one)
            said.append(f"'{better}' did better than '{worse}' by {abs(pair.difference):.1f} ΔE00.")
    said += [_together(each) for each in of.interactions]
    said += [_reciprocal(each, of.margin_de00) for each in of.reciprocity]
    if not of.replicated and said:
        said.append(
            "There are too few independent pieces to know how they scatter: these differences hold for these cells as"
            " measured. Whether another piece would do the same, they do not show."
        )
    return tuple(said)


def _effect(effect: Contrast, of: Comparison) -> str:
    span = f"{effect.difference:+.1f} ΔE00 ({100 * of.level:.0f} % interval {effect.low:+.1f} to {effect.high:+.1f})"
    if effect.found:
        how = "whiter" if effect.difference > 0 else "darker or yellower"
        return f"'{effect.one}' ended {how} than '{effect.other}': {span}."
    if effect.equal:
        return f"'{effect.one}' ended like '{effect.other}' within ±{of.margin_de00:g} ΔE00: {span}."
    return f"Whether '{effect.one}' ended otherwise than '{effect.other}' is not determined: {span}."


def _together(of: Interaction) -> str:
    span = f"{of.value:+.1f} ΔE00 ({of.low:+.1f} to {of.high:+.1f})"
    if not of.found:
        return f"Light and {of.bath}: that they do more or less together than each alone is not shown; {span}."
    more = "more" if of.value > 0 else "less"
    why = "" if of.value > 0 else " Where both lead to the same plateau, that alone would do it."
    return f"Light and {of.bath} do {more} together than the sum of each alone: {span}.{why}"


def _reciprocal(of: Contrast, margin_de00: float) -> str:
    span = f"{of.difference:+.1f} ΔE00 ({of.low:+.1f} to {of.high:+.1f})"
    if of.equal:
        verdict = f"dose alone decides within ±{margin_de00:g} ΔE00"
    elif of.found:
        verdict = "the same dose did not do the same, so irradiance or time matters too"
    else:
        verdict = "whether dose alone decides is not determined"
    return f"Same dose, '{of.one}' and '{of.other}': {verdict}; they differ by {span}."


def reversion_sentences(cells: Sequence[Sequence[Reversion]]) -> tuple[str, ...]:
    """What came back of each cell's gain by its newest reading after the end."""
    newest = [after[-1] for after in cells if after]
    said = [_reverted(last) for last in newest if last.found]
    calm = [last for last in newest if not last.found]
    if calm:
        least, most = min(last.days for last in calm), max(last.days for last in calm)
        span = f"{least:.2g} days" if most - least < 0.1 else f"{least:.2g} to {most:.2g} days"
        said.append(
            f"No change since the end is found, after {span}: {listed([last.cell for last in calm])} moved by"
            f" {max(abs(last.gain.value) for last in calm):.1f} ΔE00 at most."
        )
    return tuple(said)


def _reverted(last: Reversion) -> str:
    parts = [f"{size(last.gain)} ΔE00 {'whiter' if last.gain.value > 0 else 'darker or yellower'} than at its end"]
    lost = last.share_lost
    if lost and lost.best is not None and lost.low is not None and lost.high is not None:
        parts.append(f"{100 * lost.best:.0f} % of its gain lost ({100 * lost.low:.0f} to {100 * lost.high:.0f} %)")
    if last.post_colour_number:
        parts.append(f"post-colour number {amount(last.post_colour_number)} from the estimated R457")
    return f"{last.cell}, {last.days:.2g} days after its end: {'; '.join(parts)}."


def other_way_sentences(ends: Mapping[str, Change], others: Mapping[Way, Mapping[str, Change]]) -> tuple[str, ...]:
    """A second way of reading beside the first, cell by cell at the same checkpoint; never mixed with it."""
    said = []
    for way, seen in others.items():
        for name, change in seen.items():
            first = ends.get(name)
            if first is None or first.checkpoint != change.checkpoint:
                continue
            apart = abs(first.gain.value - change.gain.value)
            agree = apart <= AGREE_SIGMAS * (first.gain.u**2 + change.gain.u**2) ** 0.5
            verdict = "agrees" if agree else f"disagrees by {apart:.1f} ΔE00"
            said.append(f"{name} by the other way, '{way.value}': gain {amount(change.gain)} ΔE00, which {verdict}.")
    return tuple(said)
