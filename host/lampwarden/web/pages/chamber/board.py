"""The board: its health, its commissioning record, and every register with its value now."""

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from ....domain.commissioning import Papers
from ....keeper import Snapshot
from ...chamber_view import board as view
from ...chamber_view import registers
from ...chamber_view.board import Fact, Group, StepRow
from ...chamber_view.registers import RegisterRow
from ...wording import Taste
from ..elements import Rows, Text, attribute, box, shown


class BoardPart:
    def __init__(self) -> None:
        with box("section", "part", aria_label="Board"):
            with box("h2"):
                Text("span", "Board")
                Text("small", "now")
            self._verdict = Text("p", "", "ch-verdict", role="status")
            self._groups: Rows[Group] = Rows(box("div", "ch-groups"), _group)

    def show(self, snapshot: Snapshot, taste: Taste) -> None:
        says, well = view.verdict(snapshot)
        self._verdict.text = says
        attribute(self._verdict, "data-well", "yes" if well else "no")
        self._groups.show(view.health(snapshot, taste))


class CommissioningPart:
    def __init__(self) -> None:
        with box("section", "part", aria_label="Commissioning"):
            Text("h2", "Commissioning")
            Text(
                "p",
                "Before its first light a board is tried step by step, dark and empty. The command “lampwarden board"
                " check” walks through it and writes the record.",
                "lead",
            )
            self._trouble = Text("p", "", "ch-trouble", role="alert")
            self._says = Text("p")
            self._facts: Rows[Fact] = Rows(box("dl", "ch-facts"), _fact)
            with box("details", "ch-steps") as self._details:
                Text("summary", "The steps")
                self._steps: Rows[StepRow] = Rows(box("ol"), _step)

    def show(self, papers: Papers, snapshot: Snapshot, taste: Taste, trouble: str) -> None:
        shows = view.record(papers, snapshot, taste)
        self._trouble.text = trouble or shows.trouble
        shown(self._trouble, bool(self._trouble.text))
        self._says.text = shows.says
        self._facts.show(shows.facts)
        shown(self._details, bool(shows.steps))
        self._steps.show(shows.steps)


class RegistersPart:
    """Folded away; its rows are only brought up to date while it is open."""

    def __init__(self) -> None:
        self._open = False
        self._seen: tuple[Snapshot, Taste] | None = None
        with box("section", "part ch-registers", aria_label="Registers"):
            with box("h2"):
                Text("span", "Registers")
                Text("small", "all numbers the board and this computer exchange")
            with box("details") as details:
                Text("summary", "Show the table with the values now")
                Text(
                    "p",
                    "Input registers are what the board is and sees; holding registers are what this computer asks of"
                    " it. Any Modbus program can read them, functions 4 and 3. “Reads” says in words what a number"
                    " stands for.",
                    "lead",
                )
                with box("div", "ch-wide", tabindex="0", role="region", aria_label="All registers"), box("table"):
                    with box("thead"), box("tr"):
                        for head in ("Kind", "Address", "Name", "Value", "Unit", "Reads", "Meaning"):
                            Text("th", head, scope="col")
                    self._rows: Rows[RegisterRow] = Rows(box("tbody"), _register)
            details.on("toggle", self._turned, js_handler="(e) => emit(e.target.open)")

    def show(self, snapshot: Snapshot, taste: Taste) -> None:
        self._seen = snapshot, taste
        if self._open:
            self._rows.show(registers.rows(snapshot, taste))

    def _turned(self, event: GenericEventArguments) -> None:
        self._open = bool(event.args)
        if self._seen is not None:
            self.show(*self._seen)


def _group() -> tuple[ui.element, Callable[[Group], None]]:
    with box("div", "ch-group") as row:
        title = Text("h3")
        facts: Rows[Fact] = Rows(box("dl", "ch-facts"), _fact)

    def fill(group: Group) -> None:
        title.text = group.title
        facts.show(group.facts)

    return row, fill


def _fact() -> tuple[ui.element, Callable[[Fact], None]]:
    with box("div") as row:
        label, value, about = Text("dt"), Text("dd"), Text("dd", "", "about")

    def fill(fact: Fact) -> None:
        label.text, value.text, about.text = fact.label, fact.value, fact.about
        shown(about, bool(fact.about))
        attribute(row, "data-wrong", "yes" if fact.wrong else "no")

    return row, fill


def _step() -> tuple[ui.element, Callable[[StepRow], None]]:
    with box("li") as row:
        with box("p"):
            outcome, title = Text("b"), Text("span")
        text = Text("p", "", "about")

    def fill(step: StepRow) -> None:
        outcome.text, title.text, text.text = step.outcome, step.title, step.text
        attribute(row, "data-passed", "yes" if step.passed else "no")

    return row, fill


def _register() -> tuple[ui.element, Callable[[RegisterRow], None]]:
    row = box("tr")
    with row:
        kind, address, name = Text("td"), Text("td", "", "number"), Text("th", "", "", scope="row")
        value, unit, reads, meaning = Text("td", "", "value"), Text("td"), Text("td"), Text("td", "", "meaning")

    def fill(register: RegisterRow) -> None:
        kind.text, address.text, name.text = register.space, register.address, register.name
        value.text, unit.text = register.value, register.unit
        reads.text, meaning.text = register.reads, register.meaning

    return row, fill
