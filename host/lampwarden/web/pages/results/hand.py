"""What people found by hand and eye: a form for one cell, and what was noted so far."""

from collections.abc import Awaitable, Callable, Mapping, Sequence

from nicegui import ui

from ....domain.finding import ASPECTS, HandFinding
from ....domain.sheet import Sheet
from ....service import Service
from ...results_view.entry import HandRow, Wrong, aspect_of, hand_finding
from ..elements import Field, Labelled, Rows, Select, Text, attribute, box, button, order_button, shown
from ..reader import Reader, ordered


class HandPart:
    def __init__(
        self, service: Service, reader: Reader, chamber_id: str, session_id: str, sheet: Sheet,
        checkpoints: Sequence[str], changed: Callable[[], Awaitable[None]],
    ) -> None:  # fmt: skip
        self._service, self._reader, self._changed = service, reader, changed
        self._chamber_id, self._session_id = chamber_id, session_id
        self._typed = {"cell": "", "aspect": ASPECTS[0].key, "step": "", "value": "", "note": "", "checkpoint": ""}
        self._labels: dict[str, Labelled] = {}
        with box("section", "part", aria_label="Found by hand and eye"):
            Text("h2", "Found by hand and eye")
            Text("p", "Shown beside the colours, never reckoned into them.", "lead")
            with box("div", "rs-form"):
                with box("div", "rs-row"):
                    cells = {"": "Choose"} | {c.name: f"{c.name}, {c.treatment.label}" for c in sheet.cells}
                    self._select("cell", "Cell", cells)
                    self._select("aspect", "What", {aspect.key: aspect.title for aspect in ASPECTS})
                    self._select("step", "How it is", {"": "Choose"})
                    with Labelled("Value") as self._labels["value"]:
                        self._value = Field("text", "", self._taker("value"), at_once=True, inputmode="decimal")
                    moments = {"": "not at a checkpoint"} | {name: name for name in checkpoints}
                    self._select("checkpoint", "At", moments)
                self._hint = Text("p", "", "hint")
                with Labelled("Note") as self._labels["note"]:
                    self._note = Field("textarea", "", self._taker("note"), at_once=True, rows="2", maxlength="1000")
                with box("div", "actions"):
                    order_button("Keep this finding", "main", self._keep)
                self._said = Text("p", "", "answer-said", role="alert")
                self._kept = Text("p", "", "rs-kept", role="status")
            self._empty = Text("p", "Nothing was noted yet.", "empty")
            self._rows: Rows[HandRow] = Rows(box("ul", "rs-hand"), self._row)
            with box("p", "rs-files") as self._files:
                href = f"/api/chambers/{chamber_id}/sessions/{session_id}/record/findings.csv"
                Text("a", "As CSV", "button quiet", href=href, download="")
        self._aspect()

    def show(self, rows: Sequence[HandRow]) -> None:
        shown(self._empty, not rows)
        shown(self._files, bool(rows))
        self._rows.show(rows)

    def _select(self, key: str, label: str, options: Mapping[str, str]) -> None:
        def choose(value: str) -> None:
            self._typed[key] = value
            self._wrong({})
            if key == "aspect":
                self._aspect()

        with Labelled(label) as self._labels[key]:
            select = Select(options, self._typed[key], choose)
        if key == "step":
            self._steps = select

    def _taker(self, key: str) -> Callable[[str], None]:
        def take(text: str) -> None:
            self._typed[key] = text
            self._labels[key].mended()

        return take

    def _aspect(self) -> None:
        """Shows the fields that the chosen aspect takes."""
        aspect = aspect_of(self._typed["aspect"])
        self._typed["step"] = ""
        self._steps.show({"": "Choose"} | {str(n): words for n, words in enumerate(aspect.steps)}, "")
        shown(self._labels["step"].element, bool(aspect.steps))
        shown(self._labels["value"].element, not aspect.steps and not aspect.words_only)
        unit = f"In {aspect.unit}. " if aspect.unit else ""
        self._hint.text = f"{unit}{aspect.hint}".strip()

    def _wrong(self, fields: Mapping[str, str]) -> None:
        steps = bool(aspect_of(self._typed["aspect"]).steps)
        for key, label in self._labels.items():
            # A step is a value, too.
            wanted = "value" if key == "step" and steps else key
            label.wrong("" if key == "value" and steps else fields.get(wanted, ""))

    async def _keep(self) -> None:
        self._said.text = self._kept.text = ""
        typed, aspect = self._typed, aspect_of(self._typed["aspect"])
        value = typed["step"] if aspect.steps else typed["value"]
        try:
            found = hand_finding(
                typed["cell"], aspect, value, typed["note"], typed["checkpoint"],
                self._service.snapshot(self._chamber_id).utc,
            )  # fmt: skip
        except Wrong as error:
            self._wrong(error.fields)
            return
        self._wrong({})
        self._said.text = await ordered(self._add, found)
        if self._said.text:
            return
        self._kept.text = f"Kept: {found.cell}, {aspect.title.lower()}. A later finding stands beside it."
        for key, field in (("value", self._value), ("note", self._note)):
            typed[key] = ""
            field.set("")
        self._aspect()
        await self._changed()

    def _add(self, found: HandFinding) -> None:
        self._service.add_finding(found, self._reader.name, chamber_id=self._chamber_id, session_id=self._session_id)

    def _row(self) -> tuple[ui.element, Callable[[HandRow], None]]:
        at = {"number": 0, "why": ""}

        def take(text: str) -> None:
            at["why"] = text
            why.wrong("")

        def ask(wanted: bool) -> None:
            shown(begin, not wanted)
            shown(form, wanted)

        async def withdraw() -> None:
            said = await ordered(self._withdraw, at["number"], at["why"])
            why.wrong(said.removeprefix("Not done. "))
            if not said:
                ask(False)
                field.set("")
                await self._changed()

        with box("li") as row:
            cell = Text("b")
            with box("div"):
                with box("p"):
                    what, value = Text("span", "", "rs-what"), Text("b")
                note, when, gone = Text("p"), Text("small"), Text("p", "", "rs-gone")
                begin = order_button("Withdraw", "quiet", lambda: ask(True))
                with box("div", "rs-withdraw") as form:
                    with Labelled("Why it does not hold", "It stays in the record as it was written, marked.") as why:
                        field = Field("text", "", take, at_once=True, maxlength="500")
                    with box("div", "actions"):
                        button("Withdraw it", "", withdraw)
                        button("Let it stand", "quiet", lambda: ask(False))
        shown(form, False)

        def fill(one: HandRow) -> None:
            if at["number"] != one.number or one.gone:
                ask(False)
            at["number"] = one.number
            cell.text, what.text, value.text = one.cell, one.what, one.value
            note.text, when.text, gone.text = one.note, f"{one.when}, {one.by}", one.gone
            attribute(row, "data-gone", "yes" if one.gone else None)
            attribute(begin, "aria-label", f"Withdraw {one.cell}, {one.what}")
            if one.gone:
                shown(begin, False)

        return row, fill

    def _withdraw(self, number: int, why: str) -> None:
        self._service.withdraw_finding(
            number, why, self._reader.name, chamber_id=self._chamber_id, session_id=self._session_id
        )
