"""Check and start: what must be right first, what to say yes to, and the start itself, now or later."""

from collections.abc import Awaitable, Callable

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....domain.plan import Plan
from ....errors import LampwardenError
from ....keeper import Preflight
from ....service import Service
from ....store.records import PlannedStart
from ... import wording as w
from ...plan_view.checks import Ask, Check, checks, confirmed
from ...plan_view.listing import StartLine, start_line
from ..elements import Field, Rows, Text, Tick, attribute, box, button, order_button, paper, shown
from ..reader import NAME_MAX, SOMEBODY, Reader
from ..start import CARE
from .bench import Bench


class StartPart:
    def __init__(
        self,
        service: Service,
        bench: Bench,
        reader: Reader,
        save: Callable[[], Awaitable[bool]],
        read: Callable[[], Awaitable[None]],
    ) -> None:
        self._service, self._bench, self._reader, self._save, self._read = service, bench, reader, save, read
        self._found: Preflight | None = None
        self._checked: Plan | None = None
        self._ticked: set[str] = set()
        self._waits: tuple[PlannedStart, ...] = ()
        self._dialog = self._ask_dialog()
        with box("section", "part plan-start", aria_label="Check and start", id="plan-start") as self._holder:
            Text("h2", "Check and start")
            with box("div", "plan-inside"):
                self._starts: Rows[StartLine] = Rows(box("div", "plan-list"), self._start_row)
                self._headline = Text("p", "", "plan-refused-not", role="status")
                self._wrong: Rows[Check] = Rows(box("div", "plan-checks"), _check)
                with box("div", "plan-confirm") as self._confirm:
                    Text("h3", "Read, and say yes by name")
                    with box("label", "field"):
                        Text("span", "Your name, for the journal")
                        name = "" if reader.name == SOMEBODY else reader.name
                        Field("text", name, self._named, maxlength=str(NAME_MAX), autocomplete="name", id="plan-name")
                    self._asks: Rows[Ask] = Rows(box("div"), self._ask)
                with box("details") as self._well_holder:
                    self._well_title = Text("summary", "Well")
                    self._well: Rows[Check] = Rows(box("div", "plan-checks"), _check)
                with box("div", "actions"):
                    self._check = button("Check", "", self.check)
                    self._start = order_button("Start now…", "main", self._dialog.open)
                self._said = Text("p", "", "answer-said", role="alert")
        self._show()

    def show(self) -> None:
        """The plan, or the time of its start, changed."""
        self._show()

    def waits(self, starts: tuple[PlannedStart, ...]) -> None:
        """The starts of this plan that wait."""
        self._waits = starts
        with self._holder:  # the row whose button was pressed may be gone
            self._show()

    async def check(self) -> None:
        """Runs all checks on the plan as it stands."""
        self._said.text, self._check.text = "", "Checking…"
        await self._read()
        plan = self._bench.plan
        try:
            self._found = await run_in_threadpool(self._service.preflight, plan.chamber, plan)
            self._checked = plan
        except LampwardenError as error:
            self._said.text = str(error)
        self._show()

    def _show(self) -> None:
        found = self._found if self._checked == self._bench.plan else None
        taste, at = self._reader.taste, self._bench.start_at
        now = w.moment(self._service.snapshot(self._bench.plan.chamber).utc)
        self._starts.show([start_line(s.id, self._bench.plan.title, s.at_utc, s.by, taste, now) for s in self._waits])
        self._check.text = "Check again" if self._checked else "Check"
        self._start.text = "Start now…" if at is None else f"Start {w.clock_text(at, now, taste)}…"
        if found is None:
            self._headline.text = (
                "The plan changed: check again."
                if self._checked
                else "Board, sheet, disk, clock and plan are looked at."
            )
            for rows in (self._wrong, self._well):
                rows.show(())
            self._asks.show(())
            shown(self._confirm, False)
            shown(self._well_holder, False)
            attribute(self._start, "disabled", True)
            return
        says = checks(found, self._ticked, taste)
        self._headline.text = says.headline
        self._wrong.show(says.wrong)
        self._asks.show(says.asks)
        shown(self._confirm, bool(says.asks))
        self._well.show(says.well)
        shown(self._well_holder, bool(says.well))
        self._well_title.text = f"{len(says.well)} checks are well"
        named = not says.asks or self._reader.name != SOMEBODY
        if says.may_start and not named:
            self._headline.text = "Give your name: what you said yes to stands in the journal under it."
        attribute(self._start, "disabled", None if says.may_start and named else True)

    def _named(self, text: str) -> None:
        self._reader.choose("name", text)
        self._show()

    def _ask(self) -> tuple[ui.element, Callable[[Ask], None]]:
        key = {"now": ""}

        def ticked(value: bool) -> None:
            (self._ticked.add if value else self._ticked.discard)(key["now"])
            self._show()

        with box("div") as row:
            tick = Tick("", False, ticked)

        def fill(ask: Ask) -> None:
            if key["now"] != ask.key:
                key["now"] = ask.key
                tick.set(ask.key in self._ticked)
            tick.say(ask.says)

        return row, fill

    def _start_row(self) -> tuple[ui.element, Callable[[StartLine], None]]:
        start = {"id": 0}

        async def cancel() -> None:
            try:
                await run_in_threadpool(self._service.cancel_start, start["id"], self._reader.name)
            except LampwardenError as error:
                self._said.text = str(error)
            await self.read_waits()

        with box("div", "plan-wait") as row:
            says = Text("span")
            order_button("Cancel this start", "quiet", cancel)

        def fill(line: StartLine) -> None:
            start["id"], says.text = line.number, line.says

        return row, fill

    async def read_waits(self) -> None:
        """Reads which starts of this plan wait."""
        plan = self._bench.plan
        found = await run_in_threadpool(self._service.planned_starts, plan.chamber)
        self.waits(tuple(s for s in found if s.plan_id == plan.id and s.state == "waiting"))

    # --- the start ----------------------------------------------------------------------------------------------------

    def _ask_dialog(self) -> ui.dialog:
        with paper("Start", alert=True) as dialog:
            Text("h2", "The lamps will light. Is all ready?")
            with box("ul", "care"):
                for sentence in CARE:
                    Text("li", sentence)

            async def start() -> None:
                dialog.close()
                await self._begin()

            with box("div", "actions"):
                button("Start it", "main", start)
                button("Not yet", "", dialog.close)
        return dialog

    async def _begin(self) -> None:
        self._said.text = ""
        if self._found is None or not await self._save():
            return
        plan, at, by = self._bench.plan, self._bench.start_at, self._reader.name
        yes = confirmed(self._found, self._ticked, by)
        try:
            if at is None:
                await run_in_threadpool(self._service.start_plan, plan.id, by, yes)
                ui.navigate.to(f"/now/{plan.chamber}")
                return
            await run_in_threadpool(self._service.start_later, plan.id, at, by, yes)
            await self.read_waits()
        except LampwardenError as error:
            self._said.text = f"Not started. {error}"


def _check() -> tuple[ui.element, Callable[[Check], None]]:
    with box("div", "plan-check") as row:
        verdict = Text("span", "", "plan-verdict")
        with box("div"):
            title, says, remedy = Text("b"), Text("span"), Text("span", "", "plan-remedy")

    def fill(about: Check) -> None:
        attribute(row, "data-verdict", about.verdict)
        verdict.text, title.text = about.word, f"{about.title}. "
        says.text, remedy.text = f"{about.says} ", about.remedy

    return row, fill
