"""The commands `lampwarden plan ...`: what speaks against a plan, and the form of the files."""

import json
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from ..errors import ProgramError

if TYPE_CHECKING:
    from pydantic import BaseModel

M = TypeVar("M", bound="BaseModel")

EXIT_STOPPED = 2
"""Exit code when the plan cannot be started like this."""

plan = typer.Typer(help="Look at plans in files: what speaks against one, and how files are written.")


class Kind(StrEnum):
    """Kinds of files."""

    PROGRAM = "program"
    PLAN = "plan"
    SHEET = "sheet"
    CHAMBER = "chamber"


def add_to(app: typer.Typer) -> None:
    """Adds these commands to the command line."""
    app.add_typer(plan, name="plan")


@plan.command()
def check(
    file: Annotated[Path, typer.Argument(help="Plan file (TOML).")],
    chamber: Annotated[Path, typer.Option(help="Chamber file (TOML).")],
    sheet: Annotated[Path | None, typer.Option(help="Sheet file (TOML).")] = None,
) -> None:
    """Print what speaks against a plan, and the cautions to confirm before its start.

    Exit code 0: it may be started; 2: it may not, or a file is wrong.
    """
    from ..domain.chamber import Chamber
    from ..domain.plan import Plan
    from ..domain.sheet import Sheet
    from ..planning import Level, air_model, review

    planned, where = _read(Plan, file), _read(Chamber, chamber)
    lies = None if sheet is None else _read(Sheet, sheet)
    seen = review(planned, where, lies, datetime.now(UTC).astimezone(), air_model(where, ()))
    for notice in seen.warnings:
        typer.echo(f"{notice.level.value:<5} {notice.where}: {notice.text}")
    for caution in seen.confirm:
        typer.echo(f"confirm {caution.key}: {caution.statement.text}")
    if any(notice.level is Level.STOP for notice in seen.warnings):
        raise typer.Exit(EXIT_STOPPED)


@plan.command()
def schema(
    kind: Annotated[Kind, typer.Argument(help="Which kind of file.")] = Kind.PROGRAM,
) -> None:
    """Print the JSON Schema of a TOML file, for editors that check as one types."""
    from pydantic import BaseModel

    from ..domain.chamber import Chamber
    from ..domain.file_schema import schema as of
    from ..domain.plan import Plan
    from ..domain.program import Program
    from ..domain.sheet import Sheet

    models: dict[Kind, type[BaseModel]] = {
        Kind.PROGRAM: Program,
        Kind.PLAN: Plan,
        Kind.SHEET: Sheet,
        Kind.CHAMBER: Chamber,
    }
    typer.echo(json.dumps(of(models[kind]), indent=2, ensure_ascii=False))


def _read(model: type[M], path: Path) -> M:
    from ..domain.program_file import parse_as

    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProgramError(f"{path}: cannot be read: {error}. Check the name.") from None
    return parse_as(model, text, path.name)
