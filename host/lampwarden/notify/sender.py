"""One try over one channel, by a child process (child.py).

Apprise with its hundred services takes some 37 MB (measured), which the daemon would hold for a few messages a day; and
a service that hangs is ended with its process.
"""

import json
import subprocess
import sys
from pathlib import Path

from .messages import Urgency

CHILD = str(Path(__file__).with_name("child.py"))
"""Run as a file: as a part of this package it would load most of the daemon, at each message."""
TRY_S_MAX = 45.0
"""Longest time one try may take, s. Chosen: Apprise gives a server 15 s; a slow machine needs some to begin."""


def trouble_of(url: str) -> str:
    """Why this is no address to send to, as a sentence; empty: it is one."""
    return _ask({"url": url})


def send(url: str, title: str, body: str, urgency: Urgency) -> str:
    """Sends one message, and waits for it. Returns why it was not taken, as a sentence; empty if it was."""
    return _ask({"url": url, "title": title, "body": body, "urgency": int(urgency)})


def _ask(order: dict[str, object]) -> str:
    try:
        done = subprocess.run(
            [sys.executable, "-P", CHILD],
            input=json.dumps(order),
            capture_output=True,
            text=True,
            timeout=TRY_S_MAX,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return f"There was no answer within {TRY_S_MAX:.0f} s."
    except OSError as error:
        return f"The sending process could not be started: {error.strerror}."
    if done.returncode:
        return f"The sending process failed: {done.stderr.strip().rsplit(chr(10), 1)[-1][:200]}"
    return done.stdout.strip()
