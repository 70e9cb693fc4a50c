"""Sheets to lay out, and their printed pages as pictures."""

import math
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from tests.chromium import ARGUMENTS, CHROMIUM, MISSING

from lampwarden.domain.program_file import parse_as
from lampwarden.domain.sheet import Sheet
from lampwarden.mask.geometry import Mask
from lampwarden.mask.layout import lay_out, parse_paper
from lampwarden.mask.pdf import to_pdf
from lampwarden.mask.svg import to_svg

SHEET_FILE = Path(__file__).parents[2] / "host" / "lampwarden" / "rig" / "scenario" / "sheet.toml"
OUT = Path(__file__).parents[1] / "out"
DPI = 300
PX_PER_MM = DPI / 25.4
LONG = bool(os.environ.get("LAMPWARDEN_LONG"))


def shipped_sheet() -> Sheet:
    return parse_as(Sheet, SHEET_FILE.read_text(encoding="utf-8"), "sheet.toml")


def sheet_of(*cells: tuple[str, float, float, float, float], covered: tuple[str, ...] = (), **more: Any) -> Sheet:
    """A sheet of cells given as name, x, y, width, height in mm."""
    described = [
        {
            "name": name,
            "zone": "A1",
            "x_mm": x,
            "y_mm": y,
            "width_mm": width,
            "height_mm": height,
            "treatment": {"covered": True} if name in covered else {"light": True},
        }
        for name, x, y, width, height in cells
    ]
    about = {"id": "trial", "title": "Trial sheet", "width_mm": 420, "height_mm": 297, "cells": described}
    return Sheet.model_validate(about | more)


def sixty_cells() -> Sheet:
    """As many cells as a sheet may have, as small and as near as a mask takes, with the longest and widest names."""
    names = [[f"WMW{row}-{column:03d}" for column in range(10)] for row in range(6)]
    return sheet_of(
        *((name, 5 + 16 * c, 5 + 16 * r, 10, 10) for r, row in enumerate(names) for c, name in enumerate(row)),
        covered=tuple(names[row][row] for row in range(6)),
        title="Häfen & <Linien> «Łódź» 東",
    )


def wide_sheet() -> Sheet:
    """Cells that leave room for the chart only beside them."""
    cells = [(f"C{r}{c}", 3 + 60.0 * c, 10 + 75.0 * r, 40.25, 45.5) for r in range(2) for c in range(5)]
    return sheet_of(*cells, covered=("C00", "C13"))


MASKS: dict[str, Callable[[], Mask]] = {
    "ferry": lambda: lay_out(shipped_sheet()),
    "ferry-for-photos": lambda: lay_out(shipped_sheet(), parse_paper("letter"), (90.0, 60.0), open_all=True),
    "sixty": lambda: lay_out(sixty_cells()),
    "wide": lambda: lay_out(wide_sheet(), parse_paper("a3")),
}


@dataclass(frozen=True)
class Print:
    """A page as a picture: rows x columns x 3, 0..255, at 300 dpi."""

    mask: Mask
    colours: np.ndarray

    @property
    def grey(self) -> np.ndarray:
        return cv2.cvtColor(self.colours, cv2.COLOR_BGR2GRAY)

    def window(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> np.ndarray:
        """The grey pixels that lie wholly inside, in the mask's coordinates."""
        x_mm, y_mm = x_mm + self.mask.page_x_mm, y_mm + self.mask.page_y_mm
        return self.grey[
            math.ceil(y_mm * PX_PER_MM) : math.floor((y_mm + height_mm) * PX_PER_MM),
            math.ceil(x_mm * PX_PER_MM) : math.floor((x_mm + width_mm) * PX_PER_MM),
        ]

    def mask_mm(self, px: np.ndarray) -> np.ndarray:
        """Mask coordinates of pixel positions (n, 2), whose whole numbers are the pixels' middles."""
        return (px + 0.5) / PX_PER_MM - (self.mask.page_x_mm, self.mask.page_y_mm)


@pytest.fixture(scope="session", params=MASKS if LONG else ["ferry-for-photos", "sixty"])
def mask(request: pytest.FixtureRequest) -> Mask:
    return MASKS[request.param]()


@pytest.fixture(scope="session")
def pdf_file(mask: Mask, tmp_path_factory: pytest.TempPathFactory) -> Path:
    if not shutil.which("pdftoppm"):
        pytest.skip("Debian's poppler-utils, which render the PDF, are not installed")
    file = tmp_path_factory.mktemp("mask") / "mask.pdf"
    file.write_bytes(to_pdf(mask))
    return file


@pytest.fixture(scope="module")
def paint() -> Iterator[Callable[[Mask, Path], None]]:
    """Lets Chromium paint a mask's SVG into a PNG file at 300 dpi."""
    if not CHROMIUM.exists():
        pytest.skip(MISSING)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)

        def paint(mask: Mask, file: Path) -> None:
            source = file.with_name(f"{file.stem}.svg")
            source.write_text(to_svg(mask), encoding="utf-8")
            width, height = (math.ceil(mm / 25.4 * 96) for mm in (mask.paper.width_mm, mask.paper.height_mm))
            page = browser.new_page(viewport={"width": width, "height": height}, device_scale_factor=DPI / 96)
            page.goto(source.as_uri())
            page.screenshot(path=file)
            page.close()

        yield paint
        browser.close()


@pytest.fixture(scope="module", params=["pdf", "svg"])
def printed(request: pytest.FixtureRequest, mask: Mask, tmp_path_factory: pytest.TempPathFactory) -> Print:
    """The page as Debian's PDF renderer and as a browser show it; the pictures are kept to be looked at."""
    OUT.mkdir(exist_ok=True)
    file = OUT / f"mask-{mask.sheet}-{len(mask.apertures)}{'-photos' * mask.open_all}.{request.param}.png"
    if request.param == "pdf":
        pdf = request.getfixturevalue("pdf_file")
        done = subprocess.run(
            ["pdftoppm", "-r", str(DPI), "-png", "-singlefile", pdf, file.with_suffix("")], capture_output=True
        )
        assert (done.returncode, done.stderr) == (0, b"")
    else:
        request.getfixturevalue("paint")(mask, file)
    return Print(mask, cv2.imread(str(file)))
