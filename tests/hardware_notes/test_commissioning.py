"""The commands of the commissioning sheet, run with a foreign master on a live board."""

import re
import shutil
import subprocess
import time

import pytest
from draw import HERE as NOTES

from lampboard.registers import ROWS, TRIP_AIR_OVER, TRIP_BANK_OVER, TRIP_NONE, row

PAGE = (NOTES / "commissioning.md").read_text(encoding="utf-8")
SLACK_MS = 500  # a busy machine
COMMANDS = re.search(r"```bash\n(.*?)```", PAGE, re.S)[1].splitlines()


def run(board, command: str) -> str:
    """Runs one line of the block after its two assignments, on this board's port."""
    assignments = [f"PORT={board.port}" if line.startswith("PORT=") else line for line in COMMANDS[:2]]
    done = subprocess.run(
        ["bash", "-c", "\n".join([*assignments, command])], capture_output=True, text=True, timeout=20, check=False
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"
    return done.stdout


def register(board, name: str) -> int:
    space, address, *_rest = row(name)
    kind = 3 if space == "input" else 4
    output = run(board, f"$M -t {kind} -r {address} -c 1 $PORT")
    return int(re.search(rf"^\[{address}\]:\s+(\d+)", output, re.M)[1])


def test_commands_do_what_the_sheet_says(desk_board) -> None:
    if shutil.which("mbpoll") is None:
        pytest.skip("mbpoll is not installed")
    identity, live, *steps = COMMANDS[2:]
    assert "[3]: \t6\n" in run(desk_board, identity)  # zone_count
    assert "[93]:" in run(desk_board, live)  # the live block's last register

    dark, zone_1, zone_2 = [0] * 7, [50, 0, 0, 0, 0, 0, 0], [0, 50, 0, 0, 0, 0, 0]
    no, bank, air = TRIP_NONE, TRIP_BANK_OVER, TRIP_AIR_OVER
    want = [("B6", dark, no), ("B6", zone_1, no), ("B6", zone_2, no)]
    want += [("B9", dark, bank), ("B9", dark, bank), ("B9", dark, no)]
    want += [("B10", dark, no), ("B10", zone_1, no), ("B10", dark, air), ("B10", dark, air), ("B10", dark, no)]
    want += [("B11", dark, no), ("B11", zone_1, no)]
    found = []
    for line in steps:
        run(desk_board, line)
        levels = desk_board.lamps()[-1][1]
        found.append((line.split("#")[1].split()[0], levels, register(desk_board, "trip_cause")))
    assert found == want

    deadline_s = time.monotonic() + 5
    while any(desk_board.lamps()[-1][1]):
        assert time.monotonic() < deadline_s, "no heartbeat, and still lit"
        time.sleep(0.02)
    (lit_ms, levels), (dark_ms, _dark) = desk_board.lamps()[-2:]
    assert levels == [50, 0, 0, 0, 0, 0, 0]
    assert 900 < dark_ms - lit_ms < 1300 + SLACK_MS


def test_register_numbers_in_the_table_are_the_tables() -> None:
    addresses = {name: address for _space, address, name, *_rest in ROWS}
    assert f"register {addresses['door_open']} follows, {addresses['door_openings']} counts" in PAGE
    assert f"register {addresses['stop_pressed']} follows" in PAGE
