"""The page Now in large letters, to be read from across the room. afar.js shows and leaves it at once."""

from collections.abc import Callable

from nicegui import ui

from ..views import Moment, Now
from .elements import Rows, Text, attribute, box
from .reader import Reader


def afar_button(use: Callable[[], None]) -> None:
    """The way in."""
    with box("p", "afar-way"):
        Text("button", "Large letters", "button quiet", type="button", data_afar="yes").on("click", use)
        Text("small", "To read from across the room.", "hint")


class AfarPart:
    """State, what comes next and warnings, and nothing else but the stop. Empty while nobody looks at it."""

    def __init__(self, title: str, reader: Reader) -> None:
        self._title, self._in_use = title, reader["afar"] == "yes"
        self._newest: Now | None = None
        with box("section", "afar", aria_label="Large letters"):
            with box("div", "afar-top"):
                back = Text("button", "Back to the page", "button", type="button", data_afar="no")
                back.on("click", lambda: self.use(in_use=False))
                self._where = Text("span", "", "afar-where")
            self._now = box("div", "now afar-now")
            with self._now:
                box("span", "glyph", aria_hidden="true")
                with box("div"):
                    self._headline = Text("div", "", "afar-headline", role="heading", aria_level="1")
                    self._sentence = Text("p", "", "afar-sentence")
            self._warnings: Rows[str] = Rows(box("div", "afar-warnings"), _warning)
            self._moments: Rows[Moment] = Rows(box("dl", "afar-moments"), _moment)
            with box("p", "afar-foot"):
                self._seen = Text("span")
                Text("span", "The screen stays on.", "afar-awake")
                Text("span", "This browser does not keep the screen on: set that on the device.", "afar-asleep")

    def use(self, *, in_use: bool = True) -> None:
        """Somebody begins or ends looking at it."""
        self._in_use = in_use
        if self._newest is not None:
            self.show(self._newest)

    def show(self, now: Now) -> None:
        self._newest = now
        if not self._in_use:
            return
        attribute(self._now, "data-tone", now.state.tone)
        self._headline.text = now.state.headline
        waits = now.prompt is not None and now.state.tone == "ask"
        self._sentence.text = now.prompt.waiting if waits and now.prompt else now.state.sentence
        self._warnings.show(now.warnings)
        self._moments.show(now.moments)
        self._where.text, self._seen.text = self._title, now.updated


def _moment() -> tuple[ui.element, Callable[[Moment], None]]:
    with box("div") as row:
        label, left, at = Text("dt"), Text("dd", "", "afar-left"), Text("dd", "", "afar-at")

    def fill(moment: Moment) -> None:
        label.text, left.text, at.text = moment.label, moment.left, moment.at

    return row, fill


def _warning() -> tuple[ui.element, Callable[[str], None]]:
    row = Text("p", "", "warning")

    def fill(text: str) -> None:
        row.text = text

    return row, fill
