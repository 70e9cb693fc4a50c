"""The README's examples, taken out of it and tried: the scripts, the collector's settings, the camera's command."""

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import yaml
from tests.command import LAMPWARDEN
from tests.publishing.broker import eventually

from lampwarden.domain.program_file import parse, parse_as
from lampwarden.photos.camera import shoot
from lampwarden.publishing.broker_file import BrokerSettings
from lampwarden.web.auth.people import PeopleFile, Role

pytestmark = pytest.mark.timeout(600)

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
PROGRAM = """
title = "Two strips, shortened"
zones = [{ zone = "A1", exposures = [{ end = "20 min" }] }]
checkpoints = [{ name = "baseline", at = "0 h" }, { name = "1 h", at = "10 min" }]
"""


def examples(language: str, holds: str) -> str:
    """The one block of this language that holds a word."""
    (found,) = [block for block in re.findall(rf"```{language}\n(.*?)```", README, re.S) if holds in block]
    return found


def ended(http: httpx.Client) -> bool:
    """Ends the demo's own session, as soon as the server is there and the session has begun."""
    try:
        http.post("/end", json={"by": "a test", "why": "Making room."})
        answer = http.get("/session")
    except httpx.TransportError:
        return False  # the address is told a moment before it answers
    return answer.status_code == 200 and answer.json()["phase"] == "ended"


@pytest.fixture
def demo(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """A demo whose session has ended, so that a script can begin one: its address and what to set for it."""
    folder, said, environ = tmp_path / "data", tmp_path / "said.txt", {}
    folder.mkdir()
    if request.param == "with a token":
        people = PeopleFile(folder).read().with_password(Role.OPERATE, "lamp oil and herring")
        people, environ["LAMPWARDEN_TOKEN"] = people.with_token("script", Role.OPERATE)
        PeopleFile(folder).write(people)
    words = ["demo", "--no-browser", "--port", "0", "--speed", "600", "--data", str(folder)]
    with said.open("wb") as out:
        process = subprocess.Popen([*LAMPWARDEN, *words], stdout=out, stderr=subprocess.STDOUT)
    try:
        address = eventually(lambda: re.search(r"Dashboard: (http://localhost:\d+)", said.read_text()))[1]
        headers = {"authorization": f"Bearer {token}"} if (token := environ.get("LAMPWARDEN_TOKEN")) else {}
        api = f"{address}/api/chambers/demo"
        with httpx.Client(base_url=api, headers=headers, timeout=60, trust_env=False) as http:
            eventually(lambda: ended(http))
        yield address, environ | {"LAMPWARDEN_API": f"{address}/api/chambers/demo"}
    finally:
        process.kill()
        process.wait()


@pytest.mark.parametrize("demo", ["with a token"], indirect=True)
def test_the_script_that_runs_a_session(demo: tuple[str, dict[str, str]], tmp_path: Path) -> None:
    script, program = tmp_path / "script.py", tmp_path / "program.toml"
    script.write_text(examples("python", "hours_max"), encoding="utf-8")
    program.write_text(PROGRAM)
    ran = subprocess.run(
        [sys.executable, str(script), str(program), "1"],
        capture_output=True, text=True, timeout=300, check=False, env=os.environ | demo[1] | {"no_proxy": "*"},
    )  # fmt: skip
    assert (ran.returncode, ran.stderr) == (0, "")
    lines = ran.stdout.splitlines()
    assert [line.split(":")[0] for line in lines[:2]] == ["baseline", "1 h"]
    assert re.fullmatch(r"Session [\d-]+: completed\. .+", lines[2])
    assert float(re.fullmatch(r"A1: ([\d.]+) J/cm2", lines[3])[1]) > 1


@pytest.mark.parametrize("demo", ["open"], indirect=True)
def test_the_lines_for_a_shell(demo: tuple[str, dict[str, str]]) -> None:
    if shutil.which("curl") is None:
        pytest.skip("curl is needed")
    api = demo[1]["LAMPWARDEN_API"]
    started = httpx.post(f"{api}/start", json={"by": "a test", "toml": PROGRAM}, timeout=60, trust_env=False)
    assert started.status_code == 201
    text = examples("sh", "api=http://localhost:8470").replace("http://localhost:8470/api/chambers/demo", api)
    ran = subprocess.run(["bash", "-e"], input=text, capture_output=True, text=True, timeout=60, check=False)
    assert ran.returncode == 0
    decoder, answers, rest = json.JSONDecoder(), [], ran.stdout.strip()
    while rest:
        answer, end = decoder.raw_decode(rest)
        answers.append(answer)
        rest = rest[end:].strip()
    assert answers[0]["chamber_id"] == "demo"
    assert answers[1]["order"] == "hold"
    assert answers[2]["status"] == 409  # the checkpoint '1 h' does not wait yet


@pytest.mark.parametrize("demo", ["with a token"], indirect=True)
def test_prometheus_settings(demo: tuple[str, dict[str, str]], tmp_path: Path) -> None:
    address, environ = demo
    settings: dict[str, Any] = yaml.safe_load(examples("yaml", "scrape_configs"))
    (job,) = settings["scrape_configs"]
    (target,) = job["static_configs"][0]["targets"]
    headers = {"authorization": f"Bearer {environ['LAMPWARDEN_TOKEN']}"}
    assert target == "localhost:8470"  # the daemon's own default
    answer = httpx.get(f"{address}/metrics", headers=headers, timeout=60, trust_env=False)
    assert answer.status_code == 200
    assert 'lampwarden_board_answers{chamber="demo"} 1.0' in answer.text
    assert httpx.get(f"{address}/metrics", timeout=60, trust_env=False).status_code == 401
    if (promtool := shutil.which("promtool")) is None:
        return  # the settings' own checker is used where there is one
    (tmp_path / "token").write_text("lw_x")
    job["authorization"]["credentials_file"] = str(tmp_path / "token")
    (tmp_path / "prometheus.yml").write_text(yaml.safe_dump(settings))
    subprocess.run([promtool, "check", "config", str(tmp_path / "prometheus.yml")], check=True)
    subprocess.run([promtool, "check", "metrics"], input=answer.text, text=True, check=True)


def test_mqtt_settings() -> None:
    settings = parse_as(BrokerSettings, examples("toml", "broker.local"), "README.md")
    assert (settings.at, settings.prefix, settings.snapshot_every_s) == (8883, "workshop/lamps", 10.0)


def test_the_program() -> None:
    assert parse(examples("toml", "Two strips of the ferry timetable"), "README.md").checkpoints[0].name == "baseline"


def test_the_camera_command() -> None:
    if shutil.which("fswebcam") is None:
        pytest.skip("no fswebcam on this machine; tests/run installs it where it may")
    command = tomllib.loads(examples("toml", "camera ="))["camera"]
    (photo,) = shoot(f"{command} --device test:colourbars")  # the tool's own picture instead of a camera's
    assert photo.startswith(b"\xff\xd8\xff")
    assert len(photo) > 10_000
