"""`lampwarden password ...`: who may touch the chambers. A running daemon sees each change at once."""

import ipaddress
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...errors import ProgramError

if TYPE_CHECKING:
    from .people import PeopleFile, Role

group = typer.Typer(no_args_is_help=True, help="Passwords and access tokens: who may see and who may operate.")

Data = Annotated[Path | None, typer.Option("--data", help="Data folder of the daemon.")]
RoleName = Annotated[str, typer.Option("--role", help="operate: everything; watch: look, and stop the lamps.")]


def add_to(app: typer.Typer) -> None:
    """Adds the commands."""
    app.add_typer(group, name="password")


@group.command("set")
def set_password(role: RoleName = "operate", data: Data = None) -> None:
    """Set the password of a role. It is asked for; from a pipe the first line is taken.

    Whoever signed in with the password before has to sign in again.
    """
    file, chosen = _file(data), _role(role)
    if sys.stdin.isatty():
        password = typer.prompt(f"New password for '{role}'", hide_input=True, confirmation_prompt="The same again")
    else:
        password = sys.stdin.readline().rstrip("\r\n")
    file.write(file.read().with_password(chosen, password))
    typer.echo(f"The password for '{role}' is set.")


@group.command("remove")
def remove(
    role: RoleName = "operate",
    token: Annotated[str | None, typer.Option("--token", help="Remove this access token instead.")] = None,
    data: Data = None,
) -> None:
    """Remove a password or an access token. Without the password for 'operate' there is none for 'watch' either."""
    file, chosen = _file(data), _role(role)
    people = file.read()
    if token is not None:
        file.write(people.without_token(token))
        typer.echo(f"The access token '{token}' is removed.")
    elif chosen not in people.passwords:
        raise ProgramError(f"No password is set for '{role}'.")
    else:
        left = people.without_password(chosen)
        file.write(left)
        typer.echo(
            f"The password for '{role}' is removed."
            if left.passwords
            else "No password is left: the dashboard can only be used on this computer, there by everybody."
        )


@group.command("token")
def token(
    name: Annotated[str, typer.Option("--name", help="What it is for, such as 'logger'.")],
    role: RoleName = "watch",
    data: Data = None,
) -> None:
    """Make an access token for a script and print it, this once. Send it as 'Authorization: Bearer TOKEN'."""
    file = _file(data)
    people, made = file.read().with_token(name, _role(role))
    file.write(people)
    typer.echo(made)


@group.command("list")
def shown(data: Data = None) -> None:
    """List what is set up; no secrets."""
    people = _file(data).read()
    for role in people.passwords:
        typer.echo(f"password  {role.value}")
    for each in people.tokens:
        typer.echo(f"token     {each.role.value:<8} {each.name}")
    if not people.passwords:
        typer.echo("No password is set: the dashboard can only be used on this computer, there by everybody.")


def must_sign_in(host: str, folder: Path) -> bool:
    """True if the dashboard is to listen to the network at this address. Raises ProgramError without a password."""
    from .people import PeopleFile

    if _is_this_machine(host):
        return False
    if not PeopleFile(folder).read().passwords:
        raise ProgramError(
            f"Without a password the dashboard listens on this computer only, and not on {host}: whoever reaches it can"
            f" switch the lamps. Set one with `lampwarden password set --data {folder}` and give the same --data here,"
            " or leave --host out."
        )
    return True


def _is_this_machine(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _file(data: Path | None) -> "PeopleFile":
    from ...settings import settings
    from .people import PeopleFile

    return PeopleFile(settings(data=data).data)


def _role(name: str) -> "Role":
    from .people import Role

    try:
        return Role(name)
    except ValueError:
        raise ProgramError(f"There is no role '{name}'. Roles: {', '.join(role.value for role in Role)}.") from None
