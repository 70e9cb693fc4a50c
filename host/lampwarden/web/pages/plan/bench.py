"""The plan on the bench: what all parts of the editor share. It knows no page."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from ....domain.chamber import Chamber
from ....domain.plan import Plan
from ....domain.program import Program
from ....domain.program_file import sentences
from ....domain.sheet import Sheet
from ....errors import ProgramError
from ....planning import Wish, edit
from .draft import Draft

M = TypeVar("M", bound=BaseModel)


def altered(model: M, **changes: Any) -> M:
    """A model with some fields changed, checked as a whole. Raises ProgramError with a sentence."""
    fields = {name: getattr(model, name) for name in type(model).model_fields}
    try:
        return type(model)(**{**fields, **changes})
    except ValidationError as error:
        raise ProgramError(sentences(error)) from None


class Bench:
    """One plan being edited, with what it is planned for."""

    def __init__(self, draft: Draft, chamber: Chamber, sheets: dict[str, Sheet], changed: Callable[[], None]) -> None:
        self.draft, self.chamber, self.sheets = draft, chamber, sheets
        self._changed = changed
        self.selected: set[str] = set()
        """Zones that a ladder or a copy goes to."""
        self.chosen: tuple[str, int] | None = None
        """Zone and place of the exposure that buttons act on."""
        self.start_at: datetime | None = None
        """When it is to start; None: now."""
        self.bath_ml = Wish().total_ml
        """How much of each bath is wanted, mL."""

    @property
    def plan(self) -> Plan:
        return self.draft.plan

    @property
    def program(self) -> Program:
        return self.draft.plan.program

    @property
    def sheet(self) -> Sheet | None:
        """The sheet it is planned for, as it is described now."""
        return self.sheets.get(self.plan.sheet or "")

    @property
    def wish(self) -> Wish:
        """The peroxide that was bought, and how much bath is wanted."""
        return replace(Wish.of(self.plan), total_ml=self.bath_ml)

    def touch(self) -> None:
        """Something beside the plan changed: show all anew."""
        self._changed()

    def change(self, says: str, key: str = "", *, done: bool = True, **fields: Any) -> None:
        """Changes some fields of the plan. Raises ProgramError, and nothing is changed.

        `says` names the step for undo; steps with one key are one until `done`.
        """
        self._take(altered(self.plan, **fields), says, key, done)

    def edit(self, says: str, step: Callable[[Program, Chamber], Program], key: str = "", *, done: bool = True) -> None:
        """The same for the program: a step of planning.edit, given the program and the chamber."""
        self._take(self.plan.model_copy(update={"program": step(self.program, self.chamber)}), says, key, done)

    def change_program(self, says: str, key: str = "", *, done: bool = True, **fields: Any) -> None:
        """The same for single fields of the program."""
        self.edit(says, lambda program, _: edit.changed(program, **fields), key, done=done)

    def undo(self) -> str:
        says = self.draft.undo()
        self._changed()
        return says

    def redo(self) -> str:
        says = self.draft.redo()
        self._changed()
        return says

    def _take(self, plan: Plan, says: str, key: str, done: bool) -> None:
        new = self.draft.change(plan, says, key)
        if done:
            self.draft.seal()
        if new:
            self._changed()
