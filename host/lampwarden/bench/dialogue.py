"""What commissioning asks of a person and of the board, and what comes back. Pure data.

A dialogue is a generator: it yields a wish, whoever drives it carries the wish out and sends the answer back. It knows
no port, clock or screen, so a terminal, a page or a test can drive the same one. What the answer to each wish is stands
in its docstring; a board that does not answer is thrown in as LinkError.
"""

from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from ..link.board import Demand, Live


@dataclass(frozen=True, slots=True)
class Question:
    """For the person. The answer is the key of a choice, or any text if there are no choices."""

    text: str
    choices: tuple[tuple[str, str], ...] = ()
    """Key and label of each."""


@dataclass(frozen=True, slots=True)
class Tell:
    """Shows a text. Answer: None."""

    text: str


@dataclass(frozen=True, slots=True)
class Ask:
    """Asks the person, and leaves the board alone. Answer: the key of a choice or text, None if nobody answered."""

    question: Question
    timeout_s: float


@dataclass(frozen=True, slots=True)
class Watch:
    """Keeps the board company with this demand until something happens. Answer: Seen.

    If the question stays open for long, the demand turns dark meanwhile (see driver.LIT_S_MAX).
    """

    demand: Demand
    timeout_s: float
    until: Callable[[Live], bool] | None = None
    """What the board shows that ends the watch."""
    question: Question | None = None
    """An answer ends the watch, too."""


@dataclass(frozen=True, slots=True)
class Seen:
    """How a watch ended. Neither `happened` nor an answer: its time was up."""

    live: Live
    """The last reading."""
    happened: bool
    """`until` came true."""
    answer: str | None


@dataclass(frozen=True, slots=True)
class Order:
    """An order to the board. Answer: None, or the sentence with which the board refused it."""

    what: Literal["limits", "arm", "disarm", "clear_trip"]
    values: tuple[float, ...] = ()
    """limits: air °C, bank °C, heartbeat timeout s; clear_trip: its cause."""


@dataclass(frozen=True, slots=True)
class Silence:
    """Says nothing to the board for so long, then looks without a heartbeat. Answer: Live."""

    for_s: float


@dataclass(frozen=True, slots=True)
class Identify:
    """Asks the board what it is, for so long until it answers. Answer: Identity."""

    timeout_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Stall:
    """Stalls the firmware while a zone (from 0) is lit, so that only the watchdog is left. Answer: None, or a sentence
    why that cannot be done here."""

    zone: int
    level: float
    """Share of full drive."""


Wish = Tell | Ask | Watch | Order | Silence | Identify | Stall
T = TypeVar("T")
Dialogue = Generator[Wish, Any, T]
