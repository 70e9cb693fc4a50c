"""`lampwarden password ...` and `--host`, through the command line's own parser."""

from pathlib import Path

import pytest
from click.testing import Result
from typer.testing import CliRunner

from lampwarden.cli import app
from lampwarden.errors import ProgramError
from lampwarden.web.auth.people import PeopleFile, Role

OPERATING = "lamp oil and herring"


def run(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(app, words, input=typed)


def test_from_the_first_password_to_the_last(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    data = ("--data", str(folder))
    assert "'operate' first" in str(run("password", "set", "--role", "watch", *data, typed="just looking\n").exception)
    done = run("password", "set", *data, typed=f"{OPERATING}\n")
    assert done.exit_code == 0, done.exception
    made = run("password", "token", "--name", "logger", "--role", "operate", *data).stdout.strip()
    people = PeopleFile(folder).read()
    assert people.by_password(OPERATING) is Role.OPERATE
    assert people.by_token(made) is Role.OPERATE
    listed = run("password", "list", *data).stdout
    assert "logger" in listed
    assert made not in listed
    assert run("password", "remove", "--token", "logger", *data).exit_code == 0
    assert "No password is left" in run("password", "remove", *data).stdout
    assert PeopleFile(folder).read().by_password(OPERATING) is None


@pytest.mark.parametrize("command", [["demo"], ["serve", "--uncommissioned"]])
@pytest.mark.parametrize("host", ["0.0.0.0", "::", "", "chamber.local"])
def test_without_a_password_nothing_listens_to_the_network(tmp_path: Path, command: list[str], host: str) -> None:
    chamber = tmp_path / "chamber.toml"
    chamber.write_text('board = "tcp:localhost:1"\nzones = [{ name = "A1", irradiance_w_m2 = 80 }]\n')
    words = [*command, *([str(chamber)] if "serve" in command else [])]
    done = run(*words, "--host", host, "--data", str(tmp_path), "--port", "0")
    assert isinstance(done.exception, ProgramError)
    assert "lampwarden password set" in str(done.exception)
    assert not (tmp_path / "lampwarden.db").exists()
