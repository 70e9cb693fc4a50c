"""The chamber: its zones, banks and what they deliver at the sheet."""

from functools import cached_property
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, model_validator

Name = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^\S(.*\S)?$")]
Key = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9_-]{0,31}$")]


class Zone(BaseModel):
    """One separately switched area of light."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Name
    """What people call it; unique in the chamber."""
    bank: int = Field(default=1, ge=1, le=8)
    """Number of the LED plate it sits on; that plate's temperature sensor guards it."""
    irradiance_w_m2: float = Field(gt=0, le=5000)
    """Irradiance at the sheet at full level, W/m2, from calibration (10 W/m2 = 1 mW/cm2)."""
    peak_nm: float = Field(default=435.0, ge=400, le=700)
    """Wavelength of the strongest light, nm. Below 400 nm is ultraviolet and is not accepted."""


class Chamber(BaseModel):
    """One chamber with one board."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Key = "chamber"
    """Short name used in addresses and records."""
    title: Name = "Light chamber"
    """Name shown to people."""
    zones: tuple[Zone, ...] = Field(min_length=1, max_length=8)
    """In the order of the board's zone numbers."""
    inspection: bool = True
    """A white inspection bank is fitted."""
    board: str = Field(default="", max_length=200)
    """Where the board answers: serial:/dev/ttyACM0, serial:COM3@115200 or tcp:host:port. Empty: simulated."""

    @model_validator(mode="after")
    def _names_differ(self) -> "Chamber":
        seen: set[str] = set()
        for zone in self.zones:
            if zone.name in seen:
                raise ValueError(f"two zones are called '{zone.name}'; give each its own name")
            seen.add(zone.name)
        return self

    @cached_property
    def bank_count(self) -> int:
        """Number of LED plates, from the highest bank number used."""
        return max(zone.bank for zone in self.zones)

    def zone_index(self, name: str) -> int:
        """Position of the zone of this name, from 0. Raises KeyError if there is none."""
        for index, zone in enumerate(self.zones):
            if zone.name == name:
                return index
        raise KeyError(name)
