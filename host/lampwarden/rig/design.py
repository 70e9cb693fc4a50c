"""The invented numbers of the simulated chamber. None was measured on a real chamber."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RigDesign:
    """How the simulated chamber behaves. Every number here is invented; see each for what it decides.

    Rises are given for all zones at full level with the fan at full, so that any chamber, of 1 to 8 zones and
    whatever irradiance, settles at the same temperatures: its cooling is sized for its lamps. With the defaults
    that is ambient + 10 C in the air (32 C) and 13 C more on the plates (45 C).
    Raises ValueError if a number makes no physical sense.
    """

    ambient_c: float = 22.0
    """Invented: room temperature, C. At 27 C the air would settle at 37 C, above the default soft limit."""
    ambient_humidity_pct: float = 45.0
    """Invented: relative humidity of the room, %."""
    lamp_w_per_w_m2: float = 0.05
    """Invented: electrical power of a zone at full level per irradiance at the sheet, W per W/m2 (80 W/m2: 4 W)."""
    optical_efficiency: float = 0.5
    """Invented: share of a lamp's power that leaves the plate as light; it warms the air through sheet and walls."""
    inspection_w: float = 6.0
    """Invented: electrical power of the white inspection bank at full level, W; all of it warms the air."""
    air_rise_k: float = 10.0
    """Invented: air above the room, settled, everything full, K."""
    plate_rise_k: float = 13.0
    """Invented: plates above the air, settled, everything full, K."""
    air_time_constant_s: float = 1500.0
    """Invented: time constant of air, walls and trays with the fan at full, s (25 min)."""
    plate_time_constant_s: float = 240.0
    """Invented: time constant of a plate with the fan at full, s (4 min)."""
    still_air_share: float = 0.4
    """Invented: cooling left without the fan, as a share of that with the fan at full; above 0."""
    fan_strength: float = 1.0
    """Invented: what the fan really moves when driven full; 0.5 is a clogged filter (air settles at 36 C)."""
    door_loss_factor: float = 4.0
    """Invented: extra loss through the open door, in units of the loss with the door closed and the fan at full."""
    vapour_time_constant_s: float = 900.0
    """Invented: time constant of the exchange of moisture with the room, fan at full, s."""
    air_noise_lsb: float = 10.0
    """Invented: noise of the air sensor's raw words, standard deviation (10 = 0.03 C, 0.015 %)."""
    adc_noise_lsb: float = 1.0
    """Invented: noise of the 12 bit converter, standard deviation (1 = 0.02 C at 25 C, 0.05 C at 60 C)."""
    watchdog_ms: int = 2000
    """Invented, as in the shipped board file: period of the hardware watchdog, ms."""
    boot_ms: int = 1500
    """Invented: from reset to the first pass of the firmware, ms."""
    air_ceiling_c: float = 45.0
    """Invented, as in the shipped board file: no air limit may be set above this, C."""
    bank_ceiling_c: float = 65.0
    """Invented, as in the shipped board file: the same for the banks, C."""
    lit_ceiling_s: int = 30 * 3600
    """Invented, as in the shipped board file: longest light of one zone per arming, s."""

    def __post_init__(self) -> None:
        for name in (
            "lamp_w_per_w_m2", "air_rise_k", "plate_rise_k", "air_time_constant_s", "plate_time_constant_s",
            "still_air_share", "vapour_time_constant_s", "watchdog_ms",
        ):  # fmt: skip
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} of the simulated chamber must be above 0, not {getattr(self, name)}")
        for name in ("optical_efficiency", "still_air_share", "fan_strength"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} of the simulated chamber is a share from 0 to 1, not {getattr(self, name)}")
