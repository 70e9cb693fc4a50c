"""Heat and moisture of the simulated chamber. Pure; all numbers come from the invented design.

Theory of operation. Lumped heat capacities: one node for the air (with walls and trays) and one plate per bank.
A lamp's loss heats its plate, its light heats the air; plates give heat to the air, the air to the room:

    C_plate dT_plate/dt = P_plate - k G_plate (T_plate - T_air)
    C_air   dT_air/dt   = P_air + sum k G_plate (T_plate - T_air) - (k G_loss + G_door) (T_air - T_room)

k is the share of cooling at the present fan drive. While k, the door and the powers stand still this is linear with
constant coefficients, so a step of any length is exact: x(t + dt) = phi x(t) + psi q with the matrix exponential phi.
The matrix is made symmetric by scaling with sqrt(C), which gives real eigenvalues and no trouble with stiffness.
Vapour pressure follows the room's by a first-order exchange; warming the air lowers the relative humidity.
"""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..domain.chamber import Chamber
from .design import RigDesign

Matrix = NDArray[np.float64]

_BANK_W_MIN = 0.5  # a plate without lamps still gets a heat path, or its equation would be singular


def saturation_hpa(temp_c: float) -> float:
    """Saturation vapour pressure over water, hPa, for -45..60 C (Magnus form, Sonntag 1990; from memory).

    Example: 20 C = 23.33 hPa.
    """
    return 6.112 * math.exp(17.62 * temp_c / (243.12 + temp_c))


class Plant:
    """State of air, plates and moisture. Starts in balance with the room, lamps off."""

    def __init__(self, design: RigDesign, chamber: Chamber) -> None:
        self.ambient_c = design.ambient_c
        self.ambient_humidity_pct = design.ambient_humidity_pct
        self.fan_strength = design.fan_strength
        """Share of the fan's drive that becomes moving air; 0 is a dead fan."""
        self.extra_heat_w = 0.0
        """Heat brought into the air by something that is no lamp, W."""
        self.door_open = False
        self._design = design
        banks, zones = chamber.bank_count, len(chamber.zones)
        self.extra_plate_w: Matrix = np.zeros(banks)
        """Heat brought into each plate by something that is no lamp of ours, W, shape (banks,)."""

        self.zone_w = tuple(zone.irradiance_w_m2 * design.lamp_w_per_w_m2 for zone in chamber.zones)
        """Electrical power of each zone at full level, W."""
        heat_w: Matrix = np.zeros((1 + banks, zones))
        for index, (zone, power_w) in enumerate(zip(chamber.zones, self.zone_w, strict=True)):
            heat_w[0, index] = power_w * design.optical_efficiency
            heat_w[zone.bank, index] = power_w * (1 - design.optical_efficiency)
        self._heat_w = heat_w
        """Where the power of each zone goes, shape (air and banks, zones), W at full level."""

        self.loss_w_k = sum(self.zone_w) / design.air_rise_k
        """Conductance from air to room with the fan at full, W/K."""
        self.plate_w_k = np.maximum(heat_w[1:].sum(axis=1), _BANK_W_MIN) / design.plate_rise_k
        """Conductance from each plate to the air with the fan at full, W/K, shape (banks,)."""
        self.capacity_j_k = np.concatenate(
            ([self.loss_w_k * design.air_time_constant_s], self.plate_w_k * design.plate_time_constant_s)
        )
        """Heat capacity of air and plates, J/K, shape (1 + banks,)."""
        self._transition = lru_cache(maxsize=64)(self._solve)
        self._temps_c: Matrix = np.full(1 + banks, self.ambient_c)
        self.temps_c: list[float] = self._temps_c.tolist()
        """Temperatures of the air, then of each plate, C."""
        self.vapour_hpa = self.ambient_humidity_pct / 100 * saturation_hpa(self.ambient_c)

    @property
    def air_temp_c(self) -> float:
        return self.temps_c[0]

    @property
    def humidity_pct(self) -> float:
        """Relative humidity of the chamber's air, %, at most 100."""
        return min(100.0, 100 * self.vapour_hpa / saturation_hpa(self.temps_c[0]))

    def conductances_w_k(self, fan_share: float, door_open: bool) -> tuple[float, Matrix]:
        """Air to room (W/K) and plates to air (W/K, shape (banks,)) at this fan drive (0..1)."""
        share = self._cooling_share(fan_share)
        door = self._design.door_loss_factor if door_open else 0.0
        return self.loss_w_k * (share + door), self.plate_w_k * share

    def step(self, dt_s: float, zone_share: Sequence[float], inspection_share: float, fan_share: float) -> None:
        """Advance by dt_s seconds with these mean levels and this fan drive (all 0..1) held throughout."""
        design = self._design
        cooling = self._cooling_share(fan_share)
        door = design.door_loss_factor if self.door_open else 0.0
        phi, psi = self._transition(dt_s, cooling, door)
        heat = self._heat_w @ zone_share
        heat[1:] += self.extra_plate_w
        heat[0] += (
            design.inspection_w * inspection_share
            + self.extra_heat_w
            + self.loss_w_k * (cooling + door) * self.ambient_c
        )
        self._temps_c = phi @ self._temps_c + psi @ heat
        self.temps_c = self._temps_c.tolist()
        room_hpa = self.ambient_humidity_pct / 100 * saturation_hpa(self.ambient_c)
        left = math.exp(-dt_s * (cooling + door) / design.vapour_time_constant_s)
        self.vapour_hpa = room_hpa + (self.vapour_hpa - room_hpa) * left

    def _cooling_share(self, fan_share: float) -> float:
        still = self._design.still_air_share
        return still + (1 - still) * self.fan_strength * fan_share

    def _solve(self, dt_s: float, cooling: float, door: float) -> tuple[Matrix, Matrix]:
        """phi and psi of one step, both shape (nodes, nodes); psi maps heat in W to K."""
        plate = self.plate_w_k * cooling
        network = np.diag(np.concatenate(([self.loss_w_k * (cooling + door) + plate.sum()], plate)))
        network[0, 1:] = network[1:, 0] = -plate
        scale = np.sqrt(self.capacity_j_k)
        rates, modes = np.linalg.eigh(network / np.outer(scale, scale))
        into, back = modes.T * scale, modes / scale[:, None]
        phi = (back * np.exp(-rates * dt_s)) @ into
        psi = (back * (-np.expm1(-rates * dt_s) / rates)) @ (modes.T / scale)
        return phi, psi
