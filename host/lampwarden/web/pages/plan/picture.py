"""The zones as they lie in the chamber: select some, and lay a ladder of doses over them."""

from collections.abc import Callable

from nicegui import ui

from ....errors import ProgramError
from ....planning import edit
from ....planning.defaults import HIGHEST_J_CM2, LOWEST_J_CM2
from ....trial.ladder import Scheme
from ...plan_view import entry as given
from ...plan_view.picture import Area, CellArea, Picture, ZoneArea
from ..elements import Rows, Select, Text, attribute, box, button, shown, style
from .bench import Bench
from .entry import Entry

SCHEMES = {
    Scheme.START_TOGETHER: "start together",
    Scheme.END_TOGETHER: "end together",
    Scheme.IN_TURN: "one after the other, as power allows",
}


class PicturePart:
    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._doses = [LOWEST_J_CM2.value, HIGHEST_J_CM2.value]
        self._scheme = Scheme.START_TOGETHER
        with box("section", "part plan-zones", aria_label="Zones"):
            with box("h2"):
                Text("span", "Zones")
                self._says = Text("small")
            with box("div", "plan-inside"):
                with box("div"):
                    with box("div", "plan-chamber", role="group", aria_label="Zones: press to select") as self._chamber:
                        self._sheet = box("div", "plan-sheet", aria_hidden="true")
                        self._zones: Rows[tuple[ZoneArea, bool]] = Rows(box("div", "plan-layer"), self._zone)
                        self._cells: Rows[CellArea] = Rows(box("div", "plan-layer plan-through"), _cell)
                    with box("p", "plan-key"):
                        for look, words in (
                            ({}, "cell of the sheet"),
                            ({"data_wet": "yes"}, "with a chemical"),
                            ({"data_covered": "yes"}, "covered"),
                        ):
                            with box("span"):
                                box("i", "plan-cell", **look)
                                Text("span", words)
                with box("div"):
                    Text("p", "Press zones to select them: for a ladder of doses, or to copy light to.", "hint")
                    with box("div", "actions"):
                        self._all = button("Select all", "quiet", self._select_all)
                        self._none = button("Select none", "quiet", self._select_none)
                with box("details", "plan-ladder"):
                    Text("summary", "A ladder of doses over the selected zones")
                    with box("div", "plan-inside"):
                        Text(
                            "p",
                            "Each zone gets the same factor more than the one before, in the zones' order. What they"
                            " had is replaced; undo brings it back.",
                            "hint",
                        )
                        with box("div", "plan-line"):
                            self._low = Entry("Lowest dose, J/cm²", "J/cm²", self._take_low, before="from", size="4")
                            self._high = Entry("Highest dose, J/cm²", "J/cm²", self._take_high, before="to", size="4")
                            Select(
                                {scheme.value: words for scheme, words in SCHEMES.items()},
                                self._scheme.value,
                                self._take_scheme,
                                aria_label="When they are lit",
                            )
                            self._lay = button("Lay the ladder", "quiet", self._ladder)
                        self._wrong = Text("p", "", "answer-said", role="alert")
        self._low.show(f"{self._doses[0]:g}")
        self._high.show(f"{self._doses[1]:g}")

    def show(self, picture: Picture) -> None:
        style(self._chamber, "--proportion", f"{picture.proportion:.4f}")
        self._says.text = picture.says
        shown(self._sheet, picture.sheet is not None)
        if picture.sheet:
            _place(self._sheet, picture.sheet)
        self._zones.show([(zone, zone.name in self._bench.selected) for zone in picture.zones])
        self._cells.show(picture.cells)
        number = len(self._bench.selected)
        self._lay.text = f"Lay the ladder over {number} zones" if number > 1 else "Select two zones or more first"
        attribute(self._lay, "disabled", None if number > 1 else True)
        attribute(self._all, "disabled", None if number < len(picture.zones) else True)
        attribute(self._none, "disabled", None if number else True)

    def _zone(self) -> tuple[ui.element, Callable[[tuple[ZoneArea, bool]], None]]:
        with box("button", "plan-zone", type="button") as zone:
            with box("span", "plan-zone-head"):
                name, time = Text("b"), Text("span")
            dose = Text("span", "", "plan-dose")

        def fill(shows: tuple[ZoneArea, bool]) -> None:
            about, selected = shows
            _place(zone, about.area)
            style(zone, "--strength", f"{about.strength:.3f}")
            attribute(zone, "aria-pressed", "true" if selected else "false")
            attribute(zone, "aria-label", about.says)
            attribute(zone, "data-zone", about.name)
            name.text, dose.text, time.text = about.name, about.dose, about.time

        def toggle() -> None:
            self._bench.selected ^= {name.text}
            self._bench.touch()

        zone.on("click", toggle)
        return zone, fill

    def _select_all(self) -> None:
        self._bench.selected = {zone.name for zone in self._bench.chamber.zones}
        self._bench.touch()

    def _select_none(self) -> None:
        self._bench.selected = set()
        self._bench.touch()

    def _take_low(self, text: str, done: bool) -> None:
        self._doses[0] = given.number(text, "J/cm²")

    def _take_high(self, text: str, done: bool) -> None:
        self._doses[1] = given.number(text, "J/cm²")

    def _take_scheme(self, value: str) -> None:
        self._scheme = Scheme(value)

    def _ladder(self) -> None:
        zones = [zone.name for zone in self._bench.chamber.zones if zone.name in self._bench.selected]
        try:
            self._bench.edit(
                f"the ladder over {', '.join(zones)}",
                lambda p, c: edit.ladder_over(p, c, zones, self._doses[0], self._doses[1], self._scheme),
            )
        except ProgramError as error:
            self._wrong.text = str(error)
        else:
            self._wrong.text = ""


def _cell() -> tuple[ui.element, Callable[[CellArea], None]]:
    cell = box("div", "plan-cell")

    def fill(about: CellArea) -> None:
        _place(cell, about.area)
        attribute(cell, "data-covered", "yes" if about.covered else None)
        attribute(cell, "data-wet", "yes" if about.wet else None)
        attribute(cell, "aria-label", about.says)
        attribute(cell, "role", "img")

    return cell, fill


def _place(element: ui.element, area: Area) -> None:
    for name in ("left", "top", "width", "height"):
        style(element, f"--{name}", f"{getattr(area, name):.4f}")
