"""One field bound to one value of the sheet on the desk."""

from collections.abc import Callable, Mapping

from ....domain.sheet import Sheet
from ..elements import Field, Labelled, Select
from .desk import Desk


class Entry:
    """A text or number field. What was typed stays while it cannot be taken, with the reason below it.

    `read` gives the field's text of a sheet, `write` the sheet with a text taken; it raises ProgramError.
    """

    def __init__(
        self,
        desk: Desk,
        label: str,
        read: Callable[[Sheet], str],
        write: Callable[[Sheet, str], Sheet],
        *,
        hint: str = "",
        unit: str = "",
        kind: str = "text",
        **attributes: str,
    ) -> None:
        self._desk, self._read, self._write = desk, read, write
        # With its value from the start: one that is set later would come over what a quick person has typed.
        self._shown: str | None = read(desk.sheet)
        with Labelled(label, hint, unit) as self._labelled:
            self._field = Field(kind, self._shown or "", self._typed, at_once=False, **attributes)
        self.element = self._labelled.element

    def show(self) -> None:
        """Shows the sheet's value, if it is another than was shown."""
        text = self._read(self._desk.sheet)
        if text != self._shown:
            self._shown = text
            self._field.set(text)
            self._labelled.mended()

    def anew(self) -> None:
        """Shows the value over whatever was typed: the field now stands for something else."""
        self._shown = None
        self.show()

    def _typed(self, text: str) -> None:
        wrong = self._desk.do(lambda sheet: self._write(sheet, text.strip()))
        if wrong:
            self._labelled.wrong(wrong)
            return
        self._labelled.mended()
        if text != self._read(self._desk.sheet):
            self.anew()  # '12,0 mm' becomes '12'


class Choice:
    """The same for a value among a few."""

    def __init__(
        self,
        desk: Desk,
        label: str,
        options: Callable[[Sheet], Mapping[str, str]],
        read: Callable[[Sheet], str],
        write: Callable[[Sheet, str], Sheet],
        *,
        hint: str = "",
    ) -> None:
        self._desk, self._options, self._read, self._write = desk, options, read, write
        self._shown: tuple[object, str] | None = (dict(options(desk.sheet)), read(desk.sheet))
        with Labelled(label, hint) as self._labelled:
            self._select = Select(dict(options(desk.sheet)), read(desk.sheet), self._chosen)
        self.element = self._labelled.element

    def show(self) -> None:
        options, value = dict(self._options(self._desk.sheet)), self._read(self._desk.sheet)
        if (options, value) != self._shown:
            self._shown = (options, value)
            self._select.show(options, value)
            self._labelled.mended()

    def _chosen(self, value: str) -> None:
        wrong = self._desk.do(lambda sheet: self._write(sheet, value))
        self._labelled.mended()
        if wrong:
            self._shown = None
            self.show()
            self._labelled.wrong(wrong)
