"""A person describes a sheet from nothing, lays out its cells and gives them treatments, at a desk and on a phone."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from lampwarden.domain.program_file import parse_as
from lampwarden.domain.sheet import Sheet

from .conftest import DESK, PHONE, DemoProcess, Look

Point = tuple[float, float]


def typed(page: Page, label: str, text: str, where: str = ".sh-describe") -> None:
    """Types into a field and leaves it."""
    field = page.locator(where).get_by_label(label)
    field.fill(text)
    field.blur()


def cell(page: Page, name: str) -> Locator:
    return page.locator(f".sh-cell-box[data-name='{name}']")


def at_mm(page: Page, x_mm: float, y_mm: float) -> Point:
    """Where a place of the sheet is on the screen, with the drawing in the middle of it."""
    page.locator(".sh-paper").evaluate("e => e.scrollIntoView({block: 'center'})")
    box = page.locator(".sh-paper").bounding_box()
    assert box is not None
    board = page.evaluate("JSON.parse(document.querySelector('sheet-board').dataset.board)")
    return box["x"] + x_mm / board["width"] * box["width"], box["y"] + y_mm / board["height"] * box["height"]


def pull(page: Page, start_mm: Point, end_mm: Point) -> None:
    """Drags with the mouse from one place of the sheet to another."""
    page.mouse.move(*at_mm(page, *start_mm))
    page.mouse.down()
    page.mouse.move(*at_mm(page, (start_mm[0] + end_mm[0]) / 2, end_mm[1]))
    page.mouse.move(*at_mm(page, *end_mm))
    page.mouse.up()


def pull_by_finger(page: Page, start_mm: Point, end_mm: Point) -> None:
    line = page.context.new_cdp_session(page)

    def touch(kind: str, points: list[dict[str, Any]]) -> None:
        line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    (x0, y0), (x1, y1) = at_mm(page, *start_mm), at_mm(page, *end_mm)
    touch("touchStart", [{"x": x0, "y": y0}])
    for step in range(1, 6):
        touch("touchMove", [{"x": x0 + (x1 - x0) * step / 5, "y": y0 + (y1 - y0) * step / 5}])
    touch("touchEnd", [])


def places(page: Page) -> dict[str, tuple[float, float, float, float]]:
    """Each cell as the server has it, mm."""
    board = page.evaluate("JSON.parse(document.querySelector('sheet-board').dataset.board)")
    return {c["name"]: (c["x"], c["y"], c["width"], c["height"]) for c in board["cells"]}


def describe(here: Look, title: str) -> None:
    """From the list to a sheet of 240 x 160 mm on the desk."""
    here.page.get_by_role("link", name="Sheets", exact=True).click()
    here.page.get_by_label("What do you call it?").fill(title)
    here.press("Describe it")
    here.page.locator(".sh-paper").wait_for()
    typed(here.page, "Width", "240")
    typed(here.page, "Height", "160")
    here.says("240 × 160 mm")


def saved_file(here: Look, folder: Path) -> Sheet:
    """The sheet as the page hands it out."""
    with here.page.expect_download() as download:
        here.press("As a file")
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return parse_as(Sheet, path.read_text(encoding="utf-8"), path.name)


def test_a_sheet_from_nothing(demo: Callable[..., DemoProcess], look: Callable[..., Look], tmp_path: Path) -> None:
    show = demo(begin=False)
    here = look(show.address, DESK)
    page = here.page
    page.get_by_role("link", name="Sheets", exact=True).click()
    here.says("No sheet has been described yet.")
    here.press("Describe it")
    here.says("Give the sheet a name first")
    here.shoot("sheets-none")
    describe(here, "Ferry timetable")
    here.press("Test piece")
    page.get_by_label(re.compile("may change for good")).check()
    page.get_by_role("radio", name=re.compile("^Groundwood")).click()
    here.says("Test piece, groundwood, 240 × 160 mm")
    typed(page, "Condition", "Yellowed along both folds.")
    here.press("Add an ink")
    typed(page, "Name of the ink", "vermilion")
    page.get_by_label("Kind of ink").select_option("organic red or yellow")
    here.says("may fade first")

    # What is wrong is said beside the field, and stays as it was typed.
    typed(page, "Width", "wide")
    here.says("Write the width as a number, 10 to 2000 mm.")
    assert page.locator(".sh-describe").get_by_label("Width").input_value() == "wide"
    typed(page, "Width", "240 mm")
    expect(page.get_by_text("Write the width")).to_be_hidden()

    # Two cells by drag: the zone under each gives its name; a third on top of one is refused.
    pull(page, (40, 31), (75.6, 66.2))
    expect(cell(page, "A1")).to_have_attribute("aria-pressed", "true")
    pull(page, (102, 31), (138, 67))
    cell(page, "A2").wait_for()
    assert places(page) == {"A1": (40, 31, 36, 35), "A2": (102, 31, 36, 36)}
    pull(page, (57, 60), (110, 60))  # the chosen cell, onto its neighbour
    here.says("overlap")
    assert places(page)["A1"] == (40, 31, 36, 35)

    # By keyboard: one taller by 1 mm, one aside by 10 + 1 mm, four more from the buttons.
    cell(page, "A1").focus()
    page.keyboard.press("Shift+ArrowDown")
    cell(page, "A2").focus()
    page.keyboard.press("Control+ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(page.locator(".sh-cell").get_by_label("From the left")).to_have_value("113")
    page.keyboard.press("Control+z")
    expect(page.locator(".sh-cell").get_by_label("From the left")).to_have_value("102")
    assert places(page)["A1"] == (40, 31, 36, 36)
    page.get_by_role("button", name="One cell in each zone").focus()
    page.keyboard.press("Enter")
    cell(page, "B3").wait_for()
    assert list(places(page)) == ["A1", "A2", "A3", "B1", "B2", "B3"]
    typed(page, "From the left", "80", ".sh-cell")
    typed(page, "Height", "40", ".sh-cell")
    here.shoot("sheets-cells")
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    cell(page, "A1").click()
    page.keyboard.press("Delete")
    cell(page, "A1").wait_for(state="detached")
    page.keyboard.press("Control+z")
    cell(page, "A1").wait_for()

    # Treatments by hand; what is missing for a conclusion is said at once, and vanishes.
    missing = page.locator(".sh-missing")
    for name in ("A1", "A2", "A3", "B1", "B2", "B3"):
        page.get_by_label(f"Choose cell {name}").check()
    here.press("Open to the light")
    page.get_by_role("button", name=re.compile("^Give it to A1, A2")).click()
    missing.get_by_text("No covered control").wait_for()
    here.press("Chemical")
    page.get_by_label("Strength").fill("9")
    here.says("stronger than paper needs")
    here.says("must confirm this by name")
    page.get_by_label("Strength").fill("3")
    expect(page.get_by_text("stronger than paper needs")).to_be_hidden()
    here.press("Put it on the list for the lot")
    here.press("No bath")
    here.press("Covered")
    here.press("Put it on the list for the lot")
    lot = page.locator(".sh-lot")
    expect(lot.locator("li")).to_have_count(3)
    lot.get_by_label("Seed").fill("7")
    lot.get_by_role("button", name="Draw by lot").click()
    here.says("drawn by lot with seed 7")
    expect(missing.get_by_text("No covered control")).to_have_count(0)
    assert page.locator(".sh-wide tbody tr").all_inner_texts()[0].count("untreated") == 0

    # The mask, and the file, hold what the page shows; a save is a version of its own.
    for button, start in (("Download the mask (PDF)", b"%PDF"), ("SVG, for a cutter", b"<svg")):
        with page.expect_download() as download:
            here.press(button)
        path = tmp_path / "mask"
        download.value.save_as(path)
        assert path.read_bytes().startswith(start)
    sheet = saved_file(here, tmp_path)
    assert (sheet.title, sheet.layout_seed, len(sheet.cells), sheet.consent) == ("Ferry timetable", 7, 6, True)
    assert sorted(c.treatment.label for c in sheet.cells) == [
        "covered control",
        "covered control",
        "light",
        "light",
        "light and hydrogen peroxide 3 %",
        "light and hydrogen peroxide 3 %",
    ]
    here.press("Save")
    here.says("Saved as version 2")
    here.shoot("sheets-treated")
    page.reload()
    here.says("Saved as version 2")
    assert page.get_by_label("Condition").input_value() == "Yellowed along both folds."
    cell(page, "B3").wait_for()
    assert list(places(page)) == ["A1", "A2", "A3", "B1", "B2", "B3"]


def test_by_finger_with_a_photo(demo: Callable[..., DemoProcess], look: Callable[..., Look], tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    show = demo(begin=False)
    here = look(show.address, PHONE, "dark")
    page = here.page
    describe(here, "Strip by phone")

    # A photo whose lower right quarter is red: straightened by its corners, the sheet's is red too.
    photo = image.new("RGB", (600, 400), (214, 197, 160))
    photo.paste((180, 40, 30), (300, 200, 600, 400))
    photo.save(tmp_path / "photo.png")
    page.get_by_label("Photo of the sheet").set_input_files(tmp_path / "photo.png")
    here.says("Where are the sheet’s corners?")
    page.get_by_role("button", name="Corner 1, upper left").focus()
    for key in ("ArrowLeft", "ArrowUp"):
        page.keyboard.press(f"Control+{key}")
    here.shoot("sheets-corners")
    here.press("Use it")
    expect(page.locator("sheet-board")).to_have_attribute("data-photo", "yes")
    address = page.evaluate("JSON.parse(document.querySelector('sheet-board').dataset.board).photo")
    (tmp_path / "flat.jpg").write_bytes(page.request.get(show.address + address).body())
    flat = image.open(tmp_path / "flat.jpg")
    assert flat.size == (1600, round(1600 * 160 / 240))
    assert flat.getpixel((1500, 1000))[0] > 2 * flat.getpixel((1500, 1000))[1]
    assert flat.getpixel((100, 100))[1] > 150

    # A finger scrolls past the drawing, unless a cell is to be drawn or is chosen.
    pull_by_finger(page, (110, 90), (150, 130))
    assert places(page) == {}
    here.press("Draw a cell")
    page.locator(".sh-board[data-drawing=yes]").wait_for()
    pull_by_finger(page, (100, 88), (140, 132))
    cell(page, "B2").wait_for()
    pull_by_finger(page, (120, 110), (60, 110))
    expect(page.locator(".sh-cell").get_by_label("Zone")).to_have_value("B1")
    here.press("Add a cell")
    expect(page.locator(".sh-cell-box")).to_have_count(2)
    here.shoot("sheets-phone")

    # Nothing is lost by a reload, nor by going to another page and back.
    page.reload()
    here.says("Your unsaved changes are here again.")
    expect(page.locator(".sh-cell-box")).to_have_count(2)
    page.get_by_role("link", name="Now", exact=True).click()
    here.headline("At rest")
    page.go_back()
    here.says("Your unsaved changes are here again.")
    here.press("Undo")
    expect(page.locator(".sh-cell-box")).to_have_count(1)
    here.press("Save")
    here.says("Saved as version 2")


def test_two_people_and_the_list(demo: Callable[..., DemoProcess], look: Callable[..., Look], tmp_path: Path) -> None:
    show = demo(begin=False)
    here = look(show.address, DESK)
    describe(here, "Shared sheet")
    here.press("Save")
    here.says("Saved as version 2")
    other = look(show.address, PHONE, "dark")
    other.page.goto(here.page.url)
    typed(other.page, "Notes", "from the phone")
    other.press("Save")
    other.says("Saved as version 3")

    # Whoever saves later is told, and nothing of either is lost.
    typed(here.page, "Notes", "from the desk")
    here.press("Save")
    here.says("Yours is still here, unsaved.")
    here.press("Take theirs")
    expect(here.page.locator(".sh-describe").get_by_label("Notes")).to_have_value("from the phone")
    here.press("Undo")
    expect(here.page.locator(".sh-describe").get_by_label("Notes")).to_have_value("from the desk")
    here.press("Save")
    here.says("Saved as version 4")
    sheet = saved_file(here, tmp_path)
    assert sheet.notes == "from the desk"

    # The list: a copy, one removed and brought back, one from a file, and a file that is wrong.
    here.page.get_by_role("link", name="All sheets").click()
    here.press("Copy Shared sheet")
    here.page.locator("h1", has_text="Shared sheet, copy").wait_for()
    here.page.get_by_role("link", name="All sheets").click()
    rows = here.page.locator(".sh-sheets li")
    expect(rows).to_have_count(2)
    here.press("Remove Shared sheet")
    expect(rows).to_have_count(1)
    here.press("Bring it back")
    expect(rows).to_have_count(2)
    here.shoot("sheets-list")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('id = "x"\ntitle = "X"\npaper = "vellum"\n')
    here.page.get_by_label("Sheet file (TOML)").set_input_files(wrong)
    here.says("wrong.toml, line 3, paper")
    here.page.get_by_label("Sheet file (TOML)").set_input_files(tmp_path / "shared-sheet.toml")
    here.page.locator("h1", has_text="Shared sheet").wait_for()
    assert here.page.url.endswith("/sheets/demo/shared-sheet-2")
