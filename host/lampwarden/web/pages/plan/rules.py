"""Limits, what to do without a person, and when that person sleeps. Folded away: the defaults are good."""

from collections.abc import Callable
from datetime import time
from typing import Any

from ....domain.plan import Plan
from ....errors import ProgramError
from ....planning import edit
from ...plan_view import entry as given
from ...wording import Taste
from ..elements import Field, Labelled, Select, Text, box
from ..reader import Reader
from .bench import Bench, altered
from .entry import Entry

DEGREES = "°"
"""Unit of temperatures, in the reader's scale."""


class RulesPart:
    def __init__(self, bench: Bench, reader: Reader) -> None:
        self._bench, self._reader = bench, reader
        self._entries: list[tuple[Entry, str, Callable[[Plan], str]]] = []
        self._selects: list[tuple[Select, dict[str, str], Callable[[Plan], str]]] = []
        self._times: list[tuple[Field, Callable[[Plan], str]]] = []
        self._seen: dict[int, str] = {}
        with box("section", "part plan-rules", aria_label="Limits, rules and sleep"), box("details"):
            Text("summary", "Limits, rules, sleeping hours")
            Text("p", "Good as they are for a first trial. Each says what happens when nobody is there.", "hint")
            with box("div", "plan-inside"):
                Text("h3", "Warmth")
                with box("div", "plan-two"):
                    for name, label, hint in (
                        ("air_soft_c", "Pause to cool at, air", "Lamps go dark until the air is cooler again."),
                        ("air_hard_c", "Cut off at, air", "The board ends the light by itself; the session is over."),
                        ("bank_soft_c", "Pause to cool at, LED plates", "The same for any lamp plate."),
                        ("bank_hard_c", "Cut off at, LED plates", "The same for any lamp plate."),
                        ("handling_c", "Call me below, air", "A checkpoint waits in the dark until it is so cool."),
                    ):
                        self._limit(name, label, hint)
                    self._limit("hysteresis_c", "Go on when cooler by", "Below the limit to pause.", step=True)
                    self._rule_number(
                        "coolings_per_hour_max", "Pauses to cool in an hour", "pauses", "More than that end it."
                    )
                Text("h3", "When nobody is there")
                with box("div", "plan-two"):
                    self._rule_choice(
                        "after_restart",
                        "After a power cut or a lost board",
                        {"ask": "wait for me in the dark", "continue": "go on if the gap was short"},
                        "What fell in the gap is counted either way.",
                    )
                    self._rule_time("gap_s_max", "A gap is short up to", "Longer ones wait for you.")
                    self._rule_choice(
                        "unanswered",
                        "When I do not answer a checkpoint",
                        {"wait": "stay dark and remind me", "continue": "go on after a while"},
                        "Going on loses that look.",
                    )
                    self._rule_time("answer_within_s", "That while is", "Counted from the call.")
                Text("h3", "You")
                with box("div", "plan-two"):
                    self._clock("sleep_from", "Asleep from", "Checkpoints in your sleep are marked.")
                    self._clock("sleep_to", "Awake again from", "The same time twice: always awake.")
                    self._number(
                        "A look takes me",
                        "At each checkpoint that needs you.",
                        "",
                        lambda plan: given.time_text(plan.photo_s),
                        lambda text: {"photo_s": given.time_s(text)},
                    )
                Text("h3", "The room")
                with box("div", "plan-two"):
                    self._number(
                        "Room temperature",
                        "For the forecast and the rehearsal.",
                        DEGREES,
                        lambda plan: given.temp_field(plan.program.rehearsal.ambient_c, self._taste),
                        lambda text: self._program(
                            rehearsal=altered(self._bench.program.rehearsal, ambient_c=given.temp_c(text, self._taste))
                        ),
                    )
                    self._number(
                        "White light for photos",
                        "Of the inspection bank, while a checkpoint waits; 0 leaves it dark.",
                        "%",
                        lambda plan: given.level_text(plan.program.inspection_level),
                        lambda text: self._program(inspection_level=given.within(text, "%", 0, 100) / 100),
                    )

    def show(self, *, fresh: bool = False) -> None:
        plan = self._bench.plan
        for field, unit, text in self._entries:
            if fresh:
                field.reset()
            field.show(text(plan), unit=f"°{self._taste.scale}" if unit == DEGREES else unit)
        for number, (select, options, value) in enumerate(self._selects):
            if self._seen.get(number) != value(plan):
                self._seen[number] = value(plan)
                select.show(options, value(plan))
        for number, (clock, value) in enumerate(self._times):
            if self._seen.get(100 + number) != value(plan):
                self._seen[100 + number] = value(plan)
                clock.set(value(plan))

    @property
    def _taste(self) -> Taste:
        return self._reader.taste

    # --- kinds of fields ----------------------------------------------------------------------------------------------

    def _number(
        self,
        label: str,
        hint: str,
        unit: str,
        text: Callable[[Plan], str],
        fields: Callable[[str], dict[str, Any]],
    ) -> None:
        def take(typed: str, done: bool) -> None:
            self._bench.change(f"the change of “{label}”", label, done=done, **fields(typed))

        with Labelled(label, hint):
            field = Entry(label, unit, take)
        self._entries.append((field, unit, text))

    def _limit(self, name: str, label: str, hint: str, *, step: bool = False) -> None:
        read, write = (given.step_c, given.step_field) if step else (given.temp_c, given.temp_field)
        self._number(
            label,
            hint,
            DEGREES,
            lambda plan: write(getattr(plan.program.limits, name), self._taste),
            lambda text: self._program(limits=altered(self._bench.program.limits, **{name: read(text, self._taste)})),
        )

    def _rule(self, **changes: Any) -> dict[str, Any]:
        return self._program(rules=altered(self._bench.program.rules, **changes))

    def _rule_number(self, name: str, label: str, unit: str, hint: str) -> None:
        self._number(
            label,
            hint,
            unit,
            lambda plan: f"{getattr(plan.program.rules, name)}",
            lambda text: self._rule(**{name: given.whole(text, unit)}),
        )

    def _rule_time(self, name: str, label: str, hint: str) -> None:
        self._number(
            label,
            hint,
            "",
            lambda plan: given.time_text(getattr(plan.program.rules, name)),
            lambda text: self._rule(**{name: given.time_s(text)}),
        )

    def _rule_choice(self, name: str, label: str, options: dict[str, str], hint: str) -> None:
        def take(value: str) -> None:
            self._bench.change(f"the change of “{label}”", **self._rule(**{name: value}))

        def value(plan: Plan) -> str:
            return str(getattr(plan.program.rules, name))

        with Labelled(label, hint):
            select = Select(options, value(self._bench.plan), take)
        self._seen[len(self._selects)] = value(self._bench.plan)
        self._selects.append((select, options, value))

    def _clock(self, name: str, label: str, hint: str) -> None:
        entry = Labelled(label, hint)

        def take(text: str) -> None:
            try:
                at: dict[str, Any] = {name: time.fromisoformat(text)}
                self._bench.change(f"the change of “{label}”", **at)
            except (ProgramError, ValueError):
                entry.wrong("Give a time of day, like 22:30.")
            else:
                entry.mended()

        def value(plan: Plan) -> str:
            return f"{getattr(plan, name):%H:%M}"

        with entry:
            field = Field("time", value(self._bench.plan), take)
        self._seen[100 + len(self._times)] = value(self._bench.plan)
        self._times.append((field, value))

    def _program(self, **fields: object) -> dict[str, Any]:
        return {"program": edit.changed(self._bench.program, **fields)}
