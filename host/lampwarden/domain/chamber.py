"""The chamber: its zones, banks and what they deliver at the sheet."""

from datetime import date
from functools import cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

Name = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^\S(.*\S)?$")]
Key = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9_-]{0,31}$")]


class Part(BaseModel):
    """Base of the chamber's parts: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Place(Part):
    """Where a zone's light falls, in mm from the upper left corner of the chamber's floor, seen from above."""

    x_mm: float = Field(ge=0, le=3000)
    y_mm: float = Field(ge=0, le=3000)
    width_mm: float = Field(gt=0, le=3000)
    height_mm: float = Field(gt=0, le=3000)


class Calibration(Part):
    """How a zone's irradiance is known."""

    how: Literal["measured", "estimated"] = "estimated"
    """Measured at the sheet, or worked out from radiant flux, distance and area."""
    instrument: str = Field(default="", max_length=200)
    """What it was measured with, and when that was calibrated; or what the estimate assumes."""
    on: date | None = None
    """Day of the measurement or estimate."""
    at_lit_h: float = Field(default=0.0, ge=0)
    """Hours the zone's bank had been lit by then."""
    expanded_u_pct: float | None = Field(default=None, gt=0, le=100)
    """Expanded uncertainty of a measured irradiance, coverage factor 2 or some 95 % (JCGM 100:2008), % of it."""

    @model_validator(mode="after")
    def _says_how(self) -> "Calibration":
        if self.how == "measured" and not (self.instrument and self.on):
            raise ValueError("a measured irradiance needs its 'instrument' and the day it was measured 'on'")
        return self


class Leak(Part):
    """Light of one zone that falls into another."""

    from_zone: str = Field(alias="from")
    to_zone: str = Field(alias="to")
    share: float = Field(ge=0, le=1)
    """Share of the first zone's irradiance that arrives in the middle of the second."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Zone(Part):
    """One separately switched area of light."""

    name: Name
    """What people call it; unique in the chamber."""
    bank: int = Field(default=1, ge=1, le=8)
    """Number of the LED plate it sits on; that plate's temperature sensor guards it."""
    irradiance_w_m2: float = Field(gt=0, le=5000)
    """Irradiance at the sheet at full level, W/m2, from calibration (10 W/m2 = 1 mW/cm2)."""
    peak_nm: float = Field(default=435.0, ge=400, le=700)
    """Wavelength of the strongest light, nm. Below 400 nm is ultraviolet and is not accepted."""
    width_nm: float = Field(default=20.0, gt=0, le=100)
    """Full width of its band at half height, nm. 20 nm is common for blue LEDs (common practice, from memory)."""
    lamp_w: float | None = Field(default=None, gt=0, le=2000)
    """Electrical power at full level, W; None: not known."""
    place: Place | None = None
    """Where its light falls; None: not described."""
    calibration: Calibration = Calibration()


class Chamber(Part):
    """One chamber with one board."""

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

    leaks: tuple[Leak, ...] = Field(default=(), max_length=56)
    """Measured leakage between zones; a pair that is not listed was not measured."""
    power_w_max: float | None = Field(default=None, gt=0, le=10_000)
    """Electrical power that all zones together may draw, W; None: no ceiling."""
    remeasure_after_h: float = Field(default=500.0, gt=0)
    """Lit hours of a bank after which its zones should be measured again. Chosen: 500 h; LEDs fade over thousands."""
    camera: str = Field(default="", max_length=500)
    """Command that takes a photo with the chamber's camera and writes it to {file}; empty: no camera."""

    @model_validator(mode="after")
    def _names_agree(self) -> "Chamber":
        seen: set[str] = set()
        for zone in self.zones:
            if zone.name in seen:
                raise ValueError(f"two zones are called '{zone.name}'; give each its own name")
            seen.add(zone.name)
        pairs: set[tuple[str, str]] = set()
        for leak in self.leaks:
            pair = (leak.from_zone, leak.to_zone)
            if not seen.issuperset(pair) or leak.from_zone == leak.to_zone:
                raise ValueError(
                    f"the leak from '{pair[0]}' to '{pair[1]}' must name two different zones of the chamber"
                )
            if pair in pairs:
                raise ValueError(f"the leak from '{pair[0]}' to '{pair[1]}' is given twice; keep one")
            pairs.add(pair)
        if self.camera and "{file}" not in self.camera:
            raise ValueError("the camera command must contain {file}, the place where it is to write the photo")
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
