"""An instrument's readings: typed, or from its file; a source of its own beside photos."""

from collections.abc import Awaitable, Callable, Mapping, Sequence

from nicegui.events import GenericEventArguments

from ....domain.reading import Reading
from ....domain.sheet import Sheet
from ....errors import ProgramError
from ....imaging.instrument import parse_instrument_file
from ....service import Service
from ...results_view.entry import KEYS, Wrong, instrument_reading
from ..elements import Field, Labelled, Select, Text, attribute, box, order_button
from ..reader import Reader, ordered

FILE_MAX = 400_000
"""Longest file taken, letters: thousands of rows with a spectrum each are no reading of one sheet."""


class InstrumentPart:
    def __init__(
        self, service: Service, reader: Reader, chamber_id: str, session_id: str, sheet: Sheet,
        checkpoints: Sequence[str], changed: Callable[[], Awaitable[None]],
    ) -> None:  # fmt: skip
        self._service, self._reader, self._sheet, self._changed = service, reader, sheet, changed
        self._chamber_id, self._session_id = chamber_id, session_id
        self._checkpoint, self._repeat = "", "0.3"
        self._typed: dict[str, dict[str, str]] = {cell.name: dict.fromkeys(KEYS, "") for cell in sheet.cells}
        self._fields: dict[str, Field] = {}
        with box("section", "part", aria_label="Instrument readings"):
            Text("h2", "Instrument readings")
            Text(
                "p",
                "By a colorimeter or spectrophotometer, set to CIELAB under D50, 2° observer. They are kept as a source"
                " of their own and never mixed with photos: choose above by which way you want to look.",
                "lead",
            )
            with box("details", "rs-fold"):
                Text("summary", "Enter a reading")
                with box("div", "rs-form"):
                    with box("div", "rs-row"):
                        with Labelled("At"):
                            moments = {"": "not at a checkpoint"} | {name: name for name in checkpoints}
                            Select(moments, "", self._at)
                        with Labelled(
                            "Repeatability", "How far five readings of one cell scatter, lifting it in between.", "ΔE"
                        ) as self._repeat_label:  # fmt: skip
                            Field("text", self._repeat, self._repeated, at_once=True, inputmode="decimal")
                    with box("label", "button quiet photos-file"):
                        Text("span", "From a file: CSV or CGATS…")
                        file = box("input", type="file", accept=".csv,.txt,.cgats,.it8,text/plain,text/csv")
                    file.on("change", self._from_file, js_handler=_READ_FILE)
                    with box("div", "rs-wide", tabindex="0", role="region", aria_label="Colours to enter"):
                        self._grid()
                    self._wrong = Text("p", "", "entry-wrong", role="alert")
                    with box("div", "actions"):
                        order_button("Keep this reading", "main", self._keep)
                    self._said = Text("p", "", "answer-said", role="alert")
                    self._kept = Text("p", "", "rs-kept", role="status")

    def _grid(self) -> None:
        with box("table", "rs-table rs-type"):
            with box("thead"), box("tr"):
                for head in ("Cell", "L*", "a*", "b*"):
                    Text("th", head, scope="col")
            with box("tbody"):
                for cell in self._sheet.cells:
                    with box("tr"):
                        Text("th", cell.name, scope="row")
                        for key in KEYS:
                            with box("td"):
                                field = Field(
                                    "text", "", self._taker(cell.name, key), at_once=True, inputmode="decimal",
                                    aria_label=f"{cell.name} {key}*", size="6",
                                )  # fmt: skip
                                self._fields[f"{cell.name} {key}"] = field

    def _at(self, checkpoint: str) -> None:
        self._checkpoint = checkpoint

    def _repeated(self, text: str) -> None:
        self._repeat = text
        self._repeat_label.mended()

    def _taker(self, cell: str, key: str) -> Callable[[str], None]:
        def take(text: str) -> None:
            self._typed[cell][key] = text
            attribute(self._fields[f"{cell} {key}"].element, "aria-invalid", None)

        return take

    def _set(self, values: Mapping[str, Mapping[str, str]]) -> None:
        for cell, lab in values.items():
            for key, text in lab.items():
                self._typed[cell][key] = text
                self._fields[f"{cell} {key}"].set(text)
                attribute(self._fields[f"{cell} {key}"].element, "aria-invalid", None)

    def _from_file(self, event: GenericEventArguments) -> None:
        self._kept.text = self._said.text = ""
        name, text = (str(part) for part in event.args)
        try:
            if not text:
                raise ProgramError(f"{name}: it is empty, or too long for readings of one sheet.")
            found = parse_instrument_file(text, name, self._sheet.id, list(self._typed))
        except ProgramError as error:
            self._wrong.text = str(error)
            return
        self._wrong.text = " ".join(found.warnings)
        values = {
            cell.cell: {key: f"{round(value, 2):g}" for key, value in zip(KEYS, cell.lab_d50, strict=True)}
            for cell in found.cells
        }
        self._set(values)
        self._kept.text = f"{name}: {len(values)} cells filled in below. Look at them, then keep the reading."

    async def _keep(self) -> None:
        self._said.text = self._kept.text = ""
        try:
            utc = self._service.snapshot(self._chamber_id).utc
            reading = instrument_reading(self._typed, self._repeat, self._sheet, utc)
        except Wrong as error:
            self._mark(error.fields)
            return
        self._mark({})
        self._said.text = await ordered(self._add, reading)
        if self._said.text:
            return
        self._kept.text = f"Kept: {len(reading.cells)} cells by instrument."
        self._set({cell: dict.fromkeys(KEYS, "") for cell in self._typed})
        await self._changed()

    def _mark(self, fields: Mapping[str, str]) -> None:
        self._repeat_label.wrong(fields.get("repeat", ""))
        for key, field in self._fields.items():
            attribute(field.element, "aria-invalid", "true" if key in fields else None)
        self._wrong.text = " ".join(text for key, text in fields.items() if key != "repeat")

    def _add(self, reading: Reading) -> None:
        self._service.add_reading(
            reading, self._reader.name, chamber_id=self._chamber_id, session_id=self._session_id,
            checkpoint=self._checkpoint,
        )  # fmt: skip


_READ_FILE = f"""async (e) => {{
  const file = e.target.files[0];
  if (!file) return;
  const text = file.size > {FILE_MAX} ? "" : await file.text();
  e.target.value = "";
  emit(file.name, text);
}}"""
