"""The state in one glance: headline, sentence, what comes next."""

from collections.abc import Callable

from nicegui import ui

from ..views import Moment, Now
from .elements import Rows, Text, attribute, box, shown, style


class StatePart:
    """Headline and sentence; the actions are placed below by the page."""

    def __init__(self) -> None:
        self._now = box("div", "now")
        with self._now:
            box("span", "glyph", aria_hidden="true")
            with box("div"):
                # Changes of the state are read out; the countdowns beside it are not.
                with box("div", aria_live="polite"):
                    self._headline = Text("h1")
                    self._sentence = Text("p", "", "sentence")
                self._program = Text("p", "", "program")
            self.below = box("div", "below")

    def show(self, now: Now) -> None:
        attribute(self._now, "data-tone", now.state.tone)
        self._headline.text = now.state.headline
        self._sentence.text = now.state.sentence
        self._program.text = " · ".join(filter(None, (now.program, now.began)))
        shown(self._program, bool(now.program))


class MomentsPart:
    """How far the session is, when it pauses and when it ends."""

    def __init__(self) -> None:
        self._holder = box("section", "coming", aria_label="What comes next")
        with self._holder:
            self._whole = box("div", "whole", role="progressbar", aria_label="Part of the session that is over")
            with self._whole:
                self._done = box("i")
            self._moments: Rows[Moment] = Rows(box("dl", "moments"), _moment)

    def show(self, now: Now) -> None:
        shown(self._holder, now.share is not None)
        share = now.share or 0.0
        style(self._done, "--share", f"{share:.3f}")
        attribute(self._whole, "aria-valuenow", str(round(100 * share)))
        self._moments.show(now.moments)


def _moment() -> tuple[ui.element, Callable[[Moment], None]]:
    with box("div") as row:
        label, left, at = Text("dt"), Text("dd", "", "left"), Text("dd", "", "at")

    def fill(moment: Moment) -> None:
        label.text, left.text, at.text = moment.label, moment.left, moment.at

    return row, fill
