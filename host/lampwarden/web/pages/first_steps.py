"""The first steps on the page Now: there until they are done or put away, and called up again by a button."""

from collections.abc import Callable

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ...errors import LampwardenError
from ..first_steps import Step, There, steps
from .elements import Rows, Text, attribute, box, button, shown
from .reader import Reader
from .site import Site

AWAY, ASKED = "away", "asked"
"""The reader put the steps away; the reader called them up again."""


class FirstStepsPart:
    """Hidden while a session is under way."""

    def __init__(self, site: Site, chamber_id: str, reader: Reader) -> None:
        self._site, self._chamber_id, self._reader = site, chamber_id, reader
        self._steps: tuple[Step, ...] = ()
        self._idle = False
        with box("section", "part steps-part", aria_label="First steps", hidden="") as self._holder:
            with box("h2"):
                Text("span", "First steps")
                self._count = Text("small")
            self._rows: Rows[Step] = Rows(box("ol", "steps"), _step)
            with box("div", "actions"):
                button("Put this away", "quiet", lambda: self._choose(AWAY))
        with box("p", "steps-again", hidden="") as self._again:
            button("Show the first steps", "quiet", lambda: self._choose(ASKED))
        ui.timer(0, self._look, once=True)

    def show(self, idle: bool) -> None:
        """`idle`: no session is under way."""
        self._idle = idle
        chosen, done = self._reader["steps"], sum(step.done for step in self._steps)
        over = bool(self._steps) and self._steps[-1].done  # whoever ran a session needs no guide, whatever was left out
        open_now = chosen == ASKED or (chosen != AWAY and not over)
        shown(self._holder, idle and bool(self._steps) and open_now)
        shown(self._again, idle and bool(self._steps) and not open_now)
        self._count.text = f"{done} of {len(self._steps)} done"
        self._rows.show(self._steps)

    async def _look(self) -> None:
        try:
            there = await run_in_threadpool(there_now, self._site, self._chamber_id)
        except LampwardenError:
            return  # the page says elsewhere that the records cannot be read
        self._steps = steps(there, self._chamber_id)
        self.show(self._idle)

    def _choose(self, what: str) -> None:
        self._reader.choose("steps", what)
        self.show(self._idle)


def there_now(site: Site, chamber_id: str) -> There:
    """What is there already. Blocks. Raises StoreError."""
    service, notifier = site.service, site.notifier
    plans = service.plans(chamber_id)
    return There(
        sheets=len(service.sheets()),
        plan_id=plans[0].plan.id if plans else "",
        rehearsed=service.rehearsed(chamber_id),
        channels=len(notifier.channels().channels) if notifier is not None else None,
        sessions=len(service.sessions(chamber_id, 1)),
    )


def _step() -> tuple[ui.element, Callable[[Step], None]]:
    with box("li") as row:
        with box("p"):
            title, done = Text("a"), Text("span", "done", "done")
        says = Text("p", "", "hint")

    def fill(step: Step) -> None:
        title.text, says.text = step.title, step.says
        attribute(title, "href", step.href)
        attribute(row, "data-done", "yes" if step.done else None)
        attribute(row, "data-next", "yes" if step.next else None)
        shown(done, step.done)

    return row, fill
