"""What is shown before one is let in: the form for the password, and the way in by a link. Works without a script."""

from html import escape
from urllib.parse import quote, urlsplit

from ..pages.shell import ASSETS, MARK

PATH = "/sign-in"
OUT = "/sign-out"
OPEN_ASSETS = frozenset(f"/assets/{name}" for name in ("page.css", "icon.svg"))
"""All that may be fetched before: what the page below names."""

assert all((ASSETS / path.rsplit("/", 1)[1]).exists() for path in OPEN_ASSETS)

_HEAD = f"""<!doctype html><html lang="en"{{theme}}><head><meta charset="utf-8"><title>{{title}}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="/assets/icon.svg"><link rel="stylesheet" href="/assets/page.css?{MARK}">"""
_DARK = """<script>
if (!document.documentElement.dataset.theme && matchMedia("(prefers-color-scheme: dark)").matches)
  document.documentElement.dataset.theme = "dark";
</script>"""
_STYLE = """<style>
.door { max-width: 30rem; margin: 0 auto; padding: 12vh 1.25rem 3rem; display: grid; gap: 1.25rem; }
.door h1 { font: 600 2rem/1.2 var(--serif); border-bottom: 1px solid var(--rule); padding-bottom: 0.75rem; }
.door form { display: grid; gap: 1rem; }
</style>"""


def page(*, to: str, wrong: str = "", theme: str = "") -> str:
    """The form. `to`: where to go on afterwards; `wrong`: why the last try failed."""
    said = f'<p class="entry-wrong" id="wrong" role="alert">{escape(wrong)}</p>' if wrong else ""
    about = ' aria-describedby="wrong" aria-invalid="true"' if wrong else ""
    return f"""{_head("Sign in", theme)}</head>
<body><main class="door"><h1>Lampwarden</h1>
<p>Sign in to see the chambers of this computer. There is a password for operating and one for watching only.</p>
<form method="post" action="{PATH}"><input type="hidden" name="to" value="{escape(to, quote=True)}">
<label class="field"><span>Password</span>
<input type="password" name="password" required autofocus autocomplete="current-password"{about}></label>{said}
<div class="actions"><button class="button main" type="submit">Sign in</button></div></form>
<p class="hint">To stop the lamps without signing in, press the stop button on the chamber.</p>
</main></body></html>"""


def call_page(checkpoint: str, *, theme: str = "") -> str:
    """Behind a link in a message: one button, which opens the checkpoint and uses the link up."""
    return f"""{_head("Photo pause", theme)}</head>
<body><main class="door"><h1>Photo “{escape(checkpoint)}”</h1>
<p>This link lets you look, take the photo, go on and stop the lamps, on this device and without a password. It opens
once.</p>
<form method="post"><div class="actions">
<button class="button main" type="submit">Open the checkpoint</button></div></form>
<p class="hint">To stop the lamps at once, press the stop button on the chamber.</p>
</main></body></html>"""


def closed_page(why: str, *, theme: str = "") -> str:
    """A link that opens nothing."""
    return f"""{_head("Photo pause", theme)}</head>
<body><main class="door"><h1>This link opens nothing</h1><p role="alert">{escape(why)}</p>
<p><a class="button main" href="/">Go to the chamber</a></p></main></body></html>"""


def way_there(to: str) -> str:
    """Leads to the form by a step of this page itself.

    After a link in a mail the browser holds back the cookie of somebody who is signed in (SameSite=Strict); with this
    step of our own it sends it, and the form lets them through.
    """
    target = escape(f"{PATH}?to={quote(to, safe='')}", quote=True)
    return f"""{_head("Sign in", "")}<meta http-equiv="refresh" content="0; url={target}"></head>
<body><main class="door"><p><a href="{target}">Sign in</a></p></main></body></html>"""


def safe_target(to: str) -> str:
    """An address on this very host, whatever was asked for."""
    if not to.startswith("/") or to.startswith(("//", "/\\")) or not to.isprintable():
        return "/"
    return "/" if urlsplit(to).path in (PATH, OUT) else to


def _head(title: str, theme: str) -> str:
    chosen = f' data-theme="{theme}"' if theme in ("light", "dark") else ""
    return _HEAD.format(theme=chosen, title=title) + _DARK + _STYLE
