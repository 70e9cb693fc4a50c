"""The drawings stay legible: no word on a wire or on another word, none outside the paper. Measured by a browser."""

import re
from collections.abc import Iterator
from itertools import pairwise
from xml.etree import ElementTree

import draw
import pytest
from board_variants import MAIN, PICO, REGISTERS, with_pins
from playwright.sync_api import Browser, sync_playwright
from tests.chromium import ARGUMENTS, CHROMIUM, MISSING

SVG = "{http://www.w3.org/2000/svg}"
Box = tuple[float, float, float, float]  # left, top, right, bottom

BOARDS = {
    "shipped": PICO,
    "one zone": with_pins(ZONE_PINS="(2,)", INSPECTION_PIN="None", BANK_COUNT="1", BANK_PINS="(26,)", SELECT_PINS="()"),
    "eight zones": with_pins(
        ZONE_PINS="(2, 3, 4, 5, 6, 7, 8, 9)", INSPECTION_PIN="11", BANK_COUNT="8", LINK='"uart"', DIRECTION_PIN="13"
    ),
    "three plates": with_pins(BANK_COUNT="3", BANK_PINS="(26, 27, 28)", SELECT_PINS="()"),
}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        pytest.skip(MISSING)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


def words_of(browser: Browser, svg: str) -> list[tuple[str, Box]]:
    page = browser.new_page()
    page.set_content(svg)
    found = page.evaluate(
        """() => [...document.querySelectorAll('text')].map(t => {
            const b = t.getBBox(); return [t.textContent, [b.x, b.y, b.x + b.width, b.y + b.height]]; })"""
    )
    page.close()
    return [(words, tuple(box)) for words, box in found]


def strokes_of(svg: str) -> list[Box]:
    """Straight pieces of wires, and edges of boxes; a piece is a box without thickness."""
    root = ElementTree.fromstring(svg)
    found: list[Box] = []
    for wire in root.iter(f"{SVG}polyline"):
        points = [tuple(float(n) for n in point.split(",")) for point in wire.attrib["points"].split()]
        for (x1, y1), (x2, y2) in pairwise(points):
            assert x1 == x2 or y1 == y2, "wires run straight"
            found.append((min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)))
    for box in root.iter(f"{SVG}rect"):
        if box.attrib["class"] not in ("paper", "zone"):
            x, y, width, height = (float(box.attrib[side]) for side in ("x", "y", "width", "height"))
            right, bottom = x + width, y + height
            found += [(x, y, right, y), (x, bottom, right, bottom), (x, y, x, bottom), (right, y, right, bottom)]
    return found


def meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def shrunk(box: Box) -> Box:
    """The ink of a line of text: its box has room above and below."""
    left, top, right, bottom = box
    return left, top + 3, right, bottom - 3


def troubles(browser: Browser, svg: str) -> list[str]:
    words = words_of(browser, svg)
    assert len(words) > 8
    width, height = (float(n) for n in re.search(r'viewBox="0 0 (\d+) (\d+)"', svg).groups())
    strokes = strokes_of(svg)
    assert len(strokes) > 20
    found = []
    for n, (text, box) in enumerate(words):
        left, top, right, bottom = box
        if not (left >= 8 and top >= 8 and right <= width - 8 and bottom <= height - 8):
            found.append(f"'{text}' leaves the paper")
        found += [f"'{text}' lies on '{other}'" for other, there in words[:n] if meet(shrunk(box), shrunk(there))]
        found += [
            f"'{text}' lies on a line at {s}"
            for s in strokes
            if meet(shrunk(box), (s[0] - 1, s[1] - 1, s[2] + 1, s[3] + 1))
        ]
    return found


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("drawing", ["wiring.svg", "lamp.svg", "inputs.svg"])
def test_no_word_lies_on_a_line_or_on_a_word(browser: Browser, board: str, drawing: str) -> None:
    assert troubles(browser, draw.pages(BOARDS[board], MAIN, REGISTERS)[drawing]) == []


def test_a_word_on_a_wire_is_noticed(browser: Browser) -> None:
    svg = draw.pages(PICO, MAIN, REGISTERS)["wiring.svg"]
    bad = svg.replace("</svg>", '<text x="84" y="870">lost</text><text x="600" y="1244">off</text></svg>')
    assert {trouble.split(" at ")[0] for trouble in troubles(browser, bad)} == {
        "'lost' lies on a line",
        "'off' leaves the paper",
    }


def test_text_is_at_least_nine_pixels_high_on_a_phone() -> None:
    for name, svg in draw.pages(PICO, MAIN, REGISTERS).items():
        if name.endswith(".svg"):
            width = float(re.search(r'viewBox="0 0 (\d+)', svg)[1])
            sizes = [float(size) for size in re.findall(r"font-size: (\d+)px", svg)]
            assert min(sizes) * 390 / width >= 9


def test_every_lamp_pin_is_in_the_drawing() -> None:
    svg = draw.pages(BOARDS["eight zones"], MAIN, REGISTERS)["wiring.svg"]
    for gpio in (2, 3, 4, 5, 6, 7, 8, 9, 11):
        assert f">GP{gpio}<" in svg
    assert ">Zone 8<" in svg
    assert ">White<" in svg
