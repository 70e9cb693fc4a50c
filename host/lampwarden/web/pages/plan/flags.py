"""The checkpoints as a list, with the same numbers as their flags."""

from ....errors import ProgramError
from ....planning import edit
from ...plan_view import entry as given
from ...plan_view.timetable import Flag
from ..elements import Text, Tick, attribute, box, button
from .bench import Bench
from .entry import Entry

STEP_S = 3600.0
"""A checkpoint that is added comes so long after the last, s."""


class FlagsPart:
    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._stops: list[_Stop] = []
        with box("section", "part plan-checkpoints", aria_label="Checkpoints"):
            with box("h2"):
                Text("span", "Checkpoints")
                Text("small", "pauses in the dark, to look and to photograph")
            self._list = box("div", "plan-stops")
            self._wrong = Text("p", "", "answer-said", role="alert")
            with box("div", "actions"):
                button("Add a checkpoint", "quiet", self._add)

    def show(self, flags: tuple[Flag, ...], *, fresh: bool = False) -> None:
        while len(self._stops) > len(flags):
            self._stops.pop().element.delete()
        with self._list:
            while len(self._stops) < len(flags):
                self._stops.append(_Stop(self, self._bench))
        for stop, flag in zip(self._stops, flags, strict=True):
            if fresh:
                stop.reset()
            stop.show(flag)

    def tried(self, says: str, **changes: object) -> None:
        """Changes one checkpoint, or says why not: `name` is which."""
        name = str(changes.pop("which"))
        try:
            self._bench.edit(says, lambda p, _: edit.change_checkpoint(p, name, **changes))
        except ProgramError as error:
            self._wrong.text = str(error)
        else:
            self._wrong.text = ""

    def remove(self, name: str) -> None:
        self._bench.edit(f"the removal of checkpoint {name}", lambda p, _: edit.remove_checkpoint(p, name))

    def _add(self) -> None:
        last_s = max((c.at_s for c in self._bench.program.checkpoints), default=-STEP_S)
        try:
            self._bench.edit("a checkpoint more", lambda p, _: edit.add_checkpoint(p, last_s + STEP_S))
        except ProgramError as error:
            self._wrong.text = str(error)


class _Stop:
    """One checkpoint."""

    def __init__(self, part: FlagsPart, bench: Bench) -> None:
        self._part, self._bench = part, bench
        self._flag: Flag | None = None
        with box("div", "plan-stop", role="group") as self.element:
            self._name = Entry("", "", self._take_name, size="10", maxlength="40")
            self._at = Entry("", "h", self._take_at, before="at", size="6")
            self._clock = Text("span", "", "plan-clock")
            self._attended = Tick("needs me", True, self._take_attended)
            with box("div", "plan-look"):
                self._look = Entry("", "", self._take_look, maxlength="500")
            button("Remove", "quiet", self._remove)

    def show(self, flag: Flag) -> None:
        if self._flag is None or flag.attended != self._flag.attended:
            self._attended.set(flag.attended)
        self._flag = flag
        attribute(self.element, "aria-label", f"Checkpoint {flag.name}")
        self._name.show(flag.name, f"Name of checkpoint {flag.name}")
        self._at.show(flag.at, f"Checkpoint {flag.name}: session time")
        self._look.show(flag.look_at, f"Checkpoint {flag.name}: what to look at")
        self._clock.text = f"{'asleep, ' if flag.asleep else 'about '}{flag.clock}"
        attribute(self._clock, "data-asleep", "yes" if flag.asleep else None)

    def reset(self) -> None:
        for field in (self._name, self._at, self._look):
            field.reset()

    def _take_name(self, text: str, done: bool) -> None:
        if done:
            self._edit("name", done, name=text.strip())

    def _take_at(self, text: str, done: bool) -> None:
        self._edit("time", done, at_s=given.time_s(text))

    def _take_look(self, text: str, done: bool) -> None:
        if done:
            self._edit("words", done, look_at=text.strip())

    def _take_attended(self, value: bool) -> None:
        if self._flag:
            self._part.tried(f"who minds checkpoint {self._flag.name}", which=self._flag.name, attended=value)

    def _remove(self) -> None:
        if self._flag:
            self._part.remove(self._flag.name)

    def _edit(self, what: str, done: bool, **changes: object) -> None:
        if self._flag is None:
            return
        name = self._flag.name
        self._bench.edit(
            f"the {what} of checkpoint {name}",
            lambda p, _: edit.change_checkpoint(p, name, **changes),
            f"checkpoint {what} {name}",
            done=done,
        )
