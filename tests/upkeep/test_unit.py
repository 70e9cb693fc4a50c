"""The systemd unit: what it says, and what systemd's own tools say of it."""

import re
import shutil
import subprocess
import sys
import tempfile
from configparser import RawConfigParser
from dataclasses import replace
from pathlib import Path

import pytest
from tests.command import ran

from lampwarden.upkeep.unit import STOP_S, WATCHDOG_S, Plan, unit

CHAMBER = Path(__file__).with_name("chamber.toml")
PROGRAM = Path(sys.executable).with_name("lampwarden")
PLAN = Plan(
    program=Path("/opt/lampwarden/.venv/bin/lampwarden"),
    chambers=[Path("/home/ada/attic.toml")],
    ports=["/dev/ttyACM0"],
    user="ada",
    group="dialout",
    host="127.0.0.1",
    port=8470,
    environment={},
)
linux = pytest.mark.skipif(sys.platform != "linux", reason="systemd belongs to Linux")
lasting = pytest.mark.skipif(
    any(str(CHAMBER).startswith(folder) for folder in ("/tmp/", "/var/tmp/")), reason="the project lies in /tmp"
)


class Unit(RawConfigParser):
    """A unit file's sections and keys; of a key that comes again the last value counts."""

    def __init__(self, text: str) -> None:
        super().__init__(strict=False, interpolation=None, delimiters="=", comment_prefixes="#")
        self.optionxform = str  # type: ignore[assignment, method-assign]
        self.read_string(text)


def analyze(*words: str) -> subprocess.CompletedProcess:
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not installed")
    return subprocess.run([tool, *words], capture_output=True, text=True, check=False)


def test_the_daemon_is_started_watched_and_started_anew() -> None:
    service = Unit(unit(PLAN))["Service"]
    assert service["ExecStart"] == (
        "/opt/lampwarden/.venv/bin/lampwarden serve /home/ada/attic.toml --data %S/lampwarden"
        " --host 127.0.0.1 --port 8470"
    )
    assert (service["Type"], service["Restart"], service["User"]) == ("notify", "always", "ada")
    assert int(service["WatchdogSec"]) == WATCHDOG_S
    assert int(service["TimeoutStopSec"]) == STOP_S
    assert Unit(unit(PLAN))["Install"]["WantedBy"] == "multi-user.target"


@pytest.mark.parametrize(
    ("ports", "lines"),
    [
        (["/dev/ttyACM0", "/dev/ttyACM1"], {"DeviceAllow=char-ttyACM rw", "Wants=modprobe@cdc_acm.service"}),
        (["/dev/ttyUSB3"], {"DeviceAllow=char-ttyUSB rw", "Wants=modprobe@usbserial.service"}),
        (["/dev/ttyS0"], {"DeviceAllow=char-ttyS rw"}),
        (
            ["/dev/serial/by-id/usb-board"],
            {
                "DeviceAllow=char-ttyACM rw",
                "DeviceAllow=char-ttyUSB rw",
                "Wants=modprobe@cdc_acm.service",
                "Wants=modprobe@usbserial.service",
            },
        ),
    ],
)
def test_only_the_boards_ports_are_allowed(ports: list[str], lines: set[str]) -> None:
    text = unit(replace(PLAN, ports=ports))
    assert set(re.findall(r"^(?:DeviceAllow|Wants)=.*$", text, re.M)) == lines
    assert "DevicePolicy=closed" in text
    assert "SupplementaryGroups=dialout" in text


def test_a_board_on_the_network_needs_no_port() -> None:
    text = unit(replace(PLAN, ports=[]))
    assert "PrivateDevices=yes" in text
    assert not re.search("DeviceAllow|dialout|modprobe", text)


def test_odd_names_stay_one_word() -> None:
    odd = Path('/home/ada/50% "warm" $HOME; attic.toml')
    text = unit(replace(PLAN, chambers=[odd], environment={"LAMPWARDEN_BACKUPS": "/mnt/my disk/100%"}))
    assert r'serve "/home/ada/50%% \"warm\" $$HOME; attic.toml" --data' in text
    assert 'Environment="LAMPWARDEN_BACKUPS=/mnt/my disk/100%%"' in text


@linux
@lasting
def test_the_command_prints_a_unit_that_systemd_accepts(tmp_path: Path) -> None:
    done = ran("service", str(CHAMBER), "--user", "daemon", LAMPWARDEN_BACKUP_KEEP="3")
    assert done.returncode == 0, done.stderr
    assert "sudo systemctl enable --now lampwarden" in done.stdout
    assert "journalctl -u lampwarden" in done.stdout
    service = Unit(done.stdout)["Service"]
    assert service["ExecStart"].startswith(f"{PROGRAM} serve {CHAMBER} --data")
    assert "Environment=LAMPWARDEN_BACKUP_KEEP=3" in done.stdout
    file = tmp_path / "lampwarden.service"
    file.write_text(done.stdout)
    checked = analyze("verify", "--man=no", "--recursive-errors=no", str(file))
    assert (checked.returncode, checked.stderr) == (0, "")


@linux
def test_systemd_finds_a_mistake_in_a_unit(tmp_path: Path) -> None:
    """So that the check above can fail."""
    file = tmp_path / "lampwarden.service"
    file.write_text(unit(PLAN).replace("RestartSec=", "RestartSecs="))
    assert "RestartSecs" in analyze("verify", "--man=no", "--recursive-errors=no", str(file)).stderr


@linux
@pytest.mark.parametrize("ports", [["/dev/ttyACM0"], []])
def test_the_unit_gives_few_rights(tmp_path: Path, ports: list[str]) -> None:
    file = tmp_path / "lampwarden.service"
    file.write_text(unit(replace(PLAN, ports=ports)))
    rated = analyze("security", "--offline=true", "--no-pager", str(file))
    found = re.search(r"exposure level for lampwarden.service: ([\d.]+)", rated.stdout)
    if found is None:
        pytest.skip("this systemd-analyze rates no files")
    assert float(found[1]) <= 2.5  # its scale: 10 unsafe, 0 locked in; an ordinary service has 9.6


@linux
@lasting
def test_the_unit_is_written_once(tmp_path: Path) -> None:
    file = tmp_path / "lampwarden.service"
    words = ["service", str(CHAMBER), "--user", "daemon", "--write", str(file)]
    assert ran(*words).returncode == 0
    before = file.read_text()
    assert before == ran(*words[:-2]).stdout
    again = ran(*words)
    assert (again.returncode, "--replace" in again.stderr) == (1, True)
    assert ran(*words, "--replace").returncode == 0
    assert file.read_text() == before


@linux
@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["nowhere.toml"], "nowhere.toml"),
        ([str(CHAMBER), "--user", "root"], "needs no administrator"),
        ([str(CHAMBER), "--port", "99999"], "The setting 'port' cannot be"),
    ],
)
def test_what_could_not_work_is_refused(words: list[str], message: str) -> None:
    done = ran("service", *words)
    assert done.returncode == 2
    assert message in done.stderr
    assert "Traceback" not in done.stderr


@linux
def test_a_chamber_in_a_temporary_folder_is_refused() -> None:
    with tempfile.NamedTemporaryFile("w", suffix=".toml", dir="/tmp") as file:
        file.write(CHAMBER.read_text())
        file.flush()
        done = ran("service", file.name, "--user", "daemon")
    assert done.returncode == 2
    assert "temporary folder" in done.stderr
