"""A plan while it is edited: its steps, undo and redo, what is saved, and where it waits while a page is away. Pure."""

import secrets
from collections import OrderedDict

from ....domain.plan import Plan

STEPS_MAX = 200
"""Steps that can be undone: an evening's work."""
DRAFTS_MAX = 50
"""Drafts kept for pages that went away; the oldest is dropped first."""


class Draft:
    """One plan being edited, and the revision it was opened as."""

    def __init__(self, plan: Plan, revision: int) -> None:
        self.revision: int | None = revision
        """The revision on record that this one follows; None: there is none any more."""
        self._saved = plan
        self._steps: list[tuple[Plan, str]] = [(plan, "")]
        self._at = 0
        self._key = ""

    @property
    def plan(self) -> Plan:
        """The plan as it stands."""
        return self._steps[self._at][0]

    @property
    def unsaved(self) -> bool:
        return self.plan != self._saved

    @property
    def undo_says(self) -> str:
        """The step that undo takes back, in words; empty: there is none."""
        return self._steps[self._at][1] if self._at else ""

    @property
    def redo_says(self) -> str:
        """The step that redo does again; empty: there is none."""
        return self._steps[self._at + 1][1] if self._at + 1 < len(self._steps) else ""

    def change(self, plan: Plan, says: str, key: str = "") -> bool:
        """Takes a step, described in words; returns whether anything changed.

        Steps in a row with the same key are one step for undo: letters typed, or a bar on its way. `seal` ends the row.
        """
        if plan == self.plan:
            return False
        del self._steps[self._at + 1 :]
        if key and key == self._key:
            self._steps[self._at] = (plan, says)
            if self._at and plan == self._steps[self._at - 1][0]:  # back where the row began
                self._steps.pop()
                self._at -= 1
                self._key = ""
            return True
        self._steps.append((plan, says))
        del self._steps[: max(0, len(self._steps) - STEPS_MAX - 1)]
        self._at = len(self._steps) - 1
        self._key = key
        return True

    def seal(self) -> None:
        """What comes next is a new step."""
        self._key = ""

    def undo(self) -> str:
        """Takes the last step back; returns what it was, or nothing."""
        says = self.undo_says
        if says:
            self._at -= 1
        self.seal()
        return says

    def redo(self) -> str:
        """Does the step again; returns what it was, or nothing."""
        says = self.redo_says
        if says:
            self._at += 1
        self.seal()
        return says

    def saved(self, plan: Plan, revision: int) -> None:
        """This plan is on record as that revision."""
        self._saved, self.revision = plan, revision
        self.seal()


class Desk:
    """Drafts by a mark that stands in a page's address, so that a page loaded anew finds its own."""

    def __init__(self) -> None:
        self._drafts: OrderedDict[str, Draft] = OrderedDict()

    def find(self, mark: str, plan_id: str) -> Draft | None:
        """The draft under this mark, if it is of that plan."""
        draft = self._drafts.get(mark)
        return draft if draft is not None and draft.plan.id == plan_id else None

    def keep(self, draft: Draft, mark: str = "") -> str:
        """Keeps a draft; returns its mark."""
        mark = mark or secrets.token_urlsafe(9)
        self._drafts[mark] = draft
        self._drafts.move_to_end(mark)
        while len(self._drafts) > DRAFTS_MAX:
            self._drafts.popitem(last=False)
        return mark
