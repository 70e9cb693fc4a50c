"""The whole session as charts, and the same numbers as a table."""

from collections.abc import Callable

from nicegui import ui

from ..charts import Course, Strip
from .elements import Rows, Text, attribute, box, shown, style

CHARTS = 3


class CoursePart:
    """Hidden while there is no session to show."""

    def __init__(self) -> None:
        self._holder = box("section", "part course-part", aria_label="Course of the session")
        with self._holder:
            Text("h2", "The session so far")
            with box("div", "course"):
                self._charts = [_Figure() for _ in range(CHARTS)]
                with box("figure"):
                    Text("figcaption", "Light by zone")
                    self._strips: Rows[Strip] = Rows(box("ul", "strips"), _strip)
                    with box("div", "strip-ends", aria_hidden="true"):
                        self._ends = (Text("span"), Text("span"))
            with box("details", "numbers"):
                Text("summary", "The same as a table")
                with box("div", "wide", tabindex="0", role="region", aria_label="Readings"), box("table"):
                    self._head: Rows[str] = Rows(box("tr"), lambda: _cell("th"))
                    self._rows: Rows[tuple[str, ...]] = Rows(box("tbody"), _row)

    def show(self, course: Course | None) -> None:
        shown(self._holder, course is not None)
        if course is None:
            return
        for figure, chart in zip(self._charts, course.charts, strict=True):
            figure.show(chart.title, chart.said, chart.options)
        self._strips.show(course.strips)
        for text, end in zip(self._ends, course.ends, strict=True):
            text.text = end
        self._head.show(course.head)
        self._rows.show(course.rows)


class _Figure:
    def __init__(self) -> None:
        with box("figure"):
            self._title = Text("figcaption")
            with box("div", aria_hidden="true"):
                self._chart = ui.echart({}, renderer="svg").classes("chart")
            self._said = Text("p", "", "said-only")

    def show(self, title: str, said: str, options: dict[str, object]) -> None:
        self._title.text, self._said.text = title, said
        self._chart.options.clear()
        self._chart.options.update(options)
        self._chart.update()


def _strip() -> tuple[ui.element, Callable[[Strip], None]]:
    with box("li") as row:
        zone = Text("span", "", "", aria_hidden="true")
        band = box("span", "band", aria_hidden="true")
        said = Text("span", "", "said-only")

    def fill(strip: Strip) -> None:
        zone.text, said.text = strip.zone, strip.said
        style(band, "--lit", _gradient(strip))
        attribute(row, "title", strip.said)

    return row, fill


def _gradient(strip: Strip) -> str:
    """The lit parts as one picture without any further element."""
    stops = ["transparent 0"]
    for start, end, level in strip.lit:
        left, right, colour = (
            f"{100 * start:.2f}%",
            f"{100 * end:.2f}%",
            f"rgb(var(--glow-rgb) / {0.25 + 0.75 * level:.2f})",
        )
        stops += [f"transparent {left}", f"{colour} {left}", f"{colour} {right}", f"transparent {right}"]
    return f"linear-gradient(to right, {', '.join(stops)})" if strip.lit else "none"


def _cell(tag: str) -> tuple[ui.element, Callable[[str], None]]:
    cell = Text(tag, "", "", **({"scope": "col"} if tag == "th" else {}))

    def fill(text: str) -> None:
        cell.text = text

    return cell, fill


def _row() -> tuple[ui.element, Callable[[tuple[str, ...]], None]]:
    row = box("tr")
    cells: Rows[str] = Rows(row, lambda: _cell("td"))
    return row, cells.show
