"""Sheets and plans: every revision is kept, and a change is refused if somebody saved another meanwhile."""

from dataclasses import dataclass

from ..domain.plan import Plan
from ..domain.sheet import Sheet
from ..errors import NotNow
from ..keeper import Clock
from ..store.drafts import Drafts
from ..store.records import Draft, Json
from ..store.starts import PlannedStarts
from ..store.store import Store
from .base import Base


@dataclass(frozen=True, slots=True)
class SavedSheet:
    """A sheet as it was saved."""

    sheet: Sheet
    revision: int
    """From 1; give it back when you save a change of this one."""
    saved_utc: str
    saved_by: str


@dataclass(frozen=True, slots=True)
class SavedPlan:
    """A plan as it was saved."""

    plan: Plan
    revision: int
    """From 1; give it back when you save a change of this one."""
    saved_utc: str
    saved_by: str


class Shelf(Base):
    """The part of the service that keeps sheets and plans."""

    def __init__(self, store: Store, clock: Clock) -> None:
        super().__init__(store, clock)
        self._sheets = Drafts(store, "sheet")
        self._plans = Drafts(store, "plan")
        self._starts = PlannedStarts(store)

    def sheets(self) -> list[SavedSheet]:
        """The sheets described, the last saved first."""
        return [_sheet(draft) for draft in self._sheets.newest()]

    def sheet(self, sheet_id: str, revision: int | None = None) -> SavedSheet:
        """A sheet, or an earlier revision of it, removed ones too. Raises UnknownName."""
        return _sheet(self._sheets.one(sheet_id, revision))

    def save_sheet(self, sheet: Sheet, by: str, revision: int | None) -> int:
        """Keeps a sheet; returns its new revision. `revision` is the one that was changed; None: a new sheet.

        Raises ChangedMeanwhile if somebody saved another since, NotNow if the name is taken or a start waits for it.
        """
        with self._starting:
            self._refuse_awaited(sheet_id=sheet.id)
            return self._sheets.save(sheet.id, as_data(sheet), by, self._utc(), revision)

    def remove_sheet(self, sheet_id: str, by: str) -> None:
        """Takes a sheet off the list; its revisions stay. Raises NotNow while a plan or a session uses it."""
        with self._starting:
            users = [f"plan '{saved.plan.title}'" for saved in self.plans() if saved.plan.sheet == sheet_id]
            for keeper in self._keepers.values():
                running = self._store.open_session(keeper.chamber.id)
                if running is not None and running.sheet is not None and running.sheet.get("id") == sheet_id:
                    users.append(f"session {running.id}")
            if users:
                raise NotNow(f"Sheet '{sheet_id}' is used by {', '.join(users)}. Remove or change that first.")
            self._sheets.remove(sheet_id, by, self._utc())

    def plans(self, chamber_id: str | None = None) -> list[SavedPlan]:
        """The plans for a chamber, or with None for all, the last saved first. Raises UnknownName."""
        if chamber_id is not None:
            self._keeper(chamber_id)
        return [_plan(draft) for draft in self._plans.newest(chamber_id)]

    def plan(self, plan_id: str, revision: int | None = None) -> SavedPlan:
        """A plan, or an earlier revision of it, removed ones too. Raises UnknownName."""
        return _plan(self._plans.one(plan_id, revision))

    def save_plan(self, plan: Plan, by: str, revision: int | None) -> int:
        """Keeps a plan; returns its new revision. `revision` is the one that was changed; None: a new plan.

        Raises ChangedMeanwhile if somebody saved another since, NotNow if the name is taken or a start waits for it,
        UnknownName if there is no such chamber.
        """
        self._keeper(plan.chamber)
        with self._starting:
            self._refuse_awaited(plan_id=plan.id)
            return self._plans.save(plan.id, as_data(plan), by, self._utc(), revision, plan.chamber)

    def remove_plan(self, plan_id: str, by: str) -> None:
        """Takes a plan off the list; its revisions stay. Raises NotNow while a start waits for it or it is run."""
        with self._starting:
            self._refuse_awaited(plan_id=plan_id)
            chamber_id = self.plan(plan_id).plan.chamber
            running = self._store.open_session(chamber_id)
            if running is not None and running.plan_id == plan_id:
                raise NotNow(f"Plan '{plan_id}' is run by session {running.id}. End that first.")
            self._plans.remove(plan_id, by, self._utc(), chamber_id)

    def _refuse_awaited(self, plan_id: str | None = None, sheet_id: str | None = None) -> None:
        """What was confirmed for a start is what that start runs: neither its plan nor its sheet may change."""
        for start in self._starts.waiting():
            awaited = self.plan(start.plan_id, start.plan_revision).plan
            if start.plan_id == plan_id or (sheet_id is not None and awaited.sheet == sheet_id):
                raise NotNow(
                    f"A start of plan '{awaited.title}' is set for {start.at_utc[:16].replace('T', ' ')} UTC with what"
                    " was confirmed for it. Cancel that start first, and set it anew afterwards."
                )


def as_data(model: Sheet | Plan) -> Json:
    """A sheet or plan as it is kept."""
    data: Json = model.model_dump(mode="json", by_alias=True, exclude_none=True)
    return data


def _sheet(draft: Draft) -> SavedSheet:
    return SavedSheet(Sheet.model_validate(draft.data), draft.revision, draft.utc, draft.by)


def _plan(draft: Draft) -> SavedPlan:
    return SavedPlan(Plan.model_validate(draft.data), draft.revision, draft.utc, draft.by)
