"""The commands that look after the records and the daemon. Each does its imports itself, as in cli.py."""

import getpass
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ..errors import ProgramError, StoreError

if TYPE_CHECKING:
    from ..domain.chamber import Chamber
    from ..store.verify import Verdict
    from .unit import Plan

EXIT_NOT_AS_WRITTEN = 1
"""Exit code of `journal verify` when the journal is not as it was written."""

Data = Annotated[Path | None, typer.Option("--data", help="Folder for the database.")]

journal = typer.Typer(help="Look at the journal, and verify that it is as it was written.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    """Adds these commands to the command line."""
    app.command()(backup)
    app.command()(restore)
    app.command()(service)
    app.add_typer(journal, name="journal")


@journal.command()
def verify(
    file: Annotated[Path | None, typer.Argument(help="Database or backup; default: that of the data folder.")] = None,
    expect: Annotated[
        str | None, typer.Option(metavar="HEAD", help="A head noted earlier; its first 16 digits are enough.")
    ] = None,
    data: Data = None,
) -> None:
    """Tell whether every line of the journal is as it was written.

    Each line carries a hash over what it says and over the hash of the line before it. A line that was changed, taken
    out, put in or moved no longer fits, and is told with its number and time. Works beside a running daemon.

    What this cannot show: the chain holds no secret. Someone who can write the file can change a line and reckon all
    hashes after it anew, or cut off the last lines, and the rest fits again. Therefore the head, the hash of the last
    line, is printed: keep it where such a person does not get at it, on paper or on another machine. Later, --expect
    HEAD tells whether that line, and with it every line before it, is still the same. Nor does the chain show that a
    line was true when it was written, and it covers the journal only: no readings, no program.

    Exit code 0: as written; 1: not as written, or the head is not there.
    """
    from ..store.verify import FAULTS_MAX
    from ..store.verify import verify as walk

    path = file or _database(data)
    _must_exist(path)
    verdict = walk(path, expect)
    typer.echo(_summary(verdict))
    for fault in verdict.faults:
        typer.echo(f"  {fault.text} [{fault.what}, line {fault.seq}, {fault.utc or 'no time'}]")
    if len(verdict.faults) >= FAULTS_MAX:
        typer.echo(f"  There may be more; the search ends after {FAULTS_MAX}.")
    lost = expect is not None and verdict.kept_seq is None
    if verdict.kept_seq is not None:
        typer.echo(f"The head you kept is that of line {verdict.kept_seq}.")
    if lost:
        typer.echo(
            "No line has the head you kept: the last lines of that time were taken out or everything after some line "
            "was reckoned anew, or the head is that of another database."
        )
    if verdict.faults or lost:
        typer.echo(
            "What to do: leave the file as it is and copy the whole data folder to another disk. Verify the backups, "
            "newest first (`lampwarden journal verify FILE`): the first that passes, with its head among those you "
            "kept, shows what the lines said. `lampwarden restore` brings it back."
        )
        raise typer.Exit(EXIT_NOT_AS_WRITTEN)


@journal.command()
def show(
    session: Annotated[str | None, typer.Option(metavar="ID", help="Only lines of this session.")] = None,
    last: Annotated[int, typer.Option(min=1, max=1000, help="How many lines, the newest.")] = 50,
    data: Data = None,
) -> None:
    """Print the newest lines of the journal, oldest first. Works beside a running daemon."""
    from ..store.queries import Queries

    path = _database(data)
    _must_exist(path)
    asked = Queries(path)
    if session is not None:
        asked.session(session)  # raises UnknownName
    for line in asked.last_lines(session, None, last):
        typer.echo(f"{line.seq:6}  {line.utc}  {line.session_id or line.chamber_id:<14}  {line.text}")


def backup(
    file: Annotated[
        Path | None, typer.Argument(help="File to write; default: a new one in `backups` of the data folder.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file if it exists.")] = False,
    data: Data = None,
) -> None:
    """Write a verified copy of the database. Works beside a running daemon.

    The copy is one file, of one moment, checked page by page and line by line before it gets its name. Best on another
    disk. It holds everything the daemon records; chamber and program files are yours to keep.
    """
    from ..settings import settings
    from ..store.backup import back_up
    from .nightly import STAMP

    options = settings(data=data)
    path = _database(data)
    target = file or options.backup_folder / f"backup-{datetime.now(UTC).strftime(STAMP)}.db"
    made = back_up(path, target, replace=replace)
    typer.echo(f"Backup: {made.path} ({made.bytes / 1e6:.1f} MB)")
    if made.verdict is None:
        typer.echo("Its journal is of a time before lines were chained.")
        return
    typer.echo(_summary(made.verdict))
    if made.verdict.faults:
        typer.echo("The copy is whole, but so is what is wrong in it: see `lampwarden journal verify`.")
        raise typer.Exit(EXIT_NOT_AS_WRITTEN)


def restore(
    file: Annotated[Path, typer.Argument(help="The backup.")],
    data: Data = None,
    even_if_changed: Annotated[
        bool, typer.Option("--even-if-changed", help="Also a backup whose journal is not as it was written.")
    ] = False,
) -> None:
    """Put a backup in the place of the database. Stop the daemon first.

    The backup is verified before anything is replaced. The database that was there is kept beside it, under a name
    that is told. A line in the journal says what was brought back.
    """
    from ..keeper.clock import utc_text
    from ..settings import settings
    from ..store.backup import restore as bring_back
    from .folder import held
    from .nightly import STAMP

    with held(settings(data=data).data) as database:
        now = datetime.now(UTC)
        done = bring_back(file, database, stamp=now.strftime(STAMP), utc=utc_text(now), changed_too=even_if_changed)
    typer.echo(f"Brought back: {done.lines} journal lines, the last of {done.last_utc or 'no time'}.")
    typer.echo(f"The database that was there: {done.kept or 'none'}")
    if done.open_sessions:
        typer.echo(
            f"Not ended at that time: session {', '.join(done.open_sessions)}. The next start takes it up, dark; look "
            "at its page before you let it go on: light that fell since is not in this record."
        )


def service(
    chambers: Annotated[list[Path], typer.Argument(help="Chamber files (TOML), as for `serve`.")],
    host: Annotated[
        str | None, typer.Option("--host", help="Address to listen on. Default: this machine only.")
    ] = None,
    port: Annotated[int | None, typer.Option("--port", help="Port of the dashboard.")] = None,
    user: Annotated[str | None, typer.Option("--user", help="User to run as. Default: you.")] = None,
    write: Annotated[
        Path | None, typer.Option("--write", metavar="PATH", help="Write the unit there instead of printing it.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file if it exists.")] = False,
) -> None:
    """Write a systemd unit that minds the chambers from boot on.

    It starts the daemon at boot and anew when it dies, or when a keeper has not turned for 20 s; the board goes dark by
    itself long before. A session that was under way is taken up, as its program says. The unit's first lines tell how
    to enable it and how to read what it says.
    """
    from .unit import unit

    text = unit(_plan(chambers, host, port, user))
    if write is None:
        typer.echo(text, nl=False)
        return
    if write.exists() and not replace:
        raise StoreError(f"{write} exists. Name another file, or overwrite it with --replace.")
    try:
        write.write_text(text, encoding="utf-8")
    except OSError as error:
        raise StoreError(f"{write} cannot be written: {error.strerror}. Name a place of yours and copy it.") from None
    typer.echo(f"Written: {write}. Its first lines say how to enable it.")


def read_chambers(paths: list[Path]) -> "list[Chamber]":
    """The chambers that files describe, each with its board. Raises ProgramError."""
    from ..domain.chamber import Chamber
    from ..domain.program_file import parse_as

    found = []
    for path in paths:
        try:
            chamber = parse_as(Chamber, path.read_text(encoding="utf-8"), path.name)
        except (OSError, UnicodeDecodeError) as error:
            raise ProgramError(f"{path}: cannot be read: {error}. Check the name.") from None
        if not chamber.board:
            raise ProgramError(
                f"{path.name}: the key 'board' is missing. Say where the board answers, for example"
                ' board = "serial:/dev/ttyACM0"; `lampwarden ports` lists what is plugged in.'
            )
        found.append(chamber)
    return found


def _plan(chambers: list[Path], host: str | None, port: int | None, user: str | None) -> "Plan":
    """What the unit is to run, checked as far as it can be now. Raises ProgramError."""
    from ..settings import settings
    from .unit import Plan

    if sys.platform != "linux":
        raise ProgramError("systemd belongs to Linux. Let your system start `lampwarden serve` at boot in its own way.")
    options = settings(host=host, port=port)
    boards = [chamber.board for chamber in read_chambers(chambers)]
    # What a link such as /dev/serial/by-id/... stands for now tells which driver is needed.
    ports = [os.path.realpath(board[7:].split("@")[0]) for board in boards if board.startswith("serial:")]
    user = user or os.environ.get("SUDO_USER") or getpass.getuser()
    if user == "root":
        raise ProgramError(
            "The daemon needs no administrator. Name another user with --user; "
            "`sudo useradd --system lampwarden` makes one that can do nothing else."
        )
    program = Path(sys.executable).with_name("lampwarden")
    for path in (program, *chambers):
        if not path.exists():
            raise ProgramError(f"{path} is missing. Install Lampwarden with pip before you make it a service.")
        if path.resolve().is_relative_to("/tmp") or path.resolve().is_relative_to("/var/tmp"):
            raise ProgramError(
                f"{path} is in a temporary folder, which the service does not see. Move it to a lasting one."
            )
    given = options.model_dump(mode="json", include=options.model_fields_set - {"data", "host", "port"})
    return Plan(
        program=program,
        chambers=[path.absolute() for path in chambers],
        ports=ports,
        user=user,
        group=_group(ports),
        host=options.host,
        port=options.port,
        environment={f"LAMPWARDEN_{name.upper()}": str(value) for name, value in given.items()},
        writable=[] if options.backups is None else [options.backups],
    )


def _group(ports: list[str]) -> str:
    """The group that may use these ports: that of the first one that is there, else Debian's."""
    import grp

    for port in ports:
        try:
            name = grp.getgrgid(os.stat(port).st_gid).gr_name
        except (OSError, KeyError):
            continue
        if name != "root":
            return name
    return "dialout"


def _summary(verdict: "Verdict") -> str:
    if not verdict.lines:
        return "The journal has no lines."
    state = "not as it was written" if verdict.faults else "as it was written"
    return f"Journal: {verdict.lines} lines up to {verdict.last_utc}, {state}.\nHead: {verdict.head}"


def _database(data: Path | None) -> Path:
    from ..settings import settings
    from .folder import DATABASE

    return settings(data=data).data / DATABASE


def _must_exist(path: Path) -> None:
    if not path.is_file():
        raise StoreError(f"There is no database {path}. Check the name, or the folder given with --data.")
