"""A field whose text becomes a number of the plan while it is typed. What is typed stays until it is understood."""

from collections.abc import Callable

from nicegui.events import GenericEventArguments

from ....errors import ProgramError
from ..elements import Field, Text, attribute, box


class Entry:
    """A short field with its words before and its unit behind.

    `take(text, done)` is called with each letter, and with done once the field is left; it raises ProgramError for what
    it cannot take. Only then, when the field is left, is the sentence shown below it.
    """

    def __init__(
        self, label: str, unit: str, take: Callable[[str, bool], None], *, before: str = "", **attributes: str
    ) -> None:
        self._take, self._shown, self._wanted, self._typing = take, "", "", False
        self._taken = ""
        """What stood there when it was left; the last letters may be told only after that."""
        with box("span", "plan-entry") as self.element:
            if before:
                Text("span", before)
            self._field = Field("text", "", self._typed, at_once=True, aria_label=label, **attributes)
            self._unit = Text("span", unit, "unit")
            self._wrong = Text("span", "", "entry-wrong", role="alert")
        self._field.element.on("change", self._left, js_handler="(e) => emit(e.target.value)")

    def show(self, text: str, label: str | None = None, unit: str | None = None) -> None:
        """Puts in what the plan says, unless a person is typing there."""
        if unit is not None:
            self._unit.text = unit
        if label is not None:
            attribute(self._field.element, "aria-label", label)
        self._wanted = text
        if text != self._shown and not self._typing:
            self._shown = text
            self._field.set(text)

    def reset(self) -> None:
        """Forgets what is typed: the next `show` goes in."""
        self._typing, self._shown = False, "\0"
        self._say("")

    def _typed(self, text: str) -> None:
        if text == self._taken and not self._typing:
            return
        self._typing = True
        try:
            self._take(text, False)
        except ProgramError:
            return  # half a number; it is said once the field is left
        self._say("")

    def _left(self, event: GenericEventArguments) -> None:
        text = str(event.args)
        try:
            self._take(text, True)
        except ProgramError as error:
            self._say(str(error))
            return
        self._typing, self._shown, self._taken = False, text, text
        self._say("")
        self.show(self._wanted)  # as the plan says it

    def _say(self, wrong: str) -> None:
        self._wrong.text = wrong
        attribute(self.element, "data-wrong", "yes" if wrong else None)
