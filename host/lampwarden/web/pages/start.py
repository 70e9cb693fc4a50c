"""The offer to start a program, once nothing forbids it."""

from collections.abc import Mapping

from nicegui import ui

from ...domain.program import Program
from ...keeper import Snapshot
from ...service import Service
from ..starting import offer
from .elements import Rows, Text, attribute, box, button, order_button, pair, paper, sentence, shown
from .reader import Reader, ordered

CARE = (
    "Never look at lit lamps, nor at their reflection: light of this kind harms the eye before it hurts.",
    "Close the door. The lamps light only with the door closed.",
    "Stay near during the first minutes, and keep a working smoke alarm in the room.",
    "Light can harm a sheet for good. Try it on a worthless one first, and ask a trained conservator about originals.",
)


class StartPart:
    """Hidden while a session is under way."""

    def __init__(self, service: Service, chamber_id: str, reader: Reader, programs: Mapping[str, Program]) -> None:
        self._service, self._chamber_id, self._reader = service, chamber_id, reader
        self._programs = dict(programs)
        self._chosen = next(iter(self._programs), "")
        self._choices: list[tuple[str, Text]] = []
        self._dialog = self._start_dialog()
        self._holder = box("section", "part start-part", aria_label="Start a session", id="start")
        with self._holder:
            Text("h2", "Start a session")
            with box("p", "start-plan"):
                Text("a", "Plan a trial", "button" if programs else "button main", href=f"/plan/{chamber_id}")
                Text("span", " A plan is checked, rehearsed and started on its own page.", "hint")
            self._offer = box("div", "offer")
            shown(self._offer, bool(programs))
            with self._offer:
                with box("div", "choice programs", role="group", aria_label="Program"):
                    for key, program in self._programs.items():
                        made = Text("button", program.title, type="button")
                        made.on("click", lambda key=key: self._choose(key))
                        self._choices.append((key, made))
                self._notes = Text("p", "", "notes")
                self._zones: Rows[tuple[str, str]] = Rows(box("dl"), pair)
                self._first = box("div")
                with self._first:
                    Text("p", "Before it can start:")
                    self._wrong: Rows[str] = Rows(box("ul", "wrong"), sentence)
                with box("div", "actions"):
                    self._start = order_button("Start…", "main", self._dialog.open)
                self._said = Text("p", "", "answer-said", role="alert")
        self._mark()

    def show(self, snapshot: Snapshot, visible: bool) -> None:
        shown(self._holder, visible)
        if not visible:
            return
        # The result of the last session comes first.
        attribute(self._holder, "data-after", "yes" if snapshot.session is not None else "no")
        if not self._programs:
            return
        shows = offer(self._programs[self._chosen], snapshot, self._reader.taste)
        self._notes.text = shows.notes
        self._zones.show((("Length", shows.length), ("Pauses", shows.pauses), *shows.zones))
        shown(self._first, bool(shows.wrong))
        self._wrong.show(shows.wrong)
        attribute(self._start, "disabled", True if shows.wrong else None)

    def _choose(self, key: str) -> None:
        self._chosen, self._said.text = key, ""
        self._mark()
        self.show(self._service.snapshot(self._chamber_id), visible=True)

    def _mark(self) -> None:
        for key, made in self._choices:
            attribute(made, "aria-pressed", "true" if key == self._chosen else "false")

    def _start_dialog(self) -> ui.dialog:
        with paper("Start", alert=True) as dialog:
            Text("h2", "The lamps will light. Is all ready?")
            with box("ul", "care"):
                for sentence in CARE:
                    Text("li", sentence)

            async def start() -> None:
                dialog.close()
                self._said.text = await ordered(
                    self._service.start, self._chamber_id, self._programs[self._chosen], self._reader.name
                )

            with box("div", "actions"):
                button("Start now", "main", start)
                button("Not yet", "", dialog.close)
        return dialog
