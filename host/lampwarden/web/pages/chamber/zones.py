"""The zones as a picture and as a table, the leaks between them, and how long each bank has been lit."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ...chamber_view.zones import BankRow, Leaks, ZoneRow
from ..elements import Rows, Text, attribute, box, shown, style


class ZonesPart:
    def __init__(self) -> None:
        with box("section", "part ch-zones-part", aria_label="Zones"):
            Text("h2", "Zones")
            Text(
                "p",
                "A zone is an area whose lamps are switched together. Its irradiance is the light power that falls on"
                " the sheet at full level; light over time makes the dose.",
                "lead",
            )
            with box("div", "ch-picture", aria_hidden="true") as self._picture:
                self._places: Rows[ZoneRow] = Rows(box("div", "ch-places"), _place)
            with (
                box("div", "ch-wide", tabindex="0", role="region", aria_label="Light of each zone"),
                box("table", "ch-zones"),
            ):
                with box("thead"), box("tr"):
                    for head in ("Zone", "Irradiance", "How it is known", "Peak and width", "Lamp power"):
                        Text("th", head, scope="col")
                self._rows: Rows[ZoneRow] = Rows(box("tbody"), _row)
            Text(
                "p",
                "Peak and width: wavelength of the strongest light, and the breadth of its band at half height. Lamp"
                " power: electrical, at full level.",
                "hint",
            )

    def show(self, rows: Sequence[ZoneRow], size: tuple[float, float]) -> None:
        style(self._picture, "--w", f"{size[0]:g}")
        style(self._picture, "--h", f"{size[1]:g}")
        self._places.show(rows)
        self._rows.show(rows)


class LeaksPart:
    def __init__(self) -> None:
        with box("section", "part", aria_label="Leakage"):
            Text("h2", "Leakage")
            Text(
                "p",
                "Light of one zone that falls into another, as a share of the first one's: it spoils cells that are"
                " meant to stay dark.",
                "lead",
            )
            with (
                box("div", "ch-wide", tabindex="0", role="region", aria_label="By zone"),
                box("table", "ch-leaks"),
            ):
                with box("thead"):
                    self._head: Rows[str] = Rows(box("tr"), _head)
                self._rows: Rows[tuple[str, ...]] = Rows(box("tbody"), _cells)
            self._says = Text("p", "", "hint")

    def show(self, leaks: Leaks) -> None:
        self._head.show(("from \\ to", *leaks.head))
        self._rows.show(leaks.rows)
        self._says.text = leaks.says


class BanksPart:
    def __init__(self) -> None:
        with box("section", "part", aria_label="Hours of light"):
            Text("h2", "Hours of light")
            Text("p", "LEDs fade with use. Hours count full light of a bank's most used zone.", "lead")
            self._rows: Rows[BankRow] = Rows(box("ul", "ch-banks"), _bank)

    def show(self, rows: Sequence[BankRow]) -> None:
        self._rows.show(rows)


def _place() -> tuple[ui.element, Callable[[ZoneRow], None]]:
    with box("div", "ch-place") as row:
        name, light, watts, bank = Text("b"), Text("span", "", "light"), Text("span"), Text("span")

    def fill(zone: ZoneRow) -> None:
        name.text, light.text, watts.text = zone.name, zone.mw_cm2, zone.w_m2
        bank.text = f"{zone.bank}, {'measured' if zone.measured else 'estimated'}"
        attribute(row, "data-measured", "yes" if zone.measured else "no")
        for key, value in (
            ("--x", zone.place.x_mm),
            ("--y", zone.place.y_mm),
            ("--pw", zone.place.width_mm),
            ("--ph", zone.place.height_mm),
            ("--share", zone.share),
        ):
            style(row, key, f"{value:.4g}")

    return row, fill


def _row() -> tuple[ui.element, Callable[[ZoneRow], None]]:
    with box("tr") as row:
        with box("th", scope="row"):
            name, bank = Text("span"), Text("small")
        with box("td"):
            strong, weak = Text("span"), Text("small")
        with box("td"):
            known, caution = Text("span"), Text("small", "", "ch-caution")
        light, lamp = Text("td"), Text("td")

    def fill(zone: ZoneRow) -> None:
        name.text, bank.text = zone.name, zone.bank
        strong.text, weak.text = zone.mw_cm2, zone.w_m2
        known.text, caution.text = zone.known, zone.caution
        shown(caution, bool(zone.caution))
        light.text, lamp.text = zone.light, zone.lamp

    return row, fill


def _bank() -> tuple[ui.element, Callable[[BankRow], None]]:
    with box("li") as row:
        name, lit = Text("b"), Text("span", "", "lit")
        about, says = Text("span", "", "about"), Text("span", "", "says")

    def fill(bank: BankRow) -> None:
        name.text, lit.text = bank.name, f"{bank.lit} lit"
        about.text = f"Zone {bank.zones}; {bank.since} since it was measured."
        says.text = bank.says
        attribute(row, "data-due", "yes" if bank.due else "no")

    return row, fill


def _head() -> tuple[ui.element, Callable[[str], None]]:
    cell = Text("th", "", "", scope="col")

    def fill(text: str) -> None:
        cell.text = text

    return cell, fill


def _cells() -> tuple[ui.element, Callable[[tuple[str, ...]], None]]:
    with box("tr") as row:
        first = Text("th", "", "", scope="row")
        rest: Rows[str] = Rows(row, _cell)

    def fill(texts: tuple[str, ...]) -> None:
        first.text = texts[0]
        rest.show(texts[1:])

    return row, fill


def _cell() -> tuple[ui.element, Callable[[str], None]]:
    cell = Text("td")

    def fill(text: str) -> None:
        cell.text = text

    return cell, fill
