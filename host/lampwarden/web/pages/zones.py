"""The zones: light now, exposure, dose and what is left, one row each."""

from collections.abc import Callable

from nicegui import ui

from ..views import Now, Zone
from .elements import Rows, Text, attribute, box, shown, style

# A table drawn as a grid: the roles keep it a table for those who listen.
COLUMNS = (
    ("name", "Zone"),
    ("light", "Light now"),
    ("bar-cell", "Exposure"),
    ("dose", "Dose"),
    ("left", "Left"),
)


class ZonesPart:
    def __init__(self) -> None:
        with box("section", "part zones-part", aria_label="Zones"):
            with box("h2"):
                Text("span", "Zones")
                self._caption = Text("small", "so far, of what is planned")
            with box("div", "zones", role="table", aria_label="Zones"):
                self._head = box("div", role="rowgroup")
                with self._head, box("div", "headline", role="row"):
                    with box("span", "cell", role="columnheader"):
                        Text("span", "Opening", "said-only")
                    for area, text in COLUMNS:
                        Text("span", text, area, role="columnheader")
                self._rows: Rows[Zone] = Rows(box("div", role="rowgroup"), _zone)

    def show(self, now: Now) -> None:
        shown(self._caption, bool(now.program))
        shown(self._head, bool(now.program))
        self._rows.show(now.zones)


def _zone() -> tuple[ui.element, Callable[[Zone], None]]:
    with box("div", role="row") as row:
        with box("span", "cell", role="cell"):
            aperture = box("span", "aperture", aria_hidden="true")
        name = Text("span", "", "name", role="rowheader")
        light = Text("span", "", "light", role="cell")
        with box("span", "bar-cell", role="cell"):
            bar = box("div", "bar", role="progressbar", aria_valuemin="0", aria_valuemax="100")
            with bar:
                fill_bar = box("i")
        exposure = Text("span", "", "exposure")
        with box("span", "dose", role="cell"):
            dose, dose_also = Text("span"), Text("span")
        about = Text("span", "", "about", role="cell")
        left = Text("span", "", "left", role="cell")

    def fill(zone: Zone) -> None:
        name.text, light.text, left.text = zone.name, zone.light, zone.left
        exposure.text, dose.text, dose_also.text = zone.exposure, zone.dose, zone.dose_also
        style(aperture, "--level", f"{zone.level:.2f}")
        style(fill_bar, "--share", f"{zone.share:.3f}")
        about.text = zone.about
        attribute(row, "title", zone.about)
        attribute(bar, "aria-valuenow", str(round(100 * zone.share)))
        attribute(bar, "aria-label", f"Exposure of {zone.name}")
        attribute(bar, "aria-valuetext", zone.exposure)
        attribute(row, "data-lit", "yes" if zone.level > 0 else "no")
        attribute(row, "data-planned", "yes" if zone.exposure else "no")

    return row, fill
