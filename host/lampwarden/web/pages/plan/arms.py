"""Which cells are meant to differ, and which repeat each other."""

from ....errors import ProgramError
from ...plan_view.arms import CellArm, cell_arms
from ..elements import Text, attribute, box, shown
from .bench import Bench
from .entry import Entry


class ArmsPart:
    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._cells: list[_Cell] = []
        with box("section", "part plan-compared", aria_label="What is compared") as self._holder, box("details"):
            Text("summary", "What is compared")
            Text(
                "p",
                "Cells with one name repeat each other; cells with different names are meant to differ, and a plan that"
                " gives them the same is refused. Left empty, a cell goes by its treatment and its zone's dose.",
                "hint",
            )
            self._list = box("div", "plan-stops")
            self._names = box("datalist", id="plan-arm-names")

    def show(self, *, fresh: bool = False) -> None:
        bench = self._bench
        cells = cell_arms(bench.plan, bench.sheet, bench.chamber)
        shown(self._holder, bool(cells))
        while len(self._cells) > len(cells):
            self._cells.pop().element.delete()
        with self._list:
            while len(self._cells) < len(cells):
                self._cells.append(_Cell(bench))
        for row, cell in zip(self._cells, cells, strict=True):
            if fresh:
                row.reset()
            row.show(cell)
        names = sorted(set(bench.plan.arms.values()))
        if [option.props.get("value") for option in self._names.default_slot.children] != names:
            self._names.clear()
            with self._names:
                for name in names:
                    box("option", value=name)


class _Cell:
    """One cell."""

    def __init__(self, bench: Bench) -> None:
        self._bench, self._cell = bench, ""
        with box("div", "plan-stop", role="group") as self.element:
            self._name = Text("b")
            self._about = Text("span", "", "plan-clock")
            self._arm = Entry("", "", self._take, maxlength="40", size="20", list="plan-arm-names")
            self._itself = Text("span", "", "hint")

    def show(self, cell: CellArm) -> None:
        self._cell, self._name.text, self._about.text = cell.cell, cell.cell, cell.about
        attribute(self.element, "aria-label", f"Cell {cell.cell}")
        self._arm.show(cell.given, f"Cell {cell.cell}: what it stands for")
        self._itself.text = "" if cell.given else f"by itself: {cell.itself or 'not compared'}"

    def reset(self) -> None:
        self._arm.reset()

    def _take(self, text: str, done: bool) -> None:
        if not done:
            return
        name = text.strip()
        if len(name) > 40:
            raise ProgramError("A name has up to 40 letters.")
        arms = {cell: arm for cell, arm in self._bench.plan.arms.items() if cell != self._cell}
        if name:
            arms[self._cell] = name
        self._bench.change(f"the name of cell {self._cell}’s treatment", arms=arms)
