"""What a person measured at the sheet, or works out before anything can be measured; and what was kept before."""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from datetime import date
from functools import partial

from nicegui import ui

from ....domain.chamber import Chamber
from ....light.defaults import VIEWING_ANGLE_DEG
from ....service import Calibrated, Service
from ....store.records import SavedCalibration
from ... import wording as w
from ...chamber_view import zones as view
from ...chamber_view.zones import FormWrong, OldCalibration
from ...wording import Taste
from ..elements import Field, Labelled, Rows, Select, Text, Tick, Wrong, box, order_button, sentence, shown
from ..reader import Reader, ordered


class CalibratePart:
    def __init__(
        self, chamber: Chamber, service: Service, reader: Reader, changed: Callable[[], Awaitable[None]]
    ) -> None:
        with box("section", "part", aria_label="Calibration"):
            Text("h2", "Calibration")
            Text(
                "p",
                "Doses rest on these numbers, so they are kept with who entered them and how they are known. Not during"
                " a session. hardware_notes/calibration.md says how to measure; a lux meter is unfit for blue light.",
                "lead",
            )
            self._kept = Text("p", "", "ch-kept", role="status")
            about = (chamber, service, reader, changed, self._say)
            self._forms = (MeasuredForm(*about), EstimatedForm(*about))
            with box("details", "ch-fold") as self._holder:
                self._title = Text("summary")
                self._rows: Rows[OldCalibration] = Rows(box("ul", "ch-history"), _old)

    def show(self, history: Sequence[SavedCalibration], utc: str, taste: Taste) -> None:
        now = w.moment(utc)
        for form in self._forms:
            form.today(now.astimezone(taste.zone).date())
        rows = view.history(history, now, taste)
        shown(self._holder, bool(rows))
        self._title.text = f"What was entered before ({len(rows)})"
        self._rows.show(rows)

    def _say(self, text: str) -> None:
        self._kept.text = text


class _Form:
    """A folded form; its fields keep what was typed, and each says what is wrong with it."""

    def __init__(
        self,
        chamber: Chamber,
        service: Service,
        reader: Reader,
        changed: Callable[[], Awaitable[None]],
        say: Callable[[str], None],
    ) -> None:
        self._chamber, self._service, self._reader = chamber, service, reader
        self._changed, self._say = changed, say
        self._typed: dict[str, str] = {}
        self._labels: dict[str, Labelled] = {}
        self._fields: dict[str, Field] = {}
        self._today = date.min
        self._place()

    def today(self, day: date) -> None:
        """The reader's own day."""
        self._today = day

    def _place(self) -> None:
        raise NotImplementedError

    def _field(
        self, key: str, label: str, value: str = "", *, hint: str = "", unit: str = "", kind: str = "text", **more: str
    ) -> None:
        self._typed[key] = value

        def typed(text: str) -> None:
            self._typed[key] = text
            self._labels[key].mended()
            self._look()

        with Labelled(label, hint, unit) as self._labels[key]:
            self._fields[key] = Field(kind, value, typed, at_once=True, **more)

    def _number(self, key: str, label: str, unit: str, value: str = "", hint: str = "") -> None:
        self._field(key, label, value, hint=hint, unit=unit, inputmode="decimal")

    def _set(self, key: str, value: str) -> None:
        self._typed[key] = value
        self._fields[key].set(value)

    def _look(self) -> None:
        """Something was typed."""

    def _wrong(self, error: FormWrong) -> None:
        for key, label in self._labels.items():
            label.wrong(error.fields.get(key, ""))

    async def _keep(self, found: Mapping[str, Calibrated]) -> str:
        """Keeps it; returns why it was refused."""
        refused = await ordered(self._service.calibrate, self._chamber.id, found, self._reader.name)
        if not refused:
            zones = w.listed([f"{zone} {w.irradiance_text(one.irradiance_w_m2)}" for zone, one in found.items()])
            self._say(f"Kept: {zones}.")
            await self._changed()
        return refused


class MeasuredForm(_Form):
    """Values of an instrument, zone by zone."""

    def _place(self) -> None:
        self._unit = "mW/cm²"
        with box("details", "ch-fold"):
            Text("summary", "Enter a measurement")
            with box("div", "ch-form"):
                self._field(
                    "instrument",
                    "Measured with",
                    hint="The instrument, and when it was calibrated: the record says it too.",
                    maxlength="200",
                )
                with box("div", "ch-row"):
                    self._field("on", "On", kind="date")
                    with Labelled("Unit it shows"):
                        Select({unit: unit for unit in view.UNITS}, self._unit, self._choose_unit)
                    self._number("level", "Level of the lamps", "%", "100", "Full light is reckoned from it.")
                    self._number(
                        "unsure",
                        "Uncertainty",
                        "± %",
                        hint="At 95 %, as the instrument's papers say; for a photodiode some 10. Empty: not known.",
                    )
                Text("p", "Irradiance at the sheet, in the middle of each zone. Leave a zone empty to keep its value.")
                with box("div", "ch-values"):
                    for zone in self._chamber.zones:
                        self._number(f"zone {zone.name}", f"Zone {zone.name}", "")
                self._zones_wrong = Wrong("p")
                with box("div", "actions"):
                    order_button("Keep these values", "main", self._done)
                self._said = Text("p", "", "answer-said", role="alert")

    def today(self, day: date) -> None:
        super().today(day)
        if not self._typed["on"]:
            self._set("on", day.isoformat())

    def _choose_unit(self, unit: str) -> None:
        self._unit = unit

    async def _done(self) -> None:
        self._said.text = ""
        self._zones_wrong.say("")
        values = {zone.name: self._typed[f"zone {zone.name}"] for zone in self._chamber.zones}
        try:
            found = view.measured(
                values,
                self._unit,
                self._typed["level"],
                self._typed["instrument"],
                self._typed["unsure"],
                self._typed["on"],
                self._today,
            )
        except FormWrong as error:
            self._wrong(error)
            self._zones_wrong.say(error.fields.get("zones", ""))
            return
        self._said.text = await self._keep(found)
        if not self._said.text:
            for zone in values:
                self._set(f"zone {zone}", "")


class EstimatedForm(_Form):
    """From flux, distance and area."""

    def _place(self) -> None:
        place = self._chamber.zones[0].place
        self._chosen: set[str] = set()
        with box("details", "ch-fold"):
            Text("summary", "Work out an estimate")
            with box("div", "ch-form"):
                Text(
                    "p",
                    "Good for a first plan, until you can measure. It takes a zone's lamps for one small lamp above its"
                    " middle.",
                    "hint",
                )
                with box("div", "ch-row"):
                    self._number(
                        "flux",
                        "Radiant flux",
                        "W",
                        hint="Light of the zone's lamps, not their electrical power: flux of an LED by its data sheet,"
                        " times their number.",
                    )
                    self._number("distance", "Distance to sheet", "mm")
                    self._number("width", "Width of the zone", "mm", f"{place.width_mm:g}" if place else "")
                    self._number("height", "Height of the zone", "mm", f"{place.height_mm:g}" if place else "")
                    self._number(
                        "angle",
                        "Viewing angle",
                        "°",
                        f"{VIEWING_ANGLE_DEG.value:g}",
                        "Full angle at half intensity; 120° for a bare LED.",
                    )
                    self._number("window", "Through the window", "%", "100", "100 without one.")
                self.sentences: Rows[str] = Rows(box("ul", "ch-estimate", aria_live="polite"), sentence)
                with box("div", "ch-ticks", role="group", aria_label="Zones it holds for"):
                    Text("span", "It holds for zone")
                    for zone in self._chamber.zones:
                        Tick(zone.name, False, partial(self._tick, zone.name))
                self._zones_wrong = Wrong("p")
                with box("div", "actions"):
                    order_button("Keep the estimate", "main", self._done)
                self._said = Text("p", "", "answer-said", role="alert")

    def _tick(self, zone: str, yes: bool) -> None:
        self._chosen = self._chosen | {zone} if yes else self._chosen - {zone}
        self._zones_wrong.mended()

    def _look(self) -> None:
        try:
            self.sentences.show(view.estimate_words(view.estimated((), self._typed, self._today)[0]))
        except FormWrong:
            self.sentences.show(())

    async def _done(self) -> None:
        self._said.text = ""
        self._zones_wrong.say("")
        zones = [zone.name for zone in self._chamber.zones if zone.name in self._chosen]
        try:
            _, found = view.estimated(zones, self._typed, self._today)
        except FormWrong as error:
            self._wrong(error)
            return
        if found:
            self._said.text = await self._keep(found)
        else:
            self._zones_wrong.say("Tick at least one zone.")


def _old() -> tuple[ui.element, Callable[[OldCalibration], None]]:
    with box("li") as row:
        what, known = Text("span"), Text("small")

    def fill(old: OldCalibration) -> None:
        what.text = f"{old.at}: {old.zone} {old.value}"
        known.text = f"{old.known}; entered by {old.by}"

    return row, fill
