"""The page Series: one treatment over several sheets, each sheet one trial."""

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import quote

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....errors import LampwardenError
from ....service.series import Series
from ...results_view.series import HEADS, EffectRow, SheetRow, series_shown
from ..elements import Rows, Select, Text, attribute, box, shown, style
from ..reader import Reader
from ..shell import frame
from ..site import Site


@dataclass(frozen=True, slots=True)
class Opened:
    """What is read before the page is shown."""

    names: tuple[str, ...]
    first: Series | None


class SeriesPage:
    """One open page."""

    @staticmethod
    def fetch(site: Site, chamber_id: str) -> Opened:
        """Raises UnknownName, StoreError."""
        names = site.service.series_names()
        return Opened(names, site.service.series(names[0]) if names else None)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, opened: Opened) -> None:
        self._service, self._series = site.service, opened.first
        self._key, self._down = "treatment", False
        self._heads: dict[str, tuple[ui.element, Text]] = {}
        frame(site, reader, chamber_id, "results", self._show)
        ui.page_title("Series")
        with box("div", "top"):
            Text("a", "All results", "up", href=f"/results/{chamber_id}")
            Text("h1", "Series of sheets", "title")
            Text("p", "The same treatments on several sheets, each sheet a trial of its own.", "lead")
        with box("div", "page one"):
            with box("p", "empty") as empty:
                Text("span", "No sheet belongs to a series yet. Give several sheets the same series on the page ")
                Text("a", "Sheets", href=f"/sheets/{chamber_id}")
                Text("span", ", treat each in a session of its own, and compare them here.")
            shown(empty, not opened.names)
            if opened.first is not None:
                self._place(opened)
                self._show()

    def _place(self, opened: Opened) -> None:
        with box("section", "part", aria_label="Series"):
            with box("h2"):
                Text("span", "Treatments over sheets")
            if len(opened.names) > 1:
                with box("div", "rs-choose"), box("label", "field"):
                    Text("span", "Series")
                    Select({name: name for name in opened.names}, opened.names[0], self._choose)
            self._name = Text("p", "", "rs-result")
            self._lead = Text("p", "", "lead")
            self._trouble = Text("p", "", "answer-said", role="alert")
            with (
                box("div", "rs-wide", tabindex="0", role="region", aria_label="Treatments over sheets"),
                box("table", "rs-table rs-series"),
            ):
                with box("thead"), box("tr"):
                    for key in HEADS:
                        self._head(key)
                self._body = box("tbody")
                self._rows: Rows[EffectRow] = Rows(self._body, _effect)
            self._scale = Text("p", "", "hint")
            with box("p", "rs-files"):
                self._csv = Text("a", "As CSV", "button quiet", download="")
        with box("section", "part", aria_label="Sheets of the series"):
            Text("h2", "Its sheets")
            self._sheets: Rows[SheetRow] = Rows(box("ul", "rs-its"), _sheet)

    def _head(self, key: str) -> None:
        with box("th", scope="col") as head, box("button", "rs-sort", type="button") as press:
            Text("span", HEADS[key])
            arrow = Text("span", "", "rs-arrow", aria_hidden="true")
        press.on("click", lambda: self._sort(key))
        self._heads[key] = (head, arrow)

    def _sort(self, key: str) -> None:
        self._key, self._down = key, not self._down if key == self._key else key == "effect"
        self._show()

    async def _choose(self, name: str) -> None:
        self._trouble.text = ""
        try:
            self._series = await run_in_threadpool(self._service.series, name)
        except LampwardenError as error:
            self._trouble.text = str(error)
            return
        self._show()

    def _show(self) -> None:
        if self._series is None:
            return
        shows = series_shown(self._series, self._key, down=self._down)
        self._name.text, self._lead.text = self._series.name, shows.lead
        self._rows.show(shows.rows)
        self._sheets.show(shows.sheets)
        attribute(self._csv, "href", f"/api/series/effects.csv?name={quote(self._series.name)}")
        self._scale.text = ""
        if shows.ends is not None:
            self._scale.text = (
                f"The bars run from {shows.ends[0]} to {shows.ends[1]} ΔE00 and show 95 %: for a sheet, of this sheet"
                " alone; for the mean, over sheets. The upright stroke is no effect."
            )
        style(self._body, "--zero", f"{shows.zero:.4f}")
        for key, (head, arrow) in self._heads.items():
            sort = "none" if key != self._key else "descending" if self._down else "ascending"
            attribute(head, "aria-sort", sort)
            arrow.text = {"none": "", "ascending": "▲", "descending": "▼"}[sort]


def _effect() -> tuple[ui.element, Callable[[EffectRow], None]]:
    with box("tr") as row:
        treatment = Text("th", "", scope="row")
        with box("td"):
            sheet, about = Text("span"), Text("small")
        with box("td"):
            effect = Text("span")
            with box("div", "rs-span", aria_hidden="true") as span:
                bar, dot = box("i"), box("b")
        verdict = Text("td")

    def fill(one: EffectRow) -> None:
        treatment.text, sheet.text, about.text = one.treatment, one.sheet, one.about
        effect.text, verdict.text = one.effect, one.verdict
        attribute(row, "data-mean", "yes" if one.mean else None)
        shown(span, one.span is not None)
        if one.span is not None:
            low, middle, high = one.span
            style(bar, "left", f"{100 * low:.2f}%")
            style(bar, "width", f"{100 * (high - low):.2f}%")
            style(dot, "left", f"{100 * middle:.2f}%")

    return row, fill


def _sheet() -> tuple[ui.element, Callable[[SheetRow], None]]:
    with box("li") as row:
        name, says = Text("a"), Text("span", "", "rs-what")

    def fill(one: SheetRow) -> None:
        name.text, says.text = one.title, one.says
        attribute(name, "href", one.href or None)

    return row, fill
