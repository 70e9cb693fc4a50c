"""Settings of the daemon. A flag wins over the environment, the environment over the default."""

import os
from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


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


def settings(**flags: object) -> Settings:
    """Settings with the flags that were given (None: not given). Raises pydantic.ValidationError."""
    return Settings(**{name: value for name, value in flags.items() if value is not None})  # type: ignore[arg-type]
