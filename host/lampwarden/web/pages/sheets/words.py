"""Sentences in a list."""

from collections.abc import Callable

from nicegui import ui

from ...sheets_view import Said
from ..elements import Text, box


def sentence() -> tuple[ui.element, Callable[[str], None]]:
    """A sentence to mind."""
    row = Text("li")

    def fill(text: str) -> None:
        row.text = text

    return row, fill


def sourced() -> tuple[ui.element, Callable[[Said], None]]:
    """A sentence, and where it is from."""
    with box("li") as row:
        text, source = Text("span"), Text("small")

    def fill(said: Said) -> None:
        text.text, source.text = said.text, said.source

    return row, fill
