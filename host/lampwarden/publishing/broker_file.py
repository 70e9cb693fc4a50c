"""The file that names the broker. It may hold a password, so its owner alone should read it."""

import logging
import os
import stat
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, model_validator

from ..domain.program_file import parse_as
from ..errors import ProgramError

log = logging.getLogger(__name__)

FILE = "mqtt.toml"


class BrokerSettings(BaseModel):
    """Where the broker is, and what is sent to it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    host: str = Field(min_length=1, max_length=253, pattern=r"^\S+$")
    """Name or address of the broker."""
    port: int | None = Field(default=None, ge=1, le=65535)
    """None: 1883, or 8883 with TLS, as registered for MQTT."""
    prefix: str = Field(default="lampwarden", max_length=200, pattern=r"^[^/+#\s\x00]+(/[^/+#\s\x00]+)*$")
    """All topics begin with it. Give each host of one broker its own."""
    user: str = Field(default="", max_length=200)
    password: str = Field(default="", max_length=1000, repr=False)
    tls: bool = False
    """Speak TLS, and check the broker's certificate."""
    ca_certificate: Path | None = None
    """Certificates (PEM) to trust instead of the system's, for a broker that signs its own."""
    snapshot_every_s: float = Field(default=10.0, ge=1, le=3600)
    """A snapshot is sent this often, and at once when something happens."""

    @model_validator(mode="after")
    def _fit(self) -> "BrokerSettings":
        if self.password and not self.user:
            raise ValueError("a 'password' needs a 'user'")
        if self.ca_certificate is not None and not self.tls:
            raise ValueError("'ca_certificate' is for TLS; add tls = true")
        return self

    @property
    def at(self) -> int:
        """The port."""
        return self.port if self.port is not None else (8883 if self.tls else 1883)


class BrokerFile:
    """Reads the file anew when it has changed."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE
        self._seen: tuple[int, ...] | None = None
        self._settings: BrokerSettings | None = None

    def newest(self) -> BrokerSettings | None:
        """The broker, or None without a file. A file that cannot be used changes nothing, and the log says why."""
        try:
            about = self._path.stat()
            seen = (about.st_mtime_ns, about.st_size, about.st_ino)
            if seen == self._seen:
                return self._settings
            self._seen = seen  # also of a file that cannot be used: its trouble is told once
            self._settings = parse_as(BrokerSettings, self._path.read_text(encoding="utf-8"), FILE)
            if self._settings.password and os.name == "posix" and stat.S_IMODE(about.st_mode) & 0o077:
                log.warning("%s holds a password and others can read it; take their right: chmod 600", self._path)
        except FileNotFoundError:
            self._seen, self._settings = None, None
        except (OSError, UnicodeDecodeError, ProgramError) as error:
            log.error("publishing stays as it was, %s cannot be used: %s", self._path, error)
        return self._settings
