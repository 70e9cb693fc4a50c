"""The chamber's camera: its command, tried with a button."""

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....domain.chamber import Chamber
from ....errors import LampwardenError
from ..elements import Text, attribute, box, order_button, shown
from ..site import Site

SHOWN_BYTES_MAX = 40_000_000
"""Larger than any photo of a camera or phone; what is longer is a mistake of the command."""


class CameraPart:
    def __init__(self, site: Site, chamber: Chamber) -> None:
        self._site, self._chamber, self._number = site, chamber, 0
        with box("section", "part", aria_label="Camera"):
            Text("h2", "Camera")
            if not site.service.has_camera(chamber.id):
                Text(
                    "p",
                    "No camera is set. You photograph by hand at each checkpoint. To let a fixed camera do it, put its"
                    ' command into the chamber\'s file: camera = "... {file}".',
                    "lead",
                )
                return
            if chamber.camera:
                Text("p", "At a checkpoint this command is run; {file} is where it writes the photo.", "lead")
                Text("code", chamber.camera, "ch-command")
            else:
                Text("p", "A simulated camera looks at the simulated sheet.", "lead")
            with box("div", "actions"):
                self._try = order_button("Take a test photo", "", self._shoot)
            Text(
                "p",
                "The white light is not switched on for it: open the door, or let light in from the room. The photo is"
                " only shown here, not kept.",
                "hint",
            )
            self._said = Text("p", "", "answer-said", role="alert")
            with box("figure", "ch-photo") as self._figure:
                self._image = box("img", alt="Test photo of the chamber")
                self._caption = Text("figcaption")
            shown(self._figure, False)

    async def _shoot(self) -> None:
        self._said.text = ""
        session = self._site.service.snapshot(self._chamber.id).session
        if session is not None and session.active:
            self._said.text = "Not now: a session is under way, and the camera is its own."
            return
        attribute(self._try, "disabled", True)
        self._try.text = "Taking a photo…"
        try:
            photos = await run_in_threadpool(self._site.service.try_camera, self._chamber.id)
        except LampwardenError as error:
            self._said.text = str(error)
            return
        finally:
            attribute(self._try, "disabled", None)
            self._try.text = "Take a test photo"
        photo = photos[0][1]
        if len(photo) > SHOWN_BYTES_MAX:
            self._said.text = f"The photo has {len(photo) / 1e6:.0f} MB; something is wrong with the command."
            return
        self._site.test_photos[self._chamber.id] = photo
        self._number += 1
        attribute(self._image, "src", f"/test-photo/{self._chamber.id}?{ui.context.client.id}{self._number}")
        more = f"{len(photos)} photos, the first is shown." if len(photos) > 1 else "1 photo."
        self._caption.text = f"{more} {len(photo) / 1e6:.1f} MB. Does it show the whole sheet, sharp and without glare?"
        shown(self._figure, True)
