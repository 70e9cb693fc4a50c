"""The editor of one plan, put together of its parts."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....domain.sheet import Sheet
from ....errors import ChangedMeanwhile, LampwardenError, UnknownName
from ....planning import Review, review
from ....planning.power import AirModel
from ....service import SavedPlan
from ....store.records import PlannedStart
from ....timeline import Habits, Timeline, lay_out
from ... import wording as w
from ...plan_view.outcome import outcome
from ...plan_view.picture import picture
from ...plan_view.timetable import timetable
from ..elements import Text, attribute, box, button, order_button, shown
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .about import AboutPart
from .air import Airs
from .arms import ArmsPart
from .bars import BarsPart
from .bench import Bench
from .draft import Desk, Draft
from .flags import FlagsPart
from .picture import PicturePart
from .rehearse import RehearsePart
from .result import ResultPart
from .rules import RulesPart
from .start import StartPart
from .when import WhenPart

SETTLE_S = 0.06
"""A step is worked out so long after the last, s: while one types there is no need for each letter."""
CLOCK_S = 60.0
"""How often a plan that starts now is laid out anew by the clock, s."""

DESK = Desk()
"""Drafts of this process."""
AIRS = Airs()
"""Models of air, of this process."""


@dataclass(frozen=True, slots=True)
class Opened:
    """What the editor reads before it can be shown."""

    saved: SavedPlan
    sheets: Mapping[str, Sheet]
    air: AirModel
    bank_lit_h: Mapping[int, float]
    waits: tuple[PlannedStart, ...]
    """Starts of this plan that wait."""


class PlanPage:
    """One open editor."""

    @staticmethod
    def fetch(site: Site, chamber_id: str, plan_id: str) -> Opened:
        """Reads what is needed. Blocks: called in a worker thread. Raises UnknownName."""
        service = site.service
        saved = service.plan(plan_id)
        if saved.plan.chamber != chamber_id:
            raise UnknownName(f"Plan '{plan_id}' is for the chamber '{saved.plan.chamber}'.")
        chamber = service.chamber(chamber_id)
        sheets = {kept.sheet.id: kept.sheet for kept in service.sheets()}
        lit_h = {age.bank: age.lit_h for age in service.lit_hours(chamber_id)}
        waits = tuple(s for s in service.planned_starts(chamber_id) if s.plan_id == plan_id and s.state == "waiting")
        return Opened(saved, sheets, AIRS.model(service, chamber), lit_h, waits)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, plan_id: str, opened: Opened) -> None:
        self._site, self._service, self._reader, self._opened = site, site.service, reader, opened
        self._chamber_id = chamber_id
        mark = ui.context.client.request.query_params.get("draft", "")
        waiting = DESK.find(mark, plan_id)
        self._mark = mark if waiting else ""
        self._bench = Bench(
            waiting or Draft(opened.saved.plan, opened.saved.revision),
            site.service.chamber(chamber_id),
            dict(opened.sheets),
            self._changed,
        )
        self._fresh = False
        self._review: Review | None = None
        self._asked = 0
        self._seen: object = None
        self._titled = ""
        frame(site, reader, chamber_id, "plan", self.again)
        with box("div", "plan-sheet-of-paper") as self._main:
            self._place()
        self._start.waits(opened.waits)
        self.again()
        ui.timer(CLOCK_S, self._tick)

    def _place(self) -> None:
        bench = self._bench
        with box("div", "top"):
            Text("a", "All plans", "up", href=f"/plan/{self._chamber_id}")
            self._title = Text("h1", "", "title")
        with box("div", "plan-keep", role="group", aria_label="Keep the plan") as self._keep:
            self._state = Text("span", "", "plan-state", role="status")
            self._brief = Text("a", "", "plan-brief", href="#plan-result")
            shown(self._brief, False)  # an empty link is nothing to those who listen
            self._undo = button("Undo", "quiet", lambda: self._stepped("Taken back", bench.undo))
            self._redo = button("Redo", "quiet", lambda: self._stepped("Done again", bench.redo))
            self._save = order_button("Save", "main", self.save)
            for made, name in ((self._undo, "plan-undo"), (self._redo, "plan-redo"), (self._save, "plan-save")):
                made.props["id"] = name
            self._said = Text("p", "", "answer-said", role="alert")
            with box("div", "actions", hidden="") as self._conflict:
                order_button("Save mine over it", "grave", self._save_over)
                button("Look at theirs", "quiet", self._take_theirs)
        with box("div", "page plan-page"):
            with box("div", "column"):
                self._about = AboutPart(bench)
                self._picture = PicturePart(bench)
                self._bars = BarsPart(bench)
                with self._bars.when:
                    self._when = WhenPart(bench, self._reader, self._now)
                self._flags = FlagsPart(bench)
                self._arms = ArmsPart(bench)
                self._rules = RulesPart(bench, self._reader)
            with box("div", "column plan-side"):
                self._result = ResultPart(bench)
            with box("div", "column plan-foot"):
                self._rehearse = RehearsePart(self._service, bench, self._reader, self._now)
                self._start = StartPart(self._service, bench, self._reader, self.save, self.read_sheets)

    # --- showing ------------------------------------------------------------------------------------------------------

    def again(self) -> None:
        """Shows everything anew, in the reader's present taste."""
        self._fresh = True
        self._changed()

    def _now(self) -> datetime:
        """The chamber's clock: in the demo it runs faster than the one on the wall."""
        return w.moment(self._service.snapshot(self._chamber_id).utc)

    def _changed(self) -> None:
        with self._main:  # the row whose button was pressed may be gone
            self._show_all()

    def _show_all(self) -> None:
        bench, taste, now = self._bench, self._reader.taste, self._now()
        plan, fresh, self._fresh = bench.plan, self._fresh, False
        if bench.draft.unsaved and not self._mark:
            self._mark = DESK.keep(bench.draft)
            ui.run_javascript(f"history.replaceState(null, '', '?draft={self._mark}')")
        seen = (plan, bench.sheet, bench.start_at, bench.wish, taste, now.timestamp() // CLOCK_S)
        if seen != self._seen:  # else only a selection changed
            self._seen, self._review = seen, None
            self._asked += 1
            self._result.waiting()
            ui.timer(SETTLE_S, lambda asked=self._asked: self._work_out(asked), once=True)
        table = timetable(plan, bench.chamber, self._timeline(), taste, now)
        title = f"{plan.title} · Plan"
        if title != self._titled:
            self._titled = title
            ui.page_title(title)
            self._title.text = self._bench.plan.title
        self._about.show()
        self._when.show()
        self._picture.show(picture(plan, bench.chamber, bench.sheet))
        self._bars.show(table, fresh=fresh)
        self._flags.show(table.flags, fresh=fresh)
        self._arms.show(fresh=fresh)
        self._rules.show(fresh=fresh)
        self._rehearse.show()
        self._start.show()
        self._show_kept()

    def _timeline(self) -> Timeline:
        """The review's, which allows for pauses to cool; until there is one a quick one without."""
        if self._review is not None:
            return self._review.timeline
        plan, chamber = self._bench.plan, self._bench.chamber
        habits = Habits(plan.sleep_from, plan.sleep_to, plan.photo_s)
        return lay_out(plan.program, chamber, self._begins(), habits)

    def _begins(self) -> datetime:
        """When it starts, in the reader's own zone."""
        return (self._bench.start_at or self._now()).astimezone(self._reader.taste.zone)

    async def _work_out(self, asked: int) -> None:
        """Reviews the plan in a worker thread, unless there is a newer one by now."""
        if asked != self._asked:
            return
        bench, taste, now = self._bench, self._reader.taste, self._now()
        plan = bench.plan
        try:
            found = await run_in_threadpool(
                review,
                plan,
                bench.chamber,
                bench.sheet,
                self._begins(),
                self._opened.air,
                plan.program.rehearsal.ambient_c,
                wish=bench.wish,
                bank_lit_h=self._opened.bank_lit_h,
                scale=taste.scale,
            )
        except LampwardenError as error:
            self._result.fail(str(error))
            return
        if asked == self._asked:
            self._review = found
            says = outcome(found, plan, bench.chamber, taste, now)
            self._result.show(says, found)
            self._brief.text = says.brief
            shown(self._brief, bool(says.brief))
            attribute(self._brief, "data-stops", "yes" if says.refused else None)
            table = timetable(plan, bench.chamber, found.timeline, taste, now)
            self._bars.show(table)
            self._flags.show(table.flags)

    def _tick(self) -> None:
        if self._bench.start_at is None:
            self._changed()

    def _show_kept(self) -> None:
        draft = self._bench.draft
        attribute(self._keep, "data-unsaved", "yes" if draft.unsaved else None)
        self._state.text = "Not saved yet" if draft.unsaved else f"Saved, revision {draft.revision}"
        for made, says, verb in ((self._undo, draft.undo_says, "Undo"), (self._redo, draft.redo_says, "Redo")):
            attribute(made, "disabled", None if says else True)
            attribute(made, "title", f"{verb} {says}" if says else None)
        attribute(self._save, "disabled", None if draft.unsaved else True)

    # --- keeping ------------------------------------------------------------------------------------------------------

    def _stepped(self, words: str, step: Callable[[], str]) -> None:
        self._fresh = True
        says = step()
        if says:
            self._state.text = f"{words}: {says}"

    async def save(self) -> bool:
        """Saves the plan as a new revision; says why not. Returns whether it is saved as shown."""
        draft = self._bench.draft
        plan = draft.plan
        self._said.text = ""
        if not draft.unsaved:
            return True
        try:
            revision = await run_in_threadpool(self._service.save_plan, plan, self._reader.name, draft.revision)
        except ChangedMeanwhile as error:
            self._said.text = str(error)
            attribute(self._conflict, "hidden", None)
            return False
        except LampwardenError as error:
            self._said.text = f"Not saved. {error}"
            return False
        draft.saved(plan, revision)
        attribute(self._conflict, "hidden", True)
        self._show_kept()
        return True

    async def read_sheets(self) -> None:
        """Reads the sheets anew: they may have been described meanwhile."""
        kept = await run_in_threadpool(self._service.sheets)
        sheets = {one.sheet.id: one.sheet for one in kept}
        if sheets != self._bench.sheets:
            self._bench.sheets = sheets
            self.again()

    async def _theirs(self) -> SavedPlan | None:
        """The plan as somebody else saved it meanwhile; None: they removed it."""
        try:
            return await run_in_threadpool(self._service.plan, self._bench.plan.id)
        except UnknownName:
            return None

    async def _save_over(self) -> None:
        theirs = await self._theirs()
        self._bench.draft.revision = theirs.revision if theirs else None
        await self.save()

    async def _take_theirs(self) -> None:
        """Theirs as a step of its own: undo brings mine back."""
        theirs = await self._theirs()
        if theirs is None:
            self._said.text = "They removed it; there is nothing to look at. Save yours to bring the plan back."
            return
        self._bench.draft.change(theirs.plan, "the change to what was saved meanwhile")
        self._bench.draft.saved(theirs.plan, theirs.revision)
        attribute(self._conflict, "hidden", True)
        self._said.text = ""
        self.again()
