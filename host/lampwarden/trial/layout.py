"""Which arm goes to which place, drawn by lot. The same seed always draws the same."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import TypeVar

from ..errors import ProgramError

T = TypeVar("T")

METHOD = (
    "Drawn by lot with Python's random.Random (Mersenne Twister), seed {seed}. A list is shuffled by giving each member"
    " one random() number, in the order written, and sorting by it. {how}"
)
"""Only random() is promised to give the same numbers in every version of Python, so nothing else is used."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Places and their arms, with all that is needed to draw them again."""

    arms: Mapping[str, str]
    """Arm of each place, in the order of the places."""
    blocks: Mapping[str, str]
    """Block of each place: a strip of the sheet, a row, a run."""
    seed: int
    method: str
    """How it was drawn, for the record."""


def complete_blocks(arms: Sequence[str], blocks: Mapping[str, Sequence[str]], seed: int) -> Layout:
    """Every arm once in each block, in random order. A ladder is one block whose arms are its doses.

    `blocks` maps a block's name to its places, as many as there are arms. Raises ProgramError if they do not fit.
    """
    _check_arms(arms)
    lot = Random(seed)
    drawn: dict[str, str] = {}
    home: dict[str, str] = {}
    for block, places in blocks.items():
        if len(places) != len(arms):
            raise ProgramError(
                f"Block '{block}' has {len(places)} places for {len(arms)} arms. Give each block one place per arm."
            )
        for place, arm in zip(places, _shuffled(arms, lot), strict=True):
            if place in drawn:
                raise ProgramError(f"Place '{place}' is named twice. Each place gets one arm.")
            drawn[place], home[place] = arm, block
    if not drawn:
        raise ProgramError("There is no block. Give at least one, with a place for each arm.")
    return Layout(
        drawn, home, seed, METHOD.format(seed=seed, how="Each block gets its own shuffle, in the order given.")
    )


def latin_square(arms: Sequence[str], places: Sequence[Sequence[str]], seed: int) -> Layout:
    """Every arm once in each row and once in each column: against light and warmth that drift both ways.

    `places` are the places' names row by row, as many rows and columns as arms. The cyclic square is shuffled in its
    rows, its columns and its arms. That does not reach every square of four and more, but leaves no order. Rows become
    the blocks. Raises ProgramError if the places do not make such a square.
    """
    _check_arms(arms)
    size = len(arms)
    if len(places) != size or any(len(row) != size for row in places):
        shape = " + ".join(str(len(row)) for row in places)
        raise ProgramError(f"{size} arms need {size} rows of {size} places; these are {shape}. Use blocks instead.")
    names = [place for row in places for place in row]
    if len(set(names)) != len(names):
        raise ProgramError("A place is named twice in the square. Each place gets one arm.")
    lot = Random(seed)
    rows, columns = _shuffled(range(size), lot), _shuffled(range(size), lot)
    labels = _shuffled(arms, lot)
    drawn = {
        place: labels[(rows[i] + columns[j]) % size] for i, row in enumerate(places) for j, place in enumerate(row)
    }
    home = {place: f"row {i + 1}" for i, row in enumerate(places) for place in row}
    how = "A cyclic square; its rows, then its columns, then its arms are shuffled."
    return Layout(drawn, home, seed, METHOD.format(seed=seed, how=how))


def _check_arms(arms: Sequence[str]) -> None:
    if len(arms) < 2 or len(set(arms)) != len(arms):
        raise ProgramError(
            f"{len(arms)} arms, {len(set(arms))} of them different. Give at least two, each its own name."
        )


def _shuffled(members: Sequence[T], lot: Random) -> list[T]:
    return [member for _, _, member in sorted((lot.random(), index, member) for index, member in enumerate(members))]
