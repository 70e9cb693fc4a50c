"""Records that came from other hosts: listed, opened, taken in."""

from collections.abc import Callable

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....errors import LampwardenError
from ....findings.conclude import Conclusions
from ....record.archive import Archive, Taken
from ....record.concluded import concluded
from ...results_view.elsewhere import TakenLine, taken_line
from ..elements import Rows, Text, attribute, box, gives_orders, shown
from ..reader import Reader


class ElsewherePart:
    def __init__(self, archive: Archive, reader: Reader) -> None:
        self._archive, self._reader = archive, reader
        self._taken: list[tuple[Taken, Conclusions | None]] = []
        with box("section", "part", aria_label="Records from elsewhere"):
            Text("h2", "Records from elsewhere")
            Text(
                "p",
                "A treatment record with its photos, packed on another computer. It is checked against what it was"
                " packed with, and shown as it was there.",
                "lead",
            )
            self._rows: Rows[TakenLine] = Rows(box("ul", "rs-sessions rs-taken"), _row)
            self._empty = Text("p", "None was taken in yet.", "empty")
            with box("p", "rs-files"), box("label", "button photos-file"):
                Text("span", "Take one in")
                field = box("input", type="file", accept=".zip,application/zip", data_bag="")
                field.on("sent", self._sent, js_handler="(e) => emit(e.detail || '')")
                gives_orders(field)
            Text("p", "Where it was made: on a session’s page under Results, “The record with its photos”.", "hint")
            self._working = Text("p", "", "photos-working", aria_live="polite", id="bag-working")
            self._said = Text("p", "", "answer-said", role="alert")

    async def read(self) -> None:
        """Reads what is there and shows it."""
        try:
            self._taken = await run_in_threadpool(_all, self._archive)
        except LampwardenError as error:
            self._said.text = str(error)
        self.show()

    def show(self) -> None:
        self._rows.show([taken_line(taken, found, self._reader.taste) for taken, found in self._taken])
        shown(self._empty, not self._taken)

    async def _sent(self, event: object) -> None:
        self._said.text = str(getattr(event, "args", "") or "")
        await self.read()


def _all(archive: Archive) -> list[tuple[Taken, Conclusions | None]]:
    return [(taken, concluded(taken.record)) for taken in archive.all()]


def _row() -> tuple[ui.element, Callable[[TakenLine], None]]:
    with box("li") as row:
        with box("div"):
            title, about, packed = Text("a", "", "rs-name"), Text("p", "", "rs-about"), Text("p", "", "rs-about")
        with box("div"):
            result, advice = Text("p", "", "rs-result"), Text("p")
            with box("details", "rs-fold") as fold:
                count = Text("summary")
                photos: Rows[tuple[int, str]] = Rows(box("ul", "rs-taken-photos"), _photo)

    def fill(line: TakenLine) -> None:
        title.text, about.text, packed.text = line.title, line.about, line.packed
        result.text, advice.text = line.result or "No colours were read.", line.advice
        attribute(title, "href", f"/api/elsewhere/{line.key}/record.html")
        attribute(row, "data-record", line.key)
        shown(fold, bool(line.photos))
        count.text = f"Photos as they came ({len(line.photos)})"
        photos.show([(n, f"/api/elsewhere/{line.key}/photos/{name}") for n, name in enumerate(line.photos, start=1)])

    return row, fill


def _photo() -> tuple[ui.element, Callable[[tuple[int, str]], None]]:
    with box("li") as row:
        link = Text("a")

    def fill(one: tuple[int, str]) -> None:
        link.text = f"Photo {one[0]}"
        attribute(link, "href", one[1])

    return row, fill
