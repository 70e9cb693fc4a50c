"""The commands. Each does its imports itself, so that `--help` answers at once."""

import json
import logging
import signal
import socket
import sys
import tempfile
import threading
import webbrowser
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from . import __version__
from .bench import commands as bench
from .errors import LampwardenError, ProgramError, StoreError
from .imaging.command import measure
from .mask.command import mask
from .record import commands as records
from .starts import commands as plans
from .upkeep import commands as upkeep
from .web.auth import commands as access

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

    from .domain.commissioning import Papers
    from .domain.program import Program
    from .notify.notifier import Notifier
    from .publishing.metrics import Metrics
    from .rehearsal import Report
    from .service import Service
    from .settings import Settings

log = logging.getLogger(__name__)

EXIT_WRONG = 2
"""Exit code when the person's input is wrong, as shells use it."""
EXIT_FAILED = 1
"""Exit code when the work failed."""
EXIT_CUT_OFF = 3
"""Exit code of a rehearsal or demo whose session did not complete."""

app = typer.Typer(
    help="Runs a light-treatment chamber for aged printed paper. Try `lampwarden demo` first: no hardware needed.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def main() -> None:
    """Runs the command line; errors meant for people come without a traceback."""
    try:
        app()
    except LampwardenError as error:
        typer.echo(str(error), err=True)
        sys.exit(EXIT_WRONG if isinstance(error, ProgramError) else EXIT_FAILED)


@app.callback(invoke_without_command=True)
def _options(
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    if version:
        typer.echo(f"lampwarden {__version__}")
        raise typer.Exit


WebHost = Annotated[str | None, typer.Option("--host", help="Address to listen on. Default: this machine only.")]
WebPort = Annotated[int | None, typer.Option("--port", help="Port of the dashboard; 0 takes a free one.")]
WebName = Annotated[
    list[str] | None, typer.Option("--name", help="Name this computer is called by in browsers, such as chamber.local.")
]
Certificate = Annotated[Path | None, typer.Option("--certificate", help="Certificate chain (PEM), for https.")]
CertificateKey = Annotated[Path | None, typer.Option("--key", help="Private key of the certificate (PEM).")]
Data = Annotated[Path | None, typer.Option("--data", help="Folder for the database.")]


@app.command()
def demo(
    program: Annotated[
        Path | None, typer.Argument(help="Program to run; without it the scenario that ships with Lampwarden.")
    ] = None,
    speed: Annotated[float, typer.Option(min=1, max=20000, help="Simulated seconds per real second.")] = 600.0,
    host: WebHost = None,
    port: WebPort = None,
    data: Annotated[Path | None, typer.Option("--data", help="Folder for the database. Default: a new one.")] = None,
    # The first whose paper brightens: with seed 1 nothing happens to it at all.
    seed: Annotated[int, typer.Option(help="Seed of the simulated chamber: another is another sheet's fate.")] = 2,
    hands_off: Annotated[
        bool, typer.Option("--hands-off", help="A simulated person answers the checkpoints, instead of you.")
    ] = False,
    exit_when_done: Annotated[bool, typer.Option("--exit-when-done", help="Stop when the session has ended.")] = False,
    browser: Annotated[bool, typer.Option(help="Open the browser where there is one.")] = True,
) -> None:
    """Run a session on the simulated chamber and watch it in the browser.

    Time runs faster than real, and at real speed while a checkpoint waits for you.
    """
    from .demo import Demo
    from .notify import messenger
    from .publishing.metrics import Metrics
    from .rehearsal import demo_programs
    from .settings import settings
    from .upkeep import log_lines
    from .upkeep.folder import held

    chosen = _read_program(program) if program else demo_programs()["ferry_timetable"]
    folder = data or Path(tempfile.mkdtemp(prefix="lampwarden-demo-"))
    options = settings(host=host, port=port, data=folder)
    access.must_sign_in(options.host, folder)
    with held(folder) as database:
        show = Demo(chosen, database, seed=seed, speed=speed, hands_off=hands_off, start_utc=datetime.now(UTC))
        notifier = messenger(show.store, folder, show.service)
        log_lines.begin()
        notifier.start()
        typer.echo(f"Simulated chamber, {speed:g} times faster than real. Everything it shows is invented.")
        typer.echo(f"Records of this demo: {folder}")
        _serve(
            show.service,
            options,
            browser=browser,
            done=show.ended if exit_when_done else None,
            before=show.begin,
            notice="Simulated chamber: everything shown is invented.",
            notifier=notifier,
            programs=demo_programs(),
            measured=Metrics(show.service, folder, messages_waiting=notifier.waiting),
        )
        notifier.close()
    outcome = show.outcome()
    typer.echo(f"The session: {outcome or 'not ended'}.")
    if exit_when_done and outcome != "completed":
        raise typer.Exit(EXIT_CUT_OFF)


@app.command()
def serve(
    chambers: Annotated[list[Path], typer.Argument(help="Chamber files (TOML), one for each board.")],
    host: WebHost = None,
    port: WebPort = None,
    data: Data = None,
    name: WebName = None,
    certificate: Certificate = None,
    key: CertificateKey = None,
    uncommissioned: Annotated[
        bool,
        typer.Option("--uncommissioned", help="Let sessions start without a commissioning record: no lamps, no sheet."),
    ] = False,
    log_form: Annotated[
        str | None, typer.Option("--log", help="Form of log lines: text for people, json for a collector.")
    ] = None,
) -> None:
    """Mind real chambers: talk to their boards, run sessions, serve the dashboard.

    A session starts only on a board with a commissioning record; `lampwarden board check` makes one.
    """
    from .bench.papers import newest, what_is_unproved
    from .keeper import Keeper, RealClock
    from .link.board import Board
    from .link.transport import open_transport
    from .notify import messenger
    from .publishing import publisher
    from .publishing.metrics import Metrics
    from .service import Service
    from .settings import settings
    from .store.store import Store
    from .store.writer import ThreadWriter
    from .upkeep import log_lines
    from .upkeep.folder import held
    from .upkeep.nightly import Nightly
    from .upkeep.pulse import Pulse, to_systemd, word_every_s

    options = settings(
        host=host, port=port, data=data, names=name or None, certificate=certificate, key=key, log=log_form
    )
    access.must_sign_in(options.host, options.data)
    described = upkeep.read_chambers(chambers)
    with held(options.data) as database:
        store, clock = Store.open(database), RealClock()
        service = Service(
            store, clock, start_grace_s=60 * options.start_grace_min, notified=lambda: notifier.came_through()
        )
        log_lines.begin(service.session_under_way, as_json=options.log == "json")
        notifier = messenger(store, options.data, service)
        broker = publisher(store, options.data, service.chambers)
        pulse = Pulse(to_systemd(), word_every_s())
        writers = []
        for chamber in described:
            writers.append(ThreadWriter(store))
            board = Board(open_transport(chamber.board))
            unproved = (lambda identity: None) if uncommissioned else partial(what_is_unproved, options.data)
            keeper = Keeper(chamber, board, clock, writers[-1], unproved=unproved)
            service.add(keeper, pulse.watch(chamber.id))
        nightly = Nightly(
            database, options.backup_folder, hour=options.backup_hour, keep=options.backup_keep, say=service.report
        )
        measured = Metrics(
            service,
            options.data,
            messages_waiting=notifier.waiting,
            broker=lambda: broker.state if broker is not None else None,
        )
        _say(options, f"Records: {options.data}")
        try:
            nightly.start()
            notifier.start()
            if broker is not None:
                broker.start()
            papers = partial(newest, options.data)
            _serve(service, options, browser=False, papers=papers, notifier=notifier, measured=measured)
        finally:
            notifier.close()
            if broker is not None:
                broker.close()
            for writer in writers:
                writer.close()
            nightly.close()
            store.close()


@app.command()
def rehearse(
    program: Annotated[Path, typer.Argument(help="Program file (TOML).")],
    chamber: Annotated[Path | None, typer.Option(help="Chamber file (TOML); without it a simulated one.")] = None,
    seed: Annotated[int, typer.Option(help="Seed of the simulated chamber; the same seed repeats to the second.")] = 1,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
) -> None:
    """Run a program on the simulated chamber in virtual time and print what happens.

    Exit code 0: completed; 3: the session did not complete; 2: the program is wrong.
    """
    from rich.progress import Progress

    from .domain.chamber import Chamber
    from .domain.program_file import parse_as
    from .rehearsal import rehearse as run

    planned = _read_program(program)
    where = parse_as(Chamber, _read(chamber), chamber.name) if chamber else None
    with Progress(disable=as_json or not sys.stderr.isatty(), transient=True) as bar:
        task = bar.add_task("Rehearsing", total=1.0)
        report = run(planned, where, seed, lambda share: bar.update(task, completed=share))
    typer.echo(json.dumps(report.to_json(), indent=2, ensure_ascii=False) if as_json else _in_words(report))
    if report.session.outcome != "completed":
        raise typer.Exit(EXIT_CUT_OFF)


@app.command()
def ports(
    ask_all: Annotated[bool, typer.Option("--ask-all", help="Ask also ports that are not on USB.")] = False,
) -> None:
    """List the serial ports and say which of them a Lampwarden board answers on."""
    from .link.ports import find_ports

    found = find_ports()
    if not found:
        typer.echo("No serial port found. Plug the board in; on Linux you may have to join the group 'dialout'.")
        return
    for port in found:
        typer.echo(f"{port.address}  {port.what}")
        if port.usb or ask_all:
            typer.echo(f"    {_who_answers(port.address)}")
    if not ask_all and any(not port.usb for port in found):
        typer.echo("Ports that are not on USB were not asked, for the sake of what may hang on them; --ask-all asks.")


app.command()(mask)
app.command()(measure)
plans.add_to(app)
bench.add_to(app)
records.add_to(app)
access.add_to(app)
upkeep.add_to(app)


def _who_answers(address: str) -> str:
    from .link.ports import probe

    try:
        identity = probe(address)
    except LampwardenError as error:
        return str(error)
    return f"Lampwarden board {identity.unique_id}, {identity.zone_count} zones, {identity.bank_count} banks"


def _serve(
    service: "Service",
    options: "Settings",
    *,
    browser: bool,
    done: threading.Event | None = None,
    before: Callable[[], None] | None = None,
    notice: str = "",
    papers: "Callable[[str], Papers] | None" = None,
    notifier: "Notifier | None" = None,
    programs: "Mapping[str, Program] | None" = None,
    measured: "Metrics | None" = None,
) -> None:
    """Serves the dashboard until Ctrl-C, SIGTERM or `done`; the keepers run meanwhile."""
    import uvicorn

    from .web.app import create_app
    from .web.auth.access import Access
    from .web.auth.calls import closed

    host = options.host
    web: FastAPI = create_app(
        service,
        programs=programs or {},
        notice=notice,
        hosts=options.names,
        papers=papers,
        notifier=notifier,
        measured=measured,
        access=Access(
            options.data,
            service.report,
            must_sign_in=access.must_sign_in(host, options.data),
            watchers_stop=options.watchers_stop,
            closed=closed(service),
        ),
    )
    certificate, key = _https(options)
    listener = _listen(host, options.port)
    name = "localhost" if host in ("127.0.0.1", "::1") else host
    address = f"{'https' if certificate else 'http'}://{name}:{listener.getsockname()[1]}/"
    server = uvicorn.Server(
        uvicorn.Config(
            web,
            log_config=None,  # its lines go where ours go
            log_level="warning",
            access_log=False,  # addresses may hold what opens a page
            timeout_graceful_shutdown=3,
            ssl_certfile=certificate,
            ssl_keyfile=key,
        )
    )
    # The server gives a signal back once it has stopped; SIGTERM would then end the process with the lamps unattended.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    if done is not None:
        threading.Thread(target=_stop_when, args=(done, server), daemon=True).start()
    service.run()
    try:
        if before is not None:
            before()
        _say(options, f"Dashboard: {address}   (Ctrl-C stops)")
        if browser and sys.stdout.isatty():
            webbrowser.open(address)
        server.run(sockets=[listener])
    except KeyboardInterrupt:
        pass
    finally:
        service.close()
        listener.close()


def _say(options: "Settings", text: str) -> None:
    """Tells the person who has started the daemon; a collector gets it as a log line like all others."""
    if options.log == "json":
        log.info(text)
    else:
        typer.echo(text)


def _https(options: "Settings") -> tuple[Path | None, Path | None]:
    """Certificate and key for https; None twice: http. Raises ProgramError for files that cannot be used."""
    import ssl

    if options.certificate is None and options.key is None:
        return None, None
    if options.certificate is None or options.key is None:
        raise ProgramError("For https give both files: --certificate and --key.")
    try:
        # Without a passphrase: nobody sits at a daemon to type it.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(options.certificate, options.key, password="")
    except OSError as error:
        raise ProgramError(
            f"{options.certificate} and {options.key} cannot be used for https: {error}. Both must be PEM files; the"
            " key must belong to the certificate and have no passphrase."
        ) from None
    return options.certificate, options.key


def _stop_when(done: threading.Event, server: "uvicorn.Server") -> None:
    done.wait()
    server.should_exit = True


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise StoreError(
            f"Cannot listen on {host}, port {port}: {error.strerror}. Choose another with --port."
        ) from None
    return listener


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProgramError(f"{path}: cannot be read: {error}. Check the name.") from None


def _read_program(path: Path) -> "Program":
    from .domain.program_file import parse

    return parse(_read(path), path.name)


def _in_words(report: "Report") -> str:
    """A rehearsal's report as text."""
    from .domain.units import dose_j_cm2, duration_text, temp_text

    session = report.session
    planned_s = session.program.planned_lit_s(report.chamber)
    lines = [f"{report.program.title} (seed {report.seed})", "", "Timeline"]
    lines += [f"  {_clock(run_s)}  {text}" for run_s, kind, text in report.journal if kind != "hold_ended"]
    lines += ["", f"{'Zone':<10}{'light':>14}{'planned':>14}{'dose J/cm2':>12}"]
    for zone, lit_s, plan_s in zip(report.chamber.zones, session.lit_s, planned_s, strict=True):
        dose = dose_j_cm2(zone.irradiance_w_m2, lit_s)
        lines.append(f"{zone.name:<10}{duration_text(lit_s):>14}{duration_text(plan_s):>14}{dose:>12.1f}")
    lines += ["", f"Warmest air {temp_text(report.air_temp_c_max)}, warmest bank {temp_text(report.bank_temp_c_max)}."]
    lines += [f"Held for {reason}: {duration_text(seconds)}." for reason, seconds in report.hold_s.items()]
    lines += ["", f"Session time {duration_text(session.session_s)}, {duration_text(session.run_s)} with all holds."]
    lines += [f"Session {session.outcome}: {session.cause}"]
    return "\n".join(lines)


def _clock(run_s: float) -> str:
    minutes, seconds = divmod(round(run_s), 60)
    return f"{minutes // 60:3d}:{minutes % 60:02d}:{seconds:02d}"
