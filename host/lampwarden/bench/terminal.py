"""The person at the terminal."""

import queue
import sys
import threading
from typing import TextIO

import typer

from .dialogue import Question


class Terminal:
    """Asks on the screen and reads lines in a thread of its own, so that the board is never kept waiting."""

    def __init__(self, source: TextIO = sys.stdin) -> None:
        self._lines: queue.Queue[str | None] = queue.Queue()
        self._question = Question("")
        self._waiting = False
        """The cursor stands behind a question."""
        threading.Thread(target=self._read, args=(source,), name="terminal", daemon=True).start()

    def _read(self, source: TextIO) -> None:
        for line in source:
            self._lines.put(line.strip())
        self._lines.put(None)

    def tell(self, text: str) -> None:
        self._end_line()
        typer.echo(text)

    def _end_line(self) -> None:
        if self._waiting:
            typer.echo()
            self._waiting = False

    def ask(self, question: Question) -> None:
        while not self._lines.empty():  # what was typed before the question answers nothing
            if self._lines.get_nowait() is None:
                self._lines.put(None)
                break
        self._end_line()
        self._question, self._waiting = question, True
        choices = "  ".join(f"[{key}] {label}" for key, label in question.choices)
        typer.echo(f"   {question.text}")
        typer.echo(f"   {choices} > " if choices else "   > ", nl=False)

    def answer(self) -> str | None:
        """The answer; a line that is none of the choices is asked for again. Raises KeyboardInterrupt at its end."""
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        if line is None:
            raise KeyboardInterrupt
        keys = [key for key, _ in self._question.choices]
        if not keys or line.lower() in keys:
            self._waiting = False
            return line if not keys else line.lower()
        typer.echo(
            f"   Please type {', '.join(keys[:-1])} or {keys[-1]} > " if keys[1:] else f"   Type {keys[0]} > ", nl=False
        )
        return None
