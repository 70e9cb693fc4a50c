"""Settings of the daemon. A flag wins over the environment, the environment over the default."""

import os
from pathlib import Path
from typing import Literal

from pydantic import Field, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from .errors import ProgramError


def default_data() -> Path:
    """The data folder by the XDG convention, or the platform's own on Windows and macOS."""
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA", Path.home())) / "lampwarden"
    return Path(os.environ.get("XDG_DATA_HOME", Path.home() / ".local" / "share")) / "lampwarden"


class Settings(BaseSettings):
    """Each field may be given as LAMPWARDEN_<NAME> in the environment."""

    model_config = SettingsConfigDict(env_prefix="LAMPWARDEN_", frozen=True, extra="ignore")

    data: Path = Field(default_factory=default_data)
    """Folder of the database and, later, of photos."""
    host: str = "127.0.0.1"
    """Address the dashboard listens on; this machine only, unless changed."""
    port: int = Field(default=8470, ge=0, le=65535)
    """Port of the dashboard; 0 takes a free one."""
    names: tuple[str, ...] = ()
    """Names this host is called by in browsers, besides localhost and plain addresses; others are refused."""
    certificate: Path | None = None
    """Certificate chain (PEM): the dashboard then speaks https only."""
    key: Path | None = None
    """Private key of the certificate (PEM), without a passphrase."""
    log: Literal["text", "json"] = "text"
    """How log lines look: `text` for people, `json` for a collector."""
    watchers_stop: bool = True
    """Whether those who may only watch may stop the lamps."""
    backups: Path | None = None
    """Folder of the nightly backups, best on another disk; by default `backups` in the data folder."""
    backup_hour: int = Field(default=4, ge=0, le=23)
    """Hour of the nightly backup, local time. Between 2 and 3 a night may be left out when the clocks change."""
    backup_keep: int = Field(default=7, ge=0, le=1000)
    """So many of the newest nightly backups are kept; 0 makes none."""
    start_grace_min: float = Field(default=30.0, ge=0, le=1440)
    """A start set for later that comes later than this, min, is not made up for: the journal says so instead."""

    @property
    def backup_folder(self) -> Path:
        """Where backups go."""
        return self.backups or self.data / "backups"


def settings(**flags: object) -> Settings:
    """Settings with the flags that were given (None: not given). Raises ProgramError for a value that cannot be."""
    try:
        return Settings(**{name: value for name, value in flags.items() if value is not None})  # type: ignore[arg-type]
    except ValidationError as error:
        wrong = error.errors()[0]
        name = str(wrong["loc"][0])
        raise ProgramError(
            f"The setting '{name}' cannot be {wrong['input']!r}: {wrong['msg']}. Correct the flag, or "
            f"LAMPWARDEN_{name.upper()} in the environment."
        ) from None
