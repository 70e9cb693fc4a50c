"""The style sheet's colours can be read by everybody: WCAG 2.2, 1.4.3 (text 4.5 : 1) and 1.4.11 (lines 3 : 1)."""

import re

import pytest

from lampwarden.web.pages.shell import ASSETS

CSS = (ASSETS / "page.css").read_text(encoding="utf-8")
TEXT = (
    [(ink, paper) for ink in ("ink", "ink-soft", "alarm", "glow", "teal", "amber") for paper in ("paper", "sheet")]
    + [("ink", soft) for soft in ("alarm-soft", "amber-soft", "rule-soft")]
    + [("alarm", "alarm-soft"), ("amber", "amber-soft"), ("stop-ink", "stop"), ("paper", "ink"), ("paper", "ink-soft")]
)
LINES = [(line, "paper") for line in ("air", "bank", "water", "stop", "focus", "glow", "teal")]


def theme(selector: str) -> dict[str, str]:
    block = re.search(rf"^{re.escape(selector)} \{{(.*?)^\}}", CSS, re.S | re.M)
    assert block is not None
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", block[1]))


def luminance(colour: str) -> float:
    """Relative luminance, 0..1 (WCAG 2.2, definition)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_known_colours() -> None:
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # from memory


@pytest.mark.parametrize("selector", [":root", ':root[data-theme="dark"]'], ids=["light", "dark"])
def test_colours_can_be_told_apart(selector: str) -> None:
    colours = theme(selector)
    weak = [
        (a, b, round(contrast(colours[a], colours[b]), 2)) for a, b in TEXT if contrast(colours[a], colours[b]) < 4.5
    ]
    weak += [
        (a, b, round(contrast(colours[a], colours[b]), 2)) for a, b in LINES if contrast(colours[a], colours[b]) < 3
    ]
    assert weak == []


def test_style_asks_no_other_host() -> None:
    assert re.findall(r"(?:https?:)?//(?!www\.w3\.org/2000/svg)[\w.]+", CSS) == []
