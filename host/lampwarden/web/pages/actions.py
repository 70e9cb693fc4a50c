"""Pause, go on, end, clear a trip; and the holds that stand. The stop is part of the shell."""

from collections.abc import Callable

from nicegui import ui

from ...service import Service
from ..views import Actions, Now, Standing
from .elements import Field, Rows, Text, box, button, order_button, paper, shown
from .reader import Reader, ordered


class ActionsPart:
    """The buttons of a session and what came of the last one."""

    def __init__(self, service: Service, chamber_id: str, reader: Reader) -> None:
        self._service, self._chamber_id, self._reader = service, chamber_id, reader
        self._ending = self._end_dialog()
        self._row = box("div", "actions")
        with self._row:
            self._go_on = order_button("Go on", "main", lambda: self._order(service.go_on, chamber_id, reader.name))
            self._pause = order_button("Pause", "", lambda: self._order(service.hold, chamber_id, reader.name))
            self._clear = order_button("Clear the trip", "main", lambda: self._order(service.clear_trip, chamber_id))
            self._another = Text("a", "Start another session", "button", href="#start")
            self._end = order_button("End the session…", "grave", self._ending.open)
        self._said = Text("p", "", "answer-said", role="alert")
        self._holds: Rows[Standing] = Rows(box("ul", "holds", aria_label="Why it is held"), _hold)

    def show(self, now: Now) -> None:
        can: Actions = now.actions
        self._go_on.text = can.go_on or "Go on"
        shown(self._go_on, bool(can.go_on))
        shown(self._pause, can.pause)
        shown(self._clear, can.clear_trip)
        shown(self._end, can.end)
        another = can.start and bool(now.program)
        shown(self._another, another)
        shown(self._row, bool(can.go_on) or can.pause or can.clear_trip or can.end or another)
        self._holds.show([hold for hold in now.holds if now.prompt is None or hold.title != "Checkpoint"])

    async def _order(self, order: Callable[..., object], *arguments: object) -> None:
        self._said.text = ""
        self._said.text = await ordered(order, *arguments)

    def _end_dialog(self) -> ui.dialog:
        with paper("End the session", alert=True) as dialog:
            Text("h2", "End this session for good?")
            Text("p", "The lamps go dark and the record is closed. It cannot be taken up again. A pause can.")
            why = {"text": ""}
            with box("label", "field"):
                Text("span", "Why, for the journal (may stay empty)")
                Field("text", "", lambda text: why.update(text=text), maxlength="500")

            async def end() -> None:
                dialog.close()
                await self._order(self._service.end, self._chamber_id, self._reader.name, why["text"])

            with box("div", "actions"):
                button("End the session", "grave main", end)
                button("Keep it", "", dialog.close)
        return dialog


def _hold() -> tuple[ui.element, Callable[[Standing], None]]:
    with box("li") as row:
        title = Text("b")
        why = Text("p")
        meta = Text("p", "", "meta")

    def fill(hold: Standing) -> None:
        title.text, why.text, meta.text = hold.title, hold.why, f"{hold.then} Held {hold.since}."

    return row, fill
