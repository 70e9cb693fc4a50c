"""Looks after the end: what is due, a photo sent for it, and what came back."""

from collections.abc import Awaitable, Callable

from nicegui import ui

from ....domain.reading import Way
from ....errors import ProgramError
from ....service import Service
from ...results_view.later import BackRow, DayRow, Later, days_typed
from ..elements import Field, Labelled, Rows, Text, attribute, box, gives_orders, order_button, shown
from ..reader import Reader, ordered
from .tables import Table


class LaterPart:
    def __init__(
        self, service: Service, reader: Reader, chamber_id: str, sheet_id: str, changed: Callable[[], Awaitable[None]]
    ) -> None:
        self._service, self._reader, self._chamber_id, self._sheet_id = service, reader, chamber_id, sheet_id
        self._changed = changed
        with box("section", "part", aria_label="After the end"):
            Text("h2", "After the end")
            Text("p", "Some of the brightness is lost again in the dark. Only later looks tell how much.", "lead")
            self._says = Text("p", "", "rs-due")
            with box("div", "photos-ask") as self._ask:
                with box("label", "button photos-file"):
                    Text("span", "Photograph it now")
                    self._file = box(
                        "input", type="file", accept="image/*,.heic,.tif,.tiff", multiple="", data_photos=chamber_id,
                        data_sheet=sheet_id,
                    )  # fmt: skip
                    gives_orders(self._file)
                    self._file.on("sent", self._sent, js_handler="(e) => emit(e.detail || '')")
                self._camera = order_button("Let the chamber's camera take it", "", self._take)
                self._how = Text("p", "", "hint")
            self._said = Text("p", "", "answer-said", role="alert")
            Text("p", "", "photos-working", aria_live="polite", id="photos-working")
            self._days: Rows[DayRow] = Rows(box("ol", "rs-days"), _day)
            with box("details", "rs-fold"):
                Text("summary", "When to look again")
                with Labelled(
                    "Days after the end", "For all sheets of this host, such as 1, 3, 7, 30, 90, 365."
                ) as days:
                    self._field = Field("text", "", self._type_days, at_once=True, inputmode="decimal")
                self._wanted, self._typed = days, ""
                with box("div", "actions"):
                    order_button("Use these days", "", self._set_days)
                Text("p", "A message reminds of each, once, until the sheet was read again after it.", "hint")
            head = ("Cell", "After", "Since its end, ΔE00", "Gain lost", "Post-colour number")
            self._table = Table("What came back", head, "rs-back")
            Text(
                "p",
                "Gain lost: share of the whitening that is undone. Post-colour number: 100 times the rise of K/S at"
                " 457 nm, a measure of coloured matter; here from an estimate by photo.",
                "hint",
            )

    def show(self, later: Later, way: Way | None, ended: bool) -> None:
        """`way`: how the session's own photos were taken."""
        self._says.text = later.says
        shown(self._ask, ended)
        shown(self._camera, self._service.has_camera(self._chamber_id))
        fixed = way not in (None, Way.PHONE)
        attribute(self._file, "data-way", "fixed" if fixed else "phone")
        self._how.text = (
            "By the same fixed camera as before: only readings of one way are compared."
            if fixed
            else "By hand as before, with the whole mask in the picture, without flash."
        )
        self._days.show(later.days)
        if not self._typed:
            self._typed = later.planned
            self._field.set(self._typed)
        shown(self._table.element, bool(later.back))
        self._table.show([_texts(row) for row in later.back])

    async def _sent(self, event: object) -> None:
        said = str(getattr(event, "args", "") or "")
        self._said.text = f"Not read. {said}" if said else ""
        await self._changed()

    def _type_days(self, text: str) -> None:
        self._typed = text
        self._wanted.wrong("")

    async def _set_days(self) -> None:
        try:
            days = days_typed(self._typed)
        except ProgramError as error:
            self._wanted.wrong(str(error))
            return
        said = await ordered(self._service.set_follow_up_days, days, self._chamber_id, self._reader.name)
        self._wanted.wrong(said.removeprefix("Not done. "))
        if not said:
            self._typed = ""
            await self._changed()

    async def _take(self) -> None:
        self._said.text = await ordered(
            self._service.take_photo, self._chamber_id, self._reader.name, None, self._sheet_id
        )
        await self._changed()


def _texts(row: BackRow) -> tuple[str, ...]:
    return row.cell, row.after, f"{row.since}, {row.verdict}", row.lost, row.post_colour


def _day() -> tuple[ui.element, Callable[[DayRow], None]]:
    with box("li") as row:
        day, when, state = Text("b"), Text("span"), Text("span")

    def fill(one: DayRow) -> None:
        day.text, when.text, state.text = one.day, one.when, one.state
        attribute(row, "data-state", one.state)

    return row, fill
