"""What the simulated lamps really did, seen at their pins. For checkers; the product never reads it."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that changed in the simulated world."""

    t_s: float
    """Virtual time, s."""
    what: str
    """'zone', 'inspection', 'fan' (driven by the firmware), 'door', 'stop' (1: open, down), 'boot' (reset cause)."""
    index: int
    """Zone from 0; 0 where there is only one."""
    value: int
    """New level in permille, or what is said at `what`."""


class Truth:
    """The independent record: levels now, light so far, and the list of changes."""

    def __init__(self, zone_count: int, now_ms: Callable[[], int], changes_max: int = 100_000) -> None:
        self.zone_permille = [0] * zone_count
        """Level of each zone now."""
        self.inspection_permille = 0
        self.fan_permille = 0
        self.door_open = False
        self.stop_pressed = False
        self.changes: deque[Change] = deque(maxlen=changes_max)
        """The latest changes, oldest first; the first ones fall out beyond changes_max (0 keeps none)."""
        self.change_count = 0
        """All changes so far. More than len(changes): the list is no longer complete."""
        self._now_ms = now_ms
        self._lit = [0] * zone_count
        self._since_ms = [0] * zone_count

    def lit_permille_ms(self, zone: int) -> int:
        """Level-weighted light of a zone since the world began, permille x ms, exact."""
        return self._lit[zone] + self.zone_permille[zone] * (self._now_ms() - self._since_ms[zone])

    def lit_s(self, zone: int) -> float:
        """Level-weighted light of a zone since the world began, s."""
        return self.lit_permille_ms(zone) / 1e6

    @property
    def dark(self) -> bool:
        """No treatment lamp is lit."""
        return not any(self.zone_permille)

    def zone(self, zone: int, permille: int) -> None:
        self._lit[zone] = self.lit_permille_ms(zone)
        self._since_ms[zone] = self._now_ms()
        self.zone_permille[zone] = permille
        self.note("zone", permille, zone)

    def note(self, what: str, value: int, index: int = 0) -> None:
        self.change_count += 1
        self.changes.append(Change(self._now_ms() / 1000, what, index, value))
