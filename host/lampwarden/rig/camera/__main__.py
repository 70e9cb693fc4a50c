"""A camera command that photographs the simulated sheet: `python -m lampwarden.rig.camera photo.jpg`.

Called without more it shows the demo's sheet, untreated. `--paper` names a file that another process keeps up to date
with `PaperState.to_json`; so a demo's camera command shows what its lamps have done.
"""

import argparse
import os
import sys
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

from ...domain.chamber import Chamber
from ...domain.program_file import parse_as
from ...domain.sheet import Sheet
from ...errors import LampwardenError, ProgramError
from ...mask.layout import PAPERS, lay_out, parse_paper
from ..paper.sheet import PaperState, SimPaper
from .faults import Fault
from .photo import SIZE_PX, photograph

SCENARIO = files("lampwarden.rig") / "scenario"


def main(arguments: list[str] | None = None) -> int:
    """Takes the photo; 0 if it was written. Says on standard error what is wrong otherwise."""
    asked = _asked(arguments)
    try:
        _take(asked)
    except (LampwardenError, OSError) as error:
        print(error, file=sys.stderr)  # noqa: T201
        return 2
    return 0


def _take(asked: argparse.Namespace) -> None:
    sheet_text = (asked.sheet or SCENARIO / "sheet.toml").read_text(encoding="utf-8")
    sheet = parse_as(Sheet, sheet_text, str(asked.sheet or "sheet.toml"))
    mask = lay_out(sheet, parse_paper(asked.mask_paper), open_all=True)
    if asked.paper:
        state = PaperState.from_json(asked.paper.read_text(encoding="utf-8"), str(asked.paper))
    else:
        chamber = parse_as(Chamber, (SCENARIO / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")
        state = SimPaper(sheet, chamber, asked.seed).state()
    missing = [cell.name for cell in sheet.cells if cell.name not in state.cells]
    if missing:
        raise ProgramError(f"{asked.paper}: no cell {', '.join(missing)}. It was written for another sheet; name that.")
    photos = photograph(
        sheet,
        mask,
        state,
        asked.seed,
        asked.kind,
        shot=asked.shot if asked.shot is not None else int(datetime.now(UTC).timestamp()),
        size=asked.size,
        bracket=asked.bracket,
        taken_utc=datetime.now(UTC),
        faults={Fault(fault) for fault in asked.fault},
    )
    for number, content in enumerate(photos):
        path = asked.photo if len(photos) == 1 else asked.photo.with_stem(f"{asked.photo.stem}-{number + 1}")
        # Whoever waits for the photo finds it whole or not at all.
        part = path.with_name(f".{path.name}.part")
        part.write_bytes(content)
        os.replace(part, path)


def _asked(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m lampwarden.rig.camera", description="Photographs the simulated sheet.")
    parser.add_argument("photo", type=Path, help="write the photo (JPEG) here; a bracket adds -1, -2 and so on")
    parser.add_argument("--sheet", type=Path, help="sheet file; without it the demo's sheet")
    parser.add_argument("--mask-paper", default="a4", help=f"paper of the mask: {', '.join(PAPERS)} or size in mm")
    parser.add_argument("--paper", type=Path, help="state of the simulated paper, as JSON; without it: untreated")
    parser.add_argument("--seed", type=int, default=1, help="of camera and, without --paper, of the sheet")
    parser.add_argument("--kind", choices=("fixed", "phone"), default="fixed")
    parser.add_argument("--shot", type=int, help="number of the shot; without it each call takes another")
    parser.add_argument("--size", type=_size, default=SIZE_PX, help="pixels, such as 4000x3000")
    parser.add_argument("--bracket", type=int, default=1, choices=range(1, 10), help="photos of falling exposure")
    parser.add_argument("--fault", action="append", default=[], choices=[fault.value for fault in Fault])
    return parser.parse_args(arguments)


def _size(text: str) -> tuple[int, int]:
    width, height = (int(side) for side in text.split("x"))
    if min(width, height) < 300 or max(width, height) > 12000:
        raise ValueError("out of range")
    return width, height


if __name__ == "__main__":
    sys.exit(main())
