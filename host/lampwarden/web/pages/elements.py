"""Plain HTML elements that send only what changed."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from enum import Enum, unique
from typing import Generic, TypeVar

from nicegui import app, ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

T = TypeVar("T")


class Text(TextElement):
    """An HTML element with text in it."""

    def __init__(self, tag: str, text: str = "", classes: str = "", **attributes: str) -> None:
        super().__init__(tag=tag, text=text)
        self.classes(classes)
        for name, value in attributes.items():
            self.props[name.replace("_", "-")] = value


def box(tag: str, classes: str = "", **attributes: str) -> ui.element:
    """An HTML element that holds others. An underscore in an attribute's name stands for a hyphen."""
    element = ui.element(tag).classes(classes)
    for name, value in attributes.items():
        element.props[name.replace("_", "-")] = value
    return element


def attribute(element: ui.element, name: str, value: object) -> None:
    """Sets an attribute, if it changed; None removes it. What gives orders to nobody's avail stays disabled."""
    if name == "disabled" and OFF in element.props:
        return
    if value is None:
        if name in element.props:
            del element.props[name]
    elif element.props.get(name) != value:
        element.props[name] = value


def style(element: ui.element, name: str, value: str) -> None:
    """Sets one style, if it changed."""
    if element.style.get(name) != value:
        element.style[name] = value


def shown(element: ui.element, visible: bool) -> None:
    """Shows or hides."""
    attribute(element, "hidden", None if visible else True)


def button(text: str, classes: str, action: Callable[[], object]) -> Text:
    """A button that calls `action`."""
    made = Text("button", text, f"button {classes}", type="button")
    made.on("click", action)
    return made


MAY = "may"
"""Key in a page's own storage: what its person may do, see `may`."""
OFF = "data-off"
WATCHING_ID = "watching-only"
"""Id of the line that says why orders are off."""


@unique
class May(Enum):
    """What the person at a page may do. The service behind the page refuses the rest, whatever a page shows."""

    OPERATE = "operate"
    ANSWER = "answer"
    """Look, and answer the checkpoint that a message called to."""
    LOOK = "look"


def gives_orders(element: ui.element, *, answers: bool = False) -> None:
    """Turns off what gives orders on the page of somebody who may give none. `answers`: it answers a checkpoint."""
    may = app.storage.client.get(MAY, May.OPERATE)
    if may is May.LOOK or (may is May.ANSWER and not answers):
        attribute(element, "disabled", True)
        attribute(element, "title", "You are only watching")
        attribute(element, "aria-describedby", WATCHING_ID)
        attribute(element, OFF, "yes")


def order_button(text: str, classes: str, action: Callable[[], object], *, answers: bool = False) -> Text:
    """A button that gives an order, or leads to one; see `gives_orders`."""
    made = button(text, classes, action)
    gives_orders(made, answers=answers)
    return made


@contextmanager
def paper(label: str, classes: str = "", *, alert: bool = False) -> Iterator[ui.dialog]:
    """A dialog, filled in the `with` block; `label` names it to those who listen. `alert`: it asks for an answer."""
    with ui.dialog() as dialog, box("div", f"paper {classes}"):
        dialog.props["aria-label"] = label
        if alert:
            dialog.props["role"] = "alertdialog"
        yield dialog


class Field:
    """A text or number field. What a person types stays, whatever else on the page is brought up to date.

    `changed` is called with the text when the field is left, or with each letter if `at_once`. `kind` is the type of an
    HTML input, or "textarea".
    """

    def __init__(
        self, kind: str, value: str, changed: Callable[[str], object], *, at_once: bool = False, **attributes: str
    ) -> None:
        # As an attribute, or as text within: the value as a property would be put back at each re-rendering, over what
        # was typed.
        self.element: ui.element
        if kind == "textarea":
            self.element = Text("textarea", value, **attributes)
        else:
            self.element = box("input", type=kind, **attributes)
            self.element.props["^value"] = value
        self.element.on(
            "input" if at_once else "change",
            lambda event: changed(str(event.args)),
            js_handler="(e) => emit(e.target.value)",
            throttle=0.2 if at_once else 0.0,
        )

    def set(self, value: str) -> None:
        """Puts a text into the field, over what stands there."""
        if isinstance(self.element, Text):
            self.element.text = value
        else:
            self.element.props["^value"] = value
        ui.run_javascript(f"{{const e = getHtmlElement({self.element.id}); if (e) e.value = {json.dumps(value)}}}")


class Select:
    """A choice among a few named values. `changed` is called with the value."""

    def __init__(
        self, options: Mapping[str, str], value: str, changed: Callable[[str], object], **attributes: str
    ) -> None:
        self._changed, self._value = changed, value
        self.element = box("select", **attributes)
        self._options: Rows[tuple[str, str]] = Rows(self.element, self._option)
        self.element.on("change", self._chosen, js_handler="(e) => emit(e.target.value)")
        self.show(options, value)

    def show(self, options: Mapping[str, str], value: str) -> None:
        """Offers these values (value: what people read), with one chosen."""
        self._value = value
        self._options.show(list(options.items()))
        # The list itself too: once a person has chosen, browsers no longer look at an option's `selected`.
        ui.run_javascript(f"{{const e = getHtmlElement({self.element.id}); if (e) e.value = {json.dumps(value)}}}")

    def _option(self) -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
        option = Text("option")

        def fill(item: tuple[str, str]) -> None:
            attribute(option, "value", item[0])
            attribute(option, "selected", True if item[0] == self._value else None)
            option.text = item[1]

        return option, fill

    def _chosen(self, event: GenericEventArguments) -> object:
        self._value = str(event.args)
        return self._changed(self._value)  # a coroutine is awaited by the framework


class Tick:
    """A box to tick, with its words. `changed` is called with True or False."""

    def __init__(self, words: str, value: bool, changed: Callable[[bool], object], **attributes: str) -> None:
        with box("label", "tick") as self.element:
            self._box = box("input", type="checkbox", **attributes)
            self._words = Text("span", words)
        if value:
            self._box.props["^checked"] = True
        self._box.on("change", lambda event: changed(bool(event.args)), js_handler="(e) => emit(e.target.checked)")

    def set(self, value: bool) -> None:
        """Ticks it or not."""
        attribute(self._box, "^checked", True if value else None)
        ui.run_javascript(f"{{const e = getHtmlElement({self._box.id}); if (e) e.checked = {json.dumps(value)}}}")

    def say(self, words: str) -> None:
        """Gives it other words."""
        self._words.text = words


class Wrong(Text):
    """Room for what is wrong with what was entered."""

    def __init__(self, tag: str) -> None:
        super().__init__(tag, "", "entry-wrong", role="alert")

    def say(self, text: str) -> None:
        """Empty: nothing is wrong, and no room is taken."""
        self.text = text
        attribute(self, "data-mended", None)

    def mended(self) -> None:
        """What was wrong is no longer said. Its room stays until the next `say`, for a button that moves up as one
        reaches for it loses the click."""
        attribute(self, "data-mended", "yes")


class Labelled:
    """A label over what is entered in the `with` block, a hint below it, and room for what is wrong with it."""

    def __init__(self, label: str, hint: str = "", unit: str = "") -> None:
        self.element = box("label", "field")
        with self.element:
            with box("span"):
                Text("span", label)
                if unit:
                    Text("small", f" {unit}")
            self._inside = box("div", "entry")
            if hint:
                Text("small", hint, "hint")
            self._wrong = Wrong("span")

    def __enter__(self) -> "Labelled":
        self._inside.__enter__()
        return self

    def __exit__(self, *error: object) -> None:
        self._inside.__exit__(*error)

    def wrong(self, text: str) -> None:
        """Says beside the field what is wrong with it; empty: nothing."""
        self._wrong.say(text)
        attribute(self.element, "data-wrong", "yes" if text else None)

    def mended(self) -> None:
        """The field was changed: see `Wrong.mended`."""
        self._wrong.mended()
        attribute(self.element, "data-wrong", None)


class Rows(Generic[T]):
    """A list whose rows are kept and only given new contents. `make` builds one row and returns what fills it."""

    def __init__(self, holder: ui.element, make: Callable[[], tuple[ui.element, Callable[[T], None]]]) -> None:
        self._holder, self._make = holder, make
        self._rows: list[tuple[ui.element, Callable[[T], None]]] = []

    def show(self, items: Sequence[T]) -> None:
        while len(self._rows) > len(items):
            self._rows.pop()[0].delete()
        with self._holder:
            while len(self._rows) < len(items):
                self._rows.append(self._make())
        for (_, fill), item in zip(self._rows, items, strict=True):
            fill(item)


def sentence() -> tuple[ui.element, Callable[[str], None]]:
    """A row for `Rows`: a list's item with one sentence."""
    row = Text("li")

    def fill(text: str) -> None:
        row.text = text

    return row, fill


def pair() -> tuple[ui.element, Callable[[tuple[str, str]], None]]:
    """A row for `Rows`: what something is called, and its value; in a list of such (dl)."""
    with box("div", "pair") as row:
        name, value = Text("dt"), Text("dd")

    def fill(texts: tuple[str, str]) -> None:
        name.text, value.text = texts

    return row, fill
