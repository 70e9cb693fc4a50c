"""Makes the pictures of the app's icon from its drawing, by Chromium: `python -m tests.pages.icons`."""

from pathlib import Path

from playwright.sync_api import Browser, sync_playwright
from tests.chromium import ARGUMENTS, CHROMIUM

from lampwarden.web.pages.shell import ASSETS

PICTURES = {"icon-192.png": (192, 1.0), "icon-512.png": (512, 1.0), "icon-full-512.png": (512, 0.7)}
"""Width in pixels, and the part of it that the drawing fills. A maskable icon keeps to the middle four fifths (W3C)."""
PAPER = "#f5f0e6"


def drawn(browser: Browser, width: int, share: float) -> bytes:
    """The icon as a PNG; with a ground of its own if the drawing does not fill it."""
    page = browser.new_page(viewport={"width": width, "height": width})
    ground = PAPER if share < 1 else "transparent"
    svg = (ASSETS / "icon.svg").read_text(encoding="utf-8").replace("<svg ", f'<svg style="width:{share:.0%}" ', 1)
    page.set_content(f'<body style="margin:0;height:100vh;display:grid;place-items:center;background:{ground}">{svg}')
    picture = page.screenshot(omit_background=True)
    page.close()
    return picture


def main(folder: Path = ASSETS) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        for name, (width, share) in PICTURES.items():
            (folder / name).write_bytes(drawn(browser, width, share))
        browser.close()


if __name__ == "__main__":
    main()
