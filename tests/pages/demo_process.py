"""The demo as a process of its own, with a line to its simulated chamber: what the lamps truly do, and faults.

It says its address, then answers each command, until the line is closed.
"""

import tempfile
from datetime import UTC, datetime
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from lampwarden.bench.papers import keep_commissioning, newest
from lampwarden.demo import Demo
from lampwarden.domain.commissioning import Commissioning, StepResult
from lampwarden.domain.program_file import parse
from lampwarden.notify import messenger
from lampwarden.rehearsal import demo_programs
from lampwarden.web.app import create_app
from lampwarden.web.auth.access import Access
from lampwarden.web.auth.calls import closed
from lampwarden.web.auth.people import PeopleFile, Role

from .past import NOTICE, served


def truth(show: Demo) -> dict[str, Any]:
    """What the simulated lamps really do."""
    world = show.rig.world
    with world.lock:
        true = world.truth
        return {
            "dark": true.dark,
            "zones": list(true.zone_permille),
            "lit_s": [true.lit_s(zone) for zone in range(len(true.zone_permille))],
            "inspection": true.inspection_permille,
            "now_s": world.now_s,
            "changes": [[c.t_s, c.what, c.index, c.value] for c in true.changes],
        }


def obey(show: Demo, what: str, value: Any) -> Any:
    """One command of the test."""
    world = show.rig.world
    match what:
        case "truth":
            return truth(show)
        case "door":
            world.door(value)
        case "stop_button":
            world.press_stop(value)
        case "plugged":
            show.rig.wire.plugged = value
        case "air_sensor":
            world.air_sensor(value)
        case "ambient_c":
            world.ambient_c = value
        case "begin":
            show.begin()
        case "snapshot_number":
            return show.keeper.snapshot.number
        case _:
            raise ValueError(what)
    return None


def sign(show: Demo, folder: Path) -> None:
    """A commissioning record of the simulated board, as the bench would keep it."""
    identity = show.keeper.snapshot.board.identity
    assert identity is not None
    step = StepResult(key="door", title="Door switch", outcome="passed", text="Dark 90 ms after the door opened.")
    paper = Commissioning(
        utc="2031-03-01T09:30:00Z",
        board_id=identity.unique_id,
        firmware=identity.firmware,
        map_version=identity.map_version,
        by="Wilma",
        chamber="Demo chamber",
        notes="",
        files=None,
        steps=(step,),
    )
    keep_commissioning(folder, paper)


def let_in(folder: Path, passwords: dict[str, str]) -> None:
    """Sets the passwords of these roles."""
    file = PeopleFile(folder)
    for role, password in passwords.items():
        file.write(file.read().with_password(Role(role), password))


def run(line: Connection, file: Path, speed: float, begin: bool) -> None:
    """The process: the demo of a program, at so many times real speed, begun or at rest."""
    program = parse(file.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        show = Demo(
            program, Path(folder) / "demo.db", seed=2, speed=speed, hands_off=False, start_utc=datetime.now(UTC)
        )
        programs = {"chosen": program} | demo_programs()
        papers = partial(newest, Path(folder))
        notifier = messenger(show.store, Path(folder), show.service)
        notifier.start()
        access = Access(Path(folder), show.service.report, closed=closed(show.service))
        app = create_app(
            show.service,
            programs=programs,
            notice=NOTICE,
            hosts=("chamber.test",),  # as a phone may call this host
            papers=papers,
            notifier=notifier,
            access=access,
        )
        show.service.run()
        if begin:
            show.begin()
        with served(app) as address:
            line.send(address)
            while True:
                try:
                    what, value = line.recv()
                except EOFError:
                    break
                match what:
                    case "commission":
                        said = sign(show, Path(folder))
                    case "passwords":
                        said = let_in(Path(folder), value)
                    case _:
                        said = obey(show, what, value)
                line.send(said)
        show.service.close()
        notifier.close()
