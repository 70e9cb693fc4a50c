"""Treatments beside the control, what should not have changed, watched inks, and the sheet in other sessions."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ....findings.conclude import Conclusions
from ....store.records import Session
from ... import wording as w
from ...results_view.arms import ArmRow, CheckRow, across, arms, drift_rows, ink_rows, way_text
from ...results_view.when import day_text
from ...wording import Taste
from ..elements import Rows, Text, attribute, box, shown, style
from .tables import Table


class ArmsPart:
    def __init__(self) -> None:
        with box("section", "part", aria_label="Treatments beside the control"):
            Text("h2", "Treatments beside the control")
            self._lead = Text("p", "", "lead")
            with (
                box("div", "rs-wide", tabindex="0", role="region", aria_label="Treatments"),
                box("table", "rs-table rs-arms"),
            ):
                with box("thead"), box("tr"):
                    for head in ("Treatment", "Dose", "Whiter by, ΔE00", "More than the control, ΔE00", "Verdict"):
                        Text("th", head, scope="col")
                self._body = box("tbody")
                self._rows: Rows[ArmRow] = Rows(self._body, _arm)
            self._scale = Text("p", "", "hint")

    def show(self, found: Conclusions | None) -> None:
        if found is None:
            self._lead.text = "Treatments are compared once they were read before and after."
            self._rows.show(())
            return
        shows = arms(found)
        self._lead.text = shows.lead
        self._scale.text = ""
        if shows.ends is not None:
            self._scale.text = (
                f"The bars run from {shows.ends[0]} to {shows.ends[1]} ΔE00; the upright stroke is no effect."
            )
        self._rows.show(shows.rows)
        style(self._body, "--zero", f"{shows.zero:.4f}")


def _arm() -> tuple[ui.element, Callable[[ArmRow], None]]:
    with box("tr") as row:
        with box("th", scope="row"):
            name, cells = Text("span"), Text("small")
        dose, gain = Text("td"), Text("td")
        with box("td"):
            effect = Text("span")
            with box("div", "rs-span", aria_hidden="true") as span:
                bar, dot = box("i"), box("b")
        verdict = Text("td")

    def fill(arm: ArmRow) -> None:
        name.text, cells.text, dose.text, gain.text = arm.name, arm.cells, arm.dose, arm.gain
        effect.text, verdict.text = arm.effect, arm.verdict
        shown(span, arm.span is not None)
        if arm.span is not None:
            low, middle, high = arm.span
            style(bar, "left", f"{100 * low:.2f}%")
            style(bar, "width", f"{100 * (high - low):.2f}%")
            style(dot, "left", f"{100 * middle:.2f}%")

    return row, fill


class ChecksPart:
    """What should not have changed, and the inks."""

    def __init__(self) -> None:
        with box("section", "part", aria_label="Checks"):
            Text("h2", "Checks")
            Text("h3", "What should not change")
            self._drift = Text("p")
            self._kept: Rows[CheckRow] = Rows(box("ul", "rs-checks"), _check)
            Text("h3", "Watched inks")
            self._no_ink = Text(
                "p", "No cell watches an ink. On the page Sheets a cell can be given to one that may fade.", "empty"
            )
            self._inks: Rows[CheckRow] = Rows(box("ul", "rs-checks"), _check)

    def show(self, found: Conclusions | None) -> None:
        drift = found.drift if found is not None else None
        self._drift.text = drift.sentence if drift is not None else "Nothing was read twice yet."
        self._kept.show(drift_rows(found) if found is not None else ())
        inks = ink_rows(found) if found is not None else ()
        shown(self._no_ink, not inks)
        self._inks.show(inks)


def _check() -> tuple[ui.element, Callable[[CheckRow], None]]:
    with box("li") as row:
        name, change, verdict = Text("b"), Text("span"), Text("b", "", "rs-verdict")
        about = Text("span", "", "rs-what")

    def fill(one: CheckRow) -> None:
        name.text, about.text, change.text, verdict.text = one.name, one.about, f"{one.change} ΔE00", one.verdict
        attribute(row, "data-calm", "yes" if one.calm else "no")

    return row, fill


class AcrossPart:
    """The sheet in other sessions. Hidden while there is one only."""

    def __init__(self) -> None:
        self._seen: Sequence[tuple[Session, Conclusions]] = ()
        with box("section", "part rs-all", aria_label="The same sheet in other sessions") as self._holder:
            Text("h2", "The same sheet in other sessions")
            Text(
                "p",
                "Whiter by, ΔE00, each from its own baseline. A sheet that was treated before starts from where that"
                " left it, and two ways of reading are not the same yardstick.",
                "lead",
            )
            self._links: Rows[tuple[str, str]] = Rows(box("p", "rs-links"), _link)
            self._table = Table("Treatments by session")
        shown(self._holder, False)

    def show(self, compared: Sequence[tuple[Session, Conclusions]], taste: Taste) -> None:
        shown(self._holder, len(compared) > 1)
        heads = [
            f"{session.title}, {day_text(w.moment(session.began_utc), taste)}, read by {way_text(found)}"
            for session, found in compared
        ]
        self._links.show([(f"/results/{session.chamber_id}/{session.id}", session.title) for session, _ in compared])
        rows = across([found for _, found in compared])
        self._table.show([(row.name, *row.gains) for row in rows], ("Treatment", *heads))


def _link() -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
    link = Text("a")

    def fill(to: tuple[str, str]) -> None:
        attribute(link, "href", to[0])
        link.text = to[1]

    return link, fill
