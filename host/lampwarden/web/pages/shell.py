"""What surrounds every page: head, stop, banner of a lost connection, and the display settings."""

import json
from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from hashlib import sha256
from html import escape
from itertools import count
from pathlib import Path

from nicegui import app, ui

from ..alerts import alerts
from ..auth.people import Role
from ..states import state
from .calling import calling_fields
from .elements import MAY, WATCHING_ID, Field, May, Text, attribute, box, button, paper
from .reader import NAME_MAX, Reader
from .site import Site

ASSETS = Path(__file__).parents[1] / "assets"
MARK = sha256(b"".join(path.read_bytes() for path in sorted(ASSETS.iterdir()) if path.is_file())).hexdigest()[:12]
"""Changes with the assets, so that browsers may keep them."""

BEAT_S = 1.0
"""How often each page hears from the server, s; page.js gives it up after six of these."""

PAGES = (
    ("now", "Now"),
    ("plan", "Plan"),
    ("sheets", "Sheets"),
    ("results", "Results"),
    ("chamber", "Chamber"),
    ("journal", "Journal"),
    ("messages", "Messages"),
)
"""Pages that exist: path and name."""

_STYLES = "\n".join(
    f'<link rel="stylesheet" href="/assets/{file.name}?{MARK}">' for file in sorted(ASSETS.glob("*.css"))
)
_SCRIPTS = "\n".join(f'<script src="/assets/{file.name}?{MARK}"></script>' for file in sorted(ASSETS.glob("*.js")))
HEAD = f"""
{_STYLES}
{_SCRIPTS}
<link rel="manifest" href="/manifest.webmanifest">
<link rel="apple-touch-icon" href="/assets/icon-192.png">
<meta name="theme-color" content="#f5f0e6" media="(prefers-color-scheme: light)">
<meta name="theme-color" content="#14151a" media="(prefers-color-scheme: dark)">
"""

INSTALL = (
    "Over https, or on the computer itself, the browser's menu offers to install this page as an app, with a window of"
    " its own."
)

WATCHING_SAID = {
    May.LOOK: "You are only watching: buttons that give orders are off. To operate, sign out under Display and sign in"
    " with the password for operating.",
    May.ANSWER: "You came by a link: you may look, photograph and answer this one pause. Other orders are off.",
}

# Outside the live part of the page, so that they are there before and after any connection.
BODY = """
<div class="stopbar" role="region" aria-label="Stop">
  <p class="stopped" id="stopped" role="alert"></p>
  <div class="lost" role="alert">
    No connection: what you see is old. This page tries again by itself, and the lamps' safety does not depend on it.
    To stop now, press the stop button on the chamber.
  </div>
  <button class="stop" id="stop" type="button" data-chamber="{chamber}" data-name="{name}"
    ><span class="stop-words"><span data-words>Stop: all lamps dark</span>{which}</span></button>
</div>
<div class="calling-said" id="calling-said" role="status" hidden>
  <span></span><button class="button quiet" type="button">Let it sound</button>
</div>
"""

NOT_FOUND = f"""<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Not here</title>
<meta name="viewport" content="width=device-width, initial-scale=1">{HEAD}</head>
<body><main class="page"><div class="now" data-tone="idle"><span class="glyph"></span><div>
<h1>Nothing is here</h1><p class="sentence">This address is not one of the dashboard's.
<a href="/">Go to the chamber</a></p></div></div></main></body></html>"""


def frame(site: Site, reader: Reader, chamber_id: str, page: str, changed: Callable[[], None]) -> None:
    """Head, stop and banner of a page (its path in PAGES). `changed` is called with each new preference."""
    app.storage.client[MAY] = reader.may
    ui.add_head_html(HEAD)
    chambers = [snapshot.chamber for snapshot in site.service.chambers()]
    name = next(chamber.title for chamber in chambers if chamber.id == chamber_id)
    # With several chambers the stop says which one it stops.
    which = f"<small>{escape(name)}</small>" if len(chambers) > 1 else ""
    ui.add_body_html(BODY.format(chamber=escape(chamber_id, quote=True), name=escape(name, quote=True), which=which))
    layout, content = ui.context.client.layout, ui.context.client.content
    content.props["id"] = "content"
    with layout, box("header", "head") as head:
        Text("a", "To the content of this page", "skip", href="#content")
        with box("div", "whose"):
            Text("a", "Lampwarden", "mark", href="/")
            Text("span", f"{name}{_may(reader)}", "where")
        if len(PAGES) + len(chambers) > 2:
            with box("nav", aria_label="Pages and chambers"):
                for path, name in PAGES:
                    link = Text("a", name, href=f"/{path}/{chamber_id}")
                    attribute(link, "aria-current", "page" if path == page else None)
                for chamber in chambers:
                    if chamber.id != chamber_id:
                        Text("a", chamber.title, "other", href=f"/{page}/{chamber.id}")
        settings = _settings(reader, changed)
        button("Display", "quiet", settings.open)
        beat, number = box("i", hidden=""), count(1)

    def tell() -> None:
        """Tells the browser that the server is there, what stands now, and what to call out."""
        snapshot = site.service.snapshot(chamber_id)
        now = state(snapshot, reader.taste)
        found = [asdict(alert) for alert in alerts(site.service.chambers())]
        for name, value in (
            ("where", snapshot.chamber.title),
            ("headline", now.headline),
            ("sentence", now.sentence),
            ("alerts", json.dumps(found)),
            ("beat", str(next(number))),
        ):
            attribute(beat, f"data-{name}", value)

    said = (site.notice, WATCHING_SAID.get(reader.may, ""))
    if any(said):
        with box("div", "news"):
            for text, about in zip(said, ({}, {"id": WATCHING_ID}), strict=True):
                if text:
                    Text("p", text, "notice", **about)
    head.move(layout, 0)  # before the page, which the framework makes the one main part
    ui.timer(BEAT_S, tell)

    async def ask_zone() -> None:
        zone = await ui.run_javascript("return lampwarden.zone()", timeout=10)
        reader.note_zone(str(zone or ""))
        changed()

    if not reader["zone"]:  # a browser that was never here has not said it yet
        ui.timer(0, ask_zone, once=True)


def _may(reader: Reader) -> str:
    if reader.role is not Role.WATCH:
        return ""
    return f" · for photo “{reader.checkpoint}”" if reader.checkpoint else " · watching only"


def _settings(reader: Reader, changed: Callable[[], None]) -> ui.dialog:
    with paper("Display") as dialog:
        Text("h2", "Display")
        with box("div", "pair-of-choices"):
            _choice(reader, changed, "scale", "Temperatures", (("C", "°C"), ("F", "°F")))
            _choice(reader, changed, "hours", "Clock", (("24", "14:20"), ("12", "2:20 pm")))
        _choice(reader, changed, "theme", "Page", (("", "As the system"), ("light", "Light"), ("dark", "Dark")))
        calling_fields(reader)
        with box("label", "field"):
            Text("span", "Your name, for the journal")
            keep = partial(reader.choose, "name")
            Field("text", reader["name"], keep, maxlength=str(NAME_MAX), autocomplete="name")
        Text("p", "Kept in this browser only.", "notice")
        Text("p", INSTALL, "hint")
        with box("div", "actions"):
            button("Done", "main", dialog.close)
            if reader.role is not None:
                with box("form", method="post", action="/sign-out"):
                    Text("button", "Sign out", "button", type="submit")
    return dialog


def _choice(
    reader: Reader, changed: Callable[[], None], key: str, label: str, options: tuple[tuple[str, str], ...]
) -> None:
    buttons: list[tuple[str, Text]] = []

    def mark() -> None:
        chosen = reader[key] if reader[key] in dict(options) else options[0][0]
        for value, made in buttons:
            attribute(made, "aria-pressed", "true" if value == chosen else "false")

    def choose(value: str) -> None:
        reader.choose(key, value)
        mark()
        changed()

    with box("div", "field"):
        Text("span", label)
        with box("div", "choice", role="group", aria_label=label):
            for value, text in options:
                made = Text("button", text, type="button")
                made.on("click", lambda value=value: choose(value))
                buttons.append((value, made))
    mark()
