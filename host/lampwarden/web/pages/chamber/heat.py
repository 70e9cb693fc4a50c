"""The heating curve: fitted numbers, chart, table."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ....domain.chamber import Chamber
from ....light.forecast import AirModel, Series
from ....planning import air_model
from ....service import Service
from ...chamber_view.heat import heat
from ...wording import Taste
from ..elements import Rows, Text, box, shown


class HeatPart:
    def __init__(self) -> None:
        self._known: tuple[Chamber, AirModel, Sequence[Series]] | None = None
        with box("section", "part", aria_label="Heating curve"):
            Text("h2", "Heating curve")
            Text("p", "How far the lamps warm the air above the room. Plans reckon with it.", "lead")
            self._says = Text("p", "Working it out from earlier sessions…")
            with box("div") as self._holder:
                self._facts: Rows[tuple[str, str, str]] = Rows(box("dl", "ch-facts"), _fact)
                with box("figure"):
                    with box("div", aria_hidden="true"):
                        self._chart = ui.echart({}, renderer="svg").classes("chart ch-chart")
                    self._said = Text("p", "", "said-only")
                with box("details", "numbers"):
                    Text("summary", "The same as a table")
                    with box("div", "wide", tabindex="0", role="region", aria_label="Heating in numbers"), box("table"):
                        with box("thead"):
                            self._head: Rows[str] = Rows(box("tr"), lambda: _cell("th"))
                        self._rows: Rows[tuple[str, ...]] = Rows(box("tbody"), _row)
        shown(self._holder, False)

    def fetch(self, service: Service, chamber_id: str) -> None:
        """Reads earlier sessions and fits the model; takes a while. Raises LampwardenError."""
        chamber, history = service.chamber(chamber_id), service.air_history(chamber_id)
        self._known = chamber, air_model(chamber, history), history

    def refuse(self, why: str) -> None:
        """Says why there is no curve."""
        self._says.text = f"The curve cannot be worked out: {why}"

    def show(self, taste: Taste) -> None:
        if self._known is None:
            return
        shows = heat(*self._known, taste)
        self._says.text, self._said.text = shows.says, shows.said
        self._facts.show(shows.facts)
        self._head.show(shows.head)
        self._rows.show(shows.rows)
        self._chart.options.clear()
        self._chart.options.update(shows.options)
        self._chart.update()
        shown(self._holder, True)


def _fact() -> tuple[ui.element, Callable[[tuple[str, str, str]], None]]:
    with box("div") as row:
        label, value, about = Text("dt"), Text("dd"), Text("dd", "", "about")

    def fill(fact: tuple[str, str, str]) -> None:
        label.text, value.text, about.text = fact

    return row, fill


def _cell(tag: str) -> tuple[ui.element, Callable[[str], None]]:
    cell = Text(tag, "", "", **({"scope": "col"} if tag == "th" else {}))

    def fill(text: str) -> None:
        cell.text = text

    return cell, fill


def _row() -> tuple[ui.element, Callable[[tuple[str, ...]], None]]:
    row = box("tr")
    cells: Rows[str] = Rows(row, lambda: _cell("td"))
    return row, cells.show
