"""In the display settings: sound and notifications of the browser. Their work is done by calling.js."""

from collections.abc import Callable

from nicegui.events import GenericEventArguments

from .elements import Text, attribute, box
from .reader import Reader

ONLY = "Browsers allow notifications only over https, or on the computer that minds the chamber. The sound works here."
ANSWERS = {
    "denied": "This browser forbids notifications from this address. Allow them in its settings, then try again.",
    "default": "Notifications stay off: the browser asked and got no answer.",
    "insecure": ONLY,
    "unknown": "This browser knows no notifications. The sound works here.",
}
"""What a browser says when it is asked for notifications, in words."""


def calling_fields(reader: Reader) -> None:
    """Two switches, each off until a person wants it: browsers ask for a click first."""
    with box("div", "pair-of-choices"):
        _switch(reader, "sound", "Sound when you are called", "() => { lampwarden.hear(false); emit('granted') }")
        with box("div", "calling-try"):
            for text, fault in (("Hear a call", "false"), ("Hear a fault", "true")):
                made = Text("button", text, "button quiet", type="button")
                made.on("click", js_handler=f"() => lampwarden.hear({fault})")
    ask = "async () => emit(await lampwarden.askForNotifications())"
    _switch(reader, "notifications", "Notifications by the browser", ask)
    Text("p", "Both need this page open. A sleeping phone hears nothing: set up messages for that.", "hint")


def _switch(reader: Reader, key: str, label: str, ask: str) -> None:
    """`ask`: what the browser does within the click that switches on; it emits 'granted' or why not."""
    buttons: dict[str, Text] = {}

    def mark() -> None:
        for value, made in buttons.items():
            attribute(made, "aria-pressed", "true" if (reader[key] or "no") == value else "false")

    def on(event: GenericEventArguments) -> None:
        answer = str(event.args)
        reader.choose(key, "yes" if answer == "granted" else "")
        said.text = ANSWERS.get(answer, "")
        mark()

    def off() -> None:
        reader.choose(key, "")
        said.text = ""
        mark()

    with box("div", "field"):
        Text("span", label)
        with box("div", "choice", role="group", aria_label=label):
            for value, text in (("no", "Off"), ("yes", "On")):
                buttons[value] = Text("button", text, type="button")
        said = Text("span", "", "entry-wrong", role="alert")
    handler: Callable[[GenericEventArguments], None] = on
    buttons["yes"].on("click", handler, js_handler=ask)
    buttons["no"].on("click", off)
    mark()
