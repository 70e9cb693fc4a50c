"""Before and after, laid on each other under a slider; and all photos with what came of each."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ...results_view.moments import Moment, Shown
from ..elements import Rows, Select, Text, attribute, box, sentence, shown


class PairPart:
    """Two pictures of the mask; what was chosen is called `after` here and may be earlier too."""

    def __init__(self, chamber_id: str, chosen: Callable[[str, str], None]) -> None:
        """`chosen` is called with the ids of both readings."""
        self._chamber_id, self._chosen = chamber_id, chosen
        self._before = self._after = ""
        with box("section", "part rs-pair-part", aria_label="Before and after"):
            Text("h2", "Before and after")
            with box("div", "rs-choose"):
                with box("label", "field"):
                    Text("span", "Left of the line")
                    self._one = Select({"": ""}, "", lambda value: chosen(value, self._after))
                with box("label", "field"):
                    Text("span", "Right of the line")
                    self._two = Select({"": ""}, "", lambda value: chosen(self._before, value))
            self._none = Text("p", "", "empty")
            with box("figure", "rs-pair") as self._figure:
                with box("div", "rs-frame"):
                    self._left = box("img", "rs-left", alt="")
                    self._right = box("img", "rs-right", alt="")
                    box("i", "rs-line", aria_hidden="true")
                    with box("div", "rs-tags", aria_hidden="true"):
                        self._left_tag, self._right_tag = Text("span"), Text("span")
                    self._slide = box("input", "rs-slide", type="range", min="0", max="100", step="1")
                    self._slide.props["^value"] = "50"
                Text(
                    "figcaption",
                    "Drag the line, or focus the picture and use the arrow keys. Both are straightened and in the"
                    " colours that were read, so a different light or camera does not show; what differs is the sheet.",
                    "hint",
                )

    def show(self, moments: Sequence[Moment], before: str, after: str) -> None:
        self._before, self._after = before, after
        options = {moment.reading: moment.label for moment in moments}
        self._one.show(options or {"": "none"}, before)
        self._two.show(options or {"": "none"}, after)
        by_id = {moment.reading: moment for moment in moments}
        left, right = by_id.get(before), by_id.get(after)
        pair = left is not None and right is not None and left.flat and right.flat
        shown(self._figure, bool(pair))
        self._none.text = "" if pair else _why(moments, left, right)
        if left is None or right is None or not pair:
            return
        for image, tag, moment in ((self._left, self._left_tag, left), (self._right, self._right_tag, right)):
            attribute(image, "src", f"/api/chambers/{self._chamber_id}/photos/{moment.flat}")
            attribute(image, "alt", f"The sheet under its mask, {moment.label}")
            tag.text = moment.label
        attribute(self._slide, "aria-label", f"Where the picture changes from {left.label} to {right.label}")
        attribute(self._slide, "data-left", left.label)
        attribute(self._slide, "data-right", right.label)


def _why(moments: Sequence[Moment], left: Moment | None, right: Moment | None) -> str:
    if not moments:
        return "No photo could be read yet. At a checkpoint the page Now takes photos in."
    if left is None or right is None:
        return "Choose two readings."
    none = " and ".join(f"“{moment.label}”" for moment in (left, right) if not moment.flat)
    return f"There is no picture of {none}."


class GalleryPart:
    def __init__(self, chamber_id: str) -> None:
        self._chamber_id = chamber_id
        with box("section", "part rs-all", aria_label="All photos and readings"):
            with box("h2"):
                Text("span", "All photos and readings")
                self._count = Text("small")
            self._empty = Text("p", "None yet. At a checkpoint the page Now takes photos in.", "empty")
            self._rows: Rows[Shown] = Rows(box("ul", "rs-gallery"), self._row)

    def show(self, shows: Sequence[Shown]) -> None:
        self._count.text = "the newest first"
        shown(self._empty, not shows)
        self._rows.show(shows)

    def _row(self) -> tuple[ui.element, Callable[[Shown], None]]:
        with box("li") as row:
            pictures: Rows[tuple[str, str]] = Rows(box("div", "rs-thumbs"), self._photo)
            with box("div"):
                title, about, found = Text("h3"), Text("p", "", "rs-about"), Text("p")
                why = Text("p", "", "rs-why")
                notes: Rows[str] = Rows(box("ul", "rs-notes"), sentence)

        def fill(one: Shown) -> None:
            title.text, about.text, found.text = one.title, one.about, one.found
            why.text = f"Refused. {one.why}" if one.state == "refused" else one.why
            attribute(row, "data-state", one.state or None)
            notes.show(one.notes)
            pictures.show(one.photos)

        return row, fill

    def _photo(self) -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
        with box("a", "rs-thumb", target="_blank") as link:
            image = box("img", loading="lazy", alt="The photo with the places that were read drawn on it")
            word = Text("span")

        def fill(photo: tuple[str, str]) -> None:
            original, drawn = (f"/api/chambers/{self._chamber_id}/photos/{name}" for name in photo)
            shown(image, bool(photo[1]))
            attribute(image, "src", drawn if photo[1] else None)
            attribute(link, "href", original)
            word.text = "As it came, full size"

        return link, fill
