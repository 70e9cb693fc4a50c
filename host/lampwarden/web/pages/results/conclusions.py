"""Headline and advice, what the trial cannot show, and every conclusion in a sentence."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ...results_view.said import CellAdvice, Group, Said
from ..elements import Rows, Text, box, sentence, shown

DE00 = (
    "ΔE00 is a colour difference as the eye sees it (CIE 2000): about 1 is just seen with both side by side. What"
    " stands after ± or in brackets is where the truth lies 19 times in 20, by the stated uncertainty."
)


class ConclusionsPart:
    def __init__(self) -> None:
        with box("section", "part rs-said", aria_label="What the readings say"):
            Text("h2", "What the readings say")
            self._headline = Text("p", "", "rs-headline")
            self._advice = Text("p", "", "rs-advice")
            self._reason = Text("p")
            self._cells: Rows[CellAdvice] = Rows(box("dl", "rs-cell-advice"), _advice)
            Text("p", DE00, "hint")
            with box("details", "rs-fold") as self._limits_holder:
                self._limits_title = Text("summary")
                self._limits: Rows[tuple[str, str]] = Rows(box("ul", "rs-limits"), _limit)

    def show(self, said: Said) -> None:
        self._headline.text, self._advice.text, self._reason.text = said.headline, said.advice, said.reason
        self._cells.show(said.cells)
        shown(self._limits_holder, bool(said.limits))
        self._limits_title.text = f"What this trial cannot show ({len(said.limits)})"
        self._limits.show(said.limits)


class SentencesPart:
    """Every conclusion in a sentence. Hidden while there is none."""

    def __init__(self) -> None:
        with box("section", "part rs-all", aria_label="Conclusions in sentences") as self._holder:
            Text("h2", "Conclusions in sentences")
            self._groups: Rows[Group] = Rows(box("div", "rs-groups"), _group)

    def show(self, groups: Sequence[Group]) -> None:
        shown(self._holder, bool(groups))
        self._groups.show(groups)


def _advice() -> tuple[ui.element, Callable[[CellAdvice], None]]:
    with box("div") as row:
        with box("dt"):
            cell, kind = Text("b"), Text("span")
        reason = Text("dd")

    def fill(one: CellAdvice) -> None:
        cell.text, kind.text, reason.text = one.cell, one.kind, one.reason

    return row, fill


def _group() -> tuple[ui.element, Callable[[Group], None]]:
    with box("div", "rs-group") as row:
        title = Text("h3")
        sentences: Rows[str] = Rows(box("ul"), sentence)

    def fill(group: Group) -> None:
        title.text = group.title
        sentences.show(group.sentences)

    return row, fill


def _limit() -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
    with box("li") as row:
        text, source = Text("span"), Text("small")

    def fill(limit: tuple[str, str]) -> None:
        text.text, source.text = limit

    return row, fill
