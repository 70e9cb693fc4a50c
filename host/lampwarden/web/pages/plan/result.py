"""What the plan comes to, brought up to date as one types."""

from collections.abc import Callable

from nicegui import ui

from ....planning import Review
from ....planning.edit import changed
from ...plan_view import entry as given
from ...plan_view.outcome import Group, Outcome, Pair, Remark, Saying, Suggestion, ZoneLine
from ..elements import Rows, Text, attribute, box, shown, style
from .bench import Bench
from .entry import Entry

COLUMNS = ("Zone", "Dose", "Strength", "Time lit")


class ResultPart:
    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._review: Review | None = None
        with box("section", "part plan-result", aria_label="What it comes to", id="plan-result"):
            with box("h2"):
                Text("span", "What it comes to")
                self._fresh = Text("small", "", aria_live="polite")
            with box("div", "plan-inside"):
                with box("div", "plan-stops-it", role="alert"):
                    self._refused = Text("p", "", "plan-refused")
                    self._stops: Rows[Remark] = Rows(box("div", "plan-remarks"), _remark)
                self._ends = Text("p", "", "plan-ends")
                self._facts: Rows[Pair] = Rows(box("dl", "plan-facts"), fact)
                with box("div", "plan-remark") as self._sleep:
                    self._sleep_says = Text("p")
                    self._suggestions: Rows[Suggestion] = Rows(
                        box("div", "actions", role="group", aria_label="Times that suit you better"), self._suggestion
                    )
                with box("table", "plan-table", aria_label="Light of each zone"):
                    with box("thead"), box("tr"):
                        for name in COLUMNS:
                            Text("th", name, scope="col")
                    self._zones: Rows[ZoneLine] = Rows(box("tbody"), _zone)
                with box("div", "plan-warmth") as self._warmth:
                    Text("h3", "Warmest air")
                    with box("p"):
                        self._peak = Text("span", "", "plan-peak")
                        self._between = Text("span", "", "hint")
                    with box("div", "plan-scale", aria_hidden="true") as self._scale:
                        box("i")
                        box("b")
                        box("u")
                    self._limits = Text("p", "", "hint")
                    self._verdict = Text("p")
                with box("div"):
                    Text("h3", "To mind")
                    self._remarks: Rows[Remark] = Rows(box("div", "plan-remarks"), _remark)
                    self._none = Text("p", "Nothing.", "hint")
                with box("details") as self._notes_holder:
                    self._notes_title = Text("summary", "Good to know")
                    self._notes: Rows[Remark] = Rows(box("div", "plan-remarks"), _remark)
                self._groups: Rows[Group] = Rows(box("div", "plan-groups"), self._group)
                with box("div", "plan-line") as self._stock:
                    Text("span", "Peroxide as bought")
                    self._pct = Entry("Strength of the peroxide as bought, %", "%", self._take_stock, size="4")
                    self._ml = Entry("Volume of each bath, mL", "mL", self._take_volume, before="each bath", size="4")

    def waiting(self) -> None:
        """Said while it is worked out anew."""
        self._fresh.text = "working it out…"

    def show(self, says: Outcome, review: Review) -> None:
        self._review = review
        self._fresh.text = ""
        self._refused.text = says.refused
        self._stops.show([one for one in says.remarks if one.tone == "stop"])
        self._ends.text = says.ends
        self._facts.show(says.facts)
        self._sleep_says.text = says.sleep
        self._suggestions.show(says.suggestions)
        shown(self._sleep, bool(says.sleep))
        self._zones.show(says.zones)
        warmth = says.warmth
        attribute(self._warmth, "data-over", "yes" if warmth.over else None)
        self._peak.text, self._between.text = f"{warmth.value} ", warmth.between
        self._limits.text, self._verdict.text = warmth.limits, warmth.verdict
        for name in ("low", "likely", "high", "soft"):
            style(self._scale, f"--{name}", f"{getattr(warmth, name):.3f}")
        minded = [one for one in says.remarks if one.tone != "stop"]
        self._remarks.show(minded)
        shown(self._none, not minded)
        shown(self._notes_holder, bool(says.notes))
        self._notes_title.text = f"Good to know ({len(says.notes)})"
        self._notes.show(says.notes)
        self._groups.show(says.groups)
        shown(self._stock, bool(review.peroxide.baths))
        self._pct.show(f"{self._bench.wish.stock_pct:g}")
        self._ml.show(f"{self._bench.wish.total_ml:g}")

    def fail(self, why: str) -> None:
        """It could not be worked out."""
        self._fresh.text = ""
        self._refused.text = why

    def _suggestion(self) -> tuple[ui.element, Callable[[Suggestion], None]]:
        key = {"now": ""}
        made = Text("button", "", "button quiet", type="button")

        def take() -> None:
            if self._review is None:
                return
            if key["now"] == "start":
                self._bench.start_at = self._review.proposal.start
                self._bench.touch()
            elif self._review.proposal.program is not None:
                moved = self._review.proposal.program.checkpoints
                self._bench.edit("the checkpoints moved to the day", lambda p, _: changed(p, checkpoints=moved))

        made.on("click", take)

        def fill(about: Suggestion) -> None:
            key["now"], made.text = about.key, about.button

        return made, fill

    def _group(self) -> tuple[ui.element, Callable[[Group], None]]:
        with box("details") as group:
            title = Text("summary")
            lines: Rows[Saying] = Rows(box("ul", "plan-sayings"), _saying)

        def fill(about: Group) -> None:
            strong = sum(line.strong for line in about.lines)
            title.text = f"{about.title} ({f'{strong} to confirm or mind of ' if strong else ''}{len(about.lines)})"
            lines.show(about.lines)

        return group, fill

    def _take_stock(self, text: str, done: bool) -> None:
        stock_pct = given.within(text, "%", 0.1, 50)
        self._bench.change("the strength of the peroxide", "stock", done=done, stock_pct=stock_pct)

    def _take_volume(self, text: str, done: bool) -> None:
        self._bench.bath_ml = given.within(text, "mL", 1, 100_000)
        self._bench.touch()


def _remark() -> tuple[ui.element, Callable[[Remark], None]]:
    with box("p", "plan-remark") as row:
        word, says, remedy = Text("b"), Text("span"), Text("span", "", "plan-remedy")

    def fill(about: Remark) -> None:
        attribute(row, "data-tone", about.tone)
        word.text, says.text, remedy.text = about.word, about.says, about.remedy
        shown(remedy, bool(about.remedy))

    return row, fill


def fact() -> tuple[ui.element, Callable[[Pair], None]]:
    with box("div") as row:
        label = Text("dt")
        with box("dd"):
            text, also = Text("span"), Text("small")

    def fill(about: Pair) -> None:
        label.text, text.text, also.text = about.label, about.text, about.also

    return row, fill


def _zone() -> tuple[ui.element, Callable[[ZoneLine], None]]:
    with box("tr") as row:
        name = Text("th", "", scope="row")
        cells = []
        for _ in range(3):
            with box("td"):
                cells.append((Text("span"), Text("small")))

    def fill(about: ZoneLine) -> None:
        name.text = about.zone
        attribute(row, "title", about.about)
        pairs = (
            (about.dose, about.dose_also),
            (about.strength, about.strength_also),
            (about.time, about.time_also),
        )
        for (text, also), (words, more) in zip(cells, pairs, strict=True):
            text.text, also.text = words, more

    return row, fill


def _saying() -> tuple[ui.element, Callable[[Saying], None]]:
    with box("li") as row:
        text, source = Text("span"), Text("small")

    def fill(about: Saying) -> None:
        text.text, source.text = about.text, about.source
        attribute(row, "data-strong", "yes" if about.strong else None)

    return row, fill
