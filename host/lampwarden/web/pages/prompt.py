"""The checkpoint that waits: what to photograph, what to mind, and the way to go on."""

from collections.abc import Callable

from nicegui import ui

from ...service import Service
from ..views import Now
from .elements import Field, Rows, Text, attribute, box, order_button, shown
from .reader import Reader, ordered


class PromptPart:
    """Hidden while no checkpoint waits."""

    def __init__(self, service: Service, chamber_id: str, reader: Reader) -> None:
        self._service, self._chamber_id, self._reader = service, chamber_id, reader
        self._checkpoint, self._note = "", ""
        self._holder = box("section", "prompt", aria_label="Photo pause", id="checkpoint")
        with self._holder:
            self._title = Text("h2")
            self._look_at = Text("p", "", "look")
            self._steps: Rows[str] = Rows(box("ol"), _step)
            self._light = order_button("Light the white light again", "", self._relight, answers=True)
            self._go = box("div", "go")
            with self._go:
                with box("label", "field"):
                    Text("span", "What you saw, for the journal (may stay empty)")
                    self._field = Field("text", "", self._typed, at_once=True, maxlength="500")
                self._done = order_button("Done, go on", "main", self._answer, answers=True)
            self._said = Text("p", "", "answer-said", role="alert")
            self._waiting = Text("p", "", "waiting")

    def show(self, now: Now) -> None:
        prompt = now.prompt
        shown(self._holder, prompt is not None)
        if prompt is None:
            self._checkpoint = ""
            return
        if prompt.name != self._checkpoint:
            self._checkpoint, self._said.text = prompt.name, ""
            if self._note:
                self._note = ""
                self._field.set("")
        self._title.text = "What to photograph now" if prompt.called else "What to photograph soon"
        self._look_at.text = prompt.look_at
        self._steps.show(prompt.steps)
        shown(self._light, prompt.unlit and now.actions.answer)
        shown(self._go, now.actions.answer)
        self._waiting.text = prompt.waiting

    def _typed(self, text: str) -> None:
        self._note = text

    async def _relight(self) -> None:
        self._said.text = await ordered(self._service.light_inspection, self._chamber_id, self._reader.name)

    async def _answer(self) -> None:
        self._said.text = ""
        attribute(self._done, "disabled", True)
        refused = await ordered(
            self._service.answer, self._chamber_id, self._checkpoint, self._reader.name, self._note.strip()
        )
        attribute(self._done, "disabled", None)
        self._said.text = refused


def _step() -> tuple[ui.element, Callable[[str], None]]:
    with box("li") as row:
        text = Text("span")

    def fill(step: str) -> None:
        text.text = step

    return row, fill
