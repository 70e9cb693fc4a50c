"""Temperatures beside their limits, humidity, door and stop button."""

from collections.abc import Callable

from nicegui import ui

from ..views import Gauge, Now
from .elements import Rows, Text, attribute, box, style


class ClimatePart:
    def __init__(self) -> None:
        with box("section", "part climate-part", aria_label="Temperatures"):
            with box("h2"):
                Text("span", "Temperatures")
                self._updated = Text("small")
            self._gauges: Rows[Gauge] = Rows(box("div", "gauges"), _gauge)
            self._facts: Rows[tuple[str, str]] = Rows(box("dl", "facts"), _fact)

    def show(self, now: Now) -> None:
        self._updated.text = now.updated
        self._gauges.show(now.gauges)
        self._facts.show(now.facts)


def _gauge() -> tuple[ui.element, Callable[[Gauge], None]]:
    with box("div", "gauge") as row:
        label, value = Text("span"), Text("span", "", "value")
        with box("div", "scale", aria_hidden="true"):
            bar = box("i")
            mark = box("b")
        verdict = Text("span", "", "verdict")

    def fill(gauge: Gauge) -> None:
        label.text, value.text, verdict.text = gauge.label, gauge.value, gauge.verdict
        style(bar, "--share", f"{gauge.share or 0.0:.3f}")
        style(mark, "--soft", f"{gauge.soft or 0.0:.3f}")
        attribute(row, "data-over", "yes" if gauge.over else "no")
        attribute(row, "data-limits", "none" if gauge.soft is None else "yes")

    return row, fill


def _fact() -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
    with box("div") as row:
        label, value = Text("dt"), Text("dd")

    def fill(fact: tuple[str, str]) -> None:
        label.text, value.text = fact

    return row, fill
