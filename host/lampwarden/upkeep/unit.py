"""The systemd unit: starts the daemon at boot, starts it anew when it dies or hangs, and lets it do nothing else.

Directives after systemd.service(5), systemd.exec(5) and systemd.resource-control(5) of systemd 252 (read).
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

WATCHDOG_S = 20
"""Without a turn of every keeper for this long the daemon is started anew, s: twenty turns, so that a machine that is
busy for a moment is no reason. The board went dark after three."""
RESTART_S = 2
"""Pause before a new start, s."""
STOP_S = 30
"""The daemon has this long to darken its boards and save, s; it takes about one."""

TTY = re.compile(r"/dev/(tty[A-Za-z]+)\d+")
DRIVERS = {"ttyACM": "cdc_acm", "ttyUSB": "usbserial"}
"""Kernel modules of serial adapters. A group of devices can be allowed only once its driver is loaded: they are asked
for first, so that a board which is plugged in later is allowed, too."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What the unit is to run."""

    program: Path
    """The `lampwarden` command."""
    chambers: Sequence[Path]
    ports: Sequence[str]
    """Serial devices of the boards, such as /dev/ttyACM0; none for boards on the network."""
    user: str
    """The daemon runs as this user."""
    group: str
    """Group that may use the serial ports."""
    host: str
    port: int
    environment: Mapping[str, str]
    """Settings to pass on."""
    writable: Sequence[Path] = ()
    """Folders besides the data folder that are written to."""


def unit(plan: Plan) -> str:
    """The text of the unit file."""
    after = ["network.target", *(f"modprobe@{DRIVERS[kind]}.service" for kind in _kinds(plan.ports) if kind in DRIVERS)]
    command = [plan.program, "serve", *plan.chambers, "--data", None, "--host", plan.host, "--port", plan.port]
    words = " ".join("%S/lampwarden" if word is None else _quoted(str(word)) for word in command)
    lines = [
        "# Lampwarden as a service. Put this file in its place and start it, now and at every boot:",
        "#   sudo cp lampwarden.service /etc/systemd/system/",
        "#   sudo systemctl daemon-reload",
        "#   sudo systemctl enable --now lampwarden",
        "# How it is, and what it says:",
        "#   systemctl status lampwarden",
        "#   journalctl -u lampwarden -f",
        "# The records are in /var/lib/lampwarden: give that folder to the other commands with --data.",
        "",
        "[Unit]",
        "Description=Lampwarden, minds the light-treatment chamber",
        *(f"Wants={name}" for name in after[1:]),
        f"After={' '.join(after)}",
        "# However often it fails, try again: the board is dark meanwhile.",
        "StartLimitIntervalSec=0",
        "",
        "[Service]",
        "Type=notify",
        f"ExecStart={words}",
        *(f"Environment={_quoted(f'{name}={value}', dollars=False)}" for name, value in plan.environment.items()),
        "Environment=PYTHONUNBUFFERED=1",
        "Restart=always",
        f"RestartSec={RESTART_S}",
        f"WatchdogSec={WATCHDOG_S}",
        f"TimeoutStopSec={STOP_S}",
        f"User={plan.user}",
        *([f"SupplementaryGroups={plan.group}"] if plan.ports else []),
        "StateDirectory=lampwarden",
        "StateDirectoryMode=0750",
        "UMask=0027",
        "",
        "# No right it does not need.",
        "NoNewPrivileges=yes",
        "CapabilityBoundingSet=",
        "ProtectSystem=strict",
        "ProtectHome=read-only",
        # "-": a disk that is not there keeps no backups, but keeps no daemon from starting either.
        *(f"ReadWritePaths={_quoted(f'-{folder}', dollars=False)}" for folder in plan.writable),
        "PrivateTmp=yes",
        *_devices(plan.ports),
        "ProtectClock=yes",
        "ProtectControlGroups=yes",
        "ProtectHostname=yes",
        "ProtectKernelLogs=yes",
        "ProtectKernelModules=yes",
        "ProtectKernelTunables=yes",
        "ProtectProc=invisible",
        "LockPersonality=yes",
        "RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6",
        "RestrictNamespaces=yes",
        "RestrictRealtime=yes",
        "RestrictSUIDSGID=yes",
        "SystemCallArchitectures=native",
        "SystemCallFilter=@system-service",
        "SystemCallFilter=~@privileged @resources",
        "SystemCallErrorNumber=EPERM",
        "",
        "[Install]",
        "WantedBy=multi-user.target",
    ]
    return "\n".join(lines) + "\n"


def _devices(ports: Sequence[str]) -> list[str]:
    if not ports:
        return ["PrivateDevices=yes"]
    return ["DevicePolicy=closed", *(f"DeviceAllow=char-{kind} rw" for kind in _kinds(ports))]


def _kinds(ports: Sequence[str]) -> list[str]:
    """Groups of devices as /proc/devices names them; of a port under a name of its own, those of all USB adapters."""
    found: set[str] = set()
    for port in ports:
        match = TTY.fullmatch(port)
        found |= {match[1]} if match else set(DRIVERS)
    return sorted(found)


def _quoted(word: str, *, dollars: bool = True) -> str:
    """A word as systemd reads it back: % stands for names, and in commands $ for the environment."""
    word = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    word = word.replace("$", "$$") if dollars else word
    return f'"{word}"' if re.search(r"[\s\"'\\;]", word) or not word else word
