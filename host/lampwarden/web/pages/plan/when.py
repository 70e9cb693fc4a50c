"""When it is to start: now, or at a date and time."""

from collections.abc import Callable
from datetime import datetime

from ..elements import Field, Text, attribute, box, shown
from ..reader import Reader
from .bench import Bench


class WhenPart:
    def __init__(self, bench: Bench, reader: Reader, now: Callable[[], datetime]) -> None:
        self._bench, self._reader, self._now = bench, reader, now
        self._seen = ""
        with box("div", "plan-line", role="group", aria_label="When it starts"):
            Text("span", "Starts")
            with box("div", "choice"):
                self._at_once = Text("button", "now", type="button")
                self._later = Text("button", "later", type="button")
            self._at = Field("datetime-local", "", self._take, aria_label="Date and time of the start")
            self._wrong = Text("span", "", "entry-wrong", role="alert")
        self._at_once.on("click", lambda: self._set(None))
        self._later.on("click", lambda: self._set(self._suggested()))

    def show(self) -> None:
        at = self._bench.start_at
        attribute(self._at_once, "aria-pressed", "true" if at is None else "false")
        attribute(self._later, "aria-pressed", "false" if at is None else "true")
        shown(self._at.element, at is not None)
        text = f"{at.astimezone(self._reader.taste.zone):%Y-%m-%dT%H:%M}" if at else ""
        if text != self._seen:
            self._seen = text
            self._at.set(text)

    def _suggested(self) -> datetime:
        """The next full hour."""
        now = self._now().astimezone(self._reader.taste.zone)
        return datetime.fromtimestamp((now.timestamp() // 3600 + 1) * 3600, now.tzinfo)

    def _set(self, at: datetime | None) -> None:
        self._bench.start_at, self._wrong.text = at, ""
        self._bench.touch()

    def _take(self, text: str) -> None:
        self._seen = text
        try:
            at = datetime.fromisoformat(text).replace(tzinfo=self._reader.taste.zone)
        except ValueError:
            self._wrong.text = "Give date and time."
            return
        if at <= self._now():
            self._wrong.text = "That is over. Choose a time to come, or now."
            return
        self._set(at)
