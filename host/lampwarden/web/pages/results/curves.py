"""Change over dose or time, by treatment or cell by cell, and the same as a table."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from nicegui import ui

from ....domain.reading import Reading
from ....findings.conclude import Conclusions
from ...results_charts import ACROSS, HEIGHTS, Choice, Key, curves
from ..elements import Rows, Select, Text, box, style
from .tables import Table


class CurvesPart:
    def __init__(self, title: str = "How it went", heading: str = "h2") -> None:
        self._choice = Choice()
        self._seen: tuple[Conclusions, Mapping[str, Reading]] | None = None
        with box("section", "part", aria_label="Curves"):
            Text(heading, title)
            with box("div", "rs-choose"):
                for label, options, name in (
                    ("Upwards", HEIGHTS, "height"),
                    ("Sideways", {key: text.partition(",")[0] for key, text in ACROSS.items()}, "across"),
                ):
                    with box("label", "field"):
                        Text("span", label)
                        Select(options, getattr(self._choice, name), self._chooser(name))
                with box("label", "field"):
                    Text("span", "Treatments")
                    self._arm = Select({"": "all"}, "", self._chooser("arm"))
            self._keys: Rows[Key] = Rows(box("ul", "rs-keys", aria_hidden="true"), _key)
            with box("figure"):
                with box("div", aria_hidden="true"):
                    self._chart = ui.echart({}, renderer="svg").classes("chart rs-chart")
                self._said = Text("p", "", "said-only")
                self._note = Text("figcaption", "", "hint")
            with box("details", "numbers"):
                Text("summary", "The same as a table")
                self._table = Table("Numbers of the curves")

    def show(self, found: Conclusions | None, readings: Mapping[str, Reading]) -> None:
        self._seen = None if found is None else (found, readings)
        names = [arm.name for arm in found.arms] if found is not None else []
        if self._choice.arm not in names:
            self._choice = replace(self._choice, arm="")
        self._arm.show({"": "all"} | {name: name for name in names}, self._choice.arm)
        self._again()

    def _chooser(self, name: str) -> Callable[[str], None]:
        def choose(value: str) -> None:
            self._choice = replace(self._choice, **{name: value})
            self._again()

        return choose

    def _again(self) -> None:
        if self._seen is None:
            self._said.text = self._note.text = "Curves need a reading before and one after."
            return
        shows = curves(*self._seen, self._choice)
        self._chart.options.clear()
        self._chart.options.update(shows.options)
        self._chart.update()
        self._keys.show(shows.keys)
        self._said.text, self._note.text = shows.said, shows.note
        self._table.show(shows.rows, shows.head)


def _key() -> tuple[ui.element, Callable[[Key], None]]:
    with box("li") as row:
        mark, name = Text("b"), Text("span")

    def fill(key: Key) -> None:
        mark.text, name.text = key.mark, key.name
        style(mark, "color", f"var({key.colour})")

    return row, fill
