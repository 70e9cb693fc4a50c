"""Two things to look at before any result: whether what should not change did, and whether an ink is fading."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..domain.sheet import Cell
from .change import Change
from .words import amount, listed


@dataclass(frozen=True, slots=True)
class Drift:
    """What was read of controls and of swatches kept in the dark. It is a check and is never subtracted."""

    swatches: tuple[Change, ...]
    controls: tuple[Change, ...]
    moved: tuple[str, ...]
    """Those that changed more than noise does."""
    floor_de00: float
    """No change up to this is laid to a treatment; 0 if nothing moved."""
    photos: tuple[str, ...]
    """Ids of readings at which the photos themselves seem to have moved: no course is fitted through them."""
    sentence: str


@dataclass(frozen=True, slots=True)
class InkWatch:
    """One cell that watches an ink."""

    cell: str
    ink: str
    change: Change
    limit_de00: float
    real: bool
    """It changed more than noise and drift do."""
    over: bool | None
    """Over its limit; None: cannot tell."""
    sentence: str

    @property
    def fading(self) -> bool:
        """It changed, and is over its limit by the best estimate at least."""
        return self.real and self.change.de00.value >= self.limit_de00


def is_real(change: Change, chance: float, floor_de00: float = 0.0) -> bool:
    """True if noise alone would hardly do it: rarer than `chance`, over the detection limit and over the drift."""
    return change.chance < chance and change.de00.value > change.limit_de00 and change.de00.low > floor_de00


def drift(
    swatches: Sequence[Change], controls: Sequence[Change], chance: float, earlier: Sequence[Change] = ()
) -> Drift:
    """The check of one reading, and of the swatches at readings before it. `chance`: see is_real."""
    kept = (*swatches, *controls)
    moved = [change for change in kept if is_real(change, chance)]
    names = tuple(change.cell for change in moved)
    floor = max((change.de00.value for change in moved), default=0.0)
    suspects = (*earlier, *(swatches or controls))
    photos = tuple(dict.fromkeys(change.reading for change in suspects if is_real(change, chance)))
    if not kept:
        text = "Nothing was read that should not change: no control and no swatch kept in the dark. Drift of the photos"
        text += " cannot be told from an effect."
    elif not moved:
        text = f"What should not change did not: {listed([change.cell for change in kept])}"
        text += f" moved by {max(change.de00.value for change in kept):.1f} ΔE00 at most."
    else:
        told = listed([f"{change.cell} by {amount(change.de00)} ΔE00" for change in moved])
        text = f"What should not change did: {told}. Changes up to {floor:.1f} ΔE00 are therefore not laid to a"
        text += " treatment. Nothing was subtracted. "
        if any(change in moved for change in swatches):
            text += "The swatches were kept in the dark, so look for a change of lamp, camera or place, and photograph"
            text += " again."
        elif swatches:
            text += "The swatches stayed, so warmth, dry air or stray light may have changed the control itself."
        else:
            text += "Without swatches a drift of the photos cannot be told from an effect of warm, dry air."
    if set(photos) - {change.reading for change in kept}:
        text += f" Swatches kept in the dark looked different at {listed(photos)}."
    return Drift(tuple(swatches), tuple(controls), names, floor, photos, text)


def ink_watch(cell: Cell, change: Change, limit_de00: float, chance: float, floor_de00: float) -> InkWatch:
    """How an ink stands against its limit, ΔE00, at one reading."""
    real = is_real(change, chance, floor_de00)
    seen = change.de00
    over = True if seen.low > limit_de00 else False if seen.high < limit_de00 else None
    who = f"The ink '{cell.ink}'" if cell.ink else "The ink"
    span = f"{seen.value:.1f} ΔE00 ({seen.low:.1f} to {seen.high:.1f}; limit {limit_de00:g})"
    if real and over:
        text = f"{who} in {cell.name} has changed by {span}: it is fading and over its limit."
    elif real and over is None:
        text = f"{who} in {cell.name} has changed by {span}: it may be over its limit. Look at it closely."
    elif over is False:
        text = f"{who} in {cell.name} is under its limit: {span}."
    else:
        text = f"{who} in {cell.name}: {span}. These readings cannot tell whether it is over its limit; look at it"
        text += " closely, or take better photos."
    return InkWatch(cell.name, cell.ink, change, limit_de00, real, over, text)
