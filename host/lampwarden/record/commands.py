"""`lampwarden record ...`."""

from pathlib import Path
from typing import Annotated

import typer

group = typer.Typer(no_args_is_help=True, help="Treatment records from other hosts.")


def add_to(app: typer.Typer) -> None:
    """Adds the commands."""
    app.add_typer(group, name="record")


@group.command()
def take(
    bag: Annotated[Path, typer.Argument(help="The bag, a zip file as the page Results gives it.")],
    data: Annotated[Path | None, typer.Option("--data", help="Data folder.")] = None,
) -> None:
    """Check a record's bag and keep it here. It is read, never run or changed."""
    from ..settings import settings
    from .archive import ARCHIVE, Archive

    archive = Archive(settings(data=data).data / ARCHIVE)
    taken = archive.take(bag)
    record = taken.record
    typer.echo(f"{record.title}, session {record.id} of chamber '{record.chamber_id}': whole, as it was packed.")
    typer.echo(f"See it on the page Results, or open it with any browser: {archive.page(taken)}")


@group.command("list")
def shown(data: Annotated[Path | None, typer.Option("--data", help="Data folder.")] = None) -> None:
    """List the records that were taken in."""
    from ..settings import settings
    from .archive import ARCHIVE, Archive

    archive = Archive(settings(data=data).data / ARCHIVE)
    for taken in archive.all():
        record = taken.record
        typer.echo(f"{record.began_utc[:10]}  {record.chamber_id}  {record.id}  {record.title}")
        typer.echo(f"    {archive.page(taken)}")
