"""Carries out what a commissioning dialogue asks: the board's heartbeat goes on while a person thinks."""

import threading
from contextlib import suppress
from typing import Protocol, TypeVar

from ..errors import BoardRefused, LinkError
from ..keeper.clock import Clock
from ..link.board import Board, Demand, Identity, Live
from .dialogue import Ask, Dialogue, Identify, Order, Question, Seen, Silence, Stall, Tell, Watch, Wish

LOOK_S = 0.25
"""Time between two exchanges with the board, s: quick enough for a person who waits for an answer."""
LIT_S_MAX = 60.0
"""Longest light while a question stays open, s. The levels are low, but nobody may be looking any more."""

T = TypeVar("T")


class Person(Protocol):
    """Whoever answers: a terminal, a page, a test."""

    def tell(self, text: str) -> None:
        """Shows a text."""

    def ask(self, question: Question) -> None:
        """Shows a question; returns at once."""

    def answer(self) -> str | None:
        """The answer to the last question, None as long as there is none."""


class Prompt(Protocol):
    """The board's MicroPython prompt, for the one step that needs it."""

    def stall(self, zone: int, level: float) -> str | None:
        """See dialogue.Stall. Raises LinkError."""


class Driver:
    """One dialogue with one board and one person. Call from one thread."""

    def __init__(self, board: Board, person: Person, clock: Clock, prompt: Prompt) -> None:
        self._board, self._person, self._clock, self._prompt = board, person, clock, prompt
        self._never = threading.Event()

    def run(self, dialogue: Dialogue[T]) -> T:
        """The dialogue's result. Whatever ends it, the board is told to go dark and disarmed."""
        answer: object = None
        trouble: LinkError | None = None
        try:
            while True:
                try:
                    wish = dialogue.throw(trouble) if trouble is not None else dialogue.send(answer)
                except StopIteration as end:
                    result: T = end.value
                    return result
                answer, trouble = None, None
                try:
                    answer = self._carry_out(wish)
                except LinkError as error:
                    trouble = error
        finally:
            with suppress(LinkError):  # it goes dark by itself without a heartbeat
                self._board.demand(Demand(()))
                self._board.disarm()

    def _carry_out(self, wish: Wish) -> object:
        match wish:
            case Tell():
                self._person.tell(wish.text)
                return None
            case Ask():
                return self._ask(wish)
            case Watch():
                return self._watch(wish)
            case Order():
                return self._order(wish)
            case Silence():
                self._wait(wish.for_s)
                return self._board.look()
            case Identify():
                return self._identify(wish.timeout_s)
            case Stall():
                return self._prompt.stall(wish.zone, wish.level)

    def _ask(self, wish: Ask) -> str | None:
        self._person.ask(wish.question)
        until_s = self._clock.now_s() + wish.timeout_s
        while (answer := self._person.answer()) is None and self._clock.now_s() < until_s:
            self._wait(LOOK_S)
        return answer

    def _watch(self, wish: Watch) -> Seen:
        if wish.question is not None:
            self._person.ask(wish.question)
        began_s = self._clock.now_s()
        while True:
            passed_s = self._clock.now_s() - began_s
            live = self._exchange(wish.demand if passed_s < LIT_S_MAX else Demand(()))
            if wish.until is not None and wish.until(live):
                return Seen(live, True, None)
            answer = self._person.answer() if wish.question is not None else None
            if answer is not None or passed_s >= wish.timeout_s:
                return Seen(live, False, answer)
            self._wait(LOOK_S)

    def _exchange(self, demand: Demand) -> Live:
        """One exchange; a single lost one is no fault of a board."""
        try:
            return self._board.exchange(demand)
        except LinkError:
            return self._board.exchange(demand)

    def _order(self, wish: Order) -> str | None:
        board = self._board
        try:
            match wish.what:
                case "limits":
                    board.set_limits(*wish.values)
                case "arm":
                    board.arm()
                case "disarm":
                    board.disarm()
                case "clear_trip":
                    board.clear_trip(int(wish.values[0]))
        except BoardRefused as error:
            return str(error)
        return None

    def _identify(self, timeout_s: float) -> Identity:
        until_s = self._clock.now_s() + timeout_s
        while True:
            try:
                return self._board.identify()
            except LinkError:
                if self._clock.now_s() >= until_s:
                    raise
                self._wait(LOOK_S)

    def _wait(self, for_s: float) -> None:
        self._clock.wait(self._clock.now_s() + for_s, self._never)
