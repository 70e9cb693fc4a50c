"""The person at one browser: what they prefer, and how their orders are carried out."""

from collections.abc import Callable, Mapping
from urllib.parse import unquote
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ...errors import LampwardenError
from ..auth.people import Role
from ..wording import Taste
from .elements import May

SOMEBODY = "a person at the page"
NAME_MAX = 60


class Reader:
    """Preferences of one page, kept in the browser's cookies, and what its person may do.

    `role`: None if nobody has to sign in. Those who only watch are refused by the service their pages are given, but
    for answering `checkpoint`, if they came by a link to one.
    """

    def __init__(self, cookies: Mapping[str, str], role: Role | None = None, checkpoint: str = "") -> None:
        self.role, self.checkpoint = role, checkpoint
        self._kept = {
            key: unquote(cookies.get(f"lampwarden_{key}", ""))
            for key in ("scale", "hours", "zone", "name", "theme", "steps", "sound", "notifications", "afar")
        }
        self.taste = self._taste()

    def __getitem__(self, key: str) -> str:
        return self._kept[key]

    @property
    def may(self) -> May:
        """What they may do; their page turns the rest off, and the service refuses it."""
        if self.role is not Role.WATCH:
            return May.OPERATE
        return May.ANSWER if self.checkpoint else May.LOOK

    @property
    def name(self) -> str:
        """Who stands in the journal."""
        return self._kept["name"][:NAME_MAX].strip() or SOMEBODY

    def choose(self, key: str, value: str) -> None:
        """Keeps a preference in the browser, and from now on here."""
        self._kept[key] = value
        self.taste = self._taste()
        ui.run_javascript(f"lampwarden.choose({key!r}, {_quoted(value)})")

    def note_zone(self, zone: str) -> None:
        """The browser's time zone, as it says itself."""
        self._kept["zone"] = zone
        self.taste = self._taste()

    def _taste(self) -> Taste:
        scale = "F" if self._kept["scale"] == "F" else "C"
        hours = 12 if self._kept["hours"] == "12" else 24
        try:
            return Taste(scale, hours, ZoneInfo(self._kept["zone"] or "UTC"))
        except (ZoneInfoNotFoundError, ValueError, OSError):
            return Taste(scale, hours)


async def ordered(order: Callable[..., object], *arguments: object) -> str:
    """Carries out an order of the service in a worker thread. Returns why it was refused; empty if it was done."""
    try:
        await run_in_threadpool(order, *arguments)
    except LampwardenError as error:
        text = str(error)
        return f"Not done. {text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
    return ""


def _quoted(text: str) -> str:
    """A JavaScript string of any text."""
    return "decodeURIComponent('" + "".join(f"%{byte:02X}" for byte in text.encode()) + "')"
