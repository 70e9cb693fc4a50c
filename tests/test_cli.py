"""The commands as a person types them: real processes, exit codes, messages without tracebacks."""

import json
import os
import re
import signal
import subprocess
import time
import urllib.request
from pathlib import Path

import pytest
from tests.command import LAMPWARDEN, ran

TINY = """
title = "Tiny"
[[zones]]
zone = "A1"
exposures = [{ end = "2 min" }]
"""


def run(*words: str, **more: object) -> subprocess.CompletedProcess:
    return subprocess.run([*LAMPWARDEN, *words], capture_output=True, text=True, timeout=110, check=False, **more)


@pytest.mark.parametrize("command", ["", "demo", "serve", "rehearse", "ports", "mask"])
def test_every_command_explains_itself(command: str) -> None:
    done = ran(*([command] if command else []), "--help")
    assert done.returncode == 0
    assert "Usage" in done.stdout


def test_rehearse_prints_one_json_object(tmp_path: Path) -> None:
    file = tmp_path / "tiny.toml"
    file.write_text(TINY)
    done = run("rehearse", str(file), "--json", "--seed", "3")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert data["outcome"] == "completed"
    assert data["seed"] == 3


def test_rehearse_in_words_names_zones_and_end(tmp_path: Path) -> None:
    file = tmp_path / "tiny.toml"
    file.write_text(TINY)
    done = run("rehearse", str(file))
    assert "Zone A1: exposure 1 done after 2 min of full light." in done.stdout
    assert done.stdout.rstrip().endswith("Session completed: All exposures and checkpoints are done.")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("title = ", "not valid TOML"),
        (TINY.replace("end", "ende"), "tiny.toml, line 5, zones[1].exposures[1].ende: this key is not known here"),
        (TINY.replace("2 min", "2 moons"), "'2 moons' is no duration"),
        (TINY.replace('"A1"', '"A1"\nlevel = 3'), "this key is not known here"),
    ],
)
def test_a_wrong_program_is_said_plainly(tmp_path: Path, text: str, message: str) -> None:
    file = tmp_path / "tiny.toml"
    file.write_text(text)
    done = ran("rehearse", str(file))
    assert done.returncode == 2
    assert message in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_file_is_said_plainly() -> None:
    done = run("rehearse", "nowhere.toml")
    assert done.returncode == 2
    assert "nowhere.toml" in done.stderr
    assert "Traceback" not in done.stderr


def test_serve_wants_to_know_where_the_board_is(tmp_path: Path) -> None:
    file = tmp_path / "chamber.toml"
    file.write_text('zones = [{ name = "A1", irradiance_w_m2 = 80 }]')
    done = run("serve", str(file), "--data", str(tmp_path))
    assert done.returncode == 2
    assert "the key 'board' is missing" in done.stderr


def test_a_database_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "lampwarden.db"
    file.write_bytes(b"this is no database" * 300)
    before = file.read_bytes()
    done = run("demo", "--data", str(tmp_path), "--port", "0", "--no-browser")
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert str(file) in done.stderr
    assert file.read_bytes() == before


def test_the_demo_runs_to_its_end_by_itself(tmp_path: Path) -> None:
    file = tmp_path / "tiny.toml"
    file.write_text(TINY + '[[checkpoints]]\nname = "baseline"\nat = "0 s"\n[rehearsal]\nanswer_after = "5 s"\n')
    words = [
        "--port",
        "0",
        "--data",
        str(tmp_path),
        "--speed",
        "200",
        "--hands-off",
        "--exit-when-done",
        "--no-browser",
    ]
    done = run("demo", str(file), *words)
    assert done.returncode == 0, done.stderr
    assert "The session: completed." in done.stdout
    assert "http://" in done.stdout


def test_the_demo_stops_on_ctrl_c_and_answers_meanwhile(tmp_path: Path) -> None:
    words = ["demo", "--port", "0", "--data", str(tmp_path), "--no-browser"]
    env = os.environ | {"PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [*LAMPWARDEN, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env
    )
    try:
        address = ""
        assert process.stdout is not None
        for line in process.stdout:
            if found := re.search(r"Dashboard: (\S+)", line):
                address = found[1]
                break
        deadline_s = time.monotonic() + 30
        while True:
            try:
                with urllib.request.urlopen(f"{address}api/chambers", timeout=5) as answer:
                    assert "Demo chamber" in answer.read().decode()
                break
            except OSError:
                assert time.monotonic() < deadline_s, "the page never answered"
                time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 0
    finally:
        process.kill()
        _out, err = process.communicate()
    assert "Traceback" not in err, err
