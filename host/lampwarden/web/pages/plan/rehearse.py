"""The rehearsal: the plan on a simulated chamber, with its progress and what it showed."""

from collections.abc import Callable
from datetime import datetime

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....domain.plan import Plan
from ....errors import LampwardenError
from ....rehearsing import Rehearsal
from ....service import Service
from ...plan_view.outcome import Pair
from ...plan_view.rehearsed import ZoneLit, rehearsal_shown
from ..elements import Rows, Text, attribute, box, order_button, shown, style
from ..reader import Reader
from .bench import Bench
from .result import fact

LOOK_S = 0.5
"""How often a rehearsal is asked how far it is, s."""


class RehearsePart:
    def __init__(self, service: Service, bench: Bench, reader: Reader, now: Callable[[], datetime]) -> None:
        self._service, self._bench, self._reader, self._now = service, bench, reader, now
        self._found: Rehearsal | None = None
        self._of: Plan | None = None
        with box("section", "part plan-rehearse", aria_label="Rehearse", id="plan-rehearse"):
            Text("h2", "Rehearse")
            with box("div", "plan-inside"):
                Text(
                    "p",
                    "The whole plan on a simulated chamber with the board's own firmware, in seconds. Nothing is lit.",
                    "hint",
                )
                with box("div") as self._under_way:
                    self._bar = box("div", "plan-progress", role="progressbar", aria_valuemin="0", aria_valuemax="100")
                    attribute(self._bar, "aria-label", "Part of the rehearsal that is done")
                    with self._bar:
                        self._done = box("i")
                self._says = Text("p", "", "plan-rehearsed", role="status")
                self._old = Text("p", "The plan changed since this rehearsal.", "hint")
                with box("div") as self._result:
                    self._facts: Rows[Pair] = Rows(box("dl", "plan-facts"), fact)
                    with box("table", "plan-table", aria_label="Light of each zone in the rehearsal"):
                        with box("thead"), box("tr"):
                            for name in ("Zone", "Planned", "Truly lit", "Dose on record"):
                                Text("th", name, scope="col")
                        self._zones: Rows[ZoneLit] = Rows(box("tbody"), _zone)
                    Text("p", "Times are those of full light: an hour at half level counts as half an hour.", "hint")
                    with box("details"):
                        Text("summary", "Its journal")
                        self._journal: Rows[tuple[str, str]] = Rows(box("ol", "journal"), _line)
                with box("div", "actions"):
                    self._begin = order_button("Rehearse", "", self.begin)
                    self._cancel = order_button("Cancel the rehearsal", "quiet", self.cancel)
                self._wrong = Text("p", "", "answer-said", role="alert")
        self._timer = ui.timer(LOOK_S, self._look, active=False)
        self.show()

    def show(self) -> None:
        found, taste, now = self._found, self._reader.taste, self._now()
        running = found is not None and found.state == "running"
        shown(self._under_way, running)
        shown(self._cancel, running)
        attribute(self._begin, "disabled", True if running else None)
        self._begin.text = "Rehearse again" if found and not running else "Rehearse"
        shown(self._old, found is not None and found.result is not None and self._of != self._bench.plan)
        if found is None:
            shown(self._result, False)
            return
        says = rehearsal_shown(found, self._bench.start_at or now, taste, now)
        style(self._done, "--share", f"{says.share:.3f}")
        attribute(self._bar, "aria-valuenow", f"{100 * says.share:.0f}")
        self._says.text = says.says
        attribute(self._says, "data-well", "yes" if says.well else None)
        shown(self._result, bool(says.zones))
        if says.zones:
            self._facts.show(says.facts)
            self._zones.show(says.zones)
            self._journal.show(says.journal)

    async def begin(self) -> None:
        """Rehearses the plan as it stands, saved or not."""
        self._wrong.text, plan = "", self._bench.plan
        try:
            self._found = await run_in_threadpool(self._service.rehearse, plan, self._reader.name)
        except LampwardenError as error:
            self._wrong.text = str(error)
            return
        self._of = plan
        self._timer.activate()
        self.show()

    async def cancel(self) -> None:
        if self._found:
            await run_in_threadpool(self._service.cancel_rehearsal, self._found.id)
            self._look()

    def _look(self) -> None:
        if self._found is None:
            return
        try:
            self._found = self._service.rehearsal(self._found.id)
        except LampwardenError as error:
            self._wrong.text = str(error)
            self._timer.deactivate()
            return
        if self._found.state != "running":
            self._timer.deactivate()
        self.show()


def _zone() -> tuple[ui.element, Callable[[ZoneLit], None]]:
    with box("tr") as row:
        name = Text("th", "", scope="row")
        cells = [Text("td") for _ in range(3)]

    def fill(about: ZoneLit) -> None:
        name.text = about.zone
        for cell, text in zip(cells, (about.planned, about.true, about.dose), strict=True):
            cell.text = text

    return row, fill


def _line() -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
    with box("li") as row:
        at, says = Text("time"), Text("span")

    def fill(line: tuple[str, str]) -> None:
        at.text, says.text = line

    return row, fill
