"""The demo's sheet under its mask, and photos of it by the simulated camera, each taken once."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.program_file import parse_as
from lampwarden.domain.sheet import Sheet
from lampwarden.mask.geometry import Mask
from lampwarden.mask.layout import PAPERS, lay_out
from lampwarden.rig.camera.faults import Fault
from lampwarden.rig.camera.photo import photograph
from lampwarden.rig.paper.sheet import PaperState, SimPaper

SCENARIO = Path(__file__).parents[2] / "host" / "lampwarden" / "rig" / "scenario"
SIZE_PX = (1120, 840)


@pytest.fixture(scope="session")
def sheet() -> Sheet:
    return parse_as(Sheet, (SCENARIO / "sheet.toml").read_text(encoding="utf-8"), "sheet.toml")


@pytest.fixture(scope="session")
def mask(sheet: Sheet) -> Mask:
    return lay_out(sheet, PAPERS["a3"], open_all=True)


@pytest.fixture(scope="session")
def paper(sheet: Sheet) -> PaperState:
    chamber = parse_as(Chamber, (SCENARIO / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")
    return SimPaper(sheet, chamber, seed=7).state()


@pytest.fixture(scope="session")
def shoot(sheet: Sheet, mask: Mask, paper: PaperState) -> Callable[..., bytes]:
    """A photo of the sheet as a file: kind, shot, faults and more as `photograph` takes them."""
    taken: dict[Any, bytes] = {}

    def photo(kind: str = "fixed", *faults: Fault, **more: Any) -> bytes:
        key = kind, faults, tuple(more.items())
        if key not in taken:
            (taken[key],) = photograph(
                sheet, mask, paper, camera_seed=3, kind=kind, faults=faults, **{"size": SIZE_PX, **more}
            )
        return taken[key]

    return photo
