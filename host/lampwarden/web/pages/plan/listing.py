"""The plans of a chamber: the list, the starts that wait, and how a new plan begins."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from nicegui import ui
from nicegui.events import GenericEventArguments
from starlette.concurrency import run_in_threadpool

from ....domain.plan import Plan
from ....domain.program import Program
from ....domain.program_file import parse_as, render
from ....domain.sheet import Sheet
from ....errors import LampwardenError, ProgramError
from ....planning import PATTERNS, Pattern
from ....service import SavedPlan, Service
from ....store.records import PlannedStart
from ... import wording as w
from ...plan_view.arms import named
from ...plan_view.listing import PlanLine, StartLine, free_id, free_title, plan_line, start_line
from ..elements import Labelled, Rows, Select, Text, attribute, box, button, order_button, shown
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .bench import altered

FILE_MAX = 200_000
"""Longest plan file taken, letters: some hundred times a long plan."""
SESSIONS_MAX = 200
"""So many of the newest sessions are asked which plans were used."""


@dataclass(frozen=True, slots=True)
class Listed:
    """What the list shows, as read from the records."""

    plans: tuple[SavedPlan, ...]
    sheets: Mapping[str, Sheet]
    starts: tuple[PlannedStart, ...]
    used: frozenset[str]
    """Plans that sessions were begun from."""


def listed(service: Service, chamber_id: str) -> Listed:
    """Reads the list. Blocks. Raises UnknownName."""
    return Listed(
        plans=tuple(service.plans(chamber_id)),
        sheets={kept.sheet.id: kept.sheet for kept in service.sheets()},
        starts=tuple(start for start in service.planned_starts(chamber_id) if start.state == "waiting"),
        used=frozenset(s.plan_id for s in service.sessions(chamber_id, SESSIONS_MAX) if s.plan_id),
    )


class PlansPage:
    """One open list."""

    @staticmethod
    def fetch(site: Site, chamber_id: str) -> Listed:
        """Reads what is needed. Blocks: called in a worker thread."""
        return listed(site.service, chamber_id)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, opened: Listed) -> None:
        self._service, self._reader, self._chamber_id = site.service, reader, chamber_id
        self._listed = opened
        self._removed: Plan | None = None
        self._sheet_id = ""
        frame(site, reader, chamber_id, "plan", self.show)
        ui.page_title(f"Plans · {site.service.snapshot(chamber_id).chamber.title}")
        with box("div", "top"):
            Text("h1", "Plans", "title")
            Text("p", "A plan says which zone of the chamber gets how much light, when, and when you look.", "lead")
        with box("div", "page plan-page plan-list-page") as self._main:
            with box("div", "column"):
                self._place_list()
            with box("div", "column"):
                self._place_new()
        self.show()

    def _place_list(self) -> None:
        with box("section", "part plan-waiting", aria_label="Starts that wait") as self._waiting:
            with box("h2"):
                Text("span", "Starts that wait")
            self._starts: Rows[StartLine] = Rows(box("div", "plan-list"), self._start_row)
        with box("section", "part", aria_label="Plans"):
            with box("h2"):
                Text("span", "Saved plans")
                Text("small", "the last saved first")
            self._said = Text("p", "", "answer-said", role="alert")
            with box("p", "plan-wait", role="status", hidden="") as self._undo:
                self._undo_says = Text("span")
                order_button("Undo", "quiet", self._bring_back)
            self._empty = Text("p", "There is no plan yet. Begin with a ready pattern, or with a file.", "empty")
            self._plans: Rows[PlanLine] = Rows(box("div", "plan-list"), self._plan_row)

    def _place_new(self) -> None:
        with box("section", "part", aria_label="A new plan"):
            with box("h2"):
                Text("span", "A new plan")
            with box("div", "plan-inside"):
                entry = Labelled("For which sheet", hint="A pattern lays its cells on a sheet that has none yet.")
                with entry:
                    self._sheet = Select({"": ""}, "", self._choose_sheet, id="plan-for")
                Text("h3", "From a ready pattern")
                with box("div", "plan-patterns"):
                    for pattern in PATTERNS:
                        with box("button", "plan-pattern", type="button", data_pattern=pattern.key) as made:
                            Text("b", pattern.title)
                            Text("span", pattern.says)
                        made.on("click", lambda pattern=pattern: self._from_pattern(pattern))
                self._new_said = Text("p", "", "answer-said", role="alert")
                Text("h3", "From a file")
                with box("label", "field"):
                    Text("span", "A plan or a program written as TOML")
                    file = box("input", type="file", accept=".toml,text/plain")
                    Text("small", "As exported from here, or a program file.", "hint")
                file.on(
                    "change",
                    self._from_file,
                    js_handler=f"""async (e) => {{
                        const file = e.target.files[0];
                        if (file) emit({{name: file.name, text: (await file.text()).slice(0, {FILE_MAX + 1})}});
                        e.target.value = "";
                    }}""",
                )

    # --- showing ------------------------------------------------------------------------------------------------------

    def show(self) -> None:
        """Shows the list as it was read last, in the reader's present taste."""
        snapshot = self._service.snapshot(self._chamber_id)
        now, taste, found = w.moment(snapshot.utc), self._reader.taste, self._listed
        titles = {key: sheet.title for key, sheet in found.sheets.items()}
        self._plans.show(
            [plan_line(p.plan, p.saved_utc, snapshot.chamber, titles, found.used, taste, now) for p in found.plans]
        )
        names = {p.plan.id: p.plan.title for p in found.plans}
        self._starts.show(
            [start_line(s.id, names.get(s.plan_id, s.plan_id), s.at_utc, s.by, taste, now) for s in found.starts]
        )
        shown(self._waiting, bool(found.starts))
        shown(self._empty, not found.plans)
        attribute(self._main, "data-none", None if found.plans or found.starts else "yes")
        self._sheet.show({"": "A new sheet, described later"} | titles, self._sheet_id)

    async def read(self) -> None:
        """Reads the list anew and shows it."""
        self._listed = await run_in_threadpool(listed, self._service, self._chamber_id)
        with self._main:  # the row whose button was pressed may be gone
            self.show()

    def _plan_row(self) -> tuple[ui.element, Callable[[PlanLine], None]]:
        plan = {"id": ""}
        with box("div", "plan-item") as row:
            with box("div"):
                title = Text("a", "", "plan-title")
                about = Text("p", "", "plan-about")
            with box("div", "plan-do"):
                order_button("Copy", "quiet", lambda: self._copy(plan["id"]))
                button("Export", "quiet", lambda: self._export(plan["id"]))
                order_button("Remove", "quiet", lambda: self._remove(plan["id"]))

        def fill(line: PlanLine) -> None:
            plan["id"], title.text = line.id, line.title
            attribute(title, "href", f"/plan/{self._chamber_id}/{line.id}")
            attribute(row, "data-plan", line.id)
            about.text = " · ".join((line.sheet, line.length, line.saved, line.used))

        return row, fill

    def _start_row(self) -> tuple[ui.element, Callable[[StartLine], None]]:
        start = {"number": 0}
        with box("div", "plan-wait") as row:
            says = Text("span")

            async def cancel() -> None:
                await self._do(self._service.cancel_start, start["number"], self._reader.name)

            order_button("Cancel this start", "quiet", cancel)

        def fill(line: StartLine) -> None:
            start["number"], says.text = line.number, line.says

        return row, fill

    # --- what one may do with a plan ----------------------------------------------------------------------------------

    def _plan(self, plan_id: str) -> Plan:
        return next(saved.plan for saved in self._listed.plans if saved.plan.id == plan_id)

    async def _do(self, order: Callable[..., object], *arguments: object) -> bool:
        self._said.text = ""
        try:
            await run_in_threadpool(order, *arguments)
        except LampwardenError as error:
            self._said.text = str(error)
            return False
        await self.read()
        return True

    async def _remove(self, plan_id: str) -> None:
        plan = self._plan(plan_id)
        if await self._do(self._service.remove_plan, plan_id, self._reader.name):
            self._removed, self._undo_says.text = plan, f"“{plan.title}” was removed."
            shown(self._undo, True)

    async def _bring_back(self) -> None:
        if self._removed and await self._do(self._service.save_plan, self._removed, self._reader.name, None):
            self._removed = None
            shown(self._undo, False)

    def _export(self, plan_id: str) -> None:
        ui.download.content(render(self._plan(plan_id)), f"{plan_id}.toml", "application/toml")

    async def _copy(self, plan_id: str) -> None:
        plan = self._plan(plan_id)
        await self._begin(f"{plan.title[:30]} copy", plan.program, plan.sheet, plan)

    # --- a new plan ---------------------------------------------------------------------------------------------------

    def _choose_sheet(self, sheet_id: str) -> None:
        self._sheet_id = sheet_id

    async def _from_pattern(self, pattern: Pattern) -> None:
        sheet = self._listed.sheets.get(self._sheet_id)
        chamber = self._service.snapshot(self._chamber_id).chamber
        try:
            made = pattern.make(chamber, sheet)
            sheet_id = self._sheet_id
            if sheet is None:
                sheet_id = free_id(pattern.title, self._listed.sheets)
                titles = [kept.title for kept in self._listed.sheets.values()]
                new = altered(made.sheet, id=sheet_id, title=free_title(f"Sheet for {pattern.title}", titles))
                await run_in_threadpool(self._service.save_sheet, new, self._reader.name, None)
            elif not sheet.cells:
                revision = (await run_in_threadpool(self._service.sheet, sheet.id)).revision
                await run_in_threadpool(self._service.save_sheet, made.sheet, self._reader.name, revision)
        except LampwardenError as error:
            self._new_said.text = str(error)
            return
        plan = Plan(id="new", title=pattern.title, chamber=self._chamber_id, sheet=sheet_id, program=made.program)
        if sheet is None or not sheet.cells:
            plan = plan.model_copy(update={"arms": named(plan, made.sheet, chamber)})
        await self._begin(pattern.title, made.program, sheet_id, plan)

    async def _from_file(self, event: GenericEventArguments) -> None:
        name, text = str(event.args["name"]), str(event.args["text"])
        try:
            if len(text) > FILE_MAX:
                raise ProgramError(f"{name} is too long for a plan. Choose a plan or program file.")
            plan = read_file(text, name, self._chamber_id)
        except ProgramError as error:
            self._new_said.text = str(error)
            return
        known = plan.sheet if plan.sheet in self._listed.sheets else None
        await self._begin(plan.title, plan.program, known, plan)

    async def _begin(self, title: str, program: Program, sheet_id: str | None, like: Plan | None = None) -> None:
        """Saves a new plan and opens it. `like`: a plan whose other fields it takes over."""
        taken = {saved.plan.id for saved in self._listed.plans}
        name = free_title(title, {saved.plan.title for saved in self._listed.plans})
        try:
            new = altered(
                like or Plan(id="new", title=name, chamber=self._chamber_id, program=program),
                id=free_id(name, taken),
                title=name,
                chamber=self._chamber_id,
                sheet=sheet_id,
                program=program.model_copy(update={"title": name}),
                **({} if like is None or sheet_id == like.sheet else {"arms": {}}),
            )
            await run_in_threadpool(self._service.save_plan, new, self._reader.name, None)
        except LampwardenError as error:
            self._new_said.text = str(error)
            return
        ui.navigate.to(f"/plan/{self._chamber_id}/{new.id}")


def read_file(text: str, name: str, chamber_id: str) -> Plan:
    """A plan from TOML text: a plan file, or a program file for this chamber. Raises ProgramError with lines."""
    try:
        whole = "program" in tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        whole = False  # said with its line by parse_as
    if whole:
        return parse_as(Plan, text, name)
    program = parse_as(Program, text, name)
    return Plan(id="new", title=program.title, chamber=chamber_id, program=program)
