"""Which treatment each cell gets: by hand, or drawn by lot."""

import random
from collections.abc import Callable
from dataclasses import replace

from nicegui import ui

from ....care.defaults import WET_MIN_MAX, WORKING_PCT, WORKING_PCT_MAX
from ....domain.sheet import Sheet, Treatment
from ....errors import ProgramError
from ....planning.place import Arm, Blocks, Drawn, assign, draw
from ... import sheets_view
from ... import wording as w
from ...typed import number, whole
from ..elements import Field, Labelled, Rows, Select, Text, attribute, box, button, sentence, shown
from .desk import Desk

PEROXIDE = "hydrogen peroxide"
SEED_MAX = 999_999
LIT_J_CM2 = 1.0
"""Dose handed to the lot for every treatment with light. The plan sets the real ones; here it only says that the zone
is lit, so that a dark cell in it gets covered."""
_BLOCKS: dict[str, Blocks] = {"rows": "rows", "columns": "columns"}
LIGHTS = {"open": "Open to the light", "covered": "Covered", "none": "No light"}
BATHS = {"none": "No bath", "water": "Plain water", "chemical": "Chemical"}


class TreatPart:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._own: list[Arm] | None = None
        self._how = "one"
        with box("section", "part sh-treat", aria_label="Treatments"):
            with box("h2"):
                Text("span", "Treatments")
                self._caption = Text("small")
            Text(
                "p",
                "A cell is lit, or kept dark in a zone without light, or covered in a lit one (the control for heat and"
                " air); and it is dry or bathed. How long and how strong the light is, the plan says.",
                "lead",
            )
            self._picker = Picker()
            with box("div", "actions"):
                self._give = button("Give it", "main", self._given)
                button("Put it on the list for the lot", "", self._listed)
            self._said = Text("p", "", "answer-said", role="alert")
            with box("div", "sh-lot"):
                Text("h3", "Draw by lot")
                Text(
                    "p",
                    "Chance decides which cell gets which treatment, so that no habit of yours or the lamps' decides."
                    " The number (seed) is kept with the sheet.",
                    "hint",
                )
                self._none = Text("p", "Nothing is on the list yet.", "empty")
                self._rows: Rows[tuple[int, Arm]] = Rows(box("ul", "sh-arms"), self._row)
                button("Fill in: light × peroxide 3 %", "quiet", self._ready)
                with box("div", "sh-pair"):
                    with Labelled("How"):
                        Select(sheets_view.LOT, self._how, self._choose_how)
                    with Labelled("Seed", f"Any whole number up to {SEED_MAX}.") as self._seed_label:
                        self._seed = str(random.randrange(1, 10_000))
                        self._seed_field = Field("text", self._seed, self._type_seed, inputmode="numeric")
                self._fits = Text("p", "", "hint", role="status")
                with box("div", "actions"):
                    self._draw = button("Draw by lot", "main", self._drawn)
                self._lot_said = Text("p", "", "answer-said", role="alert")
                self._method = Text("p", "", "hint")

    def show(self) -> None:
        sheet, chosen = self._desk.sheet, list(self._desk.chosen)
        self._caption.text = sheets_view.lot_words(sheet).split(".")[0]
        self._give.text = f"Give it to {w.listed(chosen)}" if chosen else "Choose cells first"
        attribute(self._give, "disabled", None if chosen else True)
        arms = self._arms
        self._fits.text, fits = sheets_view.lot(sheet, len(arms), self._how)
        attribute(self._draw, "disabled", None if fits else True)
        shown(self._none, not arms)
        self._rows.show(list(enumerate(arms)))

    @property
    def _arms(self) -> list[Arm]:
        """The list for the lot: the cells' treatments, until the person makes a list of their own."""
        return _arms_of(self._desk.sheet) if self._own is None else self._own

    def chosen(self) -> None:
        """The choice of cells is another: show what the one cell has."""
        if self._desk.cell is not None:
            self._picker.set(self._desk.cell.treatment)

    def _given(self) -> None:
        self._said.text = ""
        treatment = self._picker.treatment()
        if treatment is not None:
            self._said.text = self._desk.do(lambda sheet: assign(sheet, self._desk.chosen, treatment))

    def _listed(self) -> None:
        self._said.text = ""
        treatment = self._picker.treatment()
        if treatment is None:
            return
        title, arms = sheets_view.treatment_words(treatment), self._arms
        if any(arm.title == title for arm in arms):
            self._said.text = f"“{title}” is on the list already."
            return
        self._own = [*arms, _arm(treatment)]
        self.show()

    def _ready(self) -> None:
        bath = Treatment(chemical=PEROXIDE, strength_pct=WORKING_PCT_MAX.value, wet_min=WET_MIN_MAX.value)
        both = bath.model_copy(update={"light": True})
        self._own = [_arm(t) for t in (Treatment(light=True), both, bath, Treatment(covered=True))]
        self.show()

    def _choose_how(self, value: str) -> None:
        self._how = value
        self.show()

    def _type_seed(self, text: str) -> None:
        self._seed = text.strip()
        self._seed_label.mended()

    def _drawn(self) -> None:
        try:
            seed = whole(self._seed, "seed", 0, SEED_MAX)
        except ProgramError as error:
            self._seed_label.wrong(str(error))
            return
        drawn: list[Drawn] = []

        def edit(sheet: Sheet) -> Sheet:
            square = self._how == "square"
            drawn.append(draw(sheet, self._arms, seed, _BLOCKS.get(self._how, "one"), square=square))
            return drawn[-1].sheet

        self._lot_said.text = self._desk.do(edit)
        self._method.text = drawn[-1].method if drawn else ""

    def _row(self) -> tuple[ui.element, Callable[[tuple[int, Arm]], None]]:
        at = {"index": 0}

        def remove() -> None:
            self._own = [arm for n, arm in enumerate(self._arms) if n != at["index"]]
            self.show()

        def turn() -> None:
            arms = list(self._arms)
            arms[at["index"]] = replace(arms[at["index"]], control=not arms[at["index"]].control)
            self._own = arms
            self.show()

        with box("li") as row:
            title = Text("span", "", "title")
            control = Text("button", "control", "button quiet", type="button")
            control.on("click", turn)
            gone = button("Remove", "quiet", remove)

        def fill(item: tuple[int, Arm]) -> None:
            at["index"], arm = item
            title.text = arm.title
            attribute(control, "aria-pressed", "true" if arm.control else "false")
            attribute(control, "aria-label", f"{arm.title} is a control")
            attribute(gone, "aria-label", f"Take {arm.title} off the list")

        return row, fill


class Picker:
    """One treatment, put together: light or not, and which bath."""

    def __init__(self) -> None:
        self._light, self._bath = "open", "none"
        self._chemical, self._strength, self._wet = PEROXIDE, f"{WORKING_PCT.value:g}", ""
        with box("div", "sh-picker"):
            with box("div", "field"):
                Text("span", "Light")
                self._lights = _buttons("Light", LIGHTS, self._choose_light)
            with box("div", "field"):
                Text("span", "Bath")
                self._baths = _buttons("Bath", BATHS, self._choose_bath)
            with box("div", "sh-bath") as self._wet_holder:
                with Labelled("Chemical", "As on its label.") as self._chemical_label:
                    self._chemical_field = Field(
                        "text", self._chemical, self._type_chemical, at_once=True, maxlength="60", list="sh-chemicals"
                    )
                with Labelled(
                    "Strength", "Per cent by mass. For peroxide 0.5 to 3 % is usual.", "%"
                ) as self._strength_label:
                    self._strength_field = Field(
                        "text", self._strength, self._type_strength, at_once=True, inputmode="decimal"
                    )
                with Labelled("Wet for", "May stay empty for a chemical.", "min") as self._wet_label:
                    self._wet_field = Field("text", self._wet, self._type_wet, at_once=True, inputmode="decimal")
                with box("datalist", id="sh-chemicals"):
                    for name in sheets_view.CHEMICALS:
                        Text("option", name, value=name)
            self._cautions: Rows[str] = Rows(box("ul", "sh-cautions", aria_live="polite"), sentence)
        self._show()

    def set(self, treatment: Treatment) -> None:
        """Shows a cell's treatment."""
        self._light = "open" if treatment.light else "covered" if treatment.covered else "none"
        self._bath = "chemical" if treatment.chemical else "water" if treatment.wet_min else "none"
        if treatment.chemical:
            self._chemical = treatment.chemical
            self._strength = f"{treatment.strength_pct:g}"
            self._chemical_field.set(self._chemical)
            self._strength_field.set(self._strength)
        if treatment.chemical or treatment.wet_min:
            self._wet = f"{treatment.wet_min:g}" if treatment.wet_min else ""
            self._wet_field.set(self._wet)
        self._show()

    def treatment(self) -> Treatment | None:
        """The treatment; None if a field is wrong, which is then said beside it."""
        light, covered = self._light == "open", self._light == "covered"
        if self._bath == "none":
            return Treatment(light=light, covered=covered)
        wrong = False
        strength = wet = None
        for label in (self._chemical_label, self._strength_label, self._wet_label):
            label.wrong("")
        if self._wet.strip() or self._bath == "water":
            try:
                wet = number(self._wet, "time", 1, 1440, "min")
            except ProgramError as error:
                self._wet_label.wrong(str(error))
                wrong = True
        if self._bath == "chemical":
            if not self._chemical.strip():
                self._chemical_label.wrong("Name the chemical, as on its label.")
                wrong = True
            try:
                strength = number(self._strength, "strength", 0.01, 50, "%")
            except ProgramError as error:
                self._strength_label.wrong(str(error))
                wrong = True
        if wrong:
            return None
        chemical = self._chemical.strip() if self._bath == "chemical" else ""
        return Treatment(light=light, covered=covered, chemical=chemical, strength_pct=strength, wet_min=wet)

    def _show(self) -> None:
        for value, made in self._lights:
            attribute(made, "aria-pressed", "true" if value == self._light else "false")
        for value, made in self._baths:
            attribute(made, "aria-pressed", "true" if value == self._bath else "false")
        shown(self._wet_holder, self._bath != "none")
        shown(self._chemical_label.element, self._bath == "chemical")
        shown(self._strength_label.element, self._bath == "chemical")
        self._warn()

    def _warn(self) -> None:
        strength = None
        if self._bath == "chemical" and self._chemical.strip():
            try:
                strength = number(self._strength, "strength", 0.01, 50, "%")
            except ProgramError:
                strength = None
        self._cautions.show(sheets_view.bath_cautions(self._chemical.strip(), strength))

    def _choose_light(self, value: str) -> None:
        self._light = value
        self._show()

    def _choose_bath(self, value: str) -> None:
        self._bath = value
        self._show()

    def _type_chemical(self, text: str) -> None:
        self._chemical = text
        self._chemical_label.mended()
        self._warn()

    def _type_strength(self, text: str) -> None:
        self._strength = text
        self._strength_label.mended()
        self._warn()

    def _type_wet(self, text: str) -> None:
        self._wet = text
        self._wet_label.mended()


def _buttons(label: str, options: dict[str, str], choose: Callable[[str], None]) -> list[tuple[str, Text]]:
    made = []
    with box("div", "choice", role="group", aria_label=label):
        for value, text in options.items():
            one = Text("button", text, type="button")
            one.on("click", lambda value=value: choose(value))
            made.append((value, one))
    return made


def _arm(treatment: Treatment) -> Arm:
    """A treatment as the lot takes it. Without light and without a bath it is a control."""
    dry = not (treatment.chemical or treatment.wet_min)
    return Arm(
        sheets_view.treatment_words(treatment),
        treatment,
        LIT_J_CM2 if treatment.light else 0.0,
        control=dry and not treatment.light,
    )


def _arms_of(sheet: Sheet) -> list[Arm]:
    """The treatments that the sheet's cells have, each once; none while all are untreated."""
    found = {sheets_view.treatment_words(cell.treatment): cell.treatment for cell in sheet.cells}
    return [_arm(treatment) for treatment in found.values()] if set(found) != {"untreated"} else []
