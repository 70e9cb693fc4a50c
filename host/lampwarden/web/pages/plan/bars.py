"""Exposures as bars over time, and beside each row the numbers that are the same thing."""

from collections.abc import Callable
from typing import Any

from nicegui import ui
from nicegui.events import GenericEventArguments

from ....domain.chamber import Chamber
from ....domain.program import Exposure, Program
from ....errors import ProgramError
from ....planning import edit
from ...plan_view import entry as given
from ...plan_view.timetable import Bar, Flag, Mark, Night, Row, Timetable
from ..elements import Rows, Select, Text, attribute, box, button, shown, style
from .bench import Bench
from .entry import Entry

NEW_S = 3600.0
"""Length of an exposure that is added, s."""
LATE = 0.88
"""A flag that stands farther right than this share bears its name on its left."""
KINDS = {"time": "until", "dose": "dose"}
KEYS = (
    "Drag a bar or its ends, or a flag, in steps of 5 minutes. By keyboard: arrow keys move it, with Shift they pull a"
    " bar's end; Delete removes it."
)


class BarsPart:
    """The timetable of one plan."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._rows: list[_Line] = []
        self._way: tuple[str, tuple[Exposure, ...]] | None = None
        """The bar on its way, and its zone's light when it set out."""
        with box("section", "part plan-timetable", aria_label="Timetable of light"):
            with box("h2"):
                Text("span", "Timetable of light")
                self._says = Text("small")
            self.when = box("div", "plan-when")
            """Where the page puts the choice of a start."""
            with box("div", "plan-time", role="group", aria_label="Exposures and checkpoints") as self._time:
                with box("div", "plan-axis", aria_hidden="true"):
                    self._marks: Rows[Mark] = Rows(box("div", "plan-marks"), _mark)
                with box("div", "plan-flags", role="group", aria_label="Checkpoints"):
                    self._nights: Rows[Night] = Rows(box("div", "plan-nights", aria_hidden="true"), _night)
                    self._flags: Rows[Flag] = Rows(box("div", "plan-flag-row"), _flag)
                for number, zone in enumerate(bench.chamber.zones):
                    self._rows.append(_Line(self, bench, number, zone.name))
            self._strays: Rows[str] = Rows(box("div"), self._stray)
            self._wrong = Text("p", "", "answer-said", role="alert")
            with box("div", "actions plan-tools", role="group", aria_label="The chosen exposure"):
                self._chosen = Text("span", "", "plan-chosen", aria_live="polite")
                self._split = button("Split in two", "quiet", self._on_split)
                self._copy = button("Copy to selected zones", "quiet", self._on_copy)
                self._remove = button("Remove", "quiet", self._on_remove)
            Text("p", KEYS, "notice")
        for name, handler in (
            ("planbar", self._on_bar),
            ("planflag", self._on_flag),
            ("planremove", self._on_key_remove),
            ("planchoose", self._on_choose),
        ):
            self._time.on(name, handler, js_handler="(e) => emit(e.detail)")

    def show(self, table: Timetable, *, fresh: bool = False) -> None:
        self._says.text = table.says
        attribute(self._time, "data-span", str(table.span_s))
        style(self._time, "--rows", str(table.flag_rows))
        self._marks.show(table.marks)
        self._nights.show(table.nights)
        self._flags.show(table.flags)
        for line, row in zip(self._rows, table.rows, strict=True):
            line.show(row, table.span_s, self._bench.chosen, fresh)
        known = {row.zone for row in table.rows}
        self._strays.show([plan.zone for plan in self._bench.program.zones if plan.zone not in known])
        self._show_chosen(table)

    def say(self, wrong: str) -> None:
        """Says below the bars why a step was not taken."""
        self._wrong.text = wrong

    def tried(
        self, says: str, step: Callable[[Program, Chamber], Program], key: str = "", *, done: bool = True
    ) -> None:
        """Takes a step of the program, or says why not."""
        try:
            self._bench.edit(says, step, key, done=done)
        except ProgramError as error:
            self.say(str(error))
        else:
            self.say("")

    def choose(self, zone: str, index: int) -> None:
        if self._bench.chosen != (zone, index):
            self._bench.chosen = (zone, index)
            self._bench.touch()

    def _stray(self) -> tuple[ui.element, Callable[[str], None]]:
        """A zone of the program that the chamber does not have."""
        zone = {"name": ""}

        def leave_out() -> None:
            kept = tuple(plan for plan in self._bench.program.zones if plan.zone != zone["name"])
            self.tried(f"leaving out zone {zone['name']}", lambda p, _: edit.changed(p, zones=kept))

        with box("p", "plan-wait") as row:
            says = Text("span")
            button("Leave it out", "quiet plan-small", leave_out)

        def fill(name: str) -> None:
            zone["name"], says.text = name, f"Zone {name} of this plan is not in this chamber."

        return row, fill

    # --- from the bars ------------------------------------------------------------------------------------------------

    def _on_bar(self, event: GenericEventArguments) -> None:
        told: dict[str, Any] = event.args
        zone, index = self._zone(told), int(told["bar"])
        start_s, end_s = float(told["start_s"]), float(told["end_s"])
        key, done = f"bar {zone} {index}", not told["moving"]
        # On its way always from where it set out: it may pass another bar, and then has another place in the order.
        if self._way is None or self._way[0] != key:
            self._way = (key, self._bench.program.exposures_of(zone))
        before = self._way[1]

        def step(program: Program, chamber: Chamber) -> Program:
            program = edit.with_exposures(program, chamber, {zone: before})
            if told["what"] == "move":
                return edit.move(program, chamber, zone, index, start_s)
            side = {"start_s": start_s} if told["what"] == "start" else {"end_s": end_s}
            return edit.drag(program, chamber, zone, index, **side)

        what = "move" if told["what"] == "move" else "new length"
        self.tried(f"the {what} of a light of {zone}", step, key, done=done)
        if done:
            self._way = None

    def _on_flag(self, event: GenericEventArguments) -> None:
        told: dict[str, Any] = event.args
        name, at_s = str(told["flag"]), float(told["at_s"])
        self.tried(
            f"the move of checkpoint {name}",
            lambda p, _: edit.change_checkpoint(p, name, at_s=at_s),
            f"flag {name}",
            done=not told["moving"],
        )

    def _on_key_remove(self, event: GenericEventArguments) -> None:
        told: dict[str, Any] = event.args
        if "flag" in told:
            name = str(told["flag"])
            self.tried(f"the removal of checkpoint {name}", lambda p, _: edit.remove_checkpoint(p, name))
        else:
            self._removed(self._zone(told), int(told["bar"]))

    def _on_choose(self, event: GenericEventArguments) -> None:
        self.choose(self._zone(event.args), int(event.args["bar"]))

    def _zone(self, told: dict[str, Any]) -> str:
        return self._bench.chamber.zones[int(told["zone"])].name

    # --- the chosen exposure ------------------------------------------------------------------------------------------

    def _show_chosen(self, table: Timetable) -> None:
        chosen = self._bench.chosen
        bars = {(row.zone, bar.index): bar for row in table.rows for bar in row.bars}
        bar = bars.get(chosen) if chosen else None
        self._chosen.text = f"Chosen: {bar.says}." if bar else "Choose a bar to split, copy or remove it."
        others = self._bench.selected - ({chosen[0]} if chosen else set())
        attribute(self._split, "disabled", None if bar else True)
        attribute(self._remove, "disabled", None if bar else True)
        attribute(self._copy, "disabled", None if bar and others else True)
        attribute(self._copy, "title", None if others else "Select zones in the picture above first")

    def _on_split(self) -> None:
        if self._bench.chosen is None:
            return
        zone, index = self._bench.chosen
        exposures = self._bench.program.exposures_of(zone)
        if index >= len(exposures):
            return
        lamp = self._bench.chamber.zones[self._bench.chamber.zone_index(zone)]
        one = exposures[index]
        end_s = one.planned_end_s(lamp.irradiance_w_m2)
        middle_s = round((one.start_s + end_s) / 2)
        self.tried(f"the split of a light of {zone}", lambda p, c: edit.split(p, c, zone, index, middle_s))

    def _on_copy(self) -> None:
        if self._bench.chosen is None:
            return
        zone = self._bench.chosen[0]
        names = [z.name for z in self._bench.chamber.zones if z.name in self._bench.selected and z.name != zone]
        self.tried(f"the copy of {zone} to {', '.join(names)}", lambda p, c: edit.copy_to(p, c, zone, names))

    def _on_remove(self) -> None:
        if self._bench.chosen is not None:
            self._removed(*self._bench.chosen)

    def _removed(self, zone: str, index: int) -> None:
        self.tried(f"the removal of a light of {zone}", lambda p, c: edit.remove(p, c, zone, index))


class _Line:
    """One zone: its track with bars, and its numbers."""

    def __init__(self, part: BarsPart, bench: Bench, number: int, zone: str) -> None:
        self._part, self._bench, self._zone = part, bench, zone
        with box("div", "plan-row", role="group", aria_label=f"Zone {zone}") as row:
            style(row, "--i", str(number))
            Text("b", zone, "plan-name")
            with box("div", "plan-track", data_zone=str(number)) as track:
                self._bars: Rows[tuple[Bar, float, bool]] = Rows(track, _bar)
            with box("div", "plan-numbers"):
                Text("b", zone, "plan-name-again", aria_hidden="true")
                self._fields: list[_Numbers] = []
                self._holder = box("div", "plan-fields")
                with box("div", "plan-none"):
                    self._dark = Text("span", "stays dark", "hint")
                    more = button("Add light", "quiet plan-small", self._add)
                    attribute(more, "aria-label", f"Add light to {zone}")

    def show(self, row: Row, span_s: float, chosen: tuple[str, int] | None, fresh: bool) -> None:
        self._bars.show([(bar, span_s, chosen == (row.zone, bar.index)) for bar in row.bars])
        shown(self._dark, not row.bars)
        while len(self._fields) > len(row.bars):
            self._fields.pop().element.delete()
        with self._holder:
            while len(self._fields) < len(row.bars):
                self._fields.append(_Numbers(self._part, self._bench, self._zone, len(self._fields)))
        for fields, bar in zip(self._fields, row.bars, strict=True):
            if fresh:
                fields.reset()
            fields.show(bar, chosen == (row.zone, bar.index))

    def _add(self) -> None:
        zone = self._zone
        lamp = self._bench.chamber.zones[self._bench.chamber.zone_index(zone)]
        start_s = max(
            (e.planned_end_s(lamp.irradiance_w_m2) for e in self._bench.program.exposures_of(zone)), default=0.0
        )
        start_s = -(-start_s // 300) * 300
        self._part.tried(
            f"a light more on {zone}",
            lambda p, c: edit.add(p, c, zone, edit.exposure(start_s, end_s=start_s + NEW_S)),
        )


class _Numbers:
    """The numbers of one exposure, in a line that reads as a sentence."""

    def __init__(self, part: BarsPart, bench: Bench, zone: str, index: int) -> None:
        self._part, self._bench, self._zone, self._index = part, bench, zone, index
        self._by_dose = False
        with box("div", "plan-line") as self.element:
            self._start = Entry("", "", self._take_start, before="from", inputmode="text", size="6")
            self._until = Select(KINDS, "time", self._take_kind)
            self._end = Entry("", "", self._take_end, size="6")
            self._unit = Text("span", "h", "unit")
            self._level = Entry("", "%", self._take_level, before="at", inputmode="decimal", size="4")
            self._comes_to = Text("span", "", "plan-comes")
        self.element.on("focusin", lambda: part.choose(zone, index), js_handler="() => emit()")

    def show(self, bar: Bar, chosen: bool) -> None:
        name = f"{self._zone}, light {bar.index + 1}"
        attribute(self.element, "data-chosen", "yes" if chosen else None)
        self._start.show(bar.start_text, f"{name}: starts at")
        self._end.show(bar.end_text, f"{name}: {'dose, J/cm²' if bar.by_dose else 'ends at'}")
        self._level.show(bar.level_text, f"{name}: level, per cent")
        attribute(self._until.element, "aria-label", f"{name}: ends by time or by dose")
        if bar.by_dose != self._by_dose:
            self._by_dose = bar.by_dose
            self._until.show(KINDS, "dose" if bar.by_dose else "time")
        self._unit.text = "J/cm²" if bar.by_dose else "h"
        self._comes_to.text = bar.comes_to

    def reset(self) -> None:
        for field in (self._start, self._end, self._level):
            field.reset()

    def _take_start(self, text: str, done: bool) -> None:
        start_s = given.time_s(text)
        self._edit("start", done, start_s=start_s)

    def _take_end(self, text: str, done: bool) -> None:
        if self._by_dose:
            self._edit("dose", done, dose_j_cm2=given.number(text, "J/cm²"))
        else:
            self._edit("end", done, end_s=given.time_s(text))

    def _take_level(self, text: str, done: bool) -> None:
        self._edit("level", done, level=given.level(text))

    def _take_kind(self, kind: str) -> None:
        """By dose instead of by time, or the other way round, with the same light."""
        lamp = self._bench.chamber.zones[self._bench.chamber.zone_index(self._zone)]
        some = self._bench.program.exposures_of(self._zone)
        if self._index >= len(some):  # removed just now
            return
        one = some[self._index]
        self._end.reset()
        if kind == "dose":
            dose = one.planned_lit_s(lamp.irradiance_w_m2) * lamp.irradiance_w_m2 * 1e-4
            self._change("end by dose", dose_j_cm2=round(dose, 3))
        else:
            self._change("end by time", end_s=round(one.planned_end_s(lamp.irradiance_w_m2)))

    def _change(self, what: str, **numbers: float) -> None:
        zone, index = self._zone, self._index
        self._part.tried(f"the {what} of {zone}", lambda p, c: edit.change(p, c, zone, index, **numbers))

    def _edit(self, what: str, done: bool, **numbers: float) -> None:
        zone, index = self._zone, self._index
        self._bench.edit(
            f"the {what} of a light of {zone}",
            lambda p, c: edit.change(p, c, zone, index, **numbers),
            f"{what} {zone} {index}",
            done=done,
        )
        self._part.say("")


def _bar() -> tuple[ui.element, Callable[[tuple[Bar, float, bool]], None]]:
    with box("div", "plan-bar", role="slider", tabindex="0", aria_valuemin="0") as bar:
        box("i", "plan-grip", data_end="start")
        label = Text("span")
        box("i", "plan-grip", data_end="end")

    def fill(shows: tuple[Bar, float, bool]) -> None:
        about, span_s, chosen = shows
        style(bar, "--from", f"{about.start:.5f}")
        style(bar, "--to", f"{about.end:.5f}")
        style(bar, "--level", f"{about.level:.3f}")
        for name, value in (
            ("data-bar", str(about.index)),
            ("data-start", f"{about.start_s:.0f}"),
            ("data-end-at", f"{about.end_s:.0f}"),
            ("data-chosen", "yes" if chosen else None),
            ("data-narrow", "yes" if about.narrow else None),
            ("aria-label", about.says.split(":")[0]),
            ("aria-valuemax", f"{span_s:.0f}"),
            ("aria-valuenow", f"{about.start_s:.0f}"),
            ("aria-valuetext", about.says.split(": ", 1)[1]),
            ("title", about.says),
        ):
            attribute(bar, name, value)
        label.text = about.label

    return bar, fill


def _mark() -> tuple[ui.element, Callable[[Mark], None]]:
    with box("div", "plan-mark") as mark:
        session, clock = Text("b"), Text("span")

    def fill(about: Mark) -> None:
        style(mark, "--at", f"{about.share:.5f}")
        session.text, clock.text = about.session, about.clock

    return mark, fill


def _night() -> tuple[ui.element, Callable[[Night], None]]:
    with box("div", "plan-night") as night:
        Text("span", "night")

    def fill(about: Night) -> None:
        style(night, "--from", f"{about.start:.5f}")
        style(night, "--to", f"{about.end:.5f}")

    return night, fill


def _flag() -> tuple[ui.element, Callable[[Flag], None]]:
    with box("div", "plan-flag", role="slider", tabindex="0", aria_valuemin="0") as flag:
        name = Text("span")

    def fill(about: Flag) -> None:
        style(flag, "--at", f"{about.share:.5f}")
        style(flag, "--row", str(about.row))
        for key, value in (
            ("data-flag", about.name),
            ("data-at", f"{about.at_s:.0f}"),
            ("data-asleep", "yes" if about.asleep else None),
            ("data-alone", None if about.attended else "yes"),
            ("data-late", "yes" if about.share > LATE else None),
            ("aria-label", f"Checkpoint {about.name}"),
            ("aria-valuenow", f"{about.at_s:.0f}"),
            ("aria-valuetext", about.says),
            ("title", about.says),
        ):
            attribute(flag, key, value)
        name.text = about.name

    return flag, fill
