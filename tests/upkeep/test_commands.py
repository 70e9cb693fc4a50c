"""The commands as a person types them, on records at rest. With a daemon: test_daemon.py; service: test_unit.py."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from tests.command import ran

from lampwarden.store import Store
from lampwarden.store.verify import verify


@pytest.mark.parametrize("command", ["backup", "restore", "service", "journal", "journal verify", "journal show"])
def test_every_command_explains_itself(command: str) -> None:
    done = ran(*command.split(), "--help")
    assert (done.returncode, "Usage" in done.stdout) == (0, True)


def test_the_help_says_what_a_chain_cannot_show() -> None:
    said = " ".join(ran("journal", "verify", "--help").stdout.split())
    assert "What this cannot show: the chain holds no secret." in said
    assert "on paper or on another machine" in said


def test_a_journal_as_it_was_written_passes_with_its_head(store: Store, data: Path) -> None:
    done = ran("journal", "verify", "--data", str(data))
    assert (done.returncode, done.stderr) == (0, "")
    assert "3 lines up to 2026-05-04T09:02:00.000Z, as it was written." in done.stdout
    assert f"Head: {verify(store.path).head}" in done.stdout


def test_a_changed_line_is_told_with_what_to_do(store: Store, data: Path) -> None:
    with closing(sqlite3.connect(store.path)) as conn:
        conn.execute("DROP TRIGGER journal_refuses_update")
        conn.execute("UPDATE journal SET text = 'All well.' WHERE seq = 2")
        conn.commit()
    done = ran("journal", "verify", "--data", str(data))
    assert done.returncode == 1
    assert "[changed, line 2, 2026-05-04T09:01:00.000Z]" in done.stdout
    assert "What to do:" in done.stdout
    backup = ran("backup", "--data", str(data))
    assert backup.returncode == 1
    assert "not as it was written" in backup.stdout
    ((copy),) = (data / "backups").glob("backup-*.db")
    refused = ran("restore", str(copy), "--data", str(data))
    assert (refused.returncode, "--even-if-changed" in refused.stderr) == (1, True)
    assert ran("restore", str(copy), "--even-if-changed", "--data", str(data)).returncode == 0


def test_a_head_that_is_gone_is_told(store: Store, data: Path) -> None:
    done = ran("journal", "verify", "--expect", "ab" * 32, "--data", str(data))
    assert done.returncode == 1
    assert "No line has the head you kept" in done.stdout


@pytest.mark.parametrize(
    "words", [["journal", "verify"], ["journal", "show"], ["backup"], ["restore", "nowhere.db"]], ids=" ".join
)
def test_records_that_are_not_there_are_said_plainly(data: Path, words: list[str]) -> None:
    done = ran(*words, "--data", str(data))
    assert done.returncode == 1
    assert "There is no database" in done.stderr
    assert "Traceback" not in done.stderr


def test_an_unknown_session_is_said_plainly(store: Store, data: Path) -> None:
    done = ran("journal", "show", "--session", "nobody", "--data", str(data))
    assert (done.returncode, done.stderr) == (1, "There is no session 'nobody'.\n")


def test_a_setting_that_cannot_be_is_said_plainly(data: Path) -> None:
    done = ran("backup", "--data", str(data), LAMPWARDEN_BACKUP_HOUR="25")
    assert done.returncode == 2
    assert "LAMPWARDEN_BACKUP_HOUR" in done.stderr
    assert "Traceback" not in done.stderr
